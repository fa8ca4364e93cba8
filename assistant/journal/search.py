"""What of an event is found by searching, and how a search is put to SQLite's FTS5.

Titles, units, findings, notes, parts, bags and reasons are found; numbers and moves are not. The
index is made from the events and proves nothing: verification does not look at it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assistant.errors import AssistantError
from assistant.grammar import nouns

PATHS: dict[str, tuple[str, ...]] = {
    "job opened": ("title", "unit", "procedure", "remark"),
    "finding": ("part", "condition", "place"),
    "note": ("text",),
    "part chosen": ("part", "note"),
    "step skipped": ("reason.code", "reason.note"),
}
"""For each kind of event the paths of what is found in it."""

_PLACES = 2**24
"""More events than a job has; a row of the index is numbered by job and place."""


def text_of(event: Mapping[str, Any]) -> str:
    """Return what is found of an event, given as JSON; "" for nothing."""
    match event["kind"]:
        case "part ordered":
            found = [_noun(event, "part"), event.get("part_number")]
        case "bag recorded":
            found = [_noun(part, "name") for part in event.get("contents", ())]
        case kind:
            found = [_value(event, path) for path in PATHS.get(kind, ())]
    return " ".join(str(value) for value in found if value)


def _value(event: Mapping[str, Any], path: str) -> Any:
    found: Any = event
    for key in path.split("."):
        found = found.get(key) if isinstance(found, Mapping) else None
    return found


def _noun(of: Any, key: str) -> str:
    """Return a part as so many of it are called, so that "plug" and "plugs" both find two plugs.

    An event from elsewhere may be of any shape, and what is no part is not found.
    """
    name, count, plural = (_value(of, one) for one in (key, "count", "plural"))
    if not isinstance(name, str) or not isinstance(count, int):
        return ""
    called = nouns.counted(count, name, plural if isinstance(plural, str) else None)
    return called if called.startswith(name) else f"{name} {called}"


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
