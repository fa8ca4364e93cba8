"""Pictures that are put into a job from files, away from the bench, and taken back there.

A picture goes into the job's own record as an event, together with its bytes; the bench reads it
there. What is entered here is taken back here: "disregard" at the bench passes it over. The record
of a closed job is sealed: a picture that is put in then is an addition beside it, and only such a
one can be taken back then.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256

from assistant.desk import entering
from assistant.dialogue import events, facts, photos
from assistant.dialogue.events import Event
from assistant.dialogue.withdrawal import named, place_of, what_stands
from assistant.errors import AssistantError
from assistant.imaging.pictures import Picture
from assistant.journal.clock import local_now
from assistant.journal.store import Journal


@dataclass(frozen=True)
class Numbered:
    """An event with its number in the job, from 1."""

    number: int
    event: events.Base


def listed(history: Sequence[Event], afterwards: Sequence[events.Base] = ()) -> Iterator[Numbered]:
    """Yield what a picture can go with, and the pictures themselves, of what stands in a job.

    `history` is all of the job's events; `afterwards` is what was entered when it was closed, whose
    numbers follow those of the events.
    """
    kept = set(map(id, what_stands(history)))
    for number, event in enumerate(history, 1):
        if id(event) in kept and isinstance(event, (*photos.SHOWN, events.PictureTaken)):
            yield Numbered(number, event)
    later = photos.put_in_later(afterwards)
    for number, added in enumerate(afterwards, len(history) + 1):
        if isinstance(added, events.PictureTaken) and any(added is one for one in later):
            yield Numbered(number, added)


def enter(
    journal: Journal, job: int, picture: Picture, number: int | None = None, by: str | None = None
) -> Numbered:
    """Put a picture into a job, beside its record where that is sealed; return the event that it
    goes with.

    `number` is that of the event, from 1; None for the finding, note or part that was said last.
    Raises AssistantError where there is no such event, where it has that very picture already, and
    where nothing can be written.
    """
    digest = sha256(picture.jpeg).hexdigest()
    while True:
        history, afterwards = journal.events(job), journal.additions(job)
        of = _shown(history, job, number)
        there = photos.shown_with(history).get(id(of.event), ())
        later = (p for p in photos.put_in_later(afterwards) if named(history, p.of) is of.event)
        if any(p.sha256 == digest for p in (*there, *later)):
            raise AssistantError(f"Event {of.number} of job {job} has that photo already.")
        event = events.PictureTaken(
            **_entered(history, by),
            of=facts.EventRef(turn=of.event.turn, place=place_of(of.event, history)),
            sha256=digest,
            width=picture.width,
            height=picture.height,
            at_desk=True,
        )
        if journal.seal(job) is not None:
            journal.add(job, event, picture.jpeg)
            return of
        if entering.append(journal, job, history, event, picture.jpeg):
            return of


def withdraw(journal: Journal, job: int, number: int, by: str | None = None) -> None:
    """Take a picture out of what stands in a job; nothing is removed from the journal.

    `number` is the picture's in the list. Raises AssistantError where that is no picture that
    stands, where it is part of a sealed record, and where nothing can be written.
    """
    while True:
        history, afterwards = journal.events(job), journal.additions(job)
        if number > len(history):
            journal.add(job, _taken_back(history, afterwards, job, number, by))
            return
        event = _at(history, job, number)
        if not isinstance(event, events.PictureTaken):
            raise AssistantError(f"Event {number} of job {job} is not a photo. {_list(job)}")
        if journal.seal(job) is not None:
            raise AssistantError(
                f"Job {job} is closed and sealed: the photo of event {number} is part of its "
                "record and stays. Only what was put in after closing can be taken back."
            )
        withdrawn = events.Withdrawn(
            **_entered(history, by),
            withdrew=event.turn,
            place=place_of(event, history),
            at_desk=True,
        )
        if entering.append(journal, job, history, withdrawn):
            return


def _taken_back(
    history: tuple[Event, ...],
    afterwards: Sequence[events.Base],
    job: int,
    number: int,
    by: str | None,
) -> events.PictureTakenBack:
    """Return what takes back a picture that was put in after closing."""
    found = next((one.event for one in listed(history, afterwards) if one.number == number), None)
    if not isinstance(found, events.PictureTaken):
        raise AssistantError(f"There is no photo {number} in job {job}. {_list(job)}")
    return events.PictureTakenBack(**_entered(history, by), of=found.of, sha256=found.sha256)


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
