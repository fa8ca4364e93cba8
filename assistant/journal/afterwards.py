"""What the parts desk enters of a sealed job: it stands beside the chain and proves nothing.

An entry is an `OrderMoved` as an event is stored. It is known by its own text, so that the same
entries may come by any way and any number of times, and each is there once.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from assistant.dialogue import events
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.journal.shop import Shop
    from assistant.journal.store import Journal

MOST = 10_000
"""Entries of a job that are taken in with it; far more than a job has orders."""
LONGEST = 16_000
"""Characters of an entry."""


def read(bodies: Iterable[str]) -> tuple[events.OrderMoved, ...]:
    """Return entries from their bodies as stored. Raises ValueError where one is none."""
    return tuple(map(_entry, bodies))


def of_job(records: Journal | Shop, job: int) -> tuple[events.OrderMoved, ...]:
    """Return a job's entries, in order. Raises AssistantError where one cannot be read."""
    try:
        return read(records.entries(job))
    except ValueError as error:
        raise AssistantError(
            f"What was entered after job {job} was closed cannot be read. "
            f"See whether it was altered, with: assistant verify {job}"
        ) from error


def _entry(body: str) -> events.OrderMoved:
    if len(body) > LONGEST:
        raise ValueError("too long")
    event = events.EVENT.validate_json(body)
    # Nobody says it: no clip, which might be another job's.
    if not isinstance(event, events.OrderMoved) or not event.at_desk or event.heard is not None:
        raise ValueError("not entered by the parts desk")
    if event.count < 1:
        raise ValueError("of no part")
    return event
