"""Whether what went into the bags came out of them again. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from assistant.language import wording as say
from assistant.procedure.model import Fastener, Step
from assistant.session import events as ev
from assistant.session.state import State


def left_over(state: State) -> Iterator[str]:
    """Yield what is wrong with the bags: not opened, or its fasteners do not add up; worded.

    A bag counts as opened when a step that takes its hardware from it is done. Only bags that
    such a step names are looked at, and fasteners are compared as a sum: what came off as plate
    bolts may go in as long and short ones. Those replaced by new ones may stay in the bag.
    """
    bagged = {e.asked or e.number: e for e in state.of_job(ev.BagRecorded)}
    unopened = []
    for asked, event in sorted(bagged.items()):
        takers = [step for step in state.route() if step.from_bag == asked]
        done = [step for step in takers if step.id in state.done]
        if done:
            into = _put_in(state, _step(state, event), asked)
            out: Counter[str] = Counter()
            for step in done:
                for fastener in _fasteners(state, step, asked):
                    if fastener.new:
                        into[fastener.name] -= fastener.count
                    else:
                        out[fastener.name] += fastener.count
            into = +into
            if into.total() != out.total():
                yield _uneven(event.number, into, out)
        elif takers:
            unopened.append(event.number)
    if unopened:
        named = say.listing(say.count(number) for number in unopened)
        one = len(unopened) == 1
        yield f"{'bag' if one else 'bags'} {named} {'was' if one else 'were'} not opened"


def _step(state: State, event: ev.Base) -> Step:
    return state.procedure.steps[state.procedure.index(event.step or "")]


def _fasteners(state: State, step: Step, bag: int) -> list[Fastener]:
    """Return the fasteners of a step that go into a bag, or come out of it."""
    own = step.bag or step.from_bag
    return [f for f in step.fasteners if f.applies(state.answers) and (f.bag or own) == bag]


def _put_in(state: State, step: Step, bag: int) -> Counter[str]:
    """Return how many of each fastener a step puts into a bag, those thrown away left out."""
    found: Counter[str] = Counter()
    for fastener in _fasteners(state, step, bag):
        found[fastener.name] += fastener.count
    known = {f.name for s in state.procedure.steps for f in s.fasteners}
    for remove in step.remove:
        if remove.part not in known or not remove.applies(state.answers):
            continue
        if remove.discard:
            found[remove.part] -= remove.count
        elif step.bag == bag:
            # A bolt can be listed both as a fastener of the joint and as a part that comes off.
            found[remove.part] = max(found[remove.part], remove.count)
    return +found


def _uneven(number: int, into: Counter[str], out: Counter[str]) -> str:
    gap = into.total() - out.total()
    more = f"{say.count(gap)} left over" if gap > 0 else f"{say.count(-gap)} more than went in"
    return (
        f"bag {say.count(number)}: {_worded(into)} went in, {_worded(out)} fitted from it, {more}"
    )


def _worded(of: Counter[str]) -> str:
    named = [say.several(n, name, name if name.endswith("s") else None) for name, n in of.items()]
    return say.listing(named) or "no fastener"
