"""The nonconformities of a job through its history: what failed, and how each ended. Pure.

What fails now is told by the state (`State.nonconformities`). What failed once and does no longer
is found by folding the record turn by turn and looking after each turn that can have changed a
result.
One nonconformity is one thing that failed, however often it was measured again: a leak test that
failed, was repeated and failed again is one, with two results.

Nothing that failed is ever left out. Where its record was taken back, that is what is said of it;
where a retest or rework was begun and has no new result yet, it is open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby
from typing import Any, Literal

from assistant.dialogue import bolts, events, facts, nonconformities, results
from assistant.dialogue import state as job_state
from assistant.dialogue.nonconformities import Nonconformity as Failing
from assistant.dialogue.reopened import OpenedAgain, Thing, thing
from assistant.report import figures, wording
from assistant.report.entries import Sources
from assistant.report.model import Concession, Nonconformity
from assistant.trade import units

_ORDER = ("open", "conceded", "settled", "taken back")


def find(of: Sources) -> tuple[Nonconformity, ...]:
    """Return every nonconformity of the job, the open ones first, each kind by its step."""
    failing = _failing(of.state)
    again = {thing(e.ref): e for e in of.state.nonconformities if e.again}
    found = [_made(of, seen, failing.get(key), again.get(key)) for key, seen in _seen(of).items()]
    return tuple(sorted(found, key=lambda one: (_ORDER.index(one.status), one.number or 0, one.at)))


@dataclass
class _Seen:
    """A thing that failed in one set of results, from the turn it failed until it ended."""

    failing: Failing
    """As it failed last."""
    ended: Literal["retest", "rework", "new part", "taken back"] | None = None


def _failing(state: job_state.State) -> dict[Thing, Failing]:
    """Return what fails as it stands; what failed in an earlier set does not."""
    return {thing(each.ref): each for each in state.nonconformities if not each.again}


def _seen(of: Sources) -> dict[Thing, list[_Seen]]:
    """Return for each thing that ever failed the sets in which it did, in order."""
    found: dict[Thing, list[_Seen]] = {}
    state = job_state.start(of.procedure)
    for _, of_turn in groupby(of.events, key=lambda event: event.turn):
        turn = list(of_turn)
        for event in turn:
            state = job_state.apply(state, event)
        if any(_may_change(event) for event in turn):
            _look(found, state, turn)
    return found


def _may_change(event: events.Event) -> bool:
    """Whether an event can make a result fail, or keep one from failing."""
    match event:
        case events.TorqueRecorded():
            return not event.within
        case events.StepDone():
            return bool(event.fitted)
        case _:
            return isinstance(
                event,
                events.ReadingRecorded
                | events.QuestionAnswered
                | events.FindingRecorded
                | events.KitItemChecked
                | events.PartOrdered
                | events.OrderMoved
                | events.RetestBegun
                | events.ReworkBegun
                | events.Withdrawn,
            )


def _look(
    found: dict[Thing, list[_Seen]], state: job_state.State, turn: list[events.Event]
) -> None:
    """Note what fails after a turn, and what does no longer."""
    failing = _failing(state)
    ended: Literal["retest", "rework", "new part", "taken back"] = "taken back"
    if any(isinstance(event, events.RetestBegun) for event in turn):
        ended = "retest"
    elif any(isinstance(event, events.ReworkBegun) for event in turn):
        ended = "rework"
    elif any(isinstance(event, events.OrderMoved | events.StepDone) for event in turn):
        ended = "new part"
    for key, seen in found.items():
        if key not in failing and seen[-1].ended is None:
            seen[-1].ended = ended
    for key, each in failing.items():
        seen = found.setdefault(key, [])
        # The very same result again: what had ended it was taken back.
        same = next((one for one in seen if one.failing.ref == each.ref), None)
        if same is not None:
            del seen[seen.index(same) + 1 :]
            same.ended = None
        if seen and seen[-1].ended in (None, "taken back"):
            seen[-1] = _Seen(each)
        else:
            seen.append(_Seen(each))


def _made(
    of: Sources, seen: list[_Seen], failing: Failing | None, again: Failing | None
) -> Nonconformity:
    # What was only misheard is told of a thing that failed in no other way.
    seen = [one for one in seen if one.ended != "taken back"] or seen
    last = failing or seen[-1].failing
    failed = nonconformities.failed(last)
    concession = _concession(of, last, failing or again)
    fields = _numbers(failed)
    return of.entry(
        Nonconformity,
        _event(of, last),
        _what(failed, fields["beyond"]),
        step=last.step.id,
        number=last.number,
        kind=last.ref.kind,
        name=last.ref.name,
        stage=last.ref.stage,
        bolt=last.ref.bolt,
        taken=last.taken,
        part=failed.part,
        wanted=failed.wanted,
        before=tuple(_told(of, one.failing) for one in seen[:-1]),
        concession=concession,
        concessions=last.may_concede,
        **fields,
        **_status(of, seen, last, failing, again),
    )


def _status(
    of: Sources, seen: list[_Seen], last: Failing, failing: Failing | None, again: Failing | None
) -> dict[str, Any]:
    """Return how a nonconformity stands, and what settled it."""
    stands: dict[str, Any] = dict.fromkeys(("settled_by", "settled_at", "again", "now"))
    if failing is not None:
        return stands | {"status": "open" if failing.open else "conceded"}
    if again is not None:
        assert isinstance(again.result, OpenedAgain) and again.result.failed.again is not None
        by = again.result.failed.again.by
        return stands | {"status": "open" if again.open else "conceded", "again": by}
    new = _result(of, last)
    if new is not None:
        stands["now"] = "; ".join(map(_written, new))
    renewed = [one.ended for one in seen if one.ended in ("retest", "rework", "new part")]
    if not renewed or last.step.id not in {step.id for step in of.state.route()}:
        return stands | {"status": "taken back"}
    if new is None:
        return stands | {"status": "taken back"}
    at = max(event.at for event in new)
    return stands | {"status": "settled", "settled_by": renewed[-1], "settled_at": at}


def _written(event: events.Base) -> str:
    if isinstance(event, events.StepDone):
        return f"{wording.contents(event.fitted) or 'nothing'} fitted"
    return wording.event(event)


def _numbers(failed: facts.Failed) -> dict[str, Any]:
    """Return what was found and what is required, as numbers of one unit."""
    if failed.found is None:
        return dict.fromkeys(("found", "unit", "ucum", "least", "most", "beyond"))
    found, unit = failed.found.value, failed.found.unit
    required = failed.required or facts.Bounds()
    least = figures.in_unit(required.least, unit)
    most = figures.in_unit(required.most, unit)
    return {
        "found": found,
        "unit": unit,
        "ucum": units.ucum(unit),
        "least": least,
        "most": most,
        "beyond": _beyond(found, least, most),
    }


def _beyond(found: Decimal, least: Decimal | None, most: Decimal | None) -> Decimal | None:
    """Return how far a number is beyond the nearer limit; None where it is not."""
    if least is not None and found < least:
        return least - found
    if most is not None and found > most:
        return found - most
    return None


def _what(failed: facts.Failed, beyond: Decimal | None) -> str:
    by = ""
    if beyond is not None and failed.found is not None:
        by = f", by {wording.quantity(beyond, failed.found.unit)}"
    return f"{wording.failure(failed)}{by}"


def _told(of: Sources, failing: Failing) -> str:
    failed = nonconformities.failed(failing)
    at = _event(of, failing).at
    return f"{_what(failed, _numbers(failed)['beyond'])}, {at:%Y-%m-%d %H:%M}"


def _event(of: Sources, failing: Failing) -> events.Event:
    """Return the record that made a result what it is: the last that went into it."""
    turns = set(failing.ref.turns)
    kinds = (
        events.ReadingRecorded,
        events.TorqueRecorded,
        events.StepDone,
        events.FindingRecorded,
    )
    made = [e for e in of.events if e.turn in turns and isinstance(e, kinds)]
    return made[-1] if made else of.events[0]


def _concession(of: Sources, last: Failing, failing: Failing | None) -> Concession | None:
    """Return the last concession of a thing, and whether it is for another result than it has."""
    given = [
        event
        for event in of.state.of_job(events.Conceded)
        if thing(event.failed.result) == thing(last.ref)
    ]
    if not given:
        return None
    holds = failing is not None and failing.conceded is not None
    event = failing.conceded if failing is not None and failing.conceded else given[-1]
    return of.entry(Concession, event, lapsed=not holds)


def _result(of: Sources, failing: Failing) -> tuple[events.Base, ...] | None:
    """Return the records of the result that a thing has now; None for none."""
    state, ref = of.state, failing.ref
    match ref.kind:
        case "reading":
            measured = state.results.readings.get(ref.name)
            return measured.taken if measured is not None and measured.complete else None
        case "value" | "choice" | "leak test" | "fluid":
            for each in state.results.followed:
                if results.key(each) == (ref.kind, ref.step, ref.name):
                    return (of.told(each),)
            return None
        case "torque":
            targets = state.targets_of(failing.step)
            asked = [t for t in targets if (t.tighten.fastener, t.stage) == (ref.name, ref.stage)]
            if not asked or not bolts.complete(state, asked[0], ref.step):
                return None
            return tuple(_torques(state, ref))
        case "condemned part" | "missing part":
            return _fitted(of, ref) or None
        case _:
            return state.of_step(events.StepDone, ref.step) or None


def _fitted(of: Sources, ref: facts.ResultRef) -> tuple[events.Base, ...]:
    """Return the records of a part's being fitted in place of one that was lost, else of its having
    come.
    """
    name = of.part(ref.name)
    done = of.state.of_step(events.StepDone, ref.step)
    if any(of.part(one.name) == name for event in done for one in event.fitted):
        return done
    moves = of.state.of_job(events.OrderMoved)
    return tuple(e for e in moves if of.part(e.part) == name and e.state == "received")


def _torques(state: job_state.State, ref: facts.ResultRef) -> Iterator[events.TorqueRecorded]:
    for event in state.of_step(events.TorqueRecorded, ref.step):
        of_pass = (event.fastener, event.stage) == (ref.name, ref.stage)
        if of_pass and (None in (ref.bolt, event.bolt) or ref.bolt == event.bolt):
            yield event
