"""Taking back and putting right: disregard, correction, and values that did not fit."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from assistant.language import wording as say
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import ledger
from assistant.session.recording import (
    after_reading,
    on_bag,
    on_chosen,
    on_finding,
    on_order,
    on_reading,
)
from assistant.session.supplying import on_supply
from assistant.session.telling import RECORDS, ask_pending, say_what_next
from assistant.session.tightening import on_tightened
from assistant.session.turn import Tone, Turn

_WITHDRAWABLE = (
    *RECORDS,
    ev.BoltCalled,
    ev.KitItemChecked,
    ev.StepEntered,
    ev.StepDone,
    ev.StepSkipped,
    ev.HazardsHeard,
    ev.ConditionAffirmed,
    ev.TimerStarted,
)


def on_disregard(turn: Turn, intent: it.Disregard) -> None:
    """Withdraw the last thing said, a move too."""
    opening = {e.turn for e in turn.state.history if isinstance(e, ev.JobOpened)}
    last = next(
        (
            e.turn
            for e in reversed(turn.state.history)
            if isinstance(e, _WITHDRAWABLE)
            and e.turn not in opening
            and not ledger.from_desk(e)  # It is not the technician's to take back.
        ),
        None,
    )
    if last is None:
        turn.say("There is nothing to disregard.", Tone.REFUSED)
        return
    was = turn.state.step_id
    what = _withdraw(turn, last)
    turn.say(say.sentence(f"Disregarded: {what}"), Tone.RECORDED)
    if turn.state.step_id != was:
        turn.say(f"Back at step {say.count(turn.state.number)}.")
    elif turn.state.pending is not None:
        ask_pending(turn, None)
    else:
        say_what_next(turn)


def _withdraw(turn: Turn, number: int, corrected: bool = False) -> str:
    events = [e for e in turn.state.history if e.turn == number and isinstance(e, _WITHDRAWABLE)]
    moves = [e for e in events if isinstance(e, ev.StepEntered)]
    shown = [e for e in events if isinstance(e, (*RECORDS, ev.StepSkipped))]
    if shown:
        what = say.event(shown[0])
    elif moves:
        index = turn.state.procedure.index(moves[0].step or "")
        what = f"going to step {say.count(index + 1)}"
    else:
        what = say.event(events[0])
    turn.record(ev.Withdrawn, withdrew=number, what=what, corrected=corrected)
    return what


_CORRECTABLE: dict[type[it.Intent], type[ev.Base]] = {
    it.Tightened: ev.TorqueRecorded,
    it.Reading: ev.ReadingRecorded,
    it.Bag: ev.BagRecorded,
    it.Order: ev.PartOrdered,
    it.Supply: ev.OrderMoved,
    it.Finding: ev.FindingRecorded,
    it.Chosen: ev.QuestionAnswered,
}


def on_correct(turn: Turn, intent: it.Correction) -> None:
    """Withdraw the last of its kind at this step, and decide anew with what stands in its place."""
    instead = intent.instead
    kinds: tuple[type[ev.Base], ...]
    if isinstance(instead, it.Value):
        kinds = (
            ev.TorqueRecorded,
            ev.ReadingRecorded,
            ev.BagRecorded,
            ev.PartOrdered,
            ev.OrderMoved,
        )
    else:
        kinds = (_CORRECTABLE[type(instead)],)
    wrong = next(
        (
            e
            for e in reversed(turn.state.history)
            if isinstance(e, kinds) and e.step == turn.state.step_id and _is_about(instead, e)
        ),
        None,
    )
    if wrong is None:
        turn.say("There is nothing at this step to correct.", Tone.REFUSED)
        return
    first = _said(wrong)
    if isinstance(instead, it.Value):
        meant = _as_intent(wrong, instead)
        if meant is None:
            turn.say("Say correction, and the whole of it.", Tone.REFUSED)
            return
        instead = meant
    what = _withdraw(turn, wrong.turn, corrected=True)
    turn.say(say.sentence(f"Correction. Was: {what}"))
    _decide_anew(turn, wrong, instead, first)


def _is_about(instead: it.Intent, record: ev.Base) -> bool:
    """Say whether what is said now can stand for the record: it names the same, or nothing."""
    match instead, record:
        case it.Tightened(fastener=str(name)), ev.TorqueRecorded():
            return name == record.fastener
        case it.Reading(name=str(name)), ev.ReadingRecorded():
            return name == record.name
        case it.Supply(part=name), ev.OrderMoved():
            return name == record.name
        case _:
            return True


def _decide_anew(turn: Turn, record: ev.Base, instead: it.Intent, first: str | None) -> None:
    """Decide on what is said in place of a record, about the very thing that the record is about.

    `first` is what was heard before; it is kept beside what is recorded now.
    """
    match instead, record:
        case it.Tightened(), ev.TorqueRecorded():
            on_tightened(turn, replace(instead, fastener=record.fastener, slip=None), first)
        case it.Reading(), ev.ReadingRecorded():
            on_reading(turn, replace(instead, name=record.name, slip=None), first)
        case it.Bag(), _:
            on_bag(turn, instead, first)
        case it.Order(), _:
            on_order(turn, instead, first)
        case it.Supply(), _:
            on_supply(turn, instead, first)
        case it.Finding(), _:
            on_finding(turn, instead)
        case it.Chosen(), _:
            on_chosen(turn, instead)


def _said(event: ev.Base) -> str | None:
    """Word the value of a record, to be kept beside what replaces it."""
    match event:
        case ev.TorqueRecorded() | ev.ReadingRecorded():
            return say.quantity(event.value, event.unit)
        case ev.BagRecorded():
            return f"bag {say.count(event.number)}"
        case ev.PartOrdered():
            return f"{say.count(event.count)} {event.part}"
        case ev.OrderMoved():
            return say.event(event)
        case _:
            return None


def _as_intent(event: Any, value: it.Value) -> it.Intent | None:
    """Read a bare number as the same kind of thing as the event."""
    whole = value.value == value.value.to_integral_value() and value.unit is None
    match event:
        case ev.TorqueRecorded():
            return it.Tightened(value.value, value.unit, event.fastener)
        case ev.ReadingRecorded():
            return it.Reading(value.value, value.unit, event.name)
        case ev.BagRecorded() if whole:
            return it.Bag(int(value.value))
        case ev.PartOrdered() if whole and value.value > 0:
            return it.Order(event.part, int(value.value))
        case ev.OrderMoved() if whole and value.value > 0:
            return it.Supply(event.name, event.state, int(value.value))
        case _:
            return None


def on_affirm_value(turn: Turn, intent: it.Affirm) -> None:
    """Record the questioned value as it was heard; it stands out in the record."""
    asked = turn.state.pending
    assert isinstance(asked, ev.ValueQuestioned)
    if not asked.may_affirm:
        turn.say("That cannot be right.", Tone.REFUSED)
        ask_pending(turn, None)
        return
    event = asked.candidate.model_copy(update={"at": turn.now, "turn": turn.number})
    turn.add(event)
    if isinstance(event, ev.ReadingRecorded):
        after_reading(turn, event)
        return
    turn.say(say.sentence(f"{say.event(event)}. Recorded as you affirm"), Tone.RECORDED)
    say_what_next(turn)


def on_drop_value(turn: Turn, intent: it.Intent) -> None:
    """Record nothing of the questioned value."""
    asked = turn.state.pending
    assert isinstance(asked, ev.ValueQuestioned)
    turn.record(ev.QuestionDropped, what=asked.said)
    turn.say("Nothing recorded. Say it again when ready.")


def on_restate(turn: Turn, intent: it.Intent) -> None:
    """Take what was said in answer to a questioned value in its place."""
    asked = turn.state.pending
    assert isinstance(asked, ev.ValueQuestioned)
    instead = intent.instead if isinstance(intent, it.Correction) else intent
    if isinstance(instead, it.Value):
        meant = _as_intent(asked.candidate, instead)
        if meant is None:
            turn.say("I need a whole number.", Tone.REFUSED)
            ask_pending(turn, None)
            return
        instead = meant
    candidate = asked.candidate
    fits = _CORRECTABLE.get(type(instead)) is type(candidate) and _is_about(instead, candidate)
    if not fits:
        turn.say("That is another thing.", Tone.REFUSED)
        ask_pending(turn, None)
        return
    _decide_anew(turn, candidate, instead, candidate.first_heard or asked.said)
