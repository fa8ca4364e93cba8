"""What a scanner reads: the tag of a bag, or a part number.

A tag is the bag's number said, where a bag is waited for, and the question what is in it elsewhere.
A part number says what is there and not how many: where more than one may be meant, it is asked.
"""

from __future__ import annotations

from assistant.dialogue import (
    answers_about_parts,
    corrections,
    events,
    facts,
    intents,
    kit,
    ledger,
    outstanding_work,
    supplying,
    wording,
)
from assistant.dialogue.questioning import question
from assistant.dialogue.recording import on_bag
from assistant.dialogue.state import Mode, State
from assistant.dialogue.telling import ask_pending
from assistant.dialogue.turn import Tone, Turn
from assistant.procedure.model import Part


def on_tag(turn: Turn, intent: intents.ScannedTag) -> None:
    """Record the bag, or say whether it is the one to open; where none is waited for, what is in
    it.
    """
    if not intent.ours:
        turn.say(wording.sent.OTHER_JOBS_TAG, Tone.REFUSED)
    elif _waits_for_bag(turn):
        on_bag(turn, intents.Bag(intent.bag))
    else:
        answers_about_parts.on_in_bag(turn, intents.InBag(intent.bag))


def _waits_for_bag(turn: Turn) -> bool:
    if turn.state.step.from_bag is not None:
        return True
    if turn.state.mode is Mode.TAKING_DOWN:
        return turn.state.piece is not None and turn.state.piece.bag is None
    return any(isinstance(item, outstanding_work.BagToRecord) for item in turn.outstanding())


def on_tag_as_answer(turn: Turn, intent: intents.ScannedTag) -> None:
    """Take the tag in place of a bag that is questioned; leave it where another thing is."""
    asked = turn.state.pending
    of_bag = isinstance(asked, events.ValueQuestioned) and isinstance(
        asked.candidate, events.BagRecorded
    )
    if of_bag and intent.ours:
        corrections.on_restate(turn, intents.Bag(intent.bag))
    else:
        on_meanwhile(turn, intent)


def on_number(turn: Turn, intent: intents.ScannedNumber) -> None:
    """Record that an ordered part was received; ask how many, where several are to come."""
    parts = _parts(turn.state, intent.number)
    if not parts:
        turn.say(wording.sent.UNKNOWN_NUMBER, Tone.REFUSED)
        return
    # Two parts may have one number; the one that is waited for is meant.
    part = next((one for one in parts if _to_come(turn.state, one)), parts[0])
    orders = supplying.orders_of(turn.state, part.name)
    ordered = ledger.movable(orders, "received")
    if not _to_come(turn.state, part):
        turn.say(wording.sent.none_to_come(part.name), Tone.REFUSED)
    elif ordered > 1:
        event = events.OrderMoved(
            at=turn.now,
            turn=turn.number,
            step=turn.state.step_id,
            **supplying.names(orders),
            count=ordered,
            state="received",
        )
        question(turn, event, facts.CountNotSaid())
    else:
        supplying.on_supply(turn, intents.Supply(part.name, "received"))


def _to_come(state: State, part: Part) -> int:
    """Return how many of a part are on order, or away for repair."""
    ordered = ledger.movable(supplying.orders_of(state, part.name), "received")
    key = state.names.key(part.name, state.step_id)
    return ordered or state.holdings.held(key, "away for repair")


def on_number_in_kit(turn: Turn, intent: intents.ScannedNumber) -> None:
    """Record that a thing of the kit is there, in whatever order they are scanned."""
    names = [part.name for part in _parts(turn.state, intent.number)]
    items = [item for item in kit.items(turn.state) if item.name in names]
    done = kit.checked(turn.state)
    item = next((one for one in items if one.name not in done), None)
    if item is not None and item.count == 1 and item.countable:
        supplying.record_item(turn, item, 0)
        return
    if item is not None:
        # A label tells what is in the bag and not that all of it is.
        if item != kit.present_item(turn.state):
            turn.say(wording.sent.asked_later(item))
    elif items:
        turn.say(wording.sent.checked_already(items[0].name))
    else:
        turn.say(wording.sent.NOT_IN_KIT, Tone.REFUSED)
    ask_pending(turn, None)


def _parts(state: State, number: str) -> list[Part]:
    """Return the parts of a number, as the procedure or the kit's list has them."""
    unwritten = state.procedure.unwritten
    parts = (*state.procedure.parts, *(unwritten.kit if unwritten else ()))
    return [part for part in parts if part.number and _plain(part.number) == _plain(number)]


def _plain(number: str) -> str:
    """Return a part number as scanners and lists agree on it: without spaces, in small letters."""
    return "".join(number.split()).casefold()


def on_meanwhile(turn: Turn, intent: intents.Intent) -> None:
    """Leave what is scanned while something else is asked, and ask that again."""
    turn.say(wording.sent.SCANNED_MEANWHILE, Tone.REFUSED)
    ask_pending(turn, None)


def on_standing_by(turn: Turn, intent: intents.Intent) -> None:
    """Say that nothing is done about it."""
    turn.say(wording.sent.SCANNED_STANDING_BY, Tone.REFUSED)
