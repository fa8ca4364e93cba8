"""The ways through a procedure: which steps there are after which answers, and where they stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from assistant.procedure.model import Procedure, Question, Step, Variants
from assistant.procedure.problems import Place

Answers = dict[str, str]

_MOST_QUESTIONS = 16
_MOST_LOOKED_AT = 300_000
"""Steps and fasteners to look at, over all routes through a procedure. Further routes are not
checked."""


def placed(procedure: Procedure) -> Iterator[tuple[Place, Step]]:
    """Yield each step with its place in the file."""
    for stage_number, stage in enumerate(procedure.stages):
        for step_number, step in enumerate(stage.steps):
            yield ("stages", stage_number, "steps", step_number), step


def places(procedure: Procedure) -> dict[str, Place]:
    """Return the place of each step in the file, by the step's id."""
    return {step.id: where for where, step in placed(procedure)}


def together(one: Variants, other: Variants) -> bool:
    """Whether both can apply after the same answers."""
    shared = one.when.keys() & other.when.keys()
    return all(wanted(one, name) & wanted(other, name) for name in shared)


def wanted(of: Variants, name: str) -> set[str]:
    """Return the answers to a question for which something applies that depends on it."""
    want = of.when[name]
    return {want} if isinstance(want, str) else set(want)


def shown(answers: Answers, of: Iterable[str]) -> str:
    """Return ", where NAME: ANSWER …" of those questions that are answered; "" of none."""
    if_so = [f"{name}: {said}" for name, said in answers.items() if name in set(of)]
    return f", where {' and '.join(if_so)}" if if_so else ""


def questions(of: Iterable[Step]) -> set[str]:
    """Return the questions that decide whether these steps, or their parts, apply."""
    variants: list[Variants] = []
    for step in of:
        variants += [step, *step.fasteners, *step.remove]
    return {name for one in variants for name in one.when}


def ways(procedure: Procedure, of: Sequence[Step]) -> Iterator[tuple[Answers, Sequence[Step]]]:
    """Yield each set of answers that makes a difference to `of`, and the steps on its route."""
    steps = procedure.steps
    asked_by = {step.question.name: step for step in steps if step.question}
    about = questions(of) | {s.question.name for s in steps if s.question and _leads(s.question)}
    while more := questions(asked_by[name] for name in about) - about:
        about |= more
    if sum(1 for s in steps if s.question and s.question.name in about) > _MOST_QUESTIONS:
        return
    ids = {step.id: number for number, step in enumerate(steps)}

    def onward(
        number: int, answers: Answers, before: tuple[Step, ...]
    ) -> Iterator[tuple[Answers, Sequence[Step]]]:
        route = list(before)
        for place in range(number, len(steps)):
            step = steps[place]
            if not step.applies(answers):
                continue
            route.append(step)
            if step.question and step.question.name in about:
                for answer in step.question.answers:
                    then = ids[answer.go_to] if answer.go_to else place + 1
                    given = {**answers, step.question.name: answer.say}
                    yield from onward(then, given, tuple(route))
                return
        yield answers, route

    size = len(steps) + sum(len(step.fasteners) + len(step.remove) for step in of)
    yield from islice(onward(0, {}, ()), max(1, _MOST_LOOKED_AT // size))


def _leads(question: Question) -> bool:
    return any(answer.go_to for answer in question.answers)
