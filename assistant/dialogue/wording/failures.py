"""What follows from readings, what fails, by how much, and the ways out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from assistant.dialogue import events, facts
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import (
    are,
    count,
    inside,
    limits,
    listing,
    quantity,
    sentence,
    several,
)
from assistant.procedure.model import Taken

NOTHING_FAILED = "Nothing failed."
SAY_WHICH_STEP = "Say rework, step, and its number."
WHO_CONCEDES = "A concession needs a name. Say this is, and your name, then concession."


def named(of: facts.ResultRef) -> str:
    """Word which result it is: "the leak test", "cover bolt, bolt two"; no full stop."""
    bolt = f", bolt {count(of.bolt)}" if of.bolt is not None else ""
    return f"{_named(of.kind, of.name)}{bolt}"


def _named(kind: str, name: str) -> str:
    return {"leak test": "the leak test", "choice": f"the part for {name}"}.get(kind, name)


def open_again(kind: str, name: str) -> str:
    """Word that a result no longer follows, because a reading that it needs is gone; its kind is as
    `results.key` has it.
    """
    return sentence(f"{_named(kind, name)} is open again")


def failed(of: facts.Failed, taken: Taken, may_concede: str) -> str:
    """Word a result that has just failed, and the ways out."""
    return f"{sentence(what(of))} {ways_out(of, taken, may_concede)}"


def what(of: facts.Failed) -> str:
    """Word what failed and by how much, and where it is to be had anew, how; no full stop."""
    if of.again is None:
        return _what(of, _Verbs("fails", "has", "is", "cannot"))
    anew = {"retest": "retested", "rework": "done again"}[of.again.by]
    return f"{_what(of, _Verbs('failed', 'had', 'was', 'could not'))}, and is to be {anew}"


class _Verbs(NamedTuple):
    """The verbs of what fails, or failed."""

    fails: str
    has: str
    be: str
    cannot: str


def _what(of: facts.Failed, verbs: _Verbs) -> str:
    match of.result.kind:
        case "fitted part":
            return f"{of.part} {verbs.be} fitted, and {of.wanted} is the one to fit"
        case "condemned part" | "missing part":
            return _lost(of)
        case "choice":
            found = f" {_amount(of.found)}" if of.found else ""
            return f"no part {verbs.be} given for {of.result.name}{found}"
        case "leak test":
            return f"the leak test {verbs.fails}{_over(of)}"
        case "torque" if of.found and of.required and of.required.least:
            bolt = f", bolt {count(of.result.bolt)}," if of.result.bolt else ""
            asked = _amount(of.required.least)
            return f"{of.result.name}{bolt} {verbs.has} {_amount(of.found)}, where {asked} is asked"
        case _:
            if of.found is None:
                return f"{of.result.name} {verbs.cannot} be worked out"
            return f"{of.result.name} {verbs.fails}, {_amount(of.found)}{_by(of)}"


def _lost(of: facts.Failed) -> str:
    assert of.parts is not None
    what = "missing" if of.result.kind == "missing part" else "condemned"
    there = f"{steps.parts(of.parts)} {are(of.parts.count)} {what}"
    if of.fitted:
        return f"{there} and fitted"
    return f"{there}, and {steps.name(of.number)} fits {'it' if of.parts.count == 1 else 'them'}"


def _amount(of: facts.Amount) -> str:
    return quantity(of.value, of.unit)


def _by(of: facts.Failed) -> str:
    """Word what is required, and by how much the result misses it."""
    if of.required is None or of.found is None:
        return ""
    least, most = of.required.least, of.required.most
    asked = f", where {_amount(least)} is asked" if least == most and least else None
    return f",{_over(of)}{asked or f', limits {limits(of.required)}'}"


def _over(of: facts.Failed) -> str:
    """Word by how much a result misses what is required."""
    if of.required is None or of.found is None:
        return ""
    over = _gap(of.found, of.required.most, 1) or _gap(of.found, of.required.least, -1)
    return f" by {over}" if over else ""


def _gap(found: facts.Amount, limit: facts.Amount | None, sign: int) -> str | None:
    if limit is None or limit.unit != found.unit:
        return None
    gap = (found.value - limit.value) * sign
    return quantity(gap, found.unit) if gap > 0 else None


def ways_out(of: facts.Failed, taken: Taken, may_concede: str) -> str:
    """Word what can be said to settle a failed result."""
    if of.again is not None:
        return f"Say {going_on(of.again)}."
    concede = {
        "anyone": ["concession"],
        "listed": ["concession by somebody on the list"],
        "none": [],
    }[may_concede]
    if of.parts is not None and not of.fitted:
        wanted = of.parts.count - of.to_come
        if wanted > 0:
            way = steps.to_order(of.parts.model_copy(update={"count": wanted}))
        else:
            way = steps.to_receive(of.parts)
        return f"Say {_either([way, *concede])}."
    holds = " It holds fitting and closing." if taken == "as found" else ""
    again = ["retest"] if may_be_tested_again(of) else []
    again += ["rework and the step"]
    return f"Say {_either([*again, *concede])}.{holds}"


def going_on(of: facts.Again) -> str:
    """Word what to say to go on with what is to be had anew."""
    return f"go to step {count(of.number)}"


def begun(of: facts.Failed) -> str:
    """Word that a result is to be had anew, and that nothing more is to be said for it."""
    return sentence(what(of))


def _either(words: Sequence[str]) -> str:
    """Join what can be said; the comma keeps "rework and the step" together."""
    *first, last = words
    return f"{', '.join(first)}, or {last}" if first else last


def may_be_tested_again(of: facts.Failed) -> bool:
    """Return whether a result can be taken anew, with nothing done about it."""
    return of.parts is None and of.result.kind not in ("fitted part", "choice")


def settled(names: Sequence[str]) -> str:
    """Word which results meet their requirement now."""
    return sentence(f"{listing(names)} {'is' if len(names) == 1 else 'are'} settled")


def all_failed(
    open_ones: Sequence[tuple[facts.Failed, Taken, str]], conceded: Sequence[events.Conceded]
) -> list[str]:
    """Word each result that fails, with the ways out, and what was conceded.

    With each comes when it was taken, and who may concede it.
    """
    said = [
        f"{sentence(f'{steps.name(of.number)}: {what(of)}')} {ways_out(of, taken, may_concede)}"
        for of, taken, may_concede in open_ones
    ]
    said += [sentence(f"conceded by {_name(of)}: {what(of.failed)}") for of in conceded]
    return said or [NOTHING_FAILED]


def _name(of: events.Conceded) -> str:
    return of.by or "somebody unnamed"


def held_by(number: int, of: facts.Failed) -> str:
    """Word that a step has to wait for a failed result."""
    way = "go to step and its number, to settle it" if of.again is None else going_on(of.again)
    return sentence(
        f"{steps.name(number)} has to wait. At {steps.name(of.number)}, {what(of)}. Say {way}"
    )


def gated(number: int, gate: facts.GateToPass) -> str:
    """Word that a step has to wait for a gate, and how to get there."""
    return sentence(
        f"{steps.name(number)} has to wait for {steps.name(gate.number)}, {inside(gate.text)}. "
        f"Say go to step {count(gate.number)}"
    )


def retest(steps_again: Sequence[int]) -> str:
    """Word that results are taken anew, and at which steps."""
    again = listing(map(count, steps_again))
    return sentence(f"retest, a new set of results, at {_steps(steps_again)} {again}")


def rework(number: int, steps_again: Sequence[int]) -> str:
    """Word that a step is done again, and which after it are to be done again too."""
    later = [n for n in steps_again if n != number]
    if not later:
        return sentence(f"rework of {steps.name(number)}")
    again = listing(map(count, later))
    return sentence(
        f"rework of {steps.name(number)}. After it {_steps(later)} {again} "
        f"{'is' if len(later) == 1 else 'are'} to be done again"
    )


def _steps(numbers: Sequence[int]) -> str:
    return several(len(numbers), "step").split(" ", 1)[1]


def not_done_yet(number: int) -> str:
    """Refuse rework of a step that was not done."""
    return sentence(f"{steps.name(number)} was not done yet. Say go to step, and its number")


def ask_concession(of: facts.Failed) -> str:
    """Ask for the reason of a concession."""
    return (
        f"{sentence(f'concession for step {count(of.number)}: {what(of)}')} "
        "For what reason? Say note and the reason, or disregard."
    )


def conceded(of: events.Conceded, by: str | None) -> str:
    """Word that a result was accepted as it is."""
    return sentence(f"conceded by {by or 'nobody named'}, {named(of.failed.result)}. Recorded")


def takes_no_concession(of: facts.Failed) -> str:
    """Refuse to concede a result that takes no concession."""
    return sentence(f"{named(of.result)} takes no concession. Say retest, or rework and the step")


def not_on_the_list(name: str) -> str:
    """Refuse a concession by somebody who may not give it."""
    return sentence(f"{name} is not on the list for this concession. Say this is, and another name")
