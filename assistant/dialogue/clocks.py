"""Timers and waits: when each is due, and which of them run.

A clock is an event and a length of time; nothing ticks here. The time is handed in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from assistant.dialogue import bolts, events
from assistant.dialogue.state import State
from assistant.dialogue.withdrawal import first_said
from assistant.procedure import arithmetic
from assistant.procedure.model import Step


def wait_seconds(step: Step) -> int:
    """Return how long the step's wait is, in seconds."""
    if step.wait is None:
        raise LookupError(f"step {step.id} has no wait")
    return arithmetic.wait_seconds(step.wait)


def wait_due(state: State, step: Step) -> datetime | None:
    """Return when the step's wait will have passed; None where its clock has not started.

    The clock starts with the last torque of the step that the wait names, or else by hand.
    """
    joint = _joint(state, step)
    if joint is not None:
        return joint.at + timedelta(seconds=wait_seconds(step))
    cancelled = {e.started_turn for e in state.of_step(events.TimerCancelled, step.id)}
    started = [
        e
        for e in state.of_step(events.TimerStarted, step.id)
        if e.for_wait and e.turn not in cancelled
    ]
    return started[-1].at + timedelta(seconds=started[-1].seconds) if started else None


def _joint(state: State, step: Step) -> events.TorqueRecorded | None:
    """Return the torque that starts the step's wait, once its joint is tightened altogether.

    A torque that was put right is the one that it was when it was first said.
    """
    if step.wait is None or step.wait.since is None:
        return None
    since = state.procedure.step(step.wait.since)
    torques = [first_said(e, state.log) for e in state.of_step(events.TorqueRecorded, since.id)]
    complete = all(bolts.complete(state, target, since.id) for target in state.targets_of(since))
    return max(torques, key=lambda e: e.turn) if torques and complete else None


@dataclass(frozen=True)
class Clock:
    """A timer that runs, or a wait that runs since a joint was tightened."""

    name: str
    turn: int
    """The turn that started it."""
    step: str | None
    due: datetime
    by_hand: bool = True
    """Whether somebody started it; a wait that runs since a joint was tightened goes on."""


def running_clocks(state: State) -> tuple[Clock, ...]:
    """Return the timers and waits that run and have not rung, the one that is due first first."""
    found = [
        Clock(e.name, e.turn, e.step, e.at + timedelta(seconds=e.seconds))
        for e in state.of_job(events.TimerStarted)
    ]
    for step in state.route():
        joint = _joint(state, step)
        if joint is None or step.wait is None or not step.wait.applies(state.answers):
            continue
        if step.id not in state.done | state.skipped.keys():
            due = joint.at + timedelta(seconds=wait_seconds(step))
            found.append(Clock(step.wait.purpose, joint.turn, step.id, due, by_hand=False))
    over = {
        (e.name, e.started_turn, e.step)
        for e in state.history
        if isinstance(e, events.TimerRang | events.TimerCancelled)
    }
    running = (c for c in found if (c.name, c.turn, c.step) not in over)
    return tuple(sorted(running, key=lambda c: (c.due, c.turn)))
