"""Putting an event into a job away from the bench, while the bench may be recording in it.

An event that is entered at the desk is made from those that are there. Where the bench records
something meanwhile, it is made anew from what is there then. The record of a closed job is sealed;
what is entered then is an addition beside it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from assistant.dialogue import events
from assistant.dialogue.events import Event
from assistant.errors import AssistantError
from assistant.journal.store import CannotRecord, Journal

E = TypeVar("E", events.OrderMoved, events.CustomerAnswered)


def turn(history: Sequence[Event]) -> int:
    """Return the turn number of what is entered after these events."""
    return max(event.turn for event in history) + 1


def enter(journal: Journal, job: int, made: Callable[[tuple[Event, ...]], E]) -> E:
    """Record what `made` makes of a job's events: in its chain, or beside it where it is closed.

    Raises what `made` raises, and AssistantError where nothing can be written.
    """
    while True:
        history = journal.events(job)
        event = made(history)
        if journal.seal(job) is not None:
            journal.add(job, event)
            return event
        if append(journal, job, history, event):
            return event


def append(
    journal: Journal,
    job: int,
    history: Sequence[Event],
    event: Event,
    jpeg: bytes | None = None,
) -> bool:
    """Put an event into an open job after `history`, with the picture that it names.

    False where something was recorded at the bench meanwhile: look at the job again. Raises
    AssistantError where nothing can be written.
    """
    try:
        journal.append(job, len(history), [event], picture=jpeg)
    except CannotRecord:
        raise
    except AssistantError:
        head = journal.head(job)
        if head is None or head.place == len(history):
            raise
        return False
    return True
