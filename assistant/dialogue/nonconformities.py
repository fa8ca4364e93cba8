"""Results that do not meet their requirement: which there are, what they hold, how they end.

The words are those of ISO 9000: a nonconformity is ended by rework or repair and a new result that
meets the requirement, or by a concession, which has a reason and a name. Nothing is kept here: they
are found anew from the results that stand (`results.follow`), so one that a correction brings about
is open at once, and one that a correction ends is gone.

What an open one holds depends on when its result was taken (`Procedure.taken`):

- as found: fitting, and closing the job. A worn tooth must not stop the inspection.
- as left: its own step, the later steps of its stage, whatever names its step in `before`, and
  closing the job.
- a condemned or missing part that is to be fitted yet: the step that fits it, and closing the job.

One that failed in a set that a retest or rework has ended is open until the new set is complete
(`reopened`). It holds the same, but for its own step and those before it that are done again for
it: the new result comes of these.

A concession names the events that the result was made from. When they change it lapses, because it
was about other numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from assistant.dialogue import events, facts, lacking, reopened, results
from assistant.dialogue.facts import ResultKind, ResultRef
from assistant.dialogue.reopened import OpenedAgain
from assistant.procedure.model import Judged, Procedure, Step, Taken

if TYPE_CHECKING:
    from assistant.dialogue.state import State


@dataclass(frozen=True)
class FittedPart:
    """A part that was fitted, and is not the one that its value calls for now."""

    step: Step
    part: str
    wanted: str
    chosen_by: str


@dataclass(frozen=True)
class LostPart:
    """Parts that a step fits, or has fitted, and that are condemned or missing."""

    step: Step
    parts: facts.Parts
    fitted: bool
    to_come: int = 0
    """For how many of them one was asked for or ordered, and has not come."""


Result = (
    results.Measured
    | results.WorkedOut
    | results.PartChosen
    | results.LeakVerdict
    | results.FluidVerdict
    | results.CannotWorkOut
    | events.TorqueRecorded
    | FittedPart
    | LostPart
    | OpenedAgain
)


@dataclass(frozen=True)
class Nonconformity:
    """A result that does not meet its requirement."""

    ref: ResultRef
    result: Result
    step: Step
    number: int
    """The step's number as it is spoken, from 1."""
    taken: Taken
    may_concede: Literal["anyone", "listed", "none"]
    conceded: events.Conceded | None = None

    @property
    def open(self) -> bool:
        """Whether it still holds what depends on it."""
        return self.conceded is None

    @property
    def again(self) -> bool:
        """Whether it failed in an earlier set, and is to be had anew."""
        return isinstance(self.result, OpenedAgain)


def find(state: State) -> tuple[Nonconformity, ...]:
    """Return every nonconformity of the job, conceded ones too, in the order of the steps.

    `State.nonconformities` keeps them, so that they are found once for a state.
    """
    found = [*_find(state)]
    standing = {reopened.thing(each.ref) for each in found}
    for each in reopened.find(state):
        if reopened.thing(each.failed.result) not in standing:
            ref = each.failed.result
            step = state.procedure.step(ref.step)
            found.append(_with(state, ref, each, step, reopened.judged(step, ref)))
    return tuple(sorted(found, key=lambda each: each.number))


def still_open(state: State) -> tuple[Nonconformity, ...]:
    """Return those that nobody has conceded."""
    return tuple(each for each in state.nonconformities if each.open)


def standing(state: State) -> frozenset[ResultRef]:
    """Return the results that fail as they stand: none of an earlier set, nor conceded."""
    return frozenset(each.ref for each in still_open(state) if not each.again)


def holding(state: State, step: Step) -> tuple[Nonconformity, ...]:
    """Return the open ones that keep a step from being done."""
    return tuple(each for each in still_open(state) if holds(state.procedure, each, step))


def holds(procedure: Procedure, of: Nonconformity, step: Step) -> bool:
    """Return whether an open nonconformity keeps a step from being done."""
    if to_be_fitted(of):
        return step.id == of.step.id
    if isinstance(of.result, OpenedAgain):
        upto = procedure.index(of.step.id)
        doing = {s for s in of.result.steps if procedure.index(s) <= upto}
        if step.id in doing | {of.step.id}:
            return False
    if of.taken == "as found":
        return bool(step.fit)
    if step.id == of.step.id or any(before.step == of.step.id for before in step.before):
        return True
    same_stage = procedure.stage_of(step.id) is procedure.stage_of(of.step.id)
    return same_stage and procedure.index(step.id) > procedure.index(of.step.id)


def to_be_fitted(of: Nonconformity) -> bool:
    """Return whether it is about a part that no step has fitted yet: nothing is to be undone."""
    return isinstance(of.result, LostPart) and not of.result.fitted


