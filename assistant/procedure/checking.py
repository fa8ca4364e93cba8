"""Checks a procedure as a whole: names that refer to nothing, units that do not fit.

A single field cannot show these faults, so the model does not find them. `faults` keep a procedure
from being read at all. `all_of` puts these together with what the other modules refuse or warn of.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from rapidfuzz import process

from assistant.errors import AssistantError
from assistant.procedure import (
    danger_checks,
    flow_checks,
    hardware_checks,
    listening_checks,
    trade_checks,
)
from assistant.procedure.model import Limits, Procedure, Quantity, Step, Variants
from assistant.procedure.problems import Fault, Place, Severity
from assistant.trade import measure, units

Found = tuple[str, Severity, Iterable[Fault]]
"""What one group of checks found: the rule's name, how grave it is, and the faults."""


def faults(procedure: Procedure) -> Iterator[Fault]:
    """Yield every fault of the procedure as a whole."""
    yield from _repeated_ids(procedure)
    yield from _part_names(procedure)
    answers = {
        step.question.name: {answer.say for answer in step.question.answers}
        for step in procedure.steps
        if step.question
    }
    ids = {step.id: index for index, step in enumerate(procedure.steps)}
    gates = {step.id for step in procedure.steps if step.gate}
    bags: set[int] = set()
    values: dict[str, str] = {}
    chosen: set[str] = set()
    index = 0
    for stage_number, stage in enumerate(procedure.stages):
        for step_number, step in enumerate(stage.steps):
            where: Place = ("stages", stage_number, "steps", step_number)
            yield from _references(step, where, ids, index, gates)
            yield from _variants(step, where, answers)
            yield from _fasteners(step, where)
            yield from _parts(step, where, procedure)
            yield from _values(step, where, values)
            yield from _chosen(step, where, chosen)
            if step.from_bag is not None and step.from_bag not in bags:
                yield (
                    (*where, "from_bag"),
                    f"no earlier step puts anything into bag {step.from_bag}",
                )
            if step.bag is not None:
                if step.bag in bags:
                    yield (*where, "bag"), f"bag {step.bag} is in use already; give each its own"
                bags.add(step.bag)
            index += 1
    yield from trade_checks.faults(procedure)


def all_of(procedure: Procedure) -> Iterator[Found]:
    """Yield what every check finds.

    Where a name refers to nothing, what depends on names is not checked.
    """
    wrong = list(faults(procedure))
    yield "references", Severity.ERROR, wrong
    if wrong:
        yield from of_single_steps(procedure)
        return
    yield "danger", Severity.ERROR, danger_checks.dangers(procedure)
    yield "flow", Severity.ERROR, flow_checks.faults(procedure)
    yield "flow", Severity.WARNING, flow_checks.warnings(procedure)
    yield "hardware", Severity.ERROR, hardware_checks.faults(procedure)
    yield "hardware", Severity.WARNING, hardware_checks.warnings(procedure)
    yield "trade", Severity.WARNING, trade_checks.warnings(procedure)
    yield "listening", Severity.ERROR, listening_checks.faults(procedure)
    yield "listening", Severity.WARNING, listening_checks.warnings(procedure)


def of_single_steps(procedure: Procedure) -> Iterator[Found]:
    """Yield what is wrong in steps by themselves, whatever the rest of the procedure lacks."""
    yield "danger", Severity.ERROR, danger_checks.of_single_steps(procedure)
    yield "listening", Severity.ERROR, listening_checks.faults(procedure)


def _nearest(name: str, known: Any) -> str:
    names = sorted(known)
    found = process.extractOne(name, names, score_cutoff=60)
    if found:
        return f"; did you mean '{found[0]}'?"
    return f"; known: {', '.join(names)}" if names else ""


def _repeated_ids(procedure: Procedure) -> Iterator[Fault]:
    seen: set[str] = set()
    for stage_number, stage in enumerate(procedure.stages):
        for step_number, step in enumerate(stage.steps):
            if step.id in seen:
                yield (
                    ("stages", stage_number, "steps", step_number, "id"),
                    f"another step is called '{step.id}' already",
                )
            seen.add(step.id)


