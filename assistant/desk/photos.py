"""Pictures that are put into a job from files, away from the bench, and taken back there.

A picture goes into the job's own record as an event, together with its bytes; the bench reads it
there. What is entered here is taken back here: "disregard" at the bench passes it over. The record
of a closed job is sealed, and takes no picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256

from assistant.desk import entering
from assistant.dialogue import events, facts, photos
from assistant.dialogue.events import Event
from assistant.dialogue.withdrawal import place_of, what_stands
from assistant.errors import AssistantError
from assistant.imaging.pictures import Picture
from assistant.journal.clock import local_now
from assistant.journal.store import Journal


@dataclass(frozen=True)
class Numbered:
    """An event with its number in the job, from 1."""

    number: int
    event: Event


def listed(history: Sequence[Event]) -> Iterator[Numbered]:
    """Yield what a picture can go with, and the pictures themselves, of what stands in a job.

    `history` is all of the job's events.
    """
    kept = set(map(id, what_stands(history)))
    for number, event in enumerate(history, 1):
        if id(event) in kept and isinstance(event, (*photos.SHOWN, events.PictureTaken)):
            yield Numbered(number, event)


def enter(
    journal: Journal, job: int, picture: Picture, number: int | None = None, by: str | None = None
) -> Numbered:
    """Put a picture into an open job; return the event that it goes with.

    `number` is that of the event, from 1; None for the finding, note or part that was said last.
    Raises AssistantError where there is no such event, where it has that very picture already,
    where the job is closed, and where nothing can be written.
    """
    digest = sha256(picture.jpeg).hexdigest()

    def made(history: tuple[Event, ...]) -> tuple[Numbered, Event]:
        of = _shown(history, job, number)
        if any(p.sha256 == digest for p in photos.shown_with(history).get(id(of.event), ())):
            raise AssistantError(f"Event {of.number} of job {job} has that photo already.")
        return of, events.PictureTaken(
            **_entered(history, by),
            of=facts.EventRef(turn=of.event.turn, place=place_of(of.event, history)),
            sha256=digest,
            width=picture.width,
            height=picture.height,
            at_desk=True,
        )

    return _append(journal, job, made, picture.jpeg)


def withdraw(journal: Journal, job: int, number: int, by: str | None = None) -> Numbered:
    """Take a picture out of what stands in an open job; nothing is removed from the journal.

    `number` is that of the picture's event, from 1. Raises AssistantError where that is no picture
    that stands, where the job is closed, and where nothing can be written.
    """

    def made(history: tuple[Event, ...]) -> tuple[Numbered, Event]:
        event = _at(history, job, number)
        if not isinstance(event, events.PictureTaken):
            raise AssistantError(f"Event {number} of job {job} is not a photo. {_list(job)}")
        return Numbered(number, event), events.Withdrawn(
            **_entered(history, by),
            withdrew=event.turn,
            place=place_of(event, history),
            at_desk=True,
        )

    return _append(journal, job, made)


def _append(
    journal: Journal,
    job: int,
    made: Callable[[tuple[Event, ...]], tuple[Numbered, Event]],
    jpeg: bytes | None = None,
) -> Numbered:
    """Record an event that is made from those that are there; return what it is about."""
    while True:
        history = journal.events(job)
        if journal.seal(job) is not None:
            raise AssistantError(
                f"Job {job} is closed and sealed: its photos stay as they are. Keep the file "
                "beside the report, or begin another job on the unit and put the photo there."
            )
        about, event = made(history)
        if entering.append(journal, job, history, event, jpeg):
            return about


def _entered(history: tuple[Event, ...], by: str | None) -> dict[str, object]:
    return {"at": local_now(), "turn": entering.turn(history), "by": by}


def _shown(history: tuple[Event, ...], job: int, number: int | None) -> Numbered:
    if number is None:
        last = photos.said_last(what_stands(history))
        if last is None:
            raise AssistantError(
                f"Job {job} has no finding, note or part yet for a photo to go with. {_list(job)}"
            )
        return next(Numbered(n, one) for n, one in enumerate(history, 1) if one is last)
    event = _at(history, job, number)
    if not isinstance(event, photos.SHOWN):
        raise AssistantError(
            f"Event {number} of job {job} is nothing that a photo can go with. {_list(job)}"
        )
    return Numbered(number, event)


def _at(history: tuple[Event, ...], job: int, number: int) -> Event:
    """Return an event that stands, by its number."""
    if not 1 <= number <= len(history):
        raise AssistantError(f"Job {job} has no event {number}. {_list(job)}")
    event = history[number - 1]
    if not any(event is one for one in what_stands(history)):
        raise AssistantError(
            f"Event {number} of job {job} was withdrawn or corrected. {_list(job)}"
        )
    return event


def _list(job: int) -> str:
    return f"See which there are with: assistant photo {job}"
