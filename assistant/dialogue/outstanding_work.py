"""What keeps the present step from being done: each kind, and what it is about."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from assistant.dialogue import bolts, clocks, events, lacking, nonconformities
from assistant.dialogue.nonconformities import Nonconformity
from assistant.dialogue.state import WORK, State, Target
from assistant.procedure.model import Before, Hazard, Procedure, Reading, Signal, Step


@dataclass(frozen=True)
class Outstanding:
    """Base of what keeps a step from being done."""


@dataclass(frozen=True)
class GateToPass(Outstanding):
    """A step that must be done before anything of the job, or of its stage."""

    step: Step
    number: int


@dataclass(frozen=True)
class FailureToSettle(Outstanding):
    """A result that does not meet its requirement and holds this step."""

    failure: Nonconformity
    here: bool
    """Whether it is a result of this step."""


@dataclass(frozen=True)
class HazardsToHear(Outstanding):
    """Hazards that were not affirmed."""

    hazards: tuple[Hazard, ...]
    of_job: bool = False
    """Whether they are those of the whole procedure, and not the step's."""


@dataclass(frozen=True)
class StepBefore(Outstanding):
    """Another step that has to be done first."""

    step: Step
    number: int


@dataclass(frozen=True)
class GroupToEnd(Outstanding):
    """The group that the step puts on as one, which is not ended."""


@dataclass(frozen=True)
class ConditionToAffirm(Outstanding):
    """Something that must be true first."""

    before: Before


@dataclass(frozen=True)
class QuestionToAnswer(Outstanding):
    """The step's own question."""

    step: Step


@dataclass(frozen=True)
class PartsLacking(Outstanding):
    """Parts that the step fits and that are not to be had."""

    lack: lacking.Lack


@dataclass(frozen=True)
class ReadingToTake(Outstanding):
    """A reading that was not taken."""

    reading: Reading


@dataclass(frozen=True)
class TorqueToRecord(Outstanding):
    """A pass of tightening that was not confirmed."""

    target: Target
    missing: tuple[int, ...] = ()
    """The bolts that are to be done yet, where they are done one by one."""


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


@dataclass(frozen=True)
class SecondCheckToMake(Outstanding):
    """Somebody other than who did the step has to check it; who did it, where that is known."""

    done_by: tuple[str, ...]


def outstanding(state: State, now: datetime) -> tuple[Outstanding, ...]:
    """Return what keeps the present step from being done, in the order to deal with it."""
    step = state.step
    found: list[Outstanding] = []
    of_job = grave(state.procedure, state.procedure.hazards)
    if of_job and not state.warned:
        found.append(HazardsToHear(of_job, of_job=True))
    found.extend(_gates(state))
    holding = nonconformities.holding(state, step)
    elsewhere = [each for each in holding if each.step.id != step.id]
    found.extend(FailureToSettle(each, here=False) for each in elsewhere)
    of_step = grave(state.procedure, step.hazards)
    if of_step and not state.of_step(events.HazardsHeard):
        found.append(HazardsToHear(of_step))
    found.extend(_of_group(state, step))
    affirmed = {e.condition for e in state.of_step(events.ConditionAffirmed)}
    for before in step.before:
        if before.step is not None and before.step not in state.done:
            earlier = state.procedure.step(before.step)
            if any(one is earlier for one in state.route()):
                found.append(StepBefore(earlier, state.procedure.number(before.step)))
        elif before.affirm is not None and before.affirm not in affirmed:
            found.append(ConditionToAffirm(before))
    if step.question and step.question.name not in state.answers:
        found.append(QuestionToAnswer(step))
    found.extend(PartsLacking(lack) for lack in lacking.lacking(state, step))
    taken = Counter((e.name, e.taken) for e in state.of_step(events.ReadingRecorded))
    for reading in state.readings():
        as_left = taken[reading.name, None] + taken[reading.name, "as left"]
        # What is said to be as found is not yet what the step is to leave.
        as_found = state.procedure.taken(step.id, reading) == "as found"
        if as_left + (taken[reading.name, "as found"] if as_found else 0) < reading.times:
            found.append(ReadingToTake(reading))
    found.extend(
        TorqueToRecord(target, bolts.missing(state, target))
        for target in state.targets()
        if not bolts.complete(state, target)
    )
    if step.bag is not None and not state.of_step(events.BagRecorded):
        found.append(BagToRecord(step.bag))
    if step.wait and step.wait.applies(state.answers):
        due = clocks.wait_due(state, step)
        left = None if due is None else (due - now).total_seconds()
        if left is None or left > 0:
            found.append(TimeToPass(step.wait.purpose, clocks.wait_seconds(step), due, left))
    # A part that is condemned and not fitted yet was told as lacking.
    found.extend(
        FailureToSettle(each, here=True)
        for each in holding
        if each.step.id == step.id and not nonconformities.to_be_fitted(each)
    )
    if step.second_check and second_check(state, step) is None:
        did = dict.fromkeys(event.by for event in done_here(state, step) if event.by)
        found.append(SecondCheckToMake(tuple(did)))
    return tuple(found)


