"""What the technician did, measured, bagged, ordered, found: checked, then recorded."""

from __future__ import annotations

from decimal import Decimal

from assistant.dialogue import events, intents, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.moving import skip_for
from assistant.dialogue.questioning import question, refuse_before_hazards
from assistant.dialogue.state import State
from assistant.dialogue.telling import ask_pending, present, say_what_next
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.working_out import too_close, within, work_out
from assistant.procedure import arithmetic
from assistant.procedure.model import Reading
from assistant.trade import measure, units


def on_reading(turn: Turn, intent: intents.Reading, first: str | None = None) -> None:
    """Record a reading, or question it."""
    if refuse_before_hazards(turn):
        return
    readings = turn.state.readings()
    if not readings:
        turn.say(
            f"Step {wording.count(turn.state.number)} asks for no reading. Say note to keep it.",
            Tone.REFUSED,
        )
        return
    open_ones = [i.reading for i in turn.outstanding() if isinstance(i, job_state.ReadingToTake)]
    if intent.name:
        open_ones = [r for r in open_ones if r.name == intent.name]
    if not open_ones:
        turn.say(
            "Every reading asked for here is recorded. To change the last, say correction.",
            Tone.REFUSED,
        )
        return
    reading = open_ones[0]
    unit = intent.unit or reading.unit
    if intent.slip is not None:
        first = wording.quantity(intent.slip, intent.unit)
    kind_fits = units.same_dimension(unit, reading.unit)
    limited = reading.limits.least or reading.limits.most
    inside = within(intent.value, unit, reading.limits) if kind_fits and limited else None
    plausible = kind_fits and within(intent.value, unit, reading.plausible)
    close = kind_fits and _too_close(intent.value, unit, reading)
    event = events.ReadingRecorded(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        name=reading.name,
        value=intent.value,
        unit=unit,
        limits=wording.limits(reading.limits) if limited else None,
        within=inside,
        too_close=close,
        wear=_wear(intent.value, unit, reading) if kind_fits else None,
        first_heard=first,
    )
    said = wording.quantity(intent.value, intent.unit)
    if not kind_fits:
        question(turn, event, said, f"The step asks for {_plural(reading.unit)}.", False)
    elif not plausible:
        question(
            turn,
            event,
            said,
            f"I would expect {wording.limits(reading.plausible)} for {reading.name}.",
        )
    elif inside is False:
        doubt = " It is too close to call." if close else ""
        limits = wording.limits(reading.limits)
        question(turn, event, said, f"The limits of {reading.name} are {limits}.{doubt}")
    else:
        turn.add(event)
        after_reading(turn, event)


def _too_close(value: Decimal, unit: str, reading: Reading) -> bool:
    if reading.resolution is None:
        return False
    doubt = measure.expanded_uncertainty(arithmetic.quantity(reading.resolution))
    return too_close(value, unit, reading.limits, doubt, reading.plausible)


def _wear(value: Decimal, unit: str, reading: Reading) -> int | None:
    """Return the percent used of the wear that is allowed; less than 0: better than new."""
    if reading.new is None or reading.service_limit is None:
        return None
    new, limit = arithmetic.quantity(reading.new), arithmetic.quantity(reading.service_limit)
    return round(measure.wear(units.quantity(float(value), unit), new, limit).share * 100)


def _plural(unit: str) -> str:
    return wording.quantity(Decimal(2), unit).removeprefix("two ")


def after_reading(turn: Turn, event: events.ReadingRecorded) -> None:
    """Say a reading back, and what follows from it."""
    tone = Tone.ALERT if event.too_close else Tone.RECORDED
    turn.say(wording.sentence(f"{wording.event(event)}. Recorded"), tone)
    work_out(turn)
    say_what_next(turn)


def on_bag(turn: Turn, intent: intents.Bag, first: str | None = None) -> None:
    """Record the bag, question it, or say whether it is the one to open."""
    step = turn.state.step
    if step.bag is None and step.from_bag is None:
        turn.say(f"Step {wording.count(turn.state.number)} has no bag.", Tone.REFUSED)
        return
    if step.bag is None:
        right = intent.number == step.from_bag
        held = _held(turn.state, intent.number)
        turn.say(
            f"Bag {wording.count(intent.number)} is {'right' if right else 'not the one'}"
            + (f": {held}." if held else ".")
            + ("" if right else f" This step takes bag {wording.count(step.from_bag or 0)}."),
            Tone.INFORM if right else Tone.ALERT,
        )
        return
    taken = {e.number: e.step for e in turn.state.of_job(events.BagRecorded) if e.step != step.id}
    if turn.state.of_step(events.BagRecorded):
        turn.say("The bag is recorded. To change it, say correction.", Tone.REFUSED)
        return
    fits = intent.number == step.bag
    event = events.BagRecorded(
        at=turn.now,
        turn=turn.number,
        step=step.id,
        number=intent.number,
        asked=step.bag,
        within=fits,
        contents=wording.bag_contents(turn.state.procedure, step),
        first_heard=first,
    )
    if fits:
        turn.add(event)
        turn.say(f"Bag {wording.count(intent.number)}. Recorded.", Tone.RECORDED)
        say_what_next(turn)
        return
    used = f" Bag {wording.count(intent.number)} is in use." if intent.number in taken else ""
    question(
        turn,
        event,
        f"bag {wording.count(intent.number)}",
        f"The step says bag {wording.count(step.bag)}.{used}",
    )