def to_measure_again(state: State, of: Nonconformity) -> tuple[str, ...]:
    """Return the steps whose results a retest takes anew, in order: from the first whose readings
    went into the result to the one that judges it.
    """
    if isinstance(of.result, OpenedAgain):
        steps = reopened.measured_at(state, of.ref) | {of.step.id}
    else:
        names = _readings_in(state, _names(of.result))
        steps = {state.results.readings[name].step.id for name in names} | {of.step.id}
    order = [s.id for s in state.route()]
    first = min(order.index(s) for s in steps if s in order)
    last = order.index(of.step.id)
    stages = {state.procedure.stage_of(s).name for s in steps}
    return tuple(
        s
        for s in order[first : last + 1]
        if s in steps or state.procedure.stage_of(s).name in stages
    )


def to_do_again(procedure: Procedure, step: str, done: Sequence[str]) -> tuple[str, ...]:
    """Return the steps that rework at a step opens again, in order: that step, the later steps of
    its stage, whatever names one of them in `before`, and what that names; of these, the step
    itself and those that were done.
    """
    stage = procedure.stage_of(step)
    again = {s.id for s in stage.steps if procedure.index(s.id) >= procedure.index(step)}
    growing = True
    while growing:
        named = {
            s.id
            for s in procedure.steps
            if s.id not in again and any(before.step in again for before in s.before)
        }
        again |= named
        growing = bool(named)
    return tuple(s.id for s in procedure.steps if s.id in again and (s.id == step or s.id in done))


def _find(state: State) -> Iterator[Nonconformity]:
    found = state.results
    for measured in found.readings.values():
        if measured.within is False:
            yield _made(state, "reading", measured.reading.name, measured, measured.reading)
    for each in found.followed:
        match each:
            case results.WorkedOut(within=False):
                yield _made(state, "value", each.derived.name, each, each.derived)
            case results.PartChosen(part=None):
                yield _made(state, "choice", each.choice.of, each, Judged())
            case results.LeakVerdict(within=False):
                yield _made(state, "leak test", each.test.final, each, each.test)
            case results.FluidVerdict(within=False):
                yield _made(state, "fluid", each.fluid.name, each, each.fluid)
            case results.CannotWorkOut():
                yield _made(state, "value", each.name, each, Judged())
    route = {step.id: step for step in state.route()}
    for torque in state.current(events.TorqueRecorded):
        step = route.get(torque.step or "")
        # As for readings: what was recorded by an answer that was corrected is asked no more.
        tightened = (t for t in step.tighten if t.applies(state.answers)) if step else ()
        asked = next((t for t in tightened if t.fastener == torque.fastener), None)
        if (
            step is not None
            and asked is not None
            and not torque.within
            and not _done_since(state, torque)
        ):
            ref = ResultRef(
                kind="torque",
                step=step.id,
                name=torque.fastener,
                stage=torque.stage,
                bolt=torque.bolt,
                turns=(torque.turn,),
            )
            yield _with(state, ref, torque, step, asked)
    yield from _wrong_parts(state)
    yield from _lost_parts(state)


def _done_since(state: State, torque: events.TorqueRecorded) -> bool:
    """Return whether a torque was said to be as found, and the same was tightened since."""
    return torque.taken == "as found" and any(
        e.taken != "as found" and (e.fastener, e.stage, e.bolt) == _of_torque(torque)
        for e in state.of_step(events.TorqueRecorded, torque.step)
    )


def _of_torque(of: events.TorqueRecorded) -> tuple[str, int, int | None]:
    return of.fastener, of.stage, of.bolt


def _wrong_parts(state: State) -> Iterator[Nonconformity]:
    """Yield the parts that were fitted by a choice that is another one now."""
    route = {step.id: step for step in state.route()}
    for event in state.current(events.StepDone):
        step = route.get(event.step or "")
        if step is None:
            continue
        fitted = {parts.name for parts in event.fitted}
        for fit in step.fit:
            if fit.chosen_by is None or not fit.applies(state.answers):
                continue
            chosen = state.results.chosen_by(fit.chosen_by)
            wanted = chosen.part if chosen and chosen.part else fit.part
            rows = {row.part for row in chosen.choice.rows} if chosen else set()
            for part in sorted(fitted & (rows | {fit.part}) - {wanted}):
                turns = (event.turn, *_turns(state, (fit.chosen_by,)))
                ref = ResultRef(kind="fitted part", step=step.id, name=part, turns=turns)
                result = FittedPart(step, part, wanted, fit.chosen_by)
                yield _with(state, ref, result, step, Judged(taken="as left"))


def _lost_parts(state: State) -> Iterator[Nonconformity]:
    """Yield the condemned and missing parts that are to be fitted, and the condemned ones that are
    fitted.
    """
    found: dict[ResultRef, LostPart] = {}
    for lack in lacking.in_all(state):
        if lack.ref is None:
            continue
        before = found.get(lack.ref)
        count = lack.count + (before.parts.count if before else 0)
        to_come = lack.count if lack.why in ("asked", "ordered") else 0
        parts = facts.Parts.of(state.procedure, lack.key.name, count)
        to_come += before.to_come if before else 0
        found[lack.ref] = LostPart(lack.step, parts, False, to_come)
    for step, key, number, ref in lacking.fitted_condemned(state):
        found[ref] = LostPart(step, facts.Parts.of(state.procedure, key.name, number), True)
    for ref, lost in found.items():
        yield _with(state, ref, lost, lost.step, Judged(taken="as left"))


