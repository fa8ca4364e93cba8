"""Whether what went into the bags came out of them again. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from assistant.dialogue import events, facts
from assistant.dialogue.state import State
from assistant.procedure import bags
from assistant.procedure.model import Procedure, Step


def left_over(state: State) -> Iterator[facts.BagNotOpened | facts.BagUneven]:
    """Yield what is wrong with the bags: not opened, or its fasteners do not add up.

    A bag counts as opened when a step that takes its hardware from it is done; see
    `assistant.procedure.bags` for what is added up.
    """
    bagged: dict[int, dict[str | None, events.BagRecorded]] = {}
    for event in state.of_job(events.BagRecorded):
        bagged.setdefault(event.asked or event.number, {})[event.step] = event
    names = bags.fastener_names(state.procedure)
    unopened = []
    for asked, filled in sorted(bagged.items()):
        event = list(filled.values())[-1]
        takers = [step for step in state.route() if step.from_bag == asked]
        done = [step for step in takers if step.id in state.done]
        if done:
            givers = [state.procedure.step(step) for step in filled if step is not None]
            into, _ = bags.tally(names, givers, done, asked, state.answers)
            into -= _lost(state, event.number, "missing", "condemned", "away for repair")
            out = _fitted(state, names, done, asked)
            if into.total() != out.total():
                yield facts.BagUneven(
                    number=event.number,
                    went_in=_parts(state.procedure, into),
                    fitted=_parts(state.procedure, out),
                )
        elif takers:
            unopened.append(facts.BagNotOpened(number=event.number))
    yield from unopened


def _lost(state: State, bag: int, *kinds: facts.PlaceKind) -> Counter[str]:
    """Return what was in a bag, or would have gone into it, and is in such a place now."""
    lost: Counter[str] = Counter()
    for key, places in state.holdings.counts.items():
        for place, count in places.items():
            if place.kind in kinds and place.bag == bag and place.step is None:
                lost[key.name] += count
    return lost


def put_in(state: State, bag: events.BagRecorded) -> tuple[facts.Parts, ...]:
    """Return what was put into a bag when it was recorded, as it is known now: in a job without a
    procedure, how many and what they are may have been put right since.
    """
    piece = next((one for one in state.pieces if one.id == bag.step), None)
    return bag.contents if piece is None else (piece.parts,)


def still_in(state: State, bag: events.BagRecorded) -> tuple[facts.Parts, ...]:
    """Return what is in a bag that was not opened: what was put in, but for what is missing from
    it or away. What was condemned may lie in it yet.
    """
    gone = _lost(state, bag.number, "missing", "away for repair")
    found = []
    for parts in bag.contents:
        count = parts.count - gone[state.names.one_name(parts.name)]
        if count > 0:
            found.append(parts.model_copy(update={"count": count}))
    return tuple(found)


def _fitted(state: State, names: frozenset[str], steps: list[Step], bag: int) -> Counter[str]:
    """Return the fasteners that steps have fitted from a bag, by what was recorded of them."""
    of_steps = {step.id for step in steps}
    one_name = state.names.one_name
    called = {one_name(name) for name in names}
    found: Counter[str] = Counter()
    for event in state.current(events.StepDone):
        for parts in event.fitted if event.step in of_steps else ():
            if parts.bag == bag and one_name(parts.name) in called:
                found[parts.name] += parts.count
    return found


def contents(procedure: Procedure, step: Step) -> tuple[facts.Parts, ...]:
    """Return what goes into the step's bag; nothing where the step does not say."""
    things = [
        facts.Parts.of(procedure, remove.part, remove.count)
        for remove in step.remove
        if not remove.discard
    ]
    named = {remove.part for remove in step.remove}
    # A bolt can be listed both as a part that comes off and as a fastener of the joint.
    things += [
        facts.Parts.of(procedure, one.name, one.count)
        for one in step.fasteners
        if one.name not in named
    ]
    return tuple(things)


def _parts(procedure: Procedure, of: Counter[str]) -> tuple[facts.Parts, ...]:
    return tuple(facts.Parts.of(procedure, name, number) for name, number in of.items())
