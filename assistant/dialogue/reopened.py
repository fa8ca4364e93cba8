"""Results that failed, whose steps were opened again, and that have no new result yet. Pure.

Retest and rework begin a new set of results, and what failed in the set before fails no longer as
it stands: nothing stands. It is open all the same, until the new set is complete, and is then
judged by that. What failed is kept with the retest or rework that ended its set
(`events.RetestBegun.failed`), because a result of an earlier set is never worked out again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assistant.dialogue import bolts, events, facts, results
from assistant.dialogue.facts import ResultRef
from assistant.procedure.model import Judged, Step
from assistant.trade import measure

if TYPE_CHECKING:
    from assistant.dialogue.state import State

Thing = tuple[facts.ResultKind, str, str, int | None, int | None]
"""What a result is of, whenever it was taken: kind, step, name, pass, bolt."""


@dataclass(frozen=True)
class OpenedAgain:
    """A result that failed, and is to be had anew."""

    failed: facts.Failed
    """As it failed; `again` says how it is to be had anew."""
    steps: tuple[str, ...]
    """The steps that were opened again for it, in order."""


def thing(of: ResultRef) -> Thing:
    """Return what a result is of, whenever it was taken."""
    return of.kind, of.step, of.name, of.stage, of.bolt


def find(state: State) -> Iterator[OpenedAgain]:
    """Yield what failed in a set that was ended, and has no complete result in its new one."""
    begun: dict[Thing, tuple[facts.Failed, events.RetestBegun | events.ReworkBegun]] = {}
    for event in state.history:
        if not isinstance(event, events.RetestBegun | events.ReworkBegun):
            continue
        # What had met its requirement by then is not opened again by this one as failing.
        opened = set(event.steps)
        begun = {
            key: kept
            for key, kept in begun.items()
            if not opened & {kept[0].result.step, *kept[1].steps}
        }
        begun |= {thing(failed.result): (failed, event) for failed in event.failed}
    for failed, event in begun.values():
        if _is_wanted(state, failed.result, event.steps):
            first = next((s for s in event.steps if s not in state.done), failed.result.step)
            again = facts.Again(
                by="retest" if isinstance(event, events.RetestBegun) else "rework",
                number=state.procedure.number(first),
            )
            yield OpenedAgain(failed.model_copy(update={"again": again}), event.steps)


def _is_wanted(state: State, ref: ResultRef, opened: Collection[str]) -> bool:
    """Whether a result is asked for, with the answers as they are, and is not there; `opened` are
    the steps that were opened again.
    """
    step = next((step for step in state.route() if step.id == ref.step), None)
    if step is None:
        return False
    match ref.kind:
        case "reading":
            asked = any(r.name == ref.name and r.applies(state.answers) for r in step.readings)
            taken = state.results.readings.get(ref.name)
            return asked and not (taken and taken.step is step and taken.complete)
        case "torque":
            return any(
                (target.tighten.fastener, target.stage) == (ref.name, ref.stage)
                and not bolts.complete(state, target, step.id)
                for target in state.targets_of(step)
            )
        case "value":
            named = [d for d in step.derived if d.name == ref.name]
            if named and not any(d.applies(state.answers) for d in named):
                return False
            return not any(ref.name in _names(each) for each in state.results.at(step.id))
        case "choice" | "leak test" | "fluid":
            there = map(results.key, state.results.at(step.id))
            return (ref.kind, ref.step, ref.name) not in there
        case "fitted part" if step.id not in opened:
            # It is fitted still, and the value that calls for it, or for another, is to come.
            by = [fit.chosen_by for fit in step.fit if fit.chosen_by and fit.applies(state.answers)]
            return any(state.results.chosen_by(value) is None for value in by)
        case _:
            return not state.of_step(events.StepDone, step.id)


def _names(of: results.Followed) -> tuple[str, ...]:
    """Return by which names a result may have failed as one that could not be worked out."""
    match of:
        case results.WorkedOut():
            return (of.derived.name,)
        case results.LeakVerdict():
            return ("leak test",)
        case results.FluidVerdict():
            return (of.fluid.name,)
        case results.CannotWorkOut():
            return (of.name,)
        case _:
            return ()


def judged(step: Step, ref: ResultRef) -> Judged:
    """Return what the procedure says of a result's requirement and of conceding it."""
    match ref.kind:
        case "reading":
            found: Iterable[Judged] = (r for r in step.readings if r.name == ref.name)
        case "value":
            found = (d for d in step.derived if d.name == ref.name)
        case "torque":
            found = (t for t in step.tighten if t.fastener == ref.name)
        case "leak test":
            found = () if step.leak is None else (step.leak,)
        case "fluid":
            found = () if step.fluid is None else (step.fluid,)
        case _:
            found = ()
    return next(iter(found), Judged())


def measured_at(state: State, ref: ResultRef) -> set[str]:
    """Return the steps at which readings are taken that go into a result, by the procedure."""
    route = state.route()
    readings = {r.name: s.id for s in route for r in s.readings if r.applies(state.answers)}
    formulas = {d.name: d.formula for s in route for d in s.derived if d.applies(state.answers)}
    step = state.procedure.step(ref.step)
    wanted: list[str | None] = []
    match ref.kind:
        case "reading" | "value":
            wanted = [ref.name]
        case "choice" if step.choice:
            wanted = [step.choice.of]
        case "leak test" if step.leak:
            test = step.leak
            wanted = [test.start, test.final, test.start_temperature, test.final_temperature]
        case "fluid" if step.fluid:
            wanted = [step.fluid.of]
        case _:
            pass
    found: set[str] = set()
    while wanted:
        name = wanted.pop()
        if name in readings:
            found.add(readings[name])
        elif name in formulas:
            # A formula is never in terms of itself (`procedure.checking`); once is enough.
            names = measure.names_in(formulas.pop(name))
            wanted += [one.replace("_", " ") for one in names]
    return found
