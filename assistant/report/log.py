"""The plain log of a job: every event in the order in which it came about."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from assistant.dialogue import events
from assistant.dialogue.replaying import replay_stored
from assistant.dialogue.withdrawal import named
from assistant.journal.records import Transcript
from assistant.procedure.model import Procedure
from assistant.report import wording
from assistant.report.entries import in_effect
from assistant.report.evidence import superseded
from assistant.report.model import Nonconformity
from assistant.report.steps import NOT_LISTED
from assistant.text import plain


def lines(
    history: Sequence[events.Event],
    procedure: Procedure,
    transcripts: Mapping[str, tuple[Transcript, ...]] | None = None,
) -> Iterator[str]:
    """Yield one line for each event: local time, step number, what happened, how it was heard.

    The words heard stand with the first event that came of them, and with them the `transcripts`
    of the clip, by its SHA-256. What was withdrawn later says so, and so does a result that is
    another one since, or follows no longer. Raises AssistantError for events that do not fit
    together.
    """
    transcripts = transcripts or {}
    numbers = {step.id: n for n, step in enumerate(procedure.steps, 1)}
    withdrawals = [(p, e) for p, e in enumerate(history) if isinstance(e, events.Withdrawn)]
    turn_told = 0
    stands = in_effect(history, procedure)
    past = superseded(history, stands, replay_stored(procedure, history))
    several = len({event.by for event in history}) > 1
    for place, event in enumerate(history):
        number = numbers.get(event.step or "")
        text = wording.event(event)
        if isinstance(event, events.StepEntered) and number:
            text += f": {procedure.steps[number - 1].say}"
        if isinstance(event, events.StepSkipped) and event.outstanding:
            text += f"; outstanding: {'; '.join(map(wording.outstanding, event.outstanding))}"
        if isinstance(event, events.PictureTaken):
            text += of_what(history, event)
        if isinstance(event, events.Withdrawn):
            text += f": {taken_back(history[:place], event, numbers)}"
        parts = [_time(event), f"step {number}" if number else "", text]
        if several and event.by:
            parts.append(f"[by {event.by}]")
        if event.heard and event.turn != turn_told:
            parts.append(_heard(event.heard))
            parts += map(_transcript, transcripts.get(event.heard.clip_sha256 or "", ()))
        turn_told = event.turn
        if not stands[place]:
            back = next(
                w
                for p, w in withdrawals
                if p > place and any(e is event for e in taken_from(history[:p], w)) and stands[p]
            )
            verb = "corrected" if back.corrected else "withdrawn"
            parts.append(f"[{verb} {_time(back)}]")
        if place in past:
            since = past[place].by
            told = "no result any more" if since is None else f"another since {_time(since)}"
            parts.append(f"[{told}]")
        time, where, *rest = parts
        yield plain(f"{time}  {where:8}  {'  '.join(rest)}")


def of_what(history: Sequence[events.Event], photo: events.PictureTaken) -> str:
    """Write what a photo was taken of, as it was then; "" where that is not in the record."""
    of = named(history, photo.of)
    return f" of {wording.event(of)}" if of else ""


def taken_back(
    before: Sequence[events.Event], event: events.Withdrawn, numbers: Mapping[str, int]
) -> str:
    """Write what a withdrawal took back, from the events before it; `numbers` are the steps'."""
    taken = taken_from(before, event)
    if shown := [e for e in taken if not isinstance(e, (*NOT_LISTED, events.Withdrawn))]:
        return wording.taken_back(shown)
    for move in taken:
        if isinstance(move, events.StepEntered):
            return wording.going_to(numbers[move.step or ""])
    return wording.taken_back(taken[:1])


def taken_from(before: Sequence[events.Event], event: events.Withdrawn) -> list[events.Event]:
    """Return the events that a withdrawal took back, from those before it: a turn, or one of it."""
    taken = [e for e in before if e.turn == event.withdrew]
    return taken if event.place is None else taken[event.place : event.place + 1]


def failures(found: Sequence[Nonconformity]) -> Iterator[str]:
    """Yield one line for each nonconformity, the open ones first; nothing where there is none."""
    for one in found:
        where = f"step {one.number}" if one.number else ""
        told = (one.what, one.taken, *wording.status(one))
        yield plain(f"{_HEADS[one.status]:10}  {where:8}  {'  '.join(told)}")


_HEADS = {"open": "OPEN", "conceded": "CONCEDED", "settled": "settled", "taken back": "taken back"}


def afterwards(entries: Sequence[events.Base], history: Sequence[events.Base]) -> Iterator[str]:
    """Yield one line for each thing that was entered when the job was closed already; `history` is
    the job's events.
    """
    for event in entries:
        by = f"  [by {event.by}]" if event.by else ""
        yield plain(f"{_time(event)}  {wording.afterwards(event, history)}{by}")


def _time(event: events.Base) -> str:
    return f"{event.at:%Y-%m-%d %H:%M:%S}"


def sign_offs(signed: Sequence[events.SignedOff]) -> Iterator[str]:
    """Yield one line for each sign-off."""
    for event in signed:
        yield plain(f"{event.at:%Y-%m-%d %H:%M:%S}  {wording.signed_off(event)}")


def _heard(heard: events.Heard) -> str:
    clip = "" if heard.clip is None else f", clip {heard.clip}"
    if not heard.words:
        # Free speech: what was said is in the clip.
        return f"[heard speech, {heard.recogniser}{clip}]"
    sure = "" if heard.confidence is None else f" {heard.confidence:.2f}"
    return f"[heard “{heard.words}”, {heard.recogniser}{sure}{clip}]"


def _transcript(made: Transcript) -> str:
    return (
        f"[transcript, not verified: “{made.text}”, {made.recogniser}, {made.at:%Y-%m-%d %H:%M:%S}]"
    )
