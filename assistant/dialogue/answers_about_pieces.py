"""Answers about what came off, in a job without a procedure."""

from __future__ import annotations

from assistant.dialogue import events, intents, remaining, wording
from assistant.dialogue.effects import PlayNotes
from assistant.dialogue.pieces import Piece
from assistant.dialogue.state import State
from assistant.dialogue.turn import Turn


def on_what_came_off_last(turn: Turn, intent: intents.LastOff) -> None:
    """Say what came off last."""
    if not turn.state.pieces:
        turn.say(wording.pieces.NOTHING_OFF)
        return
    turn.say(wording.pieces.came_off_last(_told(turn.state, turn.state.pieces[-1])))


def on_still_off(turn: Turn, intent: intents.StillOff) -> None:
    """Say what is off, the last off first."""
    state = turn.state
    off = [_told(state, p) for p in reversed(state.pieces) if p.on not in state.done]
    groups = [
        tuple(p.parts for p in state.pieces if p.on in group.members and p.on in state.done)
        for group in state.arrangement.groups
        if group.id not in state.done
    ]
    for words in wording.pieces.still_off(off, [group for group in groups if len(group) > 1]):
        turn.say(words)


def on_what_is_left(turn: Turn, intent: intents.WhatIsLeft) -> None:
    """Say what fails, and what is off."""
    for words in wording.remaining.each_left(remaining.of_job(turn.state)):
        turn.say(wording.sentence(words))
    on_still_off(turn, intents.StillOff())


def on_how_many(turn: Turn, intent: intents.HowManyOff) -> None:
    """Say how many of one thing came off, and where they are."""
    same = [piece for piece in turn.state.pieces if piece.name == intent.name]
    if not same:
        turn.say(wording.pieces.none_off(intent.name))
        return
    total = same[0].parts.model_copy(update={"count": sum(piece.count for piece in same)})
    numbers = sorted({piece.bag for piece in same if piece.bag is not None})
    missing = sum(missing_with(turn.state, piece) for piece in same)
    turn.say(wording.pieces.how_many(total, numbers, missing))


def on_play_note(turn: Turn, intent: intents.PlayNote) -> None:
    """Say what was noted with what comes off or goes on here; the bench plays what was spoken."""
    state = turn.state
    group = state.arrangement.group(state.step.id)
    members = group.members if group else ()
    here = {p.id: p.on for p in state.pieces if state.step_id in (p.id, p.on) or p.on in members}
    steps = {state.step_id, *here.keys(), *here.values()}
    notes = [e for e in state.of_job(events.NoteRecorded) if e.step in steps]
    if not notes:
        turn.say(wording.notes.NONE_HERE)
        return
    for note in notes:
        if note.text is not None:
            turn.say(wording.record.told(note))
    spoken = [note.heard for note in notes if note.text is None]
    if spoken:
        turn.say(wording.notes.spoken(len(spoken)))
        turn.ask_for(PlayNotes(tuple(heard.clip_sha256 if heard else None for heard in spoken)))


def missing_with(state: State, piece: Piece) -> int:
    """Return how many were said to be missing where a piece came off."""
    found = state.of_step(events.FindingRecorded, piece.id)
    said = sum(e.count for e in found if e.part == piece.name and e.condition == "missing")
    return min(said, piece.count)


def _told(state: State, piece: Piece) -> wording.pieces.Off:
    return wording.pieces.Off(piece.parts, piece.bag, missing_with(state, piece))
