"""The hash chain of a job: each event carries a hash of itself and of the event before it.

The hash is the SHA-256 (FIPS 180-4), in lower-case hex, of the canonical JSON (RFC 8785) of

    {"event": the event, "job": the job's uid, "place": 1, 2, 3 …, "previous": the hash before}

where the hash before the first is 64 zeros. An event is stored as its own canonical JSON, so the
stored bytes themselves are hashed, and changing the event's model later changes no hash.

A chain shows any change by somebody who did not compute all hashes anew from there on. To catch
somebody who did, compare the last hash with a copy kept elsewhere: on a printed report, or on
another machine.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

import rfc8785

from assistant.errors import AssistantError

START = "0" * 64
"""What stands for the hash before the first event."""

Kind = Literal["altered", "missing", "reordered", "inserted"]


@dataclass(frozen=True)
class Link:
    """One event of a job as it is stored: its place, from 1, and its canonical JSON."""

    place: int
    previous: str
    hash: str
    body: str


@dataclass(frozen=True)
class Fault:
    """The first thing in a job that is not as it was recorded.

    `place` is where an event was altered or inserted, where a missing one should be, or the first
    place that holds another event than it should. None for a fault of the job or of a clip.
    """

    kind: Kind
    place: int | None
    text: str
    """A plain sentence for people, without the job."""


def canonical(value: Any) -> str:
    """Return the canonical JSON (RFC 8785) of a JSON value.

    Raises AssistantError for what JSON cannot carry between machines unchanged: an integer
    beyond 2⁵³, a number that is not finite, half a surrogate pair.
    """
    try:
        return rfc8785.dumps(value).decode()
    except (ValueError, rfc8785.CanonicalizationError) as error:
        raise AssistantError(
            f"I cannot record that: it cannot be written down exactly ({error})."
        ) from error


def digest(job: str, place: int, previous: str, body: str) -> str:
    """Return the hash of an event from its job's uid, its place and its canonical JSON.

    Joins the four members in canonical order round the stored text. That gives the same bytes as
    `canonical` would, and any change of a stored byte shows.
    """
    whole = f'{{"event":{body},"job":"{job}","place":{place},"previous":"{previous}"}}'
    return hashlib.sha256(whole.encode(errors="surrogatepass")).hexdigest()


def links(job: str, place: int, previous: str, bodies: Iterable[str]) -> Iterator[Link]:
    """Yield the links of new events; `place` is that of the first, `previous` the hash before."""
    for number, body in enumerate(bodies, place):
        made = digest(job, number, previous, body)
        yield Link(number, previous, made, body)
        previous = made


def verify(job: str, rows: Iterable[Link]) -> Fault | None:
    """Return the first fault of a job's links, given in the order of their places; None if good.

    Keeps one link in memory while they are good, and the rest of the job from the first bad one on,
    to tell what happened to it. A chain cannot show that events are missing from its end.
    """
    rest = iter(rows)
    before: Link | None = None
    for row in rest:
        place = 1 if before is None else before.place + 1
        previous = START if before is None else before.hash
        if row != Link(place, previous, digest(job, place, previous, row.body), row.body):
            return _fault(job, place, previous, before, row, list(rest))
        before = row
    if before is None:
        return Fault("missing", 1, "there are no events")
    return None


def _fault(
    job: str, place: int, previous: str, before: Link | None, row: Link, rest: list[Link]
) -> Fault:
    """Tell what is wrong at a place; `before` and everything ahead of it is good."""
    later = (link for link in rest if _belongs(job, link, place, previous))
    if row.place > place:
        if any(True for _ in later):
            return _reordered(place)
        return Fault("missing", place, f"event {place} is missing")
    if row.place < place:
        return Fault("inserted", row.place, f"there is a second event {row.place}")
    own = _own_place(job, row, place + len(rest) + 1)
    if own is None:
        if any(digest(job, place, previous, link.body) == row.hash for link in rest):
            return _reordered(place)
        if any(True for _ in later):
            return _inserted(place)
        return Fault("altered", place, f"event {place} was altered")
    if own > place:
        if any(True for _ in later):
            return _reordered(place)
        return Fault("missing", place, f"event {place} is missing, and the rest was renumbered")
    if own < place:
        if any(True for _ in later):
            return _inserted(place)
        # It was written for an earlier place: what now stands there was put in before it.
        if before is not None and row.previous == before.previous:
            return _inserted(place - 1)
        return _reordered(place)
    # Good in itself, but made to follow another event than the one that is there.
    return Fault(
        "altered", max(1, place - 1), f"event {place} does not follow the one that stands before it"
    )


def _belongs(job: str, link: Link, place: int, previous: str) -> bool:
    return link.previous == previous and link.hash == digest(job, place, previous, link.body)


def _own_place(job: str, row: Link, most: int) -> int | None:
    """Return the place that a row was written for, by its own hash; None where it is for none."""
    tried = (row.place, *range(1, most + 1))
    return next((n for n in tried if digest(job, n, row.previous, row.body) == row.hash), None)


def _reordered(place: int) -> Fault:
    return Fault("reordered", place, f"the events from {place} on are not in their order")


def _inserted(place: int) -> Fault:
    return Fault("inserted", place, f"event {place} was put in afterwards")


def parse(body: str) -> dict[str, Any]:
    """Return a stored event as JSON. Raises ValueError where it is no JSON object."""
    value = json.loads(body)
    if not isinstance(value, dict):
        raise ValueError("no JSON object")
    return value
