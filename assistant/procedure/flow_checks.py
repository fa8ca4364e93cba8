"""Checks the way through a procedure: every step is reached, can be done, and is worth its wait."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from assistant.procedure import routes
from assistant.procedure.model import Choice, Procedure, Quantity, Step
from assistant.procedure.problems import Fault
from assistant.trade import measure, units

_SLACK = 1e-9


def faults(procedure: Procedure) -> Iterator[Fault]:
    """Yield steps that are never reached, dead ends, and gaps in a choice."""
    yield from _unreachable(procedure)
    yield from _dead_ends(procedure)
    yield from _gaps(procedure)


def warnings(procedure: Procedure) -> Iterator[Fault]:
    """Yield waits that nothing waits for."""
    yield from _idle_waits(procedure)


def _unreachable(procedure: Procedure) -> Iterator[Fault]:
    """Yield each step that no answers lead to.

    A step is reached if it applies after some answers to the questions asked before it, and not all
    of these jump over it. Each is looked at by itself, so any number of questions is fast; what two
    questions together rule out is found by `_dead_ends` only.
    """
    steps = procedure.steps
    ids = {step.id: number for number, step in enumerate(steps)}
    places = routes.places(procedure)
    asked: dict[str, int] = {}
    open_at: set[int] = {0} if steps else set()
    for number, step in enumerate(steps):
        later = [name for name in step.when if name not in asked]
        if number not in open_at:
            yield (
                (*places[step.id], "id"),
                f"no way leads to step '{step.id}': every answer before it goes to a later step. "
                "Take a 'go_to' out, or delete the step",
            )
        elif later:
            yield (
                (*places[step.id], "when"),
                f"step '{step.id}' is never reached: the question '{later[0]}' is asked only "
                "after it. Move the step behind the question",
            )
        onward: set[int] = {number + 1} if step.when else set()
        if step.question:
            asked[step.question.name] = number
            for answer in step.question.answers:
                onward.add(ids[answer.go_to] if answer.go_to else number + 1)
        else:
            onward.add(number + 1)
        if number in open_at:
            open_at |= onward


def _dead_ends(procedure: Procedure) -> Iterator[Fault]:
    """Yield each step that on some route needs a value or a choice that nothing on it gives."""
    givers = _givers(procedure)
    needs = {step.id: needed for step in procedure.steps if (needed := _needed(step))}
    if not needs:
        return
    places = routes.places(procedure)
    told: set[tuple[str, str]] = set()
    of = [step for step in procedure.steps if step.id in needs or step.id in givers.values()]
    for answers, route in routes.ways(procedure, of):
        given: set[str] = set()
        for step in route:
            given |= {reading.name for reading in step.readings if reading.applies(answers)}
            given |= {derived.name for derived in step.derived if derived.applies(answers)}
            for field, name in needs.get(step.id, ()):
                if name in given or (step.id, name) in told or name not in givers:
                    continue
                told.add((step.id, name))
                asked = routes.questions([step, *procedure.steps])
                yield (
                    (*places[step.id], field),
                    f"a dead end{routes.shown(answers, asked)}: it needs '{name}', which no step "
                    "on that way takes. Take the reading there too, or give this a 'when'",
                )


def _givers(procedure: Procedure) -> dict[str, str]:
    """Return the step that gives each value, by the value's name."""
    return {
        name: step.id
        for step in procedure.steps
        for name in (*(r.name for r in step.readings), *(d.name for d in step.derived))
    }


def _needed(step: Step) -> list[tuple[str, str]]:
    """Return what a step without variants of its own needs, as (key, name of the value)."""
    found: list[tuple[str, str]] = []
    for derived in step.derived:
        if not derived.when:
            names = (name.replace("_", " ") for name in measure.names_in(derived.formula))
            found += [("derived", name) for name in names if not units.is_unit(name)]
    if step.choice:
        found.append(("choice", step.choice.of))
    found += [("fit", one.chosen_by) for one in step.fit if one.chosen_by and not one.when]
    if step.leak:
        found += [("leak", step.leak.start), ("leak", step.leak.final)]
    if step.fluid:
        found.append(("fluid", step.fluid.of))
    return found


def _gaps(procedure: Procedure) -> Iterator[Fault]:
    """Yield the values between two rows of a choice for which it has no part."""
    for where, step in routes.placed(procedure):
        if step.choice is None:
            continue
        rows = sorted(_ranges(step.choice), key=lambda row: row[0])
        reached, shown = rows[0][1], rows[0][3]
        for start, end, number, _ in rows[1:]:
            if start > reached + _SLACK:
                over = step.choice.rows[number].over
                yield (
                    (*where, "choice", "rows", number),
                    f"the choice leaves a part out: no row holds a value over {shown} and up to "
                    f"{over}. Let each row begin where another ends",
                )
            if end > reached:
                reached, shown = end, str(step.choice.rows[number].up_to)


def _ranges(choice: Choice) -> list[tuple[float, float, int, str]]:
    """Return each row's ends in one unit, its number, and its upper end as it is written."""
    ends = [end for row in choice.rows for end in (row.over, row.up_to) if end]
    unit = ends[0].unit if ends else ""

    def number_of(end: Quantity | None, otherwise: float) -> float:
        return units.convert(float(end.value), end.unit, unit) if end else otherwise

    return [
        (number_of(row.over, -math.inf), number_of(row.up_to, math.inf), number, str(row.up_to))
        for number, row in enumerate(choice.rows)
    ]


def _idle_waits(procedure: Procedure) -> Iterator[Fault]:
    """Yield each wait that holds nothing: nobody loses anything by going on at once.

    A wait holds the steps that name its step in `before`, a gate holds all, and what is judged or
    measured at the end of a wait, in its own step or in the next, is why it is there. At the end of
    the job, closing waits for it.
    """
    steps = procedure.steps
    places = routes.places(procedure)
    held = {before.step for step in steps for before in step.before}
    for step, after in pairwise(steps):
        if step.wait is None or step.gate or step.id in held:
            continue
        if step.leak or step.fluid or step.readings or after.readings or after.leak:
            continue
        time = step.wait.time or "the cure"
        yield (
            (*places[step.id], "wait"),
            f"nothing waits for this: the technician can go on at once, and {time} passes for "
            f"nothing. Write before: [{{step: {step.id}}}] at the step that has to wait, or "
            "delete the wait",
        )
