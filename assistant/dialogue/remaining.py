"""What is left to do, as data: of the present step, and of the whole job. Pure.

The session works with `state.Outstanding`, which refers to parts of the procedure. What goes into
an event, or to either catalogue, is the same as `facts.Outstanding`: names and numbers alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import ceil

from assistant.dialogue import customer, events, facts, nonconformities, outstanding_work
from assistant.dialogue import state as job_state
from assistant.dialogue.lacking import Lack
from assistant.dialogue.state import WORK, State
from assistant.procedure.model import Hazard


def begun(state: State) -> bool:
    """Return whether some of what the present step asks for is recorded, and the step not done."""
    step = state.step.id
    return step not in state.done and bool(state.of_step(WORK))


def hazard(of: Hazard) -> facts.Hazard:
    """Return a procedure's hazard as data."""
    return facts.Hazard(signal=of.signal.value, text=of.say)


def torque(of: job_state.Target) -> facts.TorqueToRecord:
    """Return a pass of tightening as data."""
    return facts.TorqueToRecord(
        fastener=of.tighten.fastener,
        stage=of.stage,
        stages=of.stages,
        value=of.value,
        unit=of.unit,
        around=of.around,
    )


def before(of: outstanding_work.StepBefore) -> facts.StepBefore:
    """Return a step that has to be done first as data."""
    return facts.StepBefore(step=of.step.id, number=of.number, text=of.step.say)


def gate(of: outstanding_work.GateToPass) -> facts.GateToPass:
    """Return a gate that was not passed as data."""
    return facts.GateToPass(step=of.step.id, number=of.number, text=of.step.say)


def lacking(of: Lack) -> facts.PartsLacking:
    """Return parts that a step fits and that are not to be had as data."""
    return facts.PartsLacking(parts=of.parts, why=of.why, concession=of.ref is not None)


def item(of: outstanding_work.Outstanding) -> facts.Outstanding:
    """Return one thing that keeps a step from being done as data."""
    match of:
        case outstanding_work.GateToPass():
            return gate(of)
        case outstanding_work.FailureToSettle():
            return facts.FailureToSettle(failed=nonconformities.failed(of.failure), here=of.here)
        case outstanding_work.HazardsToHear(hazards):
            return facts.HazardsToHear(hazards=tuple(map(hazard, hazards)))
        case outstanding_work.StepBefore():
            return before(of)
        case outstanding_work.GroupToEnd():
            return facts.GroupToEnd()
        case outstanding_work.ConditionToAffirm():
            return facts.ConditionToAffirm(condition=of.before.affirm or "")
        case outstanding_work.QuestionToAnswer(step) if step.question:
            answers = tuple(answer.say for answer in step.question.answers)
            return facts.QuestionToAnswer(question=step.question.say, answers=answers)
        case outstanding_work.PartsLacking(lack):
            return lacking(lack)
        case outstanding_work.ReadingToTake(reading):
            return facts.ReadingToTake(name=reading.name)
        case outstanding_work.TorqueToRecord(target):
            return torque(target).model_copy(update={"missing": of.missing})
        case outstanding_work.BagToRecord(number):
            return facts.BagToRecord(number=number)
        case outstanding_work.TimeToPass(purpose, seconds, due, left):
            whole = None if left is None else ceil(left)
            return facts.TimeToPass(purpose=purpose, seconds=seconds, due=due, left=whole)
        case outstanding_work.SecondCheckToMake(done_by):
            return facts.SecondCheckToMake(done_by=done_by)
    raise TypeError(f"no data for {of!r}")


def items(of: Iterable[outstanding_work.Outstanding]) -> tuple[facts.Outstanding, ...]:
    """Return what keeps a step from being done as data, in the order to deal with it."""
    return tuple(map(item, of))


def failures(state: State) -> tuple[facts.Failed, ...]:
    """Return the results that fail and were not conceded, as data."""
    return tuple(map(nonconformities.failed, nonconformities.still_open(state)))


def of_job(
    state: State, afterwards: Sequence[events.Base] = ()
) -> tuple[facts.Failed | facts.StepsNotDone | facts.SkippedStep | facts.CustomerToAnswer, ...]:
    """Return what fails, the steps that keep the job from being complete, and what the customer has
    still to answer; `afterwards` is what was entered after it was closed.
    """
    return (*failures(state), *steps_left(state), *customer.to_answer(state, afterwards))


def steps_left(state: State) -> tuple[facts.StepsNotDone | facts.SkippedStep, ...]:
    """Return the steps that keep the job from being complete, by stage, then those skipped."""
    undone = {s.id for s in state.route()} - state.done - state.skipped.keys()
    begun = {e.step for e in state.current(WORK)} & undone
    of_stages = []
    for stage in state.procedure.stages:
        left = [step.id for step in stage.steps if step.id in undone]
        if left:
            numbers = {step: state.procedure.number(step) for step in left}
            half = tuple(number for step, number in numbers.items() if step in begun)
            of_stages.append(
                facts.StepsNotDone(stage=stage.name, numbers=tuple(numbers.values()), begun=half)
            )
    return (
        *of_stages,
        *(
            facts.SkippedStep(step=step, number=state.procedure.number(step), reason=reason)
            for step, reason in state.skipped.items()
        ),
    )