def _part_names(procedure: Procedure) -> Iterator[Fault]:
    seen: set[str] = set()
    for number, part in enumerate(procedure.parts):
        for name in {part.name, *part.also}:
            if name in seen:
                yield ("parts", number, "name"), f"another part is called '{name}' already"
            seen.add(name)


def _references(
    step: Step, where: Place, ids: dict[str, int], index: int, gates: set[str]
) -> Iterator[Fault]:
    for number, before in enumerate(step.before):
        at = (*where, "before", number)
        if (before.step is None) == (before.affirm is None):
            yield at, "write either 'step' or 'affirm', and not both"
        elif before.step is not None and before.step not in ids:
            yield (*at, "step"), f"there is no step '{before.step}'{_nearest(before.step, ids)}"
        elif before.step is not None and ids[before.step] >= index:
            yield (*at, "step"), f"step '{before.step}' does not come before this one"
    for number, gate in enumerate(step.lifts):
        at = (*where, "lifts", number)
        if gate not in ids:
            yield at, f"there is no step '{gate}'{_nearest(gate, ids)}"
        elif ids[gate] >= index:
            yield at, f"step '{gate}' does not come before this one"
        elif gate not in gates:
            yield at, f"step '{gate}' is not a gate; give it 'gate: job' or 'gate: stage'"
    if step.question:
        said: set[str] = set()
        for number, answer in enumerate(step.question.answers):
            at = (*where, "question", "answers", number)
            for words in (answer.say, *answer.also):
                if words in said:
                    yield (*at, "say"), f"two answers are called '{words}'"
                said.add(words)
            if answer.go_to is None:
                continue
            if answer.go_to not in ids:
                near = _nearest(answer.go_to, ids)
                yield (*at, "go_to"), f"there is no step '{answer.go_to}'{near}"
            elif ids[answer.go_to] <= index:
                yield (
                    (*at, "go_to"),
                    "an answer can only lead to a later step, or the job would go round in a loop",
                )


def _variants(step: Step, where: Place, answers: dict[str, set[str]]) -> Iterator[Fault]:
    for path, part in _with_variants(step, where):
        for name, wanted in part.when.items():
            if name not in answers:
                yield (*path, "when"), f"no question is called '{name}'{_nearest(name, answers)}"
                continue
            for want in (wanted,) if isinstance(wanted, str) else wanted:
                if want not in answers[name]:
                    near = _nearest(want, answers[name])
                    yield (*path, "when"), f"'{want}' is not an answer to '{name}'{near}"


def _with_variants(step: Step, where: Place) -> Iterator[tuple[Place, Variants]]:
    yield where, step
    for field in ("fasteners", "remove", "fit", "readings", "derived", "tighten", "loosen"):
        for number, part in enumerate(getattr(step, field)):
            yield (*where, field, number), part
    if step.wait:
        yield (*where, "wait"), step.wait


def _fasteners(step: Step, where: Place) -> Iterator[Fault]:
    names = {fastener.name for fastener in step.fasteners}
    for number, tighten in enumerate(step.tighten):
        at = (*where, "tighten", number)
        if tighten.fastener not in names:
            near = _nearest(tighten.fastener, names)
            yield (*at, "fastener"), f"this step has no fastener '{tighten.fastener}'{near}"
        for field, amounts in (
            ("torque", (tighten.torque,)),
            ("passes", tighten.passes),
        ):
            for amount in amounts:
                yield from _dimension((*at, field), amount, "N·m", "a torque, such as 14 N·m")
                if amount.value <= 0:
                    yield (*at, field), "a torque must be more than 0"
        angles = ((tighten.angle,) if tighten.angle else ()) + tighten.then_angles
        for amount in angles:
            yield from _dimension((*at, "angle"), amount, "°", "an angle, such as 90 deg")
        if tighten.then_angles and not tighten.angle:
            yield (*at, "then_angles"), "give the first angle as 'angle'"
        if tighten.adapter:
            yield from _dimension((*at, "adapter"), tighten.adapter, "mm", "a length")
    for number, fastener in enumerate(step.fasteners):
        for field in ("length", "grip", "washer", "hole_depth"):
            amount = getattr(fastener, field)
            if amount is not None:
                yield from _dimension(
                    (*where, "fasteners", number, field), amount, "mm", "a length, such as 45 mm"
                )