def _held(state: State, number: int) -> str:
    for event in state.of_job(events.BagRecorded):
        if event.number == number and event.contents:
            return event.contents
    return ""


def on_order(turn: Turn, intent: intents.Order, first: str | None = None) -> None:
    """Record an order, or question its count."""
    part = turn.state.procedure.part(intent.part)
    if part is None:
        turn.say(
            f"{intent.part} is not in this procedure's list of parts. Say note to keep it.",
            Tone.REFUSED,
        )
        return
    event = events.PartOrdered(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        part=part.name if intent.count == 1 else part.plural_name,
        count=intent.count,
        part_number=part.number,
        first_heard=first,
        name=part.name,
    )
    # A box of sealing washers is ordinary; twenty gear wheels are a misheard two.
    if intent.count > max(2 * part.count, 4):
        holds = wording.several(part.count, part.name, part.plural_name)
        question(
            turn,
            event,
            f"{wording.count(intent.count)} {part.plural_name}",
            f"The assembly holds {holds}.",
        )
        return
    turn.add(event)
    turn.say(wording.sentence(f"{wording.event(event)}. Recorded"), Tone.RECORDED)


def on_chosen(turn: Turn, intent: intents.Chosen) -> None:
    """Record the answer to the step's question."""
    question = turn.state.step.question
    if question is None:
        turn.say(f"Step {wording.count(turn.state.number)} asks nothing.", Tone.REFUSED)
        return
    if refuse_before_hazards(turn):
        return
    for answer in question.answers:
        if intent.answer == answer.say or intent.answer in answer.also:
            break
    else:
        turn.say(wording.question(turn.state.step), Tone.QUESTION)
        return
    if question.name in turn.state.answers:
        given = turn.state.answers[question.name]
        turn.say(
            f"Answered already: {given}. To change it, say correction {answer.say}.", Tone.REFUSED
        )
        return
    turn.record(events.QuestionAnswered, question=question.name, answer=answer.say)
    said = answer.then or ""
    if not said.lower().startswith(answer.say):
        said = f"{wording.sentence(answer.say)} {said}"
    turn.say(f"{wording.sentence(said)} Recorded.", Tone.RECORDED)
    say_what_next(turn)


def on_affirm(turn: Turn, intent: intents.Affirm) -> None:
    """Affirm the hazards, or the condition, that were said."""
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, job_state.HazardsToHear):
        turn.record(
            events.HazardsHeard,
            hazards=tuple(f"{h.signal.value}: {h.say}" for h in first.hazards),
        )
        present(turn)
    elif isinstance(first, job_state.ConditionToAffirm):
        turn.record(events.ConditionAffirmed, condition=first.before.affirm)
        present(turn)
    else:
        turn.say("There is nothing to affirm.", Tone.REFUSED)


def on_negative(turn: Turn, intent: intents.Negative) -> None:
    """Stay where a hazard or a condition is not affirmed."""
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, job_state.HazardsToHear):
        present(turn)
    elif isinstance(first, job_state.ConditionToAffirm):
        turn.say(
            f"Then see to it first. We stay at step {wording.count(turn.state.number)}.",
            Tone.REFUSED,
        )
    else:
        turn.say("I asked nothing. To take back the last thing, say disregard.", Tone.REFUSED)


def on_finding(turn: Turn, intent: intents.Finding) -> None:
    """Record a finding."""
    event = turn.record(
        events.FindingRecorded,
        part=intent.part,
        condition=intent.condition,
        place=intent.place,
        disposition=intent.disposition,
    )
    turn.say(wording.sentence(f"{wording.event(event)}. Recorded"), Tone.RECORDED)


def on_note(turn: Turn, intent: intents.Note) -> None:
    """Record a note, or open one."""
    if intent.text is None and not intent.clipped:
        turn.record(events.NoteOpened)
        turn.say("Go ahead.", Tone.QUESTION)
        return
    turn.record(events.NoteRecorded, text=intent.text)
    turn.say("Note kept.", Tone.RECORDED)


def on_take_note(turn: Turn, intent: intents.Note) -> None:
    """Take what is said as the note that was opened."""
    opened = turn.state.pending
    assert isinstance(opened, events.NoteOpened)
    if intent.text is None and not intent.clipped:
        ask_pending(turn, None)
    elif opened.as_reason:
        skip_for(turn, intent.text or "as spoken in the clip")
    else:
        on_note(turn, intent)


def on_drop_note(turn: Turn, intent: intents.Disregard) -> None:
    """Keep no note."""
    turn.record(events.QuestionDropped, what="the note")
    turn.say("No note kept.")
