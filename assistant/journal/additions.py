"""What the parts desk adds to a job after it was closed: it stands beside the chain, unproven.

An addition is an `OrderMoved`, stored as an event is. It is known by its own text, so the same
addition can arrive by any way and any number of times, and is kept once.
"""

from __future__ import annotations

from collections.abc import Iterable

from assistant.dialogue import events

MOST = 10_000
"""Additions of one job that are accepted with it; far more than a job has orders."""
LONGEST = 16_000
"""Characters of one addition."""


def read(texts: Iterable[str]) -> tuple[events.OrderMoved, ...]:
    """Return additions from their stored texts. Raises ValueError where a text is not one."""
    return tuple(map(_addition, texts))


def _addition(text: str) -> events.OrderMoved:
    if len(text) > LONGEST:
        raise ValueError("too long")
    event = events.EVENT.validate_json(text)
    # Nobody said it, so it has no words and no clip, which might be another job's.
    if not isinstance(event, events.OrderMoved) or not event.at_desk or event.heard is not None:
        raise ValueError("not entered by the parts desk")
    if event.count < 1:
        raise ValueError("counts no part")
    return event
