"""The photos of a job, and what each of them shows."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.dialogue import events
from assistant.dialogue.withdrawal import named
from assistant.report import wording
from assistant.report.entries import Sources
from assistant.report.model import Photo, Record


def photos(of: Sources) -> Iterator[Photo]:
    """Yield the photos that stand, in the order in which they were taken."""
    shown = {id(photo): event for event in of.events for photo in of.photos.get(id(event), ())}
    stand = {id(event) for event in of.state.history}
    taken = of.state.of_job(events.PictureTaken)
    for photo in (*taken, *of.photos_later):
        later = not any(photo is one for one in taken)
        # What an event from elsewhere refers to need not be there.
        event = named(of.events, photo.of) if later else shown.get(id(photo))
        step = photo.step or (event.step if event else None)
        yield of.entry(
            Photo,
            photo,
            step=step,
            number=of.numbers.get(step or ""),
            of=wording.event(event) if event else "nothing in the record",
            of_kind=str(getattr(event, "kind", "")),
            of_stands=id(event) in stand,
            after_closing=later,
        )


def apart(record: Record) -> tuple[Photo, ...]:
    """Return the photos that are not shown beside a finding or a note: nor is what was put in after
    closing, which is no part of the sealed record.
    """
    return tuple(
        one
        for one in record.photos
        if one.after_closing or not (one.of_stands and one.of_kind in ("finding", "note"))
    )
