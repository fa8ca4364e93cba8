"""What a step fits and what of it is not to be had, read from the ledger of parts.

Only what is known to be lacking counts: parts that were condemned, missed, sent away, found short
in the kit, or asked for and not received. Of what nobody spoke, nothing is lacking.

A part that was ordered while like ones are at hand is one that somebody wants to replace: so many
of those at hand are not counted on until the order is received or cancelled.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from assistant.dialogue import events, facts
from assistant.dialogue.facts import LackCause, Lacking, ResultRef
from assistant.dialogue.fitting import Key, Need
from assistant.dialogue.parts import Holdings, Place
from assistant.procedure.model import Step

if TYPE_CHECKING:
    from assistant.dialogue.state import State

_TO_CONCEDE: dict[LackCause, facts.ResultKind] = {
    "condemned": "condemned part",
    "missing": "missing part",
}
"""What somebody may accept as it is, and what kind of result it is then."""


_KNOWN_TO_LACK: tuple[facts.PlaceKind, ...] = (
    "condemned",
    "missing",
    "away for repair",
    "short in the kit",
    "asked",
    "ordered",
)


@dataclass(frozen=True)
class Lack:
    """Parts that a step fits and that are not to be had."""

    step: Step
    key: Key
    parts: facts.Parts
    cause: LackCause | None
    """Why the one that was there is not to be had; None where it was only asked for."""
    why: Lacking
    """The same, or what became of the order for it."""
    bag: int | None = None
    ref: ResultRef | None = None
    """The result that a concession would name; None where there is none to give."""

    @property
    def count(self) -> int:
        """How many of them."""
        return self.parts.count


@dataclass
class _Spoken:
    """What the steps before take of what is there, and lack of what is not."""

    used: Counter[Key] = field(default_factory=Counter)
    lacked: Counter[Key] = field(default_factory=Counter)


def lacking(state: State, step: Step) -> tuple[Lack, ...]:
    """Return what a step lacks as things are now; what was conceded is left out."""
    return tuple(_but_for_concessions(state, _lacks(state, step, _Spoken())))


def to_come(state: State) -> Iterator[Lack]:
    """Yield what the steps that are to be done yet lack, each of them given what those before it
    leave; what was conceded is left out.
    """
    yield from _but_for_concessions(state, in_all(state))


def in_all(state: State) -> Iterator[Lack]:
    """Yield the same with what was conceded."""
    spoken = _Spoken()
    for step in state.route():
        if step.id not in state.done:
            yield from _lacks(state, step, spoken)


def _but_for_concessions(state: State, lacks: Iterator[Lack]) -> Iterator[Lack]:
    conceded = [e.failed.result for e in state.of_job(events.Conceded)]
    return (lack for lack in lacks if lack.ref is None or lack.ref not in conceded)


def _lacks(state: State, step: Step, spoken: _Spoken) -> Iterator[Lack]:
    if step.id in state.done:
        return
    for need in state.plan.needs.get(step.id, ()):
        yield from _of_need(state, step, need, spoken)


def _of_need(state: State, step: Step, need: Need, spoken: _Spoken) -> Iterator[Lack]:
    holdings, key = state.holdings, need.key
    if not holdings.held(key, *_KNOWN_TO_LACK) and not holdings.received.get(key):
        return  # Nobody said that any of them is not there.
    causes = _causes(state, need)
    lost, received = sum(causes.values()), holdings.received.get(key, 0)
    not_received = max(holdings.to_come(key), lost - received)
    known = not_received - spoken.lacked[key]
    there = _old(state, need) + _new(state, need) - spoken.used[key]
    lack = min(known, need.count - max(0, min(there, need.count)))
    spoken.used[key] += need.count - max(0, lack)
    if lack <= 0:
        return
    spoken.lacked[key] += lack
    open_by: dict[Lacking, int] = {
        "ordered": holdings.held(key, "ordered"),
        "asked": holdings.held(key, "asked"),
    }
    for cause, count in _shared(causes, lack):
        left = count
        parts = facts.Parts.of(state.procedure, key.name, count)
        ref = _ref(holdings, step, key, cause)
        base = Lack(step, key, parts, cause, "asked", need.bag, ref)
        for why in open_by:
            number = min(left, open_by[why])
            open_by[why] -= number
            left -= number
            if number:
                yield replace(base, parts=parts.model_copy(update={"count": number}), why=why)
        if left and cause is not None:
            yield replace(base, parts=parts.model_copy(update={"count": left}), why=cause)


def _shared(causes: dict[LackCause, int], lack: int) -> Iterator[tuple[LackCause | None, int]]:
    """Yield how many of those that lack are lost to each cause; the rest was only asked for."""
    for cause, number in causes.items():
        count = min(lack, number)
        lack -= count
        if count:
            yield cause, count
    if lack:
        yield None, lack


def _causes(state: State, need: Need) -> dict[LackCause, int]:
    """Return how many that the step would fit were lost, and to what."""
    holdings = state.holdings
    found: dict[LackCause, int] = {}
    if not need.new:
        own = _own(state, need)
        found["condemned"] = holdings.held(
            need.key, "condemned", wanted=lambda place: place.step is None and own(place)
        )
        found["missing"] = holdings.held(need.key, "missing", wanted=own)
        found["away for repair"] = holdings.held(need.key, "away for repair", wanted=own)
    found["short in the kit"] = holdings.held(need.key, "short in the kit")
    return found


def _old(state: State, need: Need) -> int:
    """Return how many there are that the step may fit and that no order brought.

    Orders first of all replace what was lost; any beyond that replace some of these.
    """
    holdings, key = state.holdings, need.key
    count = holdings.held(key, "in the kit")
    if not need.new:
        count += holdings.held(key, "off", "in place", wanted=_own(state, need))
    ordered = holdings.to_come(key) + holdings.received.get(key, 0)
    return max(0, count - max(0, ordered - sum(_causes(state, need).values())))


def _new(state: State, need: Need) -> int:
    """Return how many came by an order and wait to be fitted by a step; some may be said to be
    installed already, and some were fitted and came off again for rework, which puts them into no
    bag.
    """
    holdings, key, own = state.holdings, need.key, _own(state, need)
    installed = holdings.held(key, "fitted new", wanted=lambda place: place.step is None)
    off_again = min(
        holdings.received.get(key, 0),
        holdings.held(key, "off", wanted=lambda place: place.bag is None and not own(place)),
    )
    return holdings.held(key, "received") + installed + off_again


def _own(state: State, need: Need) -> Callable[[Place], bool]:
    """Return what tells whether parts at a place are for this step, and not in another's bag."""
    bag = state.holdings.bag
    filled = {bag(number) for key, number in state.plan.filled if key == need.key}
    drawn = {bag(number) for key, number in state.plan.drawn if key == need.key} - {None}
    own = bag(need.bag)
    if own is not None and own in filled:
        return lambda place: place.bag == own
    return lambda place: place.bag not in drawn


