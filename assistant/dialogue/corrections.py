"""Taking back and putting right: disregard, correction, and the answers to a questioned value.

A correction is tried on a copy of the state without the old value. Only if the new value is taken
is the old one withdrawn, together with recording the new one, in one turn; so a correction that is
refused, dropped or left unanswered changes nothing, and disregarding one brings the old value back.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from assistant.dialogue import (
    asking_customer,
    counting,
    events,
    facts,
    intents,
    ledger,
    wording,
)
from assistant.dialogue import state as job_state
from assistant.dialogue.arranging import on_put_before
from assistant.dialogue.building_up import on_thread_locker
from assistant.dialogue.recording import (
    after_reading,
    on_bag,
    on_chosen,
    on_finding,
    on_order,
    on_reading,
)
from assistant.dialogue.supplying import on_supply
from assistant.dialogue.telling import ask_pending, reviewed, say_what_next
from assistant.dialogue.tightening import on_tightened
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.withdrawal import named, place_of
from assistant.dialogue.working_out import tell_changes

# Taking back


def on_disregard(turn: Turn, intent: intents.Disregard) -> None:
    """Withdraw the last thing said, a move too."""
    opening = {e.turn for e in turn.state.history if isinstance(e, events.JobOpened)}
    # What follows from taking something back is told as evidence in the same turn. That makes no
    # turn that could be taken back in its turn: then the same thing would come and go for ever.
    back = {e.turn for e in turn.state.log if isinstance(e, events.Withdrawn) and not e.corrected}
    last = next(
        (
            e.turn
            for e in reversed(turn.state.history)
            if isinstance(e, turn.rules.withdrawable)
            and e.turn not in opening | back
            and not ledger.from_desk(e)  # It is not the technician's to take back.
        ),
        None,
    )
    if last is None:
        turn.say(wording.refusals.NOTHING_TO_DISREGARD, Tone.REFUSED)
        return
    was = turn.state.step_id
    what = _words_of(turn, last)
    before = set(map(id, turn.state.history))
    turn.record(events.Withdrawn, withdrew=last)
    turn.say(wording.record.disregarded(what), Tone.RECORDED)
    for event in turn.state.history:
        if id(event) not in before and isinstance(event, turn.rules.read_back):
            turn.say(wording.record.stands_again(event), Tone.RECORDED)
    tell_changes(turn)
    if turn.state.step_id != was:
        turn.say(wording.record.back_at(turn.state.number))
    elif turn.state.pending is not None:
        ask_pending(turn, None)
    else:
        say_what_next(turn)


def _words_of(turn: Turn, number: int) -> str:
    """Word what a turn did."""
    of_turn = [
        e for e in turn.state.history if e.turn == number and isinstance(e, turn.rules.withdrawable)
    ]
    moves = [e for e in of_turn if isinstance(e, events.StepEntered)]
    opened_again = (events.RetestBegun, events.ReworkBegun)
    told: tuple[type[events.Base], ...] = (
        *turn.rules.read_back,
        events.StepSkipped,
        *opened_again,
    )
    shown = [e for e in of_turn if isinstance(e, told)]
    if shown:
        return wording.event(shown[0])
    if moves:
        return wording.record.going_to(turn.state.procedure.number(moves[0].step or ""))
    return wording.event(of_turn[0])


# Putting right


def on_correct(turn: Turn, intent: intents.Correction) -> None:
    """Put what is said in the place of the last of its kind at this step."""
    instead = intent.instead
    if isinstance(instead, intents.Value):
        kinds = turn.rules.corrected_by_number
        if counting.said_last(turn.state, kinds):
            counting.on_other_count(turn, instead)
            return
    else:
        kind = turn.rules.corrected_by(type(instead))
        kinds = () if kind is None else (kind,)
    # An order of the build-up belongs to no step.
    of_job = isinstance(instead, intents.PutBefore)
    said = turn.state.current(kinds) if of_job else turn.state.of_step(kinds)
    found = [
        e for e in reversed(said) if not ledger.followed_from_step(e) and _is_about(instead, e)
    ]
    # The part itself may have been misheard; only where the same was said, it is that.
    same = (e for e in found if _part_of(turn, instead) == _part_of(turn, e))
    wrong = next(same, found[0] if found else None)
    if wrong is None or ledger.from_desk(wrong):
        came_off = turn.state.piece is not None
        told = wording.pieces.PUT_RIGHT if came_off else wording.refusals.NOTHING_TO_CORRECT
        turn.say(told, Tone.REFUSED)
        return
    if isinstance(instead, intents.Value):
        meant = _as_intent(wrong, instead)
        if meant is None:
            turn.say(wording.refusals.SAY_THE_WHOLE, Tone.REFUSED)
            return
        instead = meant
    correct(turn, wrong, instead)


def correct(turn: Turn, wrong: Any, instead: intents.Intent, reviewing: int | None = None) -> bool:
    """Put what is said in the place of a record, of whatever step; return whether it now stands.

    Where it is questioned, the question is asked and the record stands until it is answered; where
    it is refused, that is said, and nothing changes. `reviewing`: which record of its step it is,
    where these are gone through; once it stands, the next is asked about.
    """
    ref = facts.EventRef(turn=wrong.turn, place=place_of(wrong, turn.state.log))
    withdrawn = _withdrawn(turn, wrong.step, ref)
    step = wrong.step or turn.state.step_id
    without = replace(job_state.apply(turn.state, withdrawn), step_id=step)
    trial = Turn(without, turn.now, turn.rules)
    trial.number = turn.number
    trial.told, trial.failed = turn.told, turn.failed
    elsewhere = step != turn.state.step_id
    trial.correcting, trial.elsewhere = True, elsewhere or reviewing is not None
    _decide_anew(trial, wrong, instead, _value_of(wrong))
    asked = next((e for e in trial.events if isinstance(e, events.ValueQuestioned)), None)
    if asked is not None:
        turn.add(asked.model_copy(update={"replaces": ref, "reviewing": reviewing}))
        ask_pending(turn, None)
        return False
    if not any(isinstance(event, type(wrong)) for event in trial.events):
        turn.replies += trial.replies
        return False
    place = _place_in_set(turn, wrong)
    turn.add(withdrawn)
    _say_corrected(turn, wrong, place)
    for event in trial.events:
        turn.add(event)
    turn.replies += trial.replies
    turn.told, turn.failed = trial.told, trial.failed
    if reviewing is not None:
        _review_next(turn, wrong.step, reviewing)
    elif elsewhere:
        say_what_next(turn)
    return True


def _withdrawn(turn: Turn, step: str | None, ref: facts.EventRef) -> events.Withdrawn:
    """Return the withdrawal of one record, in whose place another is put."""
    return events.Withdrawn(
        at=turn.now,
        turn=turn.number,
        step=step,
        withdrew=ref.turn,
        place=ref.place,
        corrected=True,
    )


def _say_corrected(turn: Turn, wrong: events.Base, place: tuple[int, int] | None = None) -> None:
    """Say what was recorded until now, and at which step where it is another one."""
    elsewhere = wrong.step is not None and wrong.step != turn.state.step_id
    number = turn.state.procedure.number(wrong.step) if elsewhere and wrong.step else None
    turn.say(wording.record.corrected(wording.event(wrong), number, place))


def _part_of(turn: Turn, of: intents.Intent | events.Base) -> str | None:
    """Return the part that an order or a finding is about, by its own name; None for others."""
    match of:
        case (
            intents.Order(part=name)
            | intents.Finding(part=name)
            | events.PartOrdered(part=name)
            | events.FindingRecorded(part=name)
        ):
            known = turn.state.procedure.part(name)
            return known.name if known else name
        case _:
            return None


def _place_in_set(turn: Turn, record: Any) -> tuple[int, int] | None:
    """Return which of how many readings of the same thing a record is, from 1; None of one."""
    if not isinstance(record, events.ReadingRecorded):
        return None
    taken = turn.state.of_step(events.ReadingRecorded, record.step)
    same = [e for e in taken if e.name == record.name]
    return (same.index(record) + 1, len(same)) if len(same) > 1 else None


def _is_about(instead: intents.Intent, record: events.Base) -> bool:
    """Whether what is said now can stand for the record: it names the same thing, or nothing."""
    match instead, record:
        case intents.Tightened(), events.TorqueRecorded():
            if instead.all and record.bolt is not None:
                return False
            return instead.fastener in (None, record.fastener) and (
                instead.bolt is None or instead.bolt == record.bolt
            )
        case intents.Reading(name=str(name)), events.ReadingRecorded():
            return name == record.name
        case intents.Value(name=str(name)), _:
            return isinstance(record, events.ReadingRecorded) and name == record.name
        case intents.Supply(part=name), events.OrderMoved():
            return name == record.part
        case _:
            return True


def _decide_anew(
    turn: Turn,
    record: events.Base,
    instead: intents.Intent,
    first: FirstHeard,
    again: bool = True,
) -> None:
    """Decide on what is said in place of a record, about the very thing that the record is about.

    `first` is what was heard before; it is kept beside what is recorded now. `again`: a reading
    that is there already is not asked about.
    """
    match instead, record, first:
        case intents.Tightened(), events.TorqueRecorded(), facts.SaidValue() | None:
            meant = replace(
                instead,
                fastener=record.fastener,
                bolt=record.bolt,
                all=record.as_one,
                slip=None,
                taken=instead.taken or record.taken,
            )
            on_tightened(turn, meant, first, stage=record.stage)
        case intents.Reading(), events.ReadingRecorded(), facts.SaidValue() | None:
            taken = instead.taken or record.taken
            reading = replace(instead, name=record.name, slip=None, taken=taken)
            on_reading(turn, reading, first, again=again)
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
        case intents.ThreadLocker(), _, _:
            on_thread_locker(turn, instead)
        case intents.PutBefore(), _, _:
            on_put_before(turn, instead)
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
    if not _is_about(value, event):
        return None
    whole = value.value == value.value.to_integral_value() and value.unit is None
    match event:
        case events.TorqueRecorded():
            return intents.Tightened(
                value.value,
                value.unit,
                event.fastener,
                bolt=event.bolt,
                instrument=value.instrument,
            )
        case events.ReadingRecorded():
            return intents.Reading(value.value, value.unit, event.name, instrument=value.instrument)
        case events.BagRecorded() if whole:
            return intents.Bag(int(value.value))
        case events.PartOrdered() if whole and value.value > 0:
            return intents.Order(event.part, int(value.value))
        case events.OrderMoved() if whole and value.value > 0:
            return intents.Supply(event.part, event.state, int(value.value))
        case _:
            return None


def _instead_of(turn: Turn, record: Any, said: intents.Intent) -> intents.Intent | None:
    """Return what is to stand in place of a record; say why nothing can where that is so."""
    instead = said.instead if isinstance(said, intents.Correction) else said
    if isinstance(instead, intents.Value):
        meant = _as_intent(record, instead)
        if meant is None:
            turn.say(wording.refusals.WHOLE_NUMBER, Tone.REFUSED)
        return meant
    if turn.rules.corrected_by(type(instead)) is type(record) and _is_about(instead, record):
        return instead
    turn.say(wording.refusals.ANOTHER_THING, Tone.REFUSED)
    return None


# Going through what was recorded at another step


def on_review(turn: Turn, intent: intents.Review) -> None:
    """Go through what was recorded at a step, so that it can be corrected from anywhere."""
    steps = turn.state.procedure.steps
    if not 1 <= intent.number <= len(steps):
        turn.say(wording.refusals.no_such_step(len(steps)), Tone.REFUSED)
        return
    step = steps[intent.number - 1].id
    if not reviewed(turn, step):
        turn.say(wording.changes.nothing_to_review(intent.number), Tone.REFUSED)
        return
    turn.record(events.ReviewOpened, of=step)
    ask_pending(turn, None)


def on_review_value(turn: Turn, intent: intents.Intent) -> None:
    """Put what is said, a bare number or the whole of it, in the place of what is asked about."""
    asked = turn.state.pending
    assert isinstance(asked, events.ReviewOpened)
    wrong = reviewed(turn, asked.of)[asked.place]
    meant = _instead_of(turn, wrong, intent)
    if meant is None:
        ask_pending(turn, None)
        return
    if not correct(turn, wrong, meant, asked.place) and turn.state.pending is asked:
        ask_pending(turn, None)


def _review_next(turn: Turn, step: str, place: int) -> None:
    """Ask about the next record of a step, once one was put right; after the last, say what is next
    at the bench.
    """
    if place + 1 < len(reviewed(turn, step)):
        turn.record(events.ReviewOpened, of=step, place=place + 1, corrected=True)
        ask_pending(turn, None)
    else:
        say_what_next(turn)


def on_review_next(turn: Turn, intent: intents.Intent) -> None:
    """Leave a record as it is, and ask about the next."""
    asked = turn.state.pending
    assert isinstance(asked, events.ReviewOpened)
    if asked.place + 1 < len(reviewed(turn, asked.of)):
        done = asked.corrected
        turn.record(events.ReviewOpened, of=asked.of, place=asked.place + 1, corrected=done)
        ask_pending(turn, None)
        return
    turn.record(events.QuestionDropped, asked="review")
    turn.say(wording.changes.REVIEWED)
    say_what_next(turn)


def on_leave_review(turn: Turn, intent: intents.Intent) -> None:
    """Leave all the rest as it is."""
    asked = turn.state.pending
    assert isinstance(asked, events.ReviewOpened)
    turn.record(events.QuestionDropped, asked="review")
    turn.say(wording.changes.REST_STANDS if asked.corrected else wording.refusals.NOTHING_CHANGED)
    say_what_next(turn)


# Answers to a questioned value


def on_affirm_value(turn: Turn, intent: intents.Affirm) -> None:
    """Record the questioned value as it was heard; it stands out in the record."""
    asked = turn.state.pending
    assert isinstance(asked, events.ValueQuestioned)
    if not asked.may_affirm:
        turn.say(wording.refusals.CANNOT_AFFIRM, Tone.REFUSED)
        ask_pending(turn, None)
        return
    if asked.replaces is not None:
        replaced = _replaced(turn, asked, correction=True)
        turn.add(_withdrawn(turn, asked.candidate.step, asked.replaces))
        _say_corrected(turn, replaced)
    event = asked.candidate.model_copy(update={"at": turn.now, "turn": turn.number})
    turn.add(event)
    turn.elsewhere = asked.reviewing is not None
    if isinstance(event, events.ReadingRecorded):
        after_reading(turn, event)
    else:
        turn.say(wording.record.affirmed(event), Tone.RECORDED)
        if isinstance(event, events.PartOrdered):
            asking_customer.say_not_agreed(turn, event.part)
        tell_changes(turn)
        say_what_next(turn)
    if asked.reviewing is not None and event.step is not None:
        turn.elsewhere = False
        _review_next(turn, event.step, asked.reviewing)


def on_again(turn: Turn, intent: intents.Again) -> None:
    """Record a reading that is there already as a further one of its set."""
    asked = turn.state.pending
    assert isinstance(asked, events.ValueQuestioned)
    if not isinstance(asked.doubt, facts.TakenAlready):
        ask_pending(turn, None)
        return
    candidate = asked.candidate
    assert isinstance(candidate, events.ReadingRecorded)
    # Decided anew, for a further reading may be out of limits, or past belief, like any other.
    meant = intents.Reading(
        candidate.value,
        candidate.unit,
        candidate.name,
        taken=candidate.taken,
        instrument=candidate.instrument,
    )
    on_reading(turn, meant, candidate.first_heard, again=True)


def on_drop_value(turn: Turn, intent: intents.Intent) -> None:
    """Record nothing of the questioned value; what it was to replace stands."""
    asked = turn.state.pending
    assert isinstance(asked, events.ValueQuestioned)
    turn.record(events.QuestionDropped, asked="value")
    stands = asked.replaces is not None or isinstance(asked.doubt, facts.TakenAlready)
    turn.say(wording.refusals.NOTHING_CHANGED if stands else wording.refusals.NOTHING_RECORDED)
    if asked.reviewing is not None:
        # The records of that step are still gone through: the same one is asked about again.
        opened = next(e for e in reversed(turn.state.log) if isinstance(e, events.ReviewOpened))
        turn.record(
            events.ReviewOpened, of=opened.of, place=opened.place, corrected=opened.corrected
        )
        ask_pending(turn, None)


def on_restate(turn: Turn, intent: intents.Intent) -> None:
    """Take what was said in answer to a questioned value in its place."""
    asked = turn.state.pending
    assert isinstance(asked, events.ValueQuestioned)
    candidate = asked.candidate
    instead = _instead_of(turn, candidate, intent)
    if instead is None:
        ask_pending(turn, None)
        return
    old = _replaced(turn, asked, isinstance(intent, intents.Correction))
    if old is not None:
        if not correct(turn, old, instead, asked.reviewing) and turn.state.pending is asked:
            ask_pending(turn, None)
        return
    first = candidate.first_heard or asked.said or _value_of(candidate)
    if isinstance(asked.doubt, facts.CountNotSaid):
        first = None  # Nobody had said a number.
    # Another number alone does not say whether it is a further reading or a correction.
    again = not isinstance(asked.doubt, facts.TakenAlready)
    _decide_anew(turn, candidate, instead, first, again)


def _replaced(turn: Turn, asked: events.ValueQuestioned, correction: bool) -> Any:
    """Return the record that an answer is to replace; None where it replaces none."""
    if asked.replaces is not None:
        return named(turn.state.log, asked.replaces)
    if isinstance(asked.doubt, facts.TakenAlready) and correction:
        candidate = asked.candidate
        assert isinstance(candidate, events.ReadingRecorded)
        taken = turn.state.of_step(events.ReadingRecorded, candidate.step)
        same = (e for e in taken if (e.name, e.taken) == (candidate.name, candidate.taken))
        return tuple(same)[-1]
    return None
