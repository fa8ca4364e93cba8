"""Questions that the session waits for an answer to; each names its answers."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import events, facts
from assistant.dialogue.wording import record, steps
from assistant.dialogue.wording.quantities import (
    are,
    count,
    figures,
    limits,
    quantity,
    sentence,
    unit_of,
)

AFFIRM_HEARD = "Affirm that you heard."
AFFIRM_OR_NEGATIVE = "Affirm or negative?"
SAY_NOTE = "Say your note."
GO_AHEAD = "Go ahead."


def value(of: events.ValueQuestioned) -> str:
    """Ask about a value that does not fit: what was heard, why it is doubtful, what to say."""
    if isinstance(of.doubt, facts.TakenAlready):
        there = quantity(of.doubt.value, of.doubt.unit)
        name = of.candidate.name if isinstance(of.candidate, events.ReadingRecorded) else ""
        return (
            f"{_came(of)}. {sentence(f'{name} is recorded as {there}')} "
            "Say again for a further reading, or correction and the value."
        )
    if isinstance(of.doubt, facts.OrderedAlready):
        return f"{_came(of)}. {_why(of)} Affirm to order more, or say negative."
    if isinstance(of.doubt, facts.CountNotSaid):
        return f"Scanned: {record.heard(of)}. All of them? Affirm, or say how many."
    way = "Affirm, or say correction." if of.may_affirm else "Say correction."
    return f"{_came(of)}. {_why(of)} {way}"


def _came(of: events.ValueQuestioned) -> str:
    """Word what was heard, or what an instrument sent."""
    instrument = getattr(of.candidate, "instrument", None)
    if instrument is None:
        return f"I heard {record.heard(of)}"
    return f"The {figures(instrument.name)} sent {record.heard(of)}"


def _why(of: events.ValueQuestioned) -> str:
    candidate = of.candidate
    match of.doubt, candidate:
        case ((facts.NotAsAsked() | facts.WrongKind()), events.TorqueRecorded()):
            nut = " at the nut" if candidate.at_nut else ""
            return f"The step says {quantity(candidate.asked, candidate.asked_unit)}{nut}."
        case facts.WrongKind(), _:
            return f"The step asks for {unit_of(of.doubt.unit)}."
        case facts.Implausible(), events.ReadingRecorded():
            return f"I would expect {limits(of.doubt.expected)} for {candidate.name}."
        case facts.OutsideLimits(), events.ReadingRecorded():
            close = " It is too close to call." if candidate.too_close else ""
            return f"The limits of {candidate.name} are {limits(candidate.limits)}.{close}"
        case facts.BetterThanNew(), events.ReadingRecorded():
            return f"{sentence(candidate.name).rstrip('.')} is better than new: measure again."
        case facts.WrongBag(), events.BagRecorded():
            used = f" Bag {count(candidate.number)} is in use." if of.doubt.in_use else ""
            return f"The step says bag {count(candidate.asked or 0)}.{used}"
        case facts.MoreThanHeld(), events.PartOrdered():
            held = candidate.parts.model_copy(update={"count": of.doubt.held})
            return f"The assembly holds {steps.parts(held)}."
        case facts.OrderedAlready(), events.PartOrdered():
            to_come = candidate.parts.model_copy(update={"count": of.doubt.to_come})
            return sentence(f"{steps.parts(to_come)} {are(to_come.count)} on order already")
        case facts.NotReceived(), events.OrderMoved():
            number = of.doubt.received
            there = f"{count(number)} of them" if number else "none of them"
            return f"By the record {there} {'is' if number < 2 else 'are'} received."
    raise TypeError(f"no words for {of.doubt!r} about {candidate!r}")


def skip_reason(number: int) -> str:
    """Ask why a step is skipped."""
    return (
        f"Skip {steps.name(number)}. For what reason? Say waiting for part, already done, "
        "not fitted, tool not here, or note and your own words."
    )


def how_long(name: str | None) -> str:
    """Ask how long a timer is to run."""
    named = f"{name} timer" if name else "timer"
    return f"For how long? Say start {named} ten minutes."


def bag_to_open(number: int, right: int | None, held: Sequence[facts.Parts]) -> str:
    """Word whether a bag is the one that the step takes its hardware from."""
    fits = number == right
    said = f"Bag {count(number)} is {'right' if fits else 'not the one'}"
    said += f": {steps.all_of(held)}." if held else "."
    return said if fits else f"{said} This step takes bag {count(right or 0)}."
