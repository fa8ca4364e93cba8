"""What opens what in a procedure: gates, conditions, answers, waits and chosen parts, in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from assistant.procedure import arithmetic
from assistant.procedure.model import Procedure, Step
from assistant.report import wording

Kind = Literal["after", "answer", "wait", "choice"]


@dataclass(frozen=True)
class Link:
    """One step opens another, or has a say in it. Steps are numbered from 1."""

    kind: Kind
    number: int
    to: int
    told: str
    """What stands under the step that is opened."""


@dataclass(frozen=True)
class Gate:
    """A step that holds those after it, up to and including another. Numbered from 1."""

    number: int
    to: int


def gates(procedure: Procedure) -> tuple[Gate, ...]:
    """Return what each gate holds: to the step that lifts it, or the end of its stage or job."""
    found = []
    for number, step in enumerate(procedure.steps, 1):
        if step.gate is None:
            continue
        stage = procedure.stage_of(step.id)
        last = len(procedure.steps) if step.gate == "job" else procedure.number(stage.steps[-1].id)
        lifted = [n for n, one in enumerate(procedure.steps, 1) if step.id in one.lifts]
        found.append(Gate(number, min([last, *lifted])))
    return tuple(found)


def links(procedure: Procedure) -> tuple[Link, ...]:
    """Return what opens what, in the order of the steps that are opened."""
    found = [link for step in procedure.steps for link in _to(procedure, step)]
    return tuple(sorted(found, key=lambda link: (link.to, link.number)))


def _to(procedure: Procedure, step: Step) -> Iterator[Link]:
    here = procedure.number(step.id)
    for before in step.before:
        if before.step is not None:
            number = procedure.number(before.step)
            yield Link("after", number, here, f"after step {number} is done")
    if step.wait is not None and step.wait.since is not None:
        number = procedure.number(step.wait.since)
        yield Link("wait", number, here, f"the wait counts from step {number}")
    for number, other in enumerate(procedure.steps, 1):
        if other.question is not None:
            if other.question.name in step.when:
                want = step.when[other.question.name]
                answers = [want] if isinstance(want, str) else list(want)
                told = f"only where step {number} was answered {' or '.join(answers)}"
                yield Link("answer", number, here, told)
            for answer in other.question.answers:
                if answer.go_to == step.id:
                    yield Link("answer", number, here, f"next after step {number}: {answer.say}")
        if other.choice is not None and any(fit.chosen_by == other.choice.of for fit in step.fit):
            told = f"fits what step {number} chose by {other.choice.of}"
            yield Link("choice", number, here, told)


def alone(step: Step) -> Iterator[str]:
    """Yield what a step needs or holds by itself, in words."""
    if step.gate is not None:
        yield f"gate: nothing later in the {step.gate} before it"
    for gate in step.lifts:
        yield f"lifts the gate {gate}"
    for before in step.before:
        if before.affirm is not None:
            yield f"affirm first: {before.affirm}"
    if step.wait is not None:
        yield f"wait: {step.wait.purpose}, {wording.duration(arithmetic.wait_seconds(step.wait))}"
    if step.choice is not None:
        yield f"chooses a part by {step.choice.of}"


def told(led: Sequence[Link], held: Sequence[Gate]) -> str:
    """Return the picture in words."""
    found = [f"Step {gate.number} is a gate up to step {gate.to}." for gate in held]
    found += [f"Step {link.to}: {link.told}." for link in led]
    return " ".join(found) or "One step after the other."
