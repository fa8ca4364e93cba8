"""A job without a procedure, on the way down: what came off, and what is said of it."""

from __future__ import annotations

from decimal import Decimal

from assistant.dialogue import events, facts, intents, pieces, wording
from assistant.dialogue.moving import done
from assistant.dialogue.pieces import Piece
from assistant.dialogue.state import State
from assistant.dialogue.telling import present, say_outstanding
from assistant.dialogue.turn import Tone, Turn
from assistant.grammar import numbers

MOST = 500
"""How many of one thing can come off together."""
_MOST_BAGS = 999
_LONGEST_MM = Decimal(2000)


def on_removed(turn: Turn, intent: intents.Removed) -> None:
    """Record what came off: a new step of the strip-down, done as soon as it is said."""
    if not _safe(turn):
        return
    if not 1 <= intent.count <= MOST:
        turn.say(wording.pieces.SAY_REMOVED, Tone.REFUSED)
        return
    name, plural = intent.name, intent.plural
    unnamed = name is None or plural is None
    if name is None or plural is None:
        number = numbers.cardinal(_unnamed(turn.state) + 1)
        name = plural = f"{pieces.UNNAMED}{number}"
    step, came_from = pieces.step_for(turn.number), turn.state.step_id
    event = turn.record(
        events.PieceRemoved, step=step, name=name, plural=plural, count=intent.count
    )
    turn.record(events.StepEntered, step=step, came_from=came_from)
    turn.record(events.StepDone)
    turn.say(wording.pieces.removed(event.parts), Tone.RECORDED)
    if unnamed:
        # What it is called nobody knows yet: what is said of it is kept as it sounds.
        turn.record(events.NoteOpened)
        turn.say(wording.pieces.SAY_WHAT_IT_IS, Tone.QUESTION)


def _safe(turn: Turn) -> bool:
    """Return whether the machine was made safe; say what is to be done first where it was not."""
    first = turn.state.procedure.steps[0]
    if first.id in turn.state.done:
        return True
    items = turn.outstanding()
    if items or turn.state.step_id != first.id:
        say_outstanding(turn, items)
        return False
    done(turn)
    return True


def _unnamed(state: State) -> int:
    """Return how many things were taken off that nobody had a name for, those withdrawn too."""
    removed = (e for e in state.log if isinstance(e, events.PieceRemoved))
    return sum(event.name.startswith(pieces.UNNAMED) for event in removed)


def on_removed_late(turn: Turn, intent: intents.Removed) -> None:
    """Refuse: what comes off again in the build-up is rework."""
    turn.say(wording.pieces.BUILDING, Tone.REFUSED)


def on_next(turn: Turn, intent: intents.Next) -> None:
    """Go on: make the machine safe, then whatever comes off."""
    if turn.state.step_id not in turn.state.done:
        items = turn.outstanding()
        if items:
            say_outstanding(turn, items)
            return
        done(turn)
        turn.say(wording.pieces.SAFE)
        return
    turn.say(wording.pieces.AFTER_THAT)


def on_bag(turn: Turn, number: int, first: int | None) -> None:
    """Record the bag of what came off at this step; `first` is a number heard before."""
    piece = turn.state.piece
    if piece is None:
        off = turn.state.pieces
        turn.say(wording.pieces.NOT_HERE if off else wording.pieces.NOTHING_OFF, Tone.REFUSED)
        return
    if piece.bag is not None:
        turn.say(wording.pieces.bagged(piece.bag), Tone.REFUSED)
        return
    if not 1 <= number <= _MOST_BAGS:
        turn.say(wording.pieces.BAG_NUMBER, Tone.REFUSED)
        return
    beside = [one.parts for one in turn.state.pieces if one.bag == number]
    turn.record(events.BagRecorded, number=number, contents=(piece.parts,), first_heard=first)
    turn.say(wording.pieces.bag(number, piece.parts, beside), Tone.RECORDED)


def on_rename(turn: Turn, intent: intents.Rename) -> None:
    """Put right what it is called."""
    piece = here(turn)
    if piece is None:
        return
    turn.record(events.PieceChanged, name=intent.name, plural=intent.plural)
    told = wording.pieces.renamed(now(turn, piece).parts, piece.parts)
    turn.say(told, Tone.RECORDED)


def on_size(turn: Turn, intent: intents.Size) -> None:
    """Record the thread and the length of the fasteners that came off."""
    piece = here(turn)
    if piece is None:
        return
    length = None
    if intent.length is not None:
        if not 0 < intent.length <= _LONGEST_MM:
            turn.say(wording.pieces.SAY_REMOVED, Tone.REFUSED)
            return
        length = facts.Amount(value=intent.length, unit="mm")
    thread = f"M{intent.thread:f}"
    turn.record(events.PieceChanged, thread=thread, length=length)
    told = wording.pieces.said_of(piece.parts, wording.pieces.size(thread, length))
    turn.say(told, Tone.RECORDED)


def on_threads(turn: Turn, intent: intents.ThreadsFound) -> None:
    """Record what was found on the threads."""
    piece = here(turn)
    if piece is None:
        return
    turn.record(events.PieceChanged, threads=intent.threads)
    told = wording.pieces.said_of(piece.parts, wording.pieces.threads(intent.threads))
    turn.say(told, Tone.RECORDED)


def here(turn: Turn) -> Piece | None:
    """Return what came off at this step; say what to do where nothing did."""
    piece = turn.state.piece
    if piece is None:
        off = turn.state.pieces
        turn.say(wording.pieces.NOT_HERE if off else wording.pieces.NOTHING_OFF, Tone.REFUSED)
    return piece


def now(turn: Turn, piece: Piece) -> Piece:
    """Return a piece as it is since something was said of it."""
    return next(one for one in turn.state.pieces if one.id == piece.id)


def on_written(turn: Turn, intent: intents.Intent) -> None:
    """Tell the step again: a job with a procedure goes by that."""
    present(turn)
