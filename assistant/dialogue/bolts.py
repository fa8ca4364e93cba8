"""Bolts one by one: which of a pass are called, tightened, and to be done yet. Pure.

A pass is said as one ("tightened one four") unless its bolts are called ("next bolt"). From then on
it is done when each bolt is, or when all that are left are said as one, which the record shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from assistant.dialogue import events
from assistant.procedure import arithmetic

if TYPE_CHECKING:
    from assistant.dialogue.state import State, Target


def order(state: State, target: Target, step: str | None = None) -> tuple[int, ...]:
    """Return the bolts of a pass in the order of tightening."""
    where = state.procedure.step(step) if step else state.step
    turns = arithmetic.turns(target.tighten, state.count_at(where, target.tighten.fastener))
    return tuple(turn.bolt for turn in turns if turn.stage == target.stage)


def called(state: State, target: Target, step: str | None = None) -> tuple[int, ...]:
    """Return the bolts of a pass that were called out, in order."""
    return tuple(e.bolt for e in state.of_step(events.BoltCalled, step) if _of(e, target))


def tightened(state: State, target: Target, step: str | None = None) -> set[int | None]:
    """Return the bolts of a pass that are recorded; None among them where all were said as one.

    A torque that is said to be as found is not one that they were tightened to.
    """
    where = step or state.step.id
    as_left = state.procedure.taken(where, target.tighten) == "as left"
    return {
        e.bolt
        for e in state.of_step(events.TorqueRecorded, step)
        if _of(e, target) and not (as_left and e.taken == "as found")
    }


def _of(event: events.TorqueRecorded | events.BoltCalled, target: Target) -> bool:
    return event.fastener == target.tighten.fastener and event.stage == target.stage


def missing(state: State, target: Target, step: str | None = None) -> tuple[int, ...]:
    """Return the bolts that are to be done yet, where they are done one by one; else none."""
    done = tightened(state, target, step)
    if None in done or not (called(state, target, step) or done):
        return ()
    return tuple(bolt for bolt in order(state, target, step) if bolt not in done)


def complete(state: State, target: Target, step: str | None = None) -> bool:
    """Return whether a pass is done: as one, or each of its bolts."""
    done = tightened(state, target, step)
    return None in done or (bool(done) and not missing(state, target, step))
