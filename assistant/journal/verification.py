"""Checks whether a job is as it was recorded: its chain, its clips and pictures, and what is noted
beside them.

Additions are in no chain, so of these it sees whether they can be read, and whether each sign-off
follows this job's seal or another sign-off.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from hashlib import sha256
from typing import Any

from assistant.journal import additions, chain, named
from assistant.journal.chain import Fault, Link
from assistant.journal.records import CLOSED, Head, Identity, Records


@dataclass(frozen=True)
class Verdict:
    """What was found of one job."""

    fault: Fault | None
    """The first fault, in the order of the events; those of clips and pictures come after those of
    events."""
    events: int
    """How many events were looked at."""
    clips: int
    pictures: int
    last: str
    """The hash of the last event."""
    closed: bool

    @property
    def seal(self) -> str | None:
        """The hash that the job is sealed with; None while it is open."""
        return self.last if self.closed else None


def job(records: Records, number: int) -> Verdict:
    """Verify one job. Raises AssistantError for an unknown one."""
    found = check(
        records.identity(number),
        records.links(number),
        records.sounds(number),
        records.pictures(number),
        records.head(number),
        records.addition_texts(number),
    )
    if found.fault is not None:
        return found
    return replace(found, fault=additions_fault(records.addition_texts(number), found.seal))


def additions_fault(texts: Sequence[str], seal: str | None) -> Fault | None:
    """Return a fault where what was entered after a job was closed cannot be read, or where it was
    signed off with another seal than the job's.
    """
    try:
        stray = additions.stray(texts, seal)
    except ValueError:
        return Fault("altered", None, "what was entered after it was closed cannot be read")
    if stray is not None:
        why = f"what {stray.by} signed off is another record, or the sign-off before it is missing"
        return Fault("altered", None, why)
    return None


def check(
    who: Identity,
    links: Iterable[Link],
    sounds: Iterable[tuple[str, bytes]],
    pictures: Iterable[tuple[str, bytes]],
    head: Head | None,
    added: Sequence[str] = (),
) -> Verdict:
    """Verify a job from its parts: events in order, clips and pictures with their digests, the
    head noted, the additions as stored.
    """
    seen = _Seen()
    fault = chain.verify(who.uid, seen.watch(links))
    clips = shown = 0
    if fault is None:
        fault = _beside(who, seen, head)
    if fault is None:
        clips, fault = _kept("clip", sounds, seen.clips)
    if fault is None:
        shown, fault = _kept("picture", pictures, {**_later(added), **seen.pictures})
    return Verdict(fault, seen.count, clips, shown, seen.last, seen.closed)


@dataclass
class _Seen:
    """What is noticed of the events as they go by."""

    count: int = 0
    last: str = chain.START
    first: dict[str, Any] = field(default_factory=dict)
    closed: bool = False
    past_closing: int | None = None
    """The first event after the one that closed the job."""
    unreadable: int | None = None
    clips: dict[str, int] = field(default_factory=dict)
    """The digest of each clip that is named, and the first event that names it."""
    pictures: dict[str, int] = field(default_factory=dict)
    """The same of pictures."""

    def watch(self, links: Iterable[Link]) -> Iterator[Link]:
        for link in links:
            self.count += 1
            self.last = link.hash
            self._look_at(link)
            yield link

    def _look_at(self, link: Link) -> None:
        if self.closed and self.past_closing is None:
            self.past_closing = link.place
        try:
            event = chain.parse(link.body)
            self.closed = event["kind"] == CLOSED
            clip, picture = named.clip(event), named.picture(event)
        except (ValueError, KeyError, AttributeError, RecursionError):
            self.unreadable = self.unreadable or link.place
            return
        if self.count == 1:
            self.first = event
        if clip is not None:
            self.clips.setdefault(clip, link.place)
        if picture is not None:
            self.pictures.setdefault(picture, link.place)


def _beside(who: Identity, seen: _Seen, head: Head | None) -> Fault | None:
    """Return what is wrong with a job whose chain is good in itself."""
    if seen.unreadable is not None:
        return Fault("altered", seen.unreadable, f"event {seen.unreadable} cannot be read")
    past = seen.past_closing
    if past is not None:
        return Fault("inserted", past, f"event {past} was put in after the job was closed")
    opened = (seen.first.get("kind"), *(seen.first.get(k) for k in ("at", "title", "unit")))
    if opened != ("job opened", who.opened, who.title, who.unit):
        return Fault("altered", None, "what is noted of the job is not what event 1 says")
    count = seen.count
    if head is None:
        return Fault("missing", None, "what is noted of its last event is missing")
    if head.place > count:
        return Fault("missing", count + 1, f"event {count + 1} and all that followed are missing")
    if head.place < count:
        return Fault("inserted", head.place + 1, f"event {head.place + 1} was put in afterwards")
    if head.hash != seen.last or head.closed != seen.closed:
        return Fault("altered", count, f"event {count} is not the one that was noted as the last")
    return None


def _later(added: Sequence[str]) -> dict[str, int | None]:
    """Return the digests of the pictures that were put in after closing."""
    try:
        return dict.fromkeys(additions.pictures(added))
    except ValueError:
        return {}  # `additions_fault` tells of it.


def _kept(
    what: str, there: Iterable[tuple[str, bytes]], wanted: Mapping[str, int | None]
) -> tuple[int, Fault | None]:
    """Return how many clips or pictures there are, and the first that is not as the events name it.

    `what` is the word for one of them; `wanted` is what events name, with the first event of each;
    None for what was put in after closing.
    """
    missing = dict(wanted)
    count = stray = 0
    for digest, data in there:
        count += 1
        good = sha256(data).hexdigest() == digest
        if good and digest in missing:
            del missing[digest]
        else:
            stray += 1
    if missing:
        place = min((n for n in missing.values() if n is not None), default=None)
        of = "that was put in after closing" if place is None else f"of event {place}"
        if stray:
            return count, Fault("altered", place, f"the {what} {of} was altered")
        return count, Fault("missing", place, f"the {what} {of} is missing")
    if stray:
        return count, Fault("inserted", None, f"a {what} is there that no event names")
    return count, None
