"""Check what the technician did, measured, bagged, ordered or found, then record it."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from assistant.dialogue import (
    asking_customer,
    bags,
    events,
    facts,
    intents,
    outstanding_work,
    pieces,
    remaining,
    settling,
    taking_down,
    wording,
)
from assistant.dialogue.moving import skip_for
from assistant.dialogue.questioning import question, refuse_before_hazards
from assistant.dialogue.results import too_close, within
from assistant.dialogue.state import State
from assistant.dialogue.supplying import orders_of
from assistant.dialogue.telling import ask_pending, hazards_due, present, say_what_next
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.working_out import tell_changes
from assistant.procedure import arithmetic
from assistant.procedure.model import Part, Reading
from assistant.trade import measure, units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity


def on_reading(
    turn: Turn, intent: intents.Reading, first: facts.SaidValue | None = None, again: bool = False
) -> None:
    """Record a reading, or question it; `again`: it stands in the place of one."""
    if refuse_before_hazards(turn):
        return
    readings = turn.state.readings()
    if not readings:
        turn.say(wording.refusals.no_reading(turn.state.number), Tone.REFUSED)
        return
    named = [r for r in readings if intent.name in (None, r.name)]
    open_ones = [
        i.reading
        for i in turn.outstanding()
        if isinstance(i, outstanding_work.ReadingToTake) and i.reading in named
    ]
    if not open_ones and (not named or (intent.name is None and len(named) > 1)):
        turn.say(wording.refusals.EVERY_READING, Tone.REFUSED)
        return
    reading = (open_ones or named)[0]
    # What is said to be as found, and what as left, are two sets of results.
    taken = [
        e
        for e in turn.state.of_step(events.ReadingRecorded)
        if e.name == reading.name and e.taken == intent.taken
    ]
    unit = intent.unit or reading.unit
    if intent.slip is not None:
        first = facts.SaidValue(value=intent.slip, unit=intent.unit)
    kind_fits = units.same_dimension(unit, reading.unit)
    limits = facts.Bounds.of(reading.limits)
    inside = within(intent.value, unit, reading.limits) if kind_fits and limits else None
    plausible = kind_fits and within(intent.value, unit, reading.plausible)
    close = kind_fits and _too_close(intent.value, unit, reading)
    wear = _wear(intent.value, unit, reading) if kind_fits else None
    event = events.ReadingRecorded(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        name=reading.name,
        value=intent.value,
        unit=unit,
        asked_unit=reading.unit if kind_fits and unit != reading.unit else None,
        taken=intent.taken,
        limits=limits,
        within=inside,
        too_close=close,
        wear=None if wear is None else round(wear.share * 100),
        first_heard=first,
        instrument=intent.instrument,
    )
    said = facts.SaidValue(value=intent.value, unit=intent.unit)
    expected = facts.Bounds.of(reading.plausible)
    if not kind_fits:
        question(turn, event, facts.WrongKind(unit=reading.unit), said, may_affirm=False)
    elif len(taken) >= reading.times and not again:
        there = facts.TakenAlready(value=taken[-1].value, unit=taken[-1].unit)
        question(turn, event, there, said, may_affirm=False)
    elif not plausible and expected is not None:
        question(turn, event, facts.Implausible(expected=expected), said)
    elif inside is False:
        question(turn, event, facts.OutsideLimits(), said)
    elif wear is not None and wear.condition is measure.Condition.BETTER_THAN_NEW:
        question(turn, event, facts.BetterThanNew(), said)
    else:
        turn.add(event)
        after_reading(turn, event)


def _too_close(value: Decimal, unit: str, reading: Reading) -> bool:
    return too_close(value, unit, reading.limits, _doubt(reading), reading.plausible)


def _wear(value: Decimal, unit: str, reading: Reading) -> measure.Wear | None:
    """Return how much of the wear that is allowed is used; None where that is not given."""
    if reading.new is None or reading.service_limit is None:
        return None
    new, limit = arithmetic.quantity(reading.new), arithmetic.quantity(reading.service_limit)
    return measure.wear(units.quantity(float(value), unit), new, limit, _doubt(reading))


def _doubt(reading: Reading) -> Quantity | None:
    """Return the expanded uncertainty of a reading, from its instrument; None where not known."""
    fineness = arithmetic.maybe(reading.resolution)
    return None if fineness is None else measure.expanded_uncertainty(fineness)


def after_reading(turn: Turn, event: events.ReadingRecorded) -> None:
    """Say a reading back, and what follows from it."""
    tone = Tone.ALERT if event.too_close or event.overdue else Tone.RECORDED
    turn.say(wording.record.recorded(event), tone)
    tell_changes(turn)
    say_what_next(turn)


def on_bag(turn: Turn, intent: intents.Bag, first: int | None = None) -> None:
    """Record the bag, question it, or say whether it is the one to open."""
    step = turn.state.step
    if turn.state.procedure.unwritten is not None and step.from_bag is None:
        taking_down.on_bag(turn, intent.number, first)
        return
    if step.bag is None and step.from_bag is None:
        turn.say(wording.refusals.no_bag(turn.state.number), Tone.REFUSED)
        return
    if step.bag is None:
        right = intent.number == step.from_bag
        held = _held(turn.state, intent.number)
        told = wording.questions.bag_to_open(intent.number, step.from_bag, held)
        turn.say(told, Tone.INFORM if right else Tone.ALERT)
        return
    if refuse_before_hazards(turn):
        return
    taken = {e.number: e.step for e in turn.state.of_job(events.BagRecorded) if e.step != step.id}
    if turn.state.of_step(events.BagRecorded):
        turn.say(wording.refusals.BAG_RECORDED, Tone.REFUSED)
        return
    fits = intent.number == step.bag
    event = events.BagRecorded(
        at=turn.now,
        turn=turn.number,
        step=step.id,
        number=intent.number,
        asked=step.bag,
        within=fits,
        contents=bags.contents(turn.state.procedure, step),
        first_heard=first,
    )
    if fits:
        turn.add(event)
        turn.say(wording.record.bag(intent.number), Tone.RECORDED)
        say_what_next(turn)
        return
    question(turn, event, facts.WrongBag(in_use=intent.number in taken))


def _held(state: State, number: int) -> tuple[facts.Parts, ...]:
    """Return what is in a bag that was recorded; nothing where that is not known."""
    for event in state.of_job(events.BagRecorded):
        if event.number == number and event.contents:
            return event.contents
    return ()


def _nameable(state: State, name: str) -> Part | None:
    """Return a part that has a name in a job without a procedure, and that nobody spoke of yet."""
    if state.procedure.unwritten is None:
        return None
    noun = pieces.live_names(state.procedure).named(name.split())
    return None if noun is None else Part(name=noun.name, plural=noun.plural)


def on_order(turn: Turn, intent: intents.Order, first: facts.Parts | None = None) -> None:
    """Record an order, or question its count."""
    part = turn.state.procedure.part(intent.part) or _nameable(turn.state, intent.part)
    if part is None:
        turn.say(wording.orders.not_in_list(intent.part), Tone.REFUSED)
        return
    event = events.PartOrdered(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        part=part.name,
        plural=part.plural,
        count=intent.count,
        part_number=part.number,
        first_heard=first,
    )
    # A box of sealing washers is ordinary; twenty gear wheels are a misheard two.
    if intent.count > max(2 * part.count, 4):
        question(turn, event, facts.MoreThanHeld(held=part.count))
        return
    to_come = sum(line.to_come for line in orders_of(turn.state, part.name))
    if to_come:
        question(turn, event, facts.OrderedAlready(to_come=to_come))
        return
    turn.add(event)
    turn.say(wording.record.recorded(event), Tone.RECORDED)
    asking_customer.say_not_agreed(turn, part.name)
    tell_changes(turn)


def on_chosen(turn: Turn, intent: intents.Chosen) -> None:
    """Record the answer to the step's question."""
    question = turn.state.step.question
    if question is None:
        turn.say(wording.refusals.no_question(turn.state.number), Tone.REFUSED)
        return
    if refuse_before_hazards(turn):
        return
    for answer in question.answers:
        if intent.answer == answer.say or intent.answer in answer.also:
            break
    else:
        turn.say(wording.steps.question_of(turn.state.step), Tone.QUESTION)
        return
    if question.name in turn.state.answers:
        given = turn.state.answers[question.name]
        turn.say(wording.refusals.answered_already(given, answer.say), Tone.REFUSED)
        return
    turn.record(events.QuestionAnswered, question=question.name, answer=answer.say)
    turn.say(wording.steps.answered(answer.say, answer.then), Tone.RECORDED)
    tell_changes(turn)
    say_what_next(turn)


