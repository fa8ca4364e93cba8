"""How things are written for the eye: figures and unit symbols, where `wording` is for the ear."""

from __future__ import annotations

from decimal import Decimal

from assistant.language import wording
from assistant.procedure.model import Limits
from assistant.session import events as ev


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


def event(of: ev.Base) -> str:
    """Write an event in one phrase, without full stop."""
    match of:
        case ev.TorqueRecorded():
            stage = f", pass {of.stage} of {of.stages}" if of.stages > 1 else ""
            verb = "turned" if of.unit == "°" else "tightened"
            over = "" if of.within else f", asked {quantity(of.asked, of.asked_unit)}"
            return f"{of.fastener}{stage}, {verb} {quantity(of.value, of.unit)}{over}"
        case ev.ReadingRecorded():
            out = ", outside the limits" if of.within is False else ""
            return f"{of.name} {quantity(of.value, of.unit)}{out}"
        case ev.ValueWorkedOut():
            out = ", outside the limits" if of.within is False else ""
            return f"{of.name} comes to {quantity(of.value, of.unit)}{out}"
        case ev.LeakJudged():
            allowed = quantity(of.allowed, of.unit)
            return f"leak test: {of.outcome}, {change(of.lost, of.unit)}, {allowed} allowed"
        case ev.FluidMeasured():
            way = "came out" if of.drained else "went in"
            gap = "" if of.within else f", {missing(of.missing, of.unit)}"
            return f"{of.fluid}: {of.value:f} of {quantity(of.capacity, of.unit)} {way}{gap}"
        case ev.PartChosen():
            return f"use {of.part}"
        case ev.BagRecorded():
            return f"bag {of.number}" + ("" if of.within else f", asked bag {of.asked}")
        case ev.PartOrdered():
            return f"order {of.count} {of.part}"
        case ev.OrderMoved():
            return f"{of.count} {of.part} {of.state}"
        case ev.TimerStarted():
            return f"{of.name} started, {duration(of.seconds)}"
        case ev.ValueQuestioned():
            return f"heard “{of.said}”, asked about"
        case ev.JobClosed():
            return "job closed"
        case _:
            return wording.event(of)


def grouped(seal: str) -> str:
    """Write a seal in groups of four digits, to be compared by eye and typed."""
    return " ".join(seal[at : at + 4] for at in range(0, len(seal), 4))
