"""What keeps the present step from being done: each kind, and what it is about."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from assistant.dialogue import clocks, events
from assistant.dialogue.state import State, Target
from assistant.procedure.model import Before, Hazard, Reading, Step


@dataclass(frozen=True)
class Outstanding:
    """Base of what keeps a step from being done."""


@dataclass(frozen=True)
class HazardsToHear(Outstanding):
    """Hazards that were not affirmed."""

    hazards: tuple[Hazard, ...]


@dataclass(frozen=True)
class StepBefore(Outstanding):
    """Another step that has to be done first."""

    step: Step
    number: int


@dataclass(frozen=True)
class ConditionToAffirm(Outstanding):
    """Something that must be true first."""

    before: Before


@dataclass(frozen=True)
class QuestionToAnswer(Outstanding):
    """The step's own question."""

    step: Step


@dataclass(frozen=True)
class ReadingToTake(Outstanding):
    """A reading that was not taken."""

    reading: Reading


@dataclass(frozen=True)
class TorqueToRecord(Outstanding):
    """A pass of tightening that was not confirmed."""

    target: Target


@dataclass(frozen=True)
class BagToRecord(Outstanding):
    """The bag was not said back."""

    number: int


@dataclass(frozen=True)
class TimeToPass(Outstanding):
    """A wait that was not started (`due` is None), or has not passed."""

    purpose: str
    seconds: int
    due: datetime | None
    left: float | None = None
    """Seconds until it is due; None where it was not started."""


def outstanding(state: State, now: datetime) -> tuple[Outstanding, ...]:
    """Return what keeps the present step from being done, in the order to deal with it."""
    step = state.step
    found: list[Outstanding] = []
    grave = tuple(h for h in step.hazards if h.signal.must_be_affirmed)
    if grave and not state.of_step(events.HazardsHeard):
        found.append(HazardsToHear(grave))
    affirmed = {e.condition for e in state.of_step(events.ConditionAffirmed)}
    for before in step.before:
        if before.step is not None and before.step not in state.done:
            number = state.procedure.index(before.step)
            earlier = state.procedure.steps[number]
            if any(step.id == earlier.id for step in state.route()):
                found.append(StepBefore(earlier, number + 1))
        elif before.affirm is not None and before.affirm not in affirmed:
            found.append(ConditionToAffirm(before))
    if step.question and step.question.name not in state.answers:
        found.append(QuestionToAnswer(step))
    taken = {e.name for e in state.of_step(events.ReadingRecorded)}
    found.extend(ReadingToTake(r) for r in state.readings() if r.name not in taken)
    tightened = {(e.fastener, e.stage) for e in state.of_step(events.TorqueRecorded)}
    found.extend(
        TorqueToRecord(target)
        for target in state.targets()
        if (target.tighten.fastener, target.stage) not in tightened
    )
    if step.bag is not None and not state.of_step(events.BagRecorded):
        found.append(BagToRecord(step.bag))
    if step.wait and step.wait.applies(state.answers):
        due = clocks.wait_due(state, step)
        left = None if due is None else (due - now).total_seconds()
        if left is None or left > 0:
            found.append(TimeToPass(step.wait.purpose, clocks.wait_seconds(step), due, left))
    return tuple(found)