def _made(
    state: State,
    kind: ResultKind,
    name: str,
    result: results.Measured | results.Followed,
    judged: Judged,
) -> Nonconformity:
    turns = _turns(state, _names(result))
    ref = ResultRef(kind=kind, step=result.step.id, name=name, turns=turns)
    return _with(state, ref, result, result.step, judged)


def _turns(state: State, names: Sequence[str]) -> tuple[int, ...]:
    """Return the turns of the readings that readings and worked-out values were made from."""
    taken = (
        event.turn
        for reading in _readings_in(state, names)
        for event in state.results.readings[reading].taken
    )
    return tuple(sorted(set(taken)))


def _with(
    state: State, ref: ResultRef, result: Result, step: Step, judged: Judged
) -> Nonconformity:
    conceded = next(
        (e for e in reversed(state.of_job(events.Conceded)) if e.failed.result == ref),
        None,
    )
    return Nonconformity(
        ref,
        result,
        step,
        state.procedure.number(step.id),
        _said(result) or state.procedure.taken(step.id, judged),
        judged.concession,
        conceded,
    )


def _said(result: Result) -> Taken | None:
    """Return whether a result was said to be as found or as left."""
    match result:
        case results.Measured():
            return result.worst.taken
        case events.TorqueRecorded():
            return result.taken
        case OpenedAgain():
            return result.failed.taken
        case _:
            return None


def _names(result: Result) -> tuple[str, ...]:
    """Return the readings and values that a result was made from, by name."""
    match result:
        case results.Measured():
            return (result.reading.name,)
        case results.WorkedOut():
            return result.inputs
        case results.PartChosen():
            return (result.choice.of,)
        case results.LeakVerdict():
            test = result.test
            names = (test.start, test.final, test.start_temperature, test.final_temperature)
            return tuple(name for name in names if name is not None)
        case results.FluidVerdict():
            return (result.fluid.of,)
        case results.CannotWorkOut():
            return tuple(r.name for r in result.step.readings)
        case _:
            return ()


def _readings_in(state: State, names: Sequence[str]) -> Iterator[str]:
    """Yield the readings among names, and those that worked-out values among them come from."""
    for name in names:
        if name in state.results.readings:
            yield name
            continue
        for each in state.results.followed:
            if isinstance(each, results.WorkedOut) and each.derived.name == name:
                yield from _readings_in(state, each.inputs)


def went_in(state: State, result: Result) -> tuple[events.ReadingRecorded, ...]:
    """Return the readings that a result was made from, through worked-out values too."""
    names = dict.fromkeys(_readings_in(state, _names(result)))
    return tuple(e for name in names for e in state.results.readings[name].taken)


def failed(of: Nonconformity) -> facts.Failed:
    """Return a nonconformity as numbers and names, for the record and for both catalogues."""
    found: facts.Amount | None = None
    required: facts.Bounds | None = None
    part = wanted = None
    match of.result:
        case OpenedAgain():
            return of.result.failed
        case results.Measured():
            worst = of.result.worst
            found = facts.Amount(value=worst.value, unit=worst.unit)
            required = facts.Bounds.of(of.result.reading.limits)
        case results.WorkedOut():
            found = facts.Amount(value=of.result.value, unit=of.result.unit)
            required = facts.Bounds.of(of.result.derived.limits)
        case results.PartChosen():
            found = facts.Amount(value=of.result.value, unit=of.result.unit)
        case results.LeakVerdict():
            found = facts.Amount(value=of.result.lost, unit=of.result.unit)
            required = facts.Bounds(most=facts.Amount.of(of.result.test.allowed))
        case results.FluidVerdict():
            found = facts.Amount(value=of.result.value, unit=of.result.unit)
            capacity = facts.Amount(value=of.result.capacity, unit=of.result.unit)
            required = facts.Bounds(least=capacity, most=capacity)
        case events.TorqueRecorded():
            found = facts.Amount(value=of.result.value, unit=of.result.unit)
            asked = facts.Amount(value=of.result.asked, unit=of.result.asked_unit)
            required = facts.Bounds(least=asked, most=asked)
        case FittedPart():
            part, wanted = of.result.part, of.result.wanted
        case LostPart():
            return facts.Failed(
                result=of.ref,
                number=of.number,
                parts=of.result.parts,
                fitted=of.result.fitted,
                to_come=of.result.to_come,
                taken=of.taken,
            )
    return facts.Failed(
        result=of.ref,
        number=of.number,
        found=found,
        required=required,
        part=part,
        wanted=wanted,
        taken=of.taken,
    )
