"""What the technician did, measured, bagged, ordered, found: checked, then recorded."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from assistant.errors import AssistantError
from assistant.language import wording as say
from assistant.procedure.model import Limits
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import state as st
from assistant.session.moving import skip_for
from assistant.session.state import State
from assistant.session.telling import ask_pending, present, say_what_next
from assistant.session.turn import Tone, Turn
from assistant.trade import measure, units


def refuse_before_hazards(turn: Turn) -> bool:
    """Refuse to record work on a step whose hazards and conditions were not affirmed."""
    items = turn.outstanding()
    if turn.state.step.id in turn.state.done or not items:
        return False
    if isinstance(items[0], st.HazardsToHear | st.StepBefore | st.ConditionToAffirm):
        turn.say("First things first.", Tone.REFUSED)
        present(turn)
        return True
    return False


def on_tightened(turn: Turn, intent: it.Tightened, first: str | None = None) -> None:
    """Record a torque or an angle of the next pass, or question it."""
    if refuse_before_hazards(turn):
        return
    targets = turn.state.targets()
    if not targets:
        turn.say(
            f"Step {say.count(turn.state.number)} asks for no torque. Nothing recorded.",
            Tone.REFUSED,
        )
        return
    open_ones = [i.target for i in turn.outstanding() if isinstance(i, st.TorqueToRecord)]
    if intent.fastener:
        open_ones = [t for t in open_ones if t.tighten.fastener == intent.fastener]
    if not open_ones:
        turn.say(
            "Every torque asked for here is recorded. To change the last, say correction.",
            Tone.REFUSED,
        )
        return
    target = open_ones[0]
    unit = intent.unit or target.unit
    if intent.slip is not None:
        first = say.quantity(intent.slip, intent.unit)
    kind_fits = units.same_dimension(unit, target.unit)
    within = kind_fits and _near(intent.value, unit, target)
    event = ev.TorqueRecorded(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        fastener=target.tighten.fastener,
        stage=target.stage,
        stages=target.stages,
        value=intent.value,
        unit=unit,
        asked=target.value,
        asked_unit=target.unit,
        within=within,
        first_heard=first,
    )
    if within:
        turn.add(event)
        turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)
        say_what_next(turn)
        return
    _question(
        turn,
        event,
        say.quantity(intent.value, intent.unit),
        f"The step says {say.quantity(target.value, target.unit)}.",
        kind_fits,
    )


def _near(value: Decimal, unit: str, target: st.Target) -> bool:
    asked = float(target.value)
    converted = units.convert(float(value), unit, target.unit)
    # A hair's breadth for the rounding of a conversion, so that the tolerance itself is within.
    return abs(converted - asked) <= asked * float(target.tighten.tolerance) / 100 + 1e-9


def _question(turn: Turn, candidate: Any, said: str, why: str, may_affirm: bool = True) -> None:
    turn.record(ev.ValueQuestioned, candidate=candidate, said=said, why=why, may_affirm=may_affirm)
    ask_pending(turn, None)


def on_reading(turn: Turn, intent: it.Reading, first: str | None = None) -> None:
    """Record a reading, or question it."""
    if refuse_before_hazards(turn):
        return
    readings = turn.state.readings()
    if not readings:
        turn.say(
            f"Step {say.count(turn.state.number)} asks for no reading. Say note to keep it.",
            Tone.REFUSED,
        )
        return
    open_ones = [i.reading for i in turn.outstanding() if isinstance(i, st.ReadingToTake)]
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
        first = say.quantity(intent.slip, intent.unit)
    kind_fits = units.same_dimension(unit, reading.unit)
    limited = reading.limits.least or reading.limits.most
    within = _within(intent.value, unit, reading.limits) if kind_fits and limited else None
    plausible = kind_fits and _within(intent.value, unit, reading.plausible)
    event = ev.ReadingRecorded(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        name=reading.name,
        value=intent.value,
        unit=unit,
        limits=say.limits(reading.limits) if limited else None,
        within=within,
        first_heard=first,
    )
    said = say.quantity(intent.value, intent.unit)
    if not kind_fits:
        _question(turn, event, said, f"The step asks for {_plural(reading.unit)}.", False)
    elif not plausible:
        _question(
            turn, event, said, f"I would expect {say.limits(reading.plausible)} for {reading.name}."
        )
    elif within is False:
        _question(
            turn, event, said, f"The limits of {reading.name} are {say.limits(reading.limits)}."
        )
    else:
        turn.add(event)
        after_reading(turn, event)


def _plural(unit: str) -> str:
    return say.quantity(Decimal(2), unit).removeprefix("two ")


def _within(value: Decimal, unit: str, limits: Limits) -> bool:
    for limit, sign in ((limits.least, 1), (limits.most, -1)):
        if limit is None:
            continue
        if unit == limit.unit:
            beyond = (value - limit.value) * sign < 0
        else:
            converted = units.convert(float(value), unit, limit.unit)
            beyond = (converted - float(limit.value)) * sign < -1e-9
        if beyond:
            return False
    return True


def after_reading(turn: Turn, event: ev.ReadingRecorded) -> None:
    """Say a reading back, and what follows from it."""
    turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)
    _work_out(turn)
    say_what_next(turn)


def _work_out(turn: Turn) -> None:
    """Record the values and the choice that now follow from the readings."""
    step = turn.state.step
    for derived in step.derived:
        known = turn.state.values()
        names = [name.replace("_", " ") for name in measure.names_in(derived.formula)]
        if derived.name in known or not derived.applies(turn.state.answers):
            continue
        if any(name not in known for name in names if not units.is_unit(name)):
            continue
        try:
            result = measure.evaluate(
                derived.formula,
                {
                    name: units.quantity(float(known[name][0]), known[name][1])
                    for name in names
                    if name in known
                },
            )
            number = units.express(result, derived.unit)
        except AssistantError as error:
            turn.say(f"{derived.name} cannot be worked out: {error}", Tone.REFUSED)
            continue
        value = Decimal(f"{number:.4f}").normalize() + 0
        limited = derived.limits.least or derived.limits.most
        within = _within(value, derived.unit, derived.limits) if limited else None
        worked = turn.record(
            ev.ValueWorkedOut,
            name=derived.name,
            value=value,
            unit=derived.unit,
            limits=say.limits(derived.limits) if limited else None,
            within=within,
        )
        turn.say(say.sentence(say.event(worked)), Tone.ALERT if within is False else Tone.INFORM)
    known = turn.state.values()
    if step.choice and step.choice.of in known and not turn.state.of_step(ev.PartChosen):
        value, unit = known[step.choice.of]
        for row in step.choice.rows:
            over = row.over is None or not _within(value, unit, Limits(most=row.over))
            if over and _within(value, unit, Limits(most=row.up_to)):
                chosen = turn.record(
                    ev.PartChosen,
                    part=row.part,
                    by_value=f"{step.choice.of} {value} {unit}",
                    note=row.note,
                )
                turn.say(say.sentence(say.event(chosen)))
                return
        turn.say(
            say.sentence(f"No part is given for {step.choice.of} {say.quantity(value, unit)}"),
            Tone.ALERT,
        )


def on_bag(turn: Turn, intent: it.Bag, first: str | None = None) -> None:
    """Record the bag, question it, or say whether it is the one to open."""
    step = turn.state.step
    if step.bag is None and step.from_bag is None:
        turn.say(f"Step {say.count(turn.state.number)} has no bag.", Tone.REFUSED)
        return
    if step.bag is None:
        right = intent.number == step.from_bag
        held = _held(turn.state, intent.number)
        turn.say(
            f"Bag {say.count(intent.number)} is {'right' if right else 'not the one'}"
            + (f": {held}." if held else ".")
            + ("" if right else f" This step takes bag {say.count(step.from_bag or 0)}."),
            Tone.INFORM if right else Tone.ALERT,
        )
        return
    taken = {e.number: e.step for e in turn.state.of_job(ev.BagRecorded) if e.step != step.id}
    if turn.state.of_step(ev.BagRecorded):
        turn.say("The bag is recorded. To change it, say correction.", Tone.REFUSED)
        return
    fits = intent.number == step.bag
    things = [
        say.parts(turn.state.procedure, r.part, r.count) for r in step.remove if not r.discard
    ]
    things += [say.number_of_fasteners(f) for f in step.fasteners]
    event = ev.BagRecorded(
        at=turn.now,
        turn=turn.number,
        step=step.id,
        number=intent.number,
        asked=step.bag,
        within=fits,
        contents=say.listing(things) or None,
        first_heard=first,
    )
    if fits:
        turn.add(event)
        turn.say(f"Bag {say.count(intent.number)}. Recorded.", Tone.RECORDED)
        say_what_next(turn)
        return
    used = f" Bag {say.count(intent.number)} is in use." if intent.number in taken else ""
    _question(
        turn,
        event,
        f"bag {say.count(intent.number)}",
        f"The step says bag {say.count(step.bag)}.{used}",
    )


def _held(state: State, number: int) -> str:
    for event in state.of_job(ev.BagRecorded):
        if event.number == number and event.contents:
            return event.contents
    return ""


def on_order(turn: Turn, intent: it.Order, first: str | None = None) -> None:
    """Record an order, or question its count."""
    part = turn.state.procedure.part(intent.part)
    if part is None:
        turn.say(
            f"{intent.part} is not in this procedure's list of parts. Say note to keep it.",
            Tone.REFUSED,
        )
        return
    event = ev.PartOrdered(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        part=part.name if intent.count == 1 else part.plural_name,
        count=intent.count,
        part_number=part.number,
        first_heard=first,
    )
    # A box of sealing washers is ordinary; twenty gear wheels are a misheard two.
    if intent.count > max(2 * part.count, 4):
        holds = say.several(part.count, part.name, part.plural_name)
        _question(
            turn,
            event,
            f"{say.count(intent.count)} {part.plural_name}",
            f"The assembly holds {holds}.",
        )
        return
    turn.add(event)
    turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)


def on_chosen(turn: Turn, intent: it.Chosen) -> None:
    """Record the answer to the step's question."""
    question = turn.state.step.question
    if question is None:
        turn.say(f"Step {say.count(turn.state.number)} asks nothing.", Tone.REFUSED)
        return
    if refuse_before_hazards(turn):
        return
    for answer in question.answers:
        if intent.answer == answer.say or intent.answer in answer.also:
            break
    else:
        turn.say(say.question(turn.state.step), Tone.QUESTION)
        return
    if question.name in turn.state.answers:
        given = turn.state.answers[question.name]
        turn.say(
            f"Answered already: {given}. To change it, say correction {answer.say}.", Tone.REFUSED
        )
        return
    turn.record(ev.QuestionAnswered, question=question.name, answer=answer.say)
    said = answer.then or ""
    if not said.lower().startswith(answer.say):
        said = f"{say.sentence(answer.say)} {said}"
    turn.say(f"{say.sentence(said)} Recorded.", Tone.RECORDED)
    say_what_next(turn)


