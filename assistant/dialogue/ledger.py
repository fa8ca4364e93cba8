"""What became of the parts that were asked for: a ledger folded from a job's events, and pure.

Quantities are kept, whatever is entered: those of an order in its states always come to what was
asked for. A move names a part and not one of its orders, so that a delivery for two of them need
not be told apart: it takes from the state that is nearest, and there from the oldest order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import get_args

from assistant.dialogue import events, facts
from assistant.dialogue.withdrawal import what_stands

STATES: tuple[events.OrderState, ...] = get_args(events.OrderState)
TO_COME: tuple[events.OrderState, ...] = ("asked", "ordered")
"""What the parts desk has still to see to."""

_REGULAR: Mapping[events.OrderState, tuple[events.OrderState, ...]] = {
    "asked": ("fitted", "received", "ordered", "cancelled"),  # To put right what was entered.
    "ordered": ("asked",),
    "received": ("ordered", "asked"),  # From the shelf, or nobody said that it was ordered.
    "fitted": ("received",),
    "cancelled": ("asked", "ordered"),
}
"""For each state, those from which a part comes to it, the nearest first."""

_AFFIRMED: Mapping[events.OrderState, tuple[events.OrderState, ...]] = {
    **_REGULAR,
    "fitted": ("received", "ordered", "asked"),
}
"""The same where somebody insists: a part may be fitted that nobody said was received."""


@dataclass(frozen=True)
class Line:
    """One order, and how many of it are in which state."""

    order: events.PartOrdered
    counts: Mapping[events.OrderState, int]

    @property
    def name(self) -> str:
        """What one of its parts is called."""
        return self.order.part

    @property
    def to_come(self) -> int:
        """How many are neither received nor cancelled."""
        return total([self], TO_COME)


def lines(history: Iterable[events.Base]) -> tuple[Line, ...]:
    """Return a job's orders in their order, from its events; what was withdrawn is left out."""
    kept = [
        event
        for event in what_stands(history)
        if isinstance(event, events.PartOrdered | events.OrderMoved)
    ]
    # All orders first: what was received of one that is then corrected stays received.
    orders = [event for event in kept if isinstance(event, events.PartOrdered)]
    counts = [dict.fromkeys(STATES, 0) | {"asked": order.count} for order in orders]
    found = [Line(order, count) for order, count in zip(orders, counts, strict=True)]
    for event in kept:
        if isinstance(event, events.OrderMoved) and not event.from_repair:
            of_part = [c for line, c in zip(found, counts, strict=True) if line.name == event.part]
            _move(of_part, event)
    return tuple(found)


def to_come(history: Iterable[events.Base]) -> tuple[facts.Parts, ...]:
    """Return what was asked for, and neither received nor cancelled, in the order of the orders."""
    return tuple(
        line.order.parts.model_copy(update={"count": line.to_come})
        for line in lines(history)
        if line.to_come
    )


def _move(orders: Sequence[dict[events.OrderState, int]], event: events.OrderMoved) -> None:
    left = event.count
    for source in _AFFIRMED[event.state]:
        for counts in orders:
            taken = min(left, counts[source])
            if taken > 0:
                counts[source] -= taken
                counts[event.state] += taken
                left -= taken


def from_desk(event: events.Base) -> bool:
    """Whether it was entered away from the bench, and not by the technician."""
    return bool(getattr(event, "at_desk", False))


def followed_from_step(event: events.Base) -> bool:
    """Whether it followed from a step that was done, so that nobody said it."""
    return bool(getattr(event, "by_step", False))


def said_at_bench(event: events.Base) -> bool:
    """Whether somebody at the bench said it."""
    return not from_desk(event) and not followed_from_step(event)


def total(of: Iterable[Line], states: Sequence[events.OrderState]) -> int:
    """Return how many there are of these orders in these states."""
    return sum(line.counts[state] for line in of for state in states)


def movable(of: Iterable[Line], to: events.OrderState) -> int:
    """Return how many of these orders can come to a state without a question."""
    return total(of, _REGULAR[to])


def movable_if_affirmed(of: Iterable[Line], to: events.OrderState) -> int:
    """Return how many of these orders can come to a state where somebody insists."""
    return total(of, _AFFIRMED[to])