def _ref(holdings: Holdings, step: Step, key: Key, cause: LackCause | None) -> ResultRef | None:
    kind = _TO_CONCEDE.get(cause) if cause else None
    if kind is None or cause is None:
        return None
    turns = holdings.turns.get((key, cause), ())
    return ResultRef(kind=kind, step=step.id, name=key.name, turns=turns)


def fitted_condemned(state: State) -> Iterator[tuple[Step, Key, int, ResultRef]]:
    """Yield what was condemned and is fitted all the same: the step, the kind, how many, and the
    result that a concession names.
    """
    holdings = state.holdings
    for key, places in holdings.counts.items():
        steps = Counter[str]()
        for place, count in places.items():
            if place.kind == "condemned" and place.step is not None:
                steps[place.step] += count
        for step_id, count in steps.items():
            step = state.procedure.step(step_id)
            ref = _ref(holdings, step, key, "condemned")
            assert ref is not None
            yield step, key, count, ref


def to_fit(state: State, step: Step) -> tuple[facts.Fitted, ...]:
    """Return what a step that is done now has fitted: what it asks for, without what was missing
    and conceded. A part that was received counts as new, whatever the step asks for. Fasteners
    that were nowhere before are left out: the step may only have tightened them.
    """
    found = []
    holdings = state.holdings
    lacks = list(_lacks(state, step, _Spoken()))
    for need in state.plan.needs.get(step.id, ()):
        without = sum(
            lack.count
            for lack in lacks
            if lack.key == need.key and lack.bag == need.bag and lack.cause != "condemned"
        )
        count = need.count - without
        known = need.new or need.bag is not None or bool(holdings.counts.get(need.key))
        if count <= 0 or (need.fastener and not known):
            continue
        again = count if not need.new else 0
        if not need.new:
            old = _old(state, need) + sum(
                lack.count
                for lack in lacks
                if lack.key == need.key and lack.bag == need.bag and lack.cause == "condemned"
            )
            again = count - min(_new(state, need), max(0, count - old))
        for number, is_new in ((again, False), (count - again, True)):
            if number:
                parts = facts.Parts.of(state.procedure, need.key.name, number)
                bag = None if is_new else need.bag
                found.append(facts.Fitted(**parts.model_dump(), new=is_new, bag=bag))
    return tuple(found)


def left_over(state: State) -> Iterator[facts.PartsLeftOver]:
    """Yield what is left over of parts that the job fits, once no step to come fits them: received
    ones, those that the kit was seen to hold, and those that came off.
    """
    holdings = state.holdings
    fasteners = {state.names.key(f.name, s.id) for s in state.procedure.steps for f in s.fasteners}
    for key, finished in _fits(state).items():
        if not finished:
            continue
        kinds: tuple[facts.PlaceKind, ...] = ("received",)
        if key in holdings.checked or state.procedure.unwritten is not None:
            kinds = ("in the kit", "received")
        for kind in kinds:
            count = holdings.held(key, kind)
            if count:
                parts = facts.Parts.of(state.procedure, key.name, count)
                yield facts.PartsLeftOver(place=kind, parts=parts)
        # What is left of a bag's fasteners is told of the bag, as a sum; an old part of which a new
        # one was fitted is scrap.
        off = holdings.held(key, "off", wanted=_told_by_no_bag(state) if key in fasteners else None)
        over = off - holdings.held(key, "fitted new")
        if over > 0:
            parts = facts.Parts.of(state.procedure, key.name, over)
            yield facts.PartsLeftOver(place="off", parts=parts)


def _told_by_no_bag(state: State) -> Callable[[Place], bool]:
    """Return what tells whether fasteners at a place are in no bag that tells what is left of them.

    Of a job without a procedure no list says what is in a bag that was not opened.
    """
    if state.procedure.unwritten is None:
        return lambda place: place.bag is None
    opened = {step.from_bag for step in state.procedure.steps if step.id in state.done} - {None}
    return lambda place: place.bag not in opened


def _fits(state: State) -> dict[Key, bool]:
    """Return the kinds that the job fits, and whether every step that fits them is done."""
    found: dict[Key, bool] = {}
    settled = state.done
    if state.procedure.unwritten is not None:
        # All that was taken off, and all of the kit, is to go on; what no step fits is left over,
        # and what was skipped is what somebody left off.
        found = dict.fromkeys(state.holdings.counts, True)
        settled |= state.skipped.keys()
    for step, needs in state.plan.needs.items():
        for need in needs:
            found[need.key] = found.get(need.key, True) and step in settled
    return found