def on_affirm(turn: Turn, intent: it.Affirm) -> None:
    """Affirm the hazards, or the condition, that were said."""
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, st.HazardsToHear):
        turn.record(
            ev.HazardsHeard,
            hazards=tuple(f"{h.signal.value}: {h.say}" for h in first.hazards),
        )
        present(turn)
    elif isinstance(first, st.ConditionToAffirm):
        turn.record(ev.ConditionAffirmed, condition=first.before.affirm)
        present(turn)
    else:
        turn.say("There is nothing to affirm.", Tone.REFUSED)


def on_negative(turn: Turn, intent: it.Negative) -> None:
    """Stay where a hazard or a condition is not affirmed."""
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, st.HazardsToHear):
        present(turn)
    elif isinstance(first, st.ConditionToAffirm):
        turn.say(
            f"Then see to it first. We stay at step {say.count(turn.state.number)}.", Tone.REFUSED
        )
    else:
        turn.say("I asked nothing. To take back the last thing, say disregard.", Tone.REFUSED)


def on_finding(turn: Turn, intent: it.Finding) -> None:
    """Record a finding."""
    event = turn.record(
        ev.FindingRecorded, part=intent.part, condition=intent.condition, place=intent.place
    )
    turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)


def on_note(turn: Turn, intent: it.Note) -> None:
    """Record a note, or open one."""
    if intent.text is None and not intent.clipped:
        turn.record(ev.NoteOpened)
        turn.say("Go ahead.", Tone.QUESTION)
        return
    turn.record(ev.NoteRecorded, text=intent.text)
    turn.say("Note kept.", Tone.RECORDED)


def on_take_note(turn: Turn, intent: it.Note) -> None:
    """Take what is said as the note that was opened."""
    opened = turn.state.pending
    assert isinstance(opened, ev.NoteOpened)
    if intent.text is None and not intent.clipped:
        ask_pending(turn, None)
    elif opened.as_reason:
        skip_for(turn, intent.text or "as spoken in the clip")
    else:
        on_note(turn, intent)


def on_drop_note(turn: Turn, intent: it.Disregard) -> None:
    """Keep no note."""
    turn.record(ev.QuestionDropped, what="the note")
    turn.say("No note kept.")
