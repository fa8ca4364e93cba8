"""What of an event is found by searching, and how a search is put to SQLite's FTS5.

Titles, units, findings, notes, parts, bags and reasons are found; numbers and moves are not. The
index is made from the events and proves nothing: verification does not look at it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from assistant.errors import AssistantError

FIELDS: dict[str, tuple[str, ...]] = {
    "job opened": ("title", "unit", "procedure", "remark"),
    "finding": ("part", "condition", "place"),
    "note": ("text",),
    "part ordered": ("part", "part_number"),
    "part chosen": ("part", "note"),
    "bag recorded": ("contents",),
    "step skipped": ("reason",),
}
"""The fields that are found, by the kind of event, in the order in which a hit shows them."""

_PLACES = 2**24
"""More events than a job has; a row of the index is numbered by job and place."""


def text_of(event: Mapping[str, Any]) -> str:
    """Return what is found of an event, given as JSON; "" for nothing."""
    values = (event.get(field) for field in FIELDS.get(event["kind"], ()))
    return " ".join(text for value in values for text in _texts(value))


def _texts(value: Any) -> Iterator[str]:
    """Yield the texts in a field: its own, or those of what it lists."""
    if isinstance(value, str):
        if value:
            yield value
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from _texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)


def about(title: str, unit: str | None) -> str:
    """Return what is found with every event of a job, so that one search can name both."""
    return f"{title} {unit}" if unit else title


def row(job: int, place: int) -> int:
    """Return the number of an event's row in the index: rows are in the order of jobs."""
    if not 0 < place < _PLACES:
        raise AssistantError(f"A job cannot have {place} events. Close it, and open another.")
    return job * _PLACES + place


def rows(job: int | None) -> tuple[int, int]:
    """Return the first and the last number that a row of a job, or of any, can have."""
    if job is None:
        return 0, 2**63 - 1
    return job * _PLACES, job * _PLACES + _PLACES - 1


def job_and_place(number: int) -> tuple[int, int]:
    """Return the job and the place of a row in the index."""
    return divmod(number, _PLACES)


def query(text: str) -> str:
    """Return an FTS5 query: every word, or the beginning of one, in the job or in the event.

    At least one of the words is the event's own; a job's title alone finds its opening. Raises
    AssistantError where there is no word in the text.
    """
    # SQLite would end the query at U+0000, and a phrase at a quotation mark.
    words = [word.replace('"', "") for word in text.replace("\0", " ").split()]
    phrases = [f'"{word}"*' for word in words if any(c.isalnum() for c in word)]
    if not phrases:
        raise AssistantError("Search for at least one word.")
    return f"({' AND '.join(phrases)}) AND (text : ({' OR '.join(phrases)}))"
