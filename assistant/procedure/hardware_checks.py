"""Checks that what comes off goes on again: bags, parts, and the variants of a step."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from assistant.procedure import bags, routes
from assistant.procedure.model import Procedure, Step
from assistant.procedure.problems import Fault, Place


def faults(procedure: Procedure) -> Iterator[Fault]:
    """Yield bags out of which another number of fasteners comes than went in."""
    yield from bags.unequal(procedure)


def warnings(procedure: Procedure) -> Iterator[Fault]:
    """Yield what is probably forgotten: bags, parts and variants."""
    yield from bags.unopened(procedure)
    yield from _more_on_than_off(procedure)
    yield from _never_on(procedure)
    yield from _variants_left_out(procedure)


def _more_on_than_off(procedure: Procedure) -> Iterator[Fault]:
    """Yield each part of which more go on again than came off, where no answer changes that."""
    off: Counter[str] = Counter()
    on: Counter[str] = Counter()
    last: dict[str, Place] = {}
    unsure: set[str] = set()
    for where, step in routes.placed(procedure):
        for remove in step.remove:
            off[_name(procedure, remove.part)] += remove.count
            if step.when or remove.when:
                unsure.add(_name(procedure, remove.part))
        for number, fit in enumerate(step.fit):
            name = _name(procedure, fit.part)
            if step.when or fit.when or fit.new or fit.chosen_by:
                unsure.add(name)
            on[name] += fit.count
            last[name] = (*where, "fit", number, "part")
    for name, count in off.items():
        if on[name] > count and name not in unsure:
            yield (
                last[name],
                f"{on[name]} of the {name} go on, and {count} came off, so the job will ask for "
                "more than there are. Correct a count, or write new: true for those that are new",
            )


def _never_on(procedure: Procedure) -> Iterator[Fault]:
    """Yield each part that comes off to be used again and never goes on, where anything does."""
    fitted: set[str] = set()
    for step in procedure.steps:
        for fit in step.fit:
            fitted |= _names(procedure, fit.part)
        fitted |= {fastener.name for fastener in step.fasteners if step.tighten}
        if step.choice:
            fitted |= {row.part for row in step.choice.rows}
    if not any(step.fit for step in procedure.steps):
        return
    for where, step in routes.placed(procedure):
        for number, remove in enumerate(step.remove):
            if remove.discard or _names(procedure, remove.part) & fitted:
                continue
            yield (
                (*where, "remove", number, "part"),
                f"the {remove.part} comes off, but no step fits it, so it is left over at the end. "
                "List it under 'fit' where it goes on, or write discard: true",
            )


def _name(procedure: Procedure, name: str) -> str:
    part = procedure.part(name)
    return name if part is None else part.name


def _names(procedure: Procedure, name: str) -> set[str]:
    """Return every name of a part."""
    part = procedure.part(name)
    return {name} if part is None else {part.name, *part.also, part.plural_name}


_OF_VARIANTS = ("fit", "fasteners", "remove", "tighten", "readings")


def _variants_left_out(procedure: Procedure) -> Iterator[Fault]:
    """Yield lists of a step of which several entries are for answers to one question, but not all.

    One entry alone may be right: a key goes with the keyed shaft only.
    """
    answers = {
        step.question.name: {answer.say for answer in step.question.answers}
        for step in procedure.steps
        if step.question
    }
    for where, step in routes.placed(procedure):
        for field in _OF_VARIANTS:
            for name, left in _left_out(step, field, answers):
                at: Place = (*where, field)
                yield (
                    at,
                    f"nothing is listed here where {name}: {' or '.join(sorted(left))}, though "
                    "there is for the other answers. Add it, or check that nothing is needed",
                )


def _left_out(
    step: Step, field: str, answers: dict[str, set[str]]
) -> Iterator[tuple[str, set[str]]]:
    entries = getattr(step, field)
    by_question: dict[str, list[set[str]]] = {}
    for entry in entries:
        if len(entry.when) == 1:
            (name,) = entry.when
            by_question.setdefault(name, []).append(routes.wanted(entry, name))
    for name, wanted in by_question.items():
        of_step = routes.wanted(step, name) if name in step.when else answers.get(name, set())
        left = of_step - set().union(*wanted)
        if left and len(set(map(frozenset, wanted))) > 1:
            yield name, left
