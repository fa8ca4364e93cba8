"""Taking back and putting right: disregard, correction, and the answers to a questioned value."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from assistant.dialogue import events, facts, intents, ledger, wording
from assistant.dialogue.recording import (
    after_reading,
    on_bag,
    on_chosen,
    on_finding,
    on_order,
    on_reading,
)
from assistant.dialogue.supplying import on_supply
from assistant.dialogue.telling import ask_pending, say_what_next
from assistant.dialogue.tightening import on_tightened
from assistant.dialogue.turn import Tone, Turn


def on_disregard(turn: Turn, intent: intents.Disregard) -> None:
    """Withdraw the last thing said, a move too."""
    opening = {e.turn for e in turn.state.history if isinstance(e, events.JobOpened)}
    last = next(
        (
            e.turn
            for e in reversed(turn.state.history)
            if isinstance(e, turn.rules.withdrawable)
            and e.turn not in opening
            and not ledger.from_desk(e)  # It is not the technician's to take back.
        ),
        None,
    )
    if last is None:
        turn.say(wording.refusals.NOTHING_TO_DISREGARD, Tone.REFUSED)
        return
    was = turn.state.step_id
    what = _withdraw(turn, last)
    turn.say(wording.record.disregarded(what), Tone.RECORDED)
    if turn.state.step_id != was:
        turn.say(wording.record.back_at(turn.state.number))
    elif turn.state.pending is not None:
        ask_pending(turn, None)
    else:
        say_what_next(turn)


def _withdraw(turn: Turn, number: int, corrected: bool = False) -> str:
    """Take a turn back; return what was taken back, in words."""
    history = [
        e for e in turn.state.history if e.turn == number and isinstance(e, turn.rules.withdrawable)
    ]
    moves = [e for e in history if isinstance(e, events.StepEntered)]
    shown = [e for e in history if isinstance(e, (*turn.rules.read_back, events.StepSkipped))]
    if shown:
        what = wording.event(shown[0])
    elif moves:
        index = turn.state.procedure.index(moves[0].step or "")
        what = wording.record.going_to(index + 1)
    else:
        what = wording.event(history[0])
    turn.record(events.Withdrawn, withdrew=number, corrected=corrected)
    return what


def on_correct(turn: Turn, intent: intents.Correction) -> None:
    """Withdraw the last of its kind at this step, and decide anew with what stands in its place."""
    instead = intent.instead
    if isinstance(instead, intents.Value):
        kinds = turn.rules.corrected_by_number
    else:
        kind = turn.rules.corrected_by(type(instead))
        kinds = () if kind is None else (kind,)
    wrong = next(
        (
            e
            for e in reversed(turn.state.history)
            if isinstance(e, kinds) and e.step == turn.state.step_id and _is_about(instead, e)
        ),
        None,
    )
    if wrong is None:
        turn.say(wording.refusals.NOTHING_TO_CORRECT, Tone.REFUSED)
        return
    first = _value_of(wrong)
    if isinstance(instead, intents.Value):
        meant = _as_intent(wrong, instead)
        if meant is None:
            turn.say(wording.refusals.SAY_THE_WHOLE, Tone.REFUSED)
            return
        instead = meant
    what = _withdraw(turn, wrong.turn, corrected=True)
    turn.say(wording.record.corrected(what))
    _decide_anew(turn, wrong, instead, first)


def _is_about(instead: intents.Intent, record: events.Base) -> bool:
    """Whether what is said now can stand for the record: it names the same thing, or nothing."""
    match instead, record:
        case intents.Tightened(fastener=str(name)), events.TorqueRecorded():
            return name == record.fastener
        case intents.Reading(name=str(name)), events.ReadingRecorded():
            return name == record.name
        case intents.Supply(part=name), events.OrderMoved():
            return name == record.part
        case _:
            return True


def _decide_anew(
    turn: Turn, record: events.Base, instead: intents.Intent, first: FirstHeard
) -> None:
    """Decide on what is said in place of a record, about the very thing that the record is about.

    `first` is what was heard before; it is kept beside what is recorded now.
    """
    match instead, record, first:
        case intents.Tightened(), events.TorqueRecorded(), facts.SaidValue() | None:
            on_tightened(turn, replace(instead, fastener=record.fastener, slip=None), first)
        case intents.Reading(), events.ReadingRecorded(), facts.SaidValue() | None:
            on_reading(turn, replace(instead, name=record.name, slip=None), first)
        case intents.Bag(), _, int() | None:
            on_bag(turn, instead, first)
        case intents.Order(), _, facts.Parts() | None:
            on_order(turn, instead, first)
        case intents.Supply(), _, facts.Moved() | None:
            on_supply(turn, instead, first)
        case intents.Finding(), _, _:
            on_finding(turn, instead)
        case intents.Chosen(), _, _:
            on_chosen(turn, instead)
        case _:
            raise TypeError(f"{instead!r} cannot stand in place of {record!r}")


FirstHeard = facts.SaidValue | facts.Parts | facts.Moved | int | None
"""What was heard first of a thing that is recorded otherwise now."""


def _value_of(event: events.Base) -> FirstHeard:
    """Return the value of a record, to be kept beside what replaces it."""
    match event:
        case events.TorqueRecorded() | events.ReadingRecorded():
            return facts.SaidValue(value=event.value, unit=event.unit)
        case events.BagRecorded():
            return event.number
        case events.PartOrdered():
            return event.parts
        case events.OrderMoved():
            return facts.Moved(count=event.count, state=event.state)
        case _:
            return None


def _as_intent(event: Any, value: intents.Value) -> intents.Intent | None:
    """Read a bare number as the same kind of thing as the event."""
    whole = value.value == value.value.to_integral_value() and value.unit is None
    match event:
        case events.TorqueRecorded():
            return intents.Tightened(value.value, value.unit, event.fastener)
        case events.ReadingRecorded():
            return intents.Reading(value.value, value.unit, event.name)
        case events.BagRecorded() if whole:
            return intents.Bag(int(value.value))
        case events.PartOrdered() if whole and value.value > 0:
            return intents.Order(event.part, int(value.value))
        case events.OrderMoved() if whole and value.value > 0:
            return intents.Supply(event.part, event.state, int(value.value))
        case _:
            return None


def on_affirm_value(turn: Turn, intent: intents.Affirm) -> None:
    """Record the questioned value as it was heard; it stands out in the record."""
    asked = turn.state.pending
    assert isinstance(asked, events.ValueQuestioned)
    if not asked.may_affirm:
        turn.say(wording.refusals.CANNOT_AFFIRM, Tone.REFUSED)
        ask_pending(turn, None)
        return
    event = asked.candidate.model_copy(update={"at": turn.now, "turn": turn.number})
    turn.add(event)
    if isinstance(event, events.ReadingRecorded):
        after_reading(turn, event)
        return
    turn.say(wording.record.affirmed(event), Tone.RECORDED)
    say_what_next(turn)


def on_drop_value(turn: Turn, intent: intents.Intent) -> None:
    """Record nothing of the questioned value."""
    turn.record(events.QuestionDropped, asked="value")
    turn.say(wording.refusals.NOTHING_RECORDED)


def on_restate(turn: Turn, intent: intents.Intent) -> None:
    """Take what was said in answer to a questioned value in its place."""
    asked = turn.state.pending
    assert isinstance(asked, events.ValueQuestioned)
    instead = intent.instead if isinstance(intent, intents.Correction) else intent
    if isinstance(instead, intents.Value):
        meant = _as_intent(asked.candidate, instead)
        if meant is None:
            turn.say(wording.refusals.WHOLE_NUMBER, Tone.REFUSED)
            ask_pending(turn, None)
            return
        instead = meant
    candidate = asked.candidate
    fits = turn.rules.corrected_by(type(instead)) is type(candidate) and _is_about(
        instead, candidate
    )
    if not fits:
        turn.say(wording.refusals.ANOTHER_THING, Tone.REFUSED)
        ask_pending(turn, None)
        return
    first = candidate.first_heard or asked.said or _value_of(candidate)
    _decide_anew(turn, candidate, instead, first)
