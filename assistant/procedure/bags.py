"""Checks that the fasteners bagged at strip-down are those that build-up takes out of the bags.

Only bags that a later step takes from are counted. Fasteners are compared by their total, because
what came off as plate bolts may go back as long and short ones. Fasteners that build-up replaces
with new ones may stay in the bag.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice
from typing import Any

from assistant.procedure.model import Fastener, Procedure, Question, Step, Variants

Place = tuple[Any, ...]
Fault = tuple[Place, str]
Answers = dict[str, str]

_MOST_QUESTIONS = 16
_MOST_LOOKED_AT = 300_000
"""Steps and fasteners to look at, over all routes through a procedure. Further routes are not
checked."""


def fastener_names(procedure: Procedure) -> frozenset[str]:
    """Return the names of all fasteners, so that one listed as a part that comes off is known."""
    return frozenset(f.name for step in procedure.steps for f in step.fasteners)


def tally(
    names: frozenset[str],
    givers: Iterable[Step],
    takers: Iterable[Step],
    bag: int,
    answers: Answers,
) -> tuple[Counter[str], Counter[str]]:
    """Return the fasteners that go into a bag to be used again, and those that come out of it.

    Args:
        names: of all fasteners of the procedure.
        givers: the steps that fill the bag.
        takers: the steps that take from it.
        bag: its number.
        answers: those given to the procedure's questions, by the question's name.
    """
    into: Counter[str] = Counter()
    for giver in givers:
        into += _put_in(names, giver, bag, answers)
    out: Counter[str] = Counter()
    for step in takers:
        for fastener in _fasteners(step, bag, answers):
            if fastener.new:
                into[fastener.name] -= fastener.count
            else:
                out[fastener.name] += fastener.count
    return +into, out


def _fasteners(step: Step, bag: int, answers: Answers) -> list[Fastener]:
    """Return the fasteners of a step that go into this bag, or come out of it."""
    own = step.bag or step.from_bag
    return [f for f in step.fasteners if f.applies(answers) and (f.bag or own) == bag]


def _put_in(names: frozenset[str], step: Step, bag: int, answers: Answers) -> Counter[str]:
    """Return how many of each fastener a step puts into a bag, without those thrown away."""
    found: Counter[str] = Counter()
    for fastener in _fasteners(step, bag, answers):
        found[fastener.name] += fastener.count
    for remove in step.remove:
        if remove.part not in names or not remove.applies(answers):
            continue
        if remove.discard:
            found[remove.part] -= remove.count
        elif step.bag == bag:
            # A bolt can be listed both as a fastener of the joint and as a part that comes off.
            found[remove.part] = max(found[remove.part], remove.count)
    return +found


def warnings(procedure: Procedure) -> Iterator[Fault]:
    """Yield a fault for each bag that does not add up on some route through the procedure."""
    steps = procedure.steps
    places = _places(procedure)
    givers = {step.bag: step for step in steps if step.bag is not None}
    takers = {bag: [step for step in steps if step.from_bag == bag] for bag in givers}
    told: set[int] = set()
    for bag, giver in givers.items():
        if not takers[bag]:
            yield (*places[giver.id], "bag"), f"no later step takes anything from bag {bag}"
        elif not (giver.fasteners or giver.remove):
            told.add(bag)
            last = takers[bag][-1]
            yield (
                (*places[last.id], "from_bag"),
                f"nothing is listed that goes into bag {bag} in step '{giver.id}'",
            )
    names = fastener_names(procedure)
    for answers, route in _ways(procedure, [*givers.values(), *chain(*takers.values())]):
        there = {step.id for step in route}
        for bag, giver in givers.items():
            on_route = [step for step in takers[bag] if step.id in there]
            if bag in told or giver.id not in there or not on_route:
                continue
            into, out = tally(names, (giver,), on_route, bag, answers)
            if into.total() != out.total():
                told.add(bag)
                asked = _questions([giver, *on_route])
                if_so = [f"{name}: {said}" for name, said in answers.items() if name in asked]
                where = f", where {' and '.join(if_so)}" if if_so else ""
                yield (
                    (*places[on_route[-1].id], "from_bag"),
                    f"bag {bag}{where}: {_listed(into)} put in and not renewed, "
                    f"{_listed(out)} taken out",
                )


def _places(procedure: Procedure) -> dict[str, Place]:
    return {
        step.id: ("stages", stage_number, "steps", step_number)
        for stage_number, stage in enumerate(procedure.stages)
        for step_number, step in enumerate(stage.steps)
    }


def _listed(of: Counter[str]) -> str:
    return " and ".join(f"{count} {name}" for name, count in of.items()) or "nothing"


def _questions(of: Iterable[Step]) -> set[str]:
    """Return the questions that decide whether these steps, or their parts, apply."""
    variants: list[Variants] = []
    for step in of:
        variants += [step, *step.fasteners, *step.remove]
    return {name for one in variants for name in one.when}


def _ways(procedure: Procedure, of: Sequence[Step]) -> Iterator[tuple[Answers, Sequence[Step]]]:
    """Yield each set of answers that makes a difference to `of`, and the steps on its route."""
    steps = procedure.steps
    asked_by = {step.question.name: step for step in steps if step.question}
    about = _questions(of) | {s.question.name for s in steps if s.question and _leads(s.question)}
    while more := _questions(asked_by[name] for name in about) - about:
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