def _parts(step: Step, where: Place, procedure: Procedure) -> Iterator[Fault]:
    known = {part.name for part in procedure.parts}
    for field in ("fit", "remove"):
        for number, entry in enumerate(getattr(step, field)):
            if entry.part not in known and getattr(entry, "chosen_by", None) is None:
                near = _nearest(entry.part, known)
                yield (
                    (*where, field, number, "part"),
                    f"'{entry.part}' is not in the list of parts{near}",
                )
    if step.choice:
        for number, row in enumerate(step.choice.rows):
            if row.part not in known:
                near = _nearest(row.part, known)
                yield (
                    (*where, "choice", "rows", number, "part"),
                    f"'{row.part}' is not in the list of parts{near}",
                )


def _chosen(step: Step, where: Place, chosen: set[str]) -> Iterator[Fault]:
    """Check that a step fits a chosen part only after it was chosen; add its choice to `chosen`."""
    for number, fit in enumerate(step.fit):
        if fit.chosen_by is not None and fit.chosen_by not in chosen:
            near = _nearest(fit.chosen_by, chosen)
            yield (
                (*where, "fit", number, "chosen_by"),
                f"no earlier step chooses a part by '{fit.chosen_by}'{near}",
            )
    if step.choice:
        chosen.add(step.choice.of)


def _values(step: Step, where: Place, values: dict[str, str]) -> Iterator[Fault]:
    """Check readings and what is worked out from them; add their names to `values`."""
    for number, reading in enumerate(step.readings):
        at = (*where, "readings", number)
        if reading.name in values:
            yield (*at, "name"), f"another reading is called '{reading.name}' already"
        values[reading.name] = reading.unit
        yield from _limits((*at, "limits"), reading.limits, reading.unit)
        yield from _limits((*at, "plausible"), reading.plausible, reading.unit)
        if reading.resolution:
            yield from _dimension(
                (*at, "resolution"), reading.resolution, reading.unit, f"in {reading.unit}"
            )
    for number, derived in enumerate(step.derived):
        at = (*where, "derived", number)
        try:
            names = measure.names_in(derived.formula)
        except AssistantError as error:
            yield (*at, "formula"), f"{str(error).rstrip('.')}; an example is bore - shaft"
            continue
        unknown = [
            name
            for name in sorted(names)
            if name.replace("_", " ") not in values and not units.is_unit(name)
        ]
        for name in unknown:
            near = _nearest(name, {value.replace(" ", "_") for value in values})
            yield (*at, "formula"), f"no reading so far is called '{name}'{near}"
        if not unknown:
            try:
                measure.check_formula(derived.formula, values, derived.unit)
            except AssistantError as error:
                yield (*at, "formula"), str(error).rstrip(".")
        values[derived.name] = derived.unit
        yield from _limits((*at, "limits"), derived.limits, derived.unit)
    if step.choice:
        at = (*where, "choice")
        unit = values.get(step.choice.of)
        if unit is None:
            near = _nearest(step.choice.of, values)
            yield (*at, "of"), f"no reading so far is called '{step.choice.of}'{near}"
        else:
            for number, row in enumerate(step.choice.rows):
                for field in ("over", "up_to"):
                    amount = getattr(row, field)
                    if amount is not None:
                        yield from _dimension((*at, "rows", number, field), amount, unit, unit)
    if step.wait and step.wait.time:
        yield from _dimension((*where, "wait", "time"), step.wait.time, "s", "a time, such as 24 h")


def _limits(at: Place, limits: Limits, unit: str) -> Iterator[Fault]:
    for field in ("least", "most"):
        amount = getattr(limits, field)
        if amount is not None:
            yield from _dimension((*at, field), amount, unit, f"a value in {unit}")
    least, most = limits.least, limits.most
    if (
        least
        and most
        and units.same_dimension(least.unit, most.unit)
        and units.convert(float(least.value), least.unit, most.unit) > float(most.value)
    ):
        yield (*at, "least"), "the least is more than the most"


def _dimension(at: Place, amount: Quantity, like: str, wanted: str) -> Iterator[Fault]:
    if not units.same_dimension(amount.unit, like):
        yield at, f"expected {wanted}, not {amount}"