def on_affirm(turn: Turn, intent: intents.Affirm) -> None:
    """Affirm the hazards, or the condition, that were said."""
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, outstanding_work.HazardsToHear):
        for due in hazards_due(turn):
            turn.record(
                events.HazardsHeard,
                step=None if due.of_job else turn.state.step_id,
                hazards=tuple(map(remaining.hazard, due.hazards)),
            )
        present(turn)
    elif isinstance(first, outstanding_work.ConditionToAffirm):
        turn.record(events.ConditionAffirmed, condition=first.before.affirm)
        present(turn)
    else:
        left = remaining.items(items)
        turn.say(wording.refusals.nothing_to_affirm(left), Tone.REFUSED)


def on_negative(turn: Turn, intent: intents.Negative) -> None:
    """Stay where a hazard or a condition is not affirmed."""
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, outstanding_work.HazardsToHear):
        present(turn)
    elif isinstance(first, outstanding_work.ConditionToAffirm):
        turn.say(wording.refusals.see_to_it(turn.state.number), Tone.REFUSED)
    else:
        turn.say(wording.refusals.NO_QUESTION_OPEN, Tone.REFUSED)


def on_finding(turn: Turn, intent: intents.Finding) -> None:
    """Record a finding; of several of a part that is on no list, only with their number."""
    part = turn.state.procedure.part(intent.part)
    if intent.all and part is None:
        turn.say(wording.refusals.how_many(intent.part, intent.condition), Tone.REFUSED)
        return
    event = turn.record(
        events.FindingRecorded,
        part=intent.part,
        plural=part.plural if part else None,
        count=intent.count or (part.count if intent.all and part else 1),
        condition=intent.condition,
        place=intent.place,
        disposition=intent.disposition,
        taken=intent.taken,
    )
    turn.say(wording.record.recorded(event), Tone.RECORDED)
    tell_changes(turn)


def on_note(turn: Turn, intent: intents.Note) -> None:
    """Record a note, or open one."""
    if intent.text is None and not intent.clipped:
        turn.record(events.NoteOpened)
        turn.say(wording.questions.GO_AHEAD, Tone.QUESTION)
        return
    turn.record(events.NoteRecorded, text=intent.text)
    turn.say(wording.record.NOTE_KEPT, Tone.RECORDED)


def on_take_note(turn: Turn, intent: intents.Note) -> None:
    """Take what is said as the note that was opened."""
    opened = turn.state.pending
    assert isinstance(opened, events.NoteOpened)
    if intent.text is None and not intent.clipped:
        ask_pending(turn, None)
    elif opened.reason_for == "skip":
        skip_for(turn, facts.SkipReason(note=intent.text))
    elif opened.failed is not None:
        settling.concede(turn, opened.failed, intent.text)
    else:
        on_note(turn, intent)


def on_drop_note(turn: Turn, intent: intents.Disregard) -> None:
    """Keep no note."""
    turn.record(events.QuestionDropped, asked="note")
    turn.say(wording.record.NO_NOTE)
