"""Whether what went into the bags came out of them again. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from assistant.dialogue import events, wording
from assistant.dialogue.state import State
from assistant.procedure import bags


def left_over(state: State) -> Iterator[str]:
    """Yield what is wrong with the bags: not opened, or its fasteners do not add up; worded.

    A bag counts as opened when a step that takes its hardware from it is done; see
    `assistant.procedure.bags` for what is reckoned up.
    """
    bagged = {e.asked or e.number: e for e in state.of_job(events.BagRecorded)}
    names = bags.fastener_names(state.procedure)
    unopened = []
    for asked, event in sorted(bagged.items()):
        takers = [step for step in state.route() if step.from_bag == asked]
        done = [step for step in takers if step.id in state.done]
        if done:
            giver = state.procedure.steps[state.procedure.index(event.step or "")]
            into, out = bags.tally(names, giver, done, asked, state.answers)
            if into.total() != out.total():
                yield _uneven(event.number, into, out)
        elif takers:
            unopened.append(event.number)
    if unopened:
        named = wording.listing(wording.count(number) for number in unopened)
        one = len(unopened) == 1
        yield f"{'bag' if one else 'bags'} {named} {'was' if one else 'were'} not opened"


def _uneven(number: int, into: Counter[str], out: Counter[str]) -> str:
    gap = into.total() - out.total()
    more = (
        f"{wording.count(gap)} left over" if gap > 0 else f"{wording.count(-gap)} more than went in"
    )
    named = f"bag {wording.count(number)}"
    return f"{named}: {_worded(into)} went in, {_worded(out)} fitted from it, {more}"


def _worded(of: Counter[str]) -> str:
    named = [
        wording.several(n, name, name if name.endswith("s") else None) for name, n in of.items()
    ]
    return wording.listing(named) or "no fastener"
