"""A job without a procedure: how many of a thing came off, put right, and how many are missing."""

from __future__ import annotations

from assistant.dialogue import events, intents, wording
from assistant.dialogue.answers_about_pieces import missing_with
from assistant.dialogue.state import State
from assistant.dialogue.taking_down import MOST, here, now
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.working_out import tell_changes


def on_recount(turn: Turn, intent: intents.Recount) -> None:
    """Put right how many of them came off."""
    piece = here(turn)
    if piece is None:
        return
    if not 1 <= intent.count <= MOST:
        turn.say(wording.pieces.SAY_REMOVED, Tone.REFUSED)
        return
    turn.record(events.PieceChanged, count=intent.count)
    told = wording.pieces.recounted(now(turn, piece).parts, piece.count)
    turn.say(told, Tone.RECORDED)


def on_some_of(turn: Turn, intent: intents.SomeOf) -> None:
    """Record that only some of so many came off: there belong so many, and the rest is missing."""
    piece = here(turn)
    if piece is None:
        return
    lost = intent.of - intent.found
    if not 1 <= intent.found <= intent.of <= MOST:
        turn.say(wording.pieces.SAY_SOME_OF, Tone.REFUSED)
        return
    missing = missing_with(turn.state, piece)
    if missing and (lost, intent.of) != (missing, piece.count):
        gone = piece.parts.model_copy(update={"count": missing})
        turn.say(wording.pieces.missing_already(gone), Tone.REFUSED)
        return
    if intent.of != piece.count:
        turn.record(events.PieceChanged, count=intent.of)
    if lost and not missing:
        turn.record(
            events.FindingRecorded,
            part=piece.name,
            plural=piece.plural,
            count=lost,
            condition="missing",
        )
    told = wording.pieces.some_of(now(turn, piece).parts, lost)
    turn.say(told, Tone.RECORDED if turn.events else Tone.INFORM)
    tell_changes(turn)


def said_last(state: State, besides: tuple[type[events.Base], ...]) -> bool:
    """Return whether a count was what was said last at this step, of all that a bare number puts
    right; `besides` are the other records that one does.
    """
    counts = (events.PieceRemoved, events.PieceChanged)
    kinds: tuple[type[events.Base], ...] = (*besides, *counts)
    found = [
        event
        for event in state.of_step(kinds)
        if not isinstance(event, events.PieceChanged) or event.count is not None
    ]
    return bool(found) and isinstance(found[-1], counts)


def on_other_count(turn: Turn, value: intents.Value) -> None:
    """Take a bare number after "correction" as how many came off."""
    piece = here(turn)
    if piece is None:
        return
    if missing_with(turn.state, piece):
        # It could be how many there were, or how many are missing.
        turn.say(wording.pieces.SAY_WHICH_COUNT, Tone.REFUSED)
        return
    if value.unit is not None or value.value != value.value.to_integral_value():
        turn.say(wording.pieces.PUT_RIGHT, Tone.REFUSED)
        return
    on_recount(turn, intents.Recount(int(value.value)))
