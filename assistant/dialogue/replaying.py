"""Replaying stored events, which files and databases bring and others may have written."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from assistant.dialogue import events, facts, kept_text, pieces
from assistant.dialogue import state as job_state
from assistant.errors import AssistantError
from assistant.procedure.model import Procedure


def procedure_of(history: Sequence[events.Event], job: int) -> Procedure:
    """Return the procedure that the job is worked from, not as its file stands today: as it was
    begun with, or the revision that was taken last; of a job without one, with the steps that came
    about.

    Steps that were worked on are the same in all revisions that a job went through. Raises
    AssistantError where the first event does not open a job, or where a procedure is kept that
    cannot be worked from; of a job without one, as `replay_stored` does.
    """
    if not history or not isinstance(history[0], events.JobOpened):
        raise AssistantError(f"Job {job} does not start with its opening; it is damaged.")
    procedure = kept_text.procedure(_source(history))
    if procedure.unwritten is None:
        return procedure
    return replay_stored(procedure, history).procedure


def _source(history: Sequence[events.Event]) -> str:
    """Return the text that a job is worked from."""
    source = offered = getattr(history[0], "source", "")
    for event in history:
        if isinstance(event, events.RevisionOffered):
            offered = event.source
        elif isinstance(event, events.RevisionTaken):
            source = offered
    return str(source)


_MOST = 10**9
"""No count at a bench, and no time in seconds, is larger."""


def replay_stored(
    procedure: Procedure, history: Sequence[events.Event], technicians: tuple[str, ...] = ()
) -> job_state.State:
    """Return the state that stored events lead to.

    Raises AssistantError for events that no session can have made: each is valid by itself, but one
    may name a step that the procedure does not have, or withdraw what never was. The guard is round
    the replay alone: an error of ours elsewhere must come through as itself.
    """
    try:
        _check(procedure, history)
        return job_state.replay(procedure, history, technicians)
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise AssistantError(
            f"The job's events do not fit together ({type(error).__name__}: {error}). "
            "See whether they were altered, with: assistant verify"
        ) from error


def _check(procedure: Procedure, history: Sequence[events.Event]) -> None:
    """Raise LookupError or ValueError for what a replay lets pass and a reader would trip over."""
    steps = {step.id for step in procedure.steps} | pieces.steps_of(history)
    turns: Counter[int] = Counter()
    for event in history:
        for step in _steps_of(event):
            if step not in steps:
                raise LookupError(f"the procedure has no step {step}")
        for turn, place in _taken_back(event):
            if not turns[turn]:
                raise ValueError(f"turn {turn} is withdrawn and never was")
            if not 0 <= place < turns[turn]:
                raise ValueError(f"turn {turn} has no event {place}")
        if any(isinstance(value, int) and abs(value) > _MOST for value in vars(event).values()):
            raise ValueError(f"a number in turn {event.turn} is larger than any at a bench")
        turns[event.turn] += 1


def _steps_of(event: events.Event) -> Iterator[str]:
    """Yield the steps that an event names."""
    if event.step is not None:
        yield event.step
    match event:
        case events.RetestBegun() | events.ReworkBegun():
            yield from event.steps
            yield from (failed.result.step for failed in event.failed)
        case events.ReviewOpened(of=step):
            yield step
        case events.BuildOrderSaid(goes=goes, before=before):
            yield from (goes, before)
        case _:
            pass


def _taken_back(event: events.Event) -> Iterator[tuple[int, int]]:
    """Yield the turn, and the place in it, of an event that is taken back or would be."""
    match event:
        case events.Withdrawn(withdrew=turn, place=place):
            yield turn, place or 0
        case events.ValueQuestioned(replaces=facts.EventRef(turn=turn, place=place)):
            yield turn, place
        case _:
            pass
