"""How things are written for the eye: figures and unit symbols, where `wording` is for the ear."""

from __future__ import annotations

from decimal import Decimal

from assistant.dialogue import events, wording
from assistant.dialogue import state as job_state
from assistant.procedure.model import Limits


def quantity(value: Decimal, unit: str | None = None) -> str:
    """Write a value with its unit: "14 N·m", "90°"."""
    figures = f"{value:f}"
    if not unit:
        return figures
    return figures + unit if unit == "°" else f"{figures} {unit}"


def limits(of: Limits) -> str | None:
    """Write the limits of a reading: "24.95 to 25.05 mm"; None where there are none."""
    if of.least and of.most:
        same = of.least.unit == of.most.unit
        low = quantity(of.least.value, None if same else of.least.unit)
        return f"{low} to {quantity(of.most.value, of.most.unit)}"
    if of.least:
        return f"at least {quantity(of.least.value, of.least.unit)}"
    if of.most:
        return f"at most {quantity(of.most.value, of.most.unit)}"
    return None


def change(lost: Decimal, unit: str) -> str:
    """Write what a leak test lost: "lost 0.01 bar", or "gained 0.01 bar" for a negative loss."""
    return f"{'gained' if lost < 0 else 'lost'} {quantity(abs(lost), unit)}"


def missing(of: Decimal, unit: str) -> str:
    """Write how much is missing: "0.2 l missing", or "0.2 l too much" for a negative one."""
    return f"{quantity(abs(of), unit)} {'too much' if of < 0 else 'missing'}"


def duration(seconds: float) -> str:
    """Write a time span in its two largest units: "1 h 30 min", "2 d 3 h"; up to 48 h in hours."""
    left = max(0, round(seconds))
    units = ((86400, "d"), (3600, "h"), (60, "min"), (1, "s"))
    written = []
    for size, name in units if left > 48 * 3600 else units[1:]:
        number, left = divmod(left, size)
        if number:
            written.append(f"{number} {name}")
    return " ".join(written[:2]) or "0 s"


def event(of: events.Base) -> str:
    """Write an event in one phrase, without full stop."""
    match of:
        case events.TorqueRecorded():
            stage = f", pass {of.stage} of {of.stages}" if of.stages > 1 else ""
            verb = "turned" if of.unit == "°" else "tightened"
            over = "" if of.within else f", asked {quantity(of.asked, of.asked_unit)}"
            return f"{of.fastener}{stage}, {verb} {quantity(of.value, of.unit)}{over}"
        case events.ReadingRecorded():
            out = ", outside the limits" if of.within is False else ""
            return f"{of.name} {quantity(of.value, of.unit)}{out}"
        case events.ValueWorkedOut():
            out = ", outside the limits" if of.within is False else ""
            return f"{of.name} comes to {quantity(of.value, of.unit)}{out}"
        case events.LeakJudged():
            allowed = quantity(of.allowed, of.unit)
            return f"leak test: {of.outcome}, {change(of.lost, of.unit)}, {allowed} allowed"
        case events.FluidMeasured():
            way = "came out" if of.drained else "went in"
            gap = "" if of.within else f", {missing(of.missing, of.unit)}"
            return f"{of.fluid}: {of.value:f} of {quantity(of.capacity, of.unit)} {way}{gap}"
        case events.PartChosen():
            return f"use {of.part}"
        case events.BagRecorded():
            return f"bag {of.number}" + ("" if of.within else f", asked bag {of.asked}")
        case events.PartOrdered():
            return f"order {of.count} {of.part}"
        case events.OrderMoved():
            return f"{of.count} {of.part} {of.state}"
        case events.TimerStarted():
            return f"{of.name} started, {duration(of.seconds)}"
        case events.ValueQuestioned():
            return f"heard “{of.said}”, asked about"
        case events.JobClosed():
            return "job closed"
        case _:
            return wording.event(of)


def upper_first(text: str) -> str:
    """Return the text with a capital letter at its beginning."""
    return text[:1].upper() + text[1:]


def outstanding(item: job_state.Outstanding) -> str:
    """Write what keeps a step from being done: "long bolt, pass 1 of 2: 7 N·m"."""
    match item:
        case job_state.StepBefore(step, number):
            return f"step {number} first: {step.say}"
        case job_state.ReadingToTake(reading):
            return f"reading: {reading.name}"
        case job_state.TorqueToRecord(target):
            stage = f", pass {target.stage} of {target.stages}" if target.stages > 1 else ""
            return f"{target.tighten.fastener}{stage}: {quantity(target.value, target.unit)}"
        case job_state.BagToRecord(number):
            return f"bag {number}"
        case job_state.TimeToPass(purpose, seconds, due, _):
            if due is None:
                return f"{purpose}, {duration(seconds)}, not started"
            return f"{purpose}, until {due:%Y-%m-%d %H:%M}"
        case _:
            return wording.outstanding(item)


def grouped(seal: str) -> str:
    """Write a seal in groups of four digits, to be compared by eye and typed."""
    return " ".join(seal[at : at + 4] for at in range(0, len(seal), 4))
