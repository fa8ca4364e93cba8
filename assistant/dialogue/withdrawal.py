"""Which events of a record still stand.

Nothing is ever deleted from a record: a withdrawal is an event that names an earlier turn, and
every event of that turn before the withdrawal no longer counts.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from assistant.dialogue import events

E = TypeVar("E", bound=events.Base)


def what_stands(history: Iterable[E]) -> tuple[E, ...]:
    """Return the events that no later event withdrew, in order; withdrawals themselves stand.

    Takes one pass, so its cost grows with the number of events.
    """
    withdrawn: set[int] = set()
    standing: list[E] = []
    # Backwards, because only a withdrawal that comes later can take an event back.
    for event in reversed(tuple(history)):
        if isinstance(event, events.Withdrawn):
            withdrawn.add(event.withdrew)
            standing.append(event)
        elif event.turn not in withdrawn:
            standing.append(event)
    return tuple(reversed(standing))
