"""Checks that the fasteners bagged at strip-down are those that build-up takes out of the bags.

Only bags that a later step takes from are counted. Fasteners are compared by their total, because
what came off as plate bolts may go back as long and short ones. Fasteners that build-up replaces
with new ones may stay in the bag.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import chain

from assistant.procedure import routes
from assistant.procedure.model import Fastener, Procedure, Step
from assistant.procedure.problems import Fault
from assistant.procedure.routes import Answers


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


def unopened(procedure: Procedure) -> Iterator[Fault]:
    """Yield each bag that no step opens, or into which nothing is listed to go."""
    places = routes.places(procedure)
    for bag, giver in _givers(procedure).items():
        takers = _takers(procedure, bag)
        if not takers:
            yield (
                (*places[giver.id], "bag"),
                f"no later step takes anything from bag {bag}, so what is in it is left over",
            )
        elif _empty(giver):
            yield (
                (*places[takers[-1].id], "from_bag"),
                f"nothing is listed that goes into bag {bag} in step '{giver.id}', so nobody can "
                "count what comes out",
            )


def unequal(procedure: Procedure) -> Iterator[Fault]:
    """Yield each bag that does not add up on some route through the procedure."""
    places = routes.places(procedure)
    givers = {bag: step for bag, step in _givers(procedure).items() if not _empty(step)}
    takers = {bag: _takers(procedure, bag) for bag in givers}
    told: set[int] = set()
    names = fastener_names(procedure)
    for answers, route in routes.ways(procedure, [*givers.values(), *chain(*takers.values())]):
        there = {step.id for step in route}
        for bag, giver in givers.items():
            on_route = [step for step in takers[bag] if step.id in there]
            if bag in told or giver.id not in there or not on_route:
                continue
            into, out = tally(names, (giver,), on_route, bag, answers)
            if into.total() != out.total():
                told.add(bag)
                asked = routes.questions([giver, *on_route])
                yield (
                    (*places[on_route[-1].id], "from_bag"),
                    f"bag {bag}{routes.shown(answers, asked)}: {_listed(into)} put in and not "
                    f"renewed, {_listed(out)} taken out. Correct a count, or mark what is new or "
                    "discarded",
                )


def _givers(procedure: Procedure) -> dict[int, Step]:
    return {step.bag: step for step in procedure.steps if step.bag is not None}


def _takers(procedure: Procedure, bag: int) -> list[Step]:
    return [step for step in procedure.steps if step.from_bag == bag]


def _empty(giver: Step) -> bool:
    return not (giver.fasteners or giver.remove)


def _listed(of: Counter[str]) -> str:
    return " and ".join(f"{count} {name}" for name, count in of.items()) or "nothing"