def done_here(state: State, step: Step) -> tuple[events.Base, ...]:
    """Return what tells of the work at a step since it was opened last, and of whose it is."""
    return tuple(
        event
        for event in state.history[state.since.get(step.id, 0) :]
        if isinstance(event, (*WORK, events.ReadyForCheck)) and event.step == step.id
    )


def second_check(state: State, step: Step) -> events.SecondChecked | None:
    """Return the second check of a step, where it holds: nothing was recorded there since."""
    if not step.second_check:
        return None
    told = state.of_step((*WORK, events.SecondChecked), step.id)
    return told[-1] if told and isinstance(told[-1], events.SecondChecked) else None


def _of_group(state: State, step: Step) -> Iterator[Outstanding]:
    """Yield what a group waits for that goes on as one: its end, and what is to be put together."""
    group = state.arrangement.group(step.id)
    if group is None:
        return
    if not group.ended:
        yield GroupToEnd()
    settled = state.done | state.skipped.keys()
    for one in state.procedure.stage_of(step.id).steps:
        if one.id in group.members and one.id not in settled:
            yield StepBefore(one, state.procedure.number(one.id))


def grave(procedure: Procedure, hazards: Iterable[Hazard]) -> tuple[Hazard, ...]:
    """Return the hazards that have to be affirmed, the gravest first."""
    grades = list(Signal)
    found = filter(procedure.must_be_affirmed, hazards)
    return tuple(sorted(found, key=lambda hazard: grades.index(hazard.signal)))


def _gates(state: State) -> Iterator[GateToPass]:
    """Yield the gates that come before the present step, hold it, and were not passed.

    A gate ends with the step that lifts it, once that is done; and that step itself has to wait for
    it no more.
    """
    here = state.step
    lifted = {
        gate
        for step in state.route()
        if step.id in state.done or step.id == here.id
        for gate in step.lifts
    }
    for gate in _gates_of(state, here):
        if gate.id not in state.done and gate.id not in lifted:
            yield GateToPass(gate, state.procedure.number(gate.id))


def _gates_of(state: State, step: Step) -> Iterator[Step]:
    """Yield the gates before a step, in its stage or of the whole job."""
    procedure = state.procedure
    for gate in state.route():
        if gate.gate is None or procedure.index(gate.id) >= procedure.index(step.id):
            continue
        if gate.gate == "job" or procedure.stage_of(gate.id) is procedure.stage_of(step.id):
            yield gate


def gates_again(state: State, steps: Iterable[str]) -> set[str]:
    """Return the gates to be passed again where these steps are opened again, and the steps that
    lift them: work that comes before a lock is taken off waits for the lock to be put on again.
    """
    again: set[str] = set()
    opened = [step for step in state.route() if step.id in set(steps)]
    for lifting in state.route():
        if not lifting.lifts or lifting.id not in state.done:
            continue
        for step in opened:
            if state.procedure.index(step.id) < state.procedure.index(lifting.id):
                gates = {gate.id for gate in _gates_of(state, step)} & set(lifting.lifts)
                again |= gates | ({lifting.id} if gates else set())
    return again
