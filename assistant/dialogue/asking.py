"""Answers to questions about the procedure and its readings, of the present step for the most part.

Only a torque is answered for a fastener of any step: the step is said with it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import suppress
from decimal import Decimal

from assistant.dialogue import (
    events,
    facts,
    fitting,
    intents,
    outstanding_work,
    remaining,
    wording,
)
from assistant.dialogue.results import plain
from assistant.dialogue.state import State
from assistant.dialogue.tightening import band, setting
from assistant.dialogue.turn import Turn
from assistant.errors import AssistantError
from assistant.procedure import arithmetic
from assistant.procedure.model import Fastener, Loosen, Quantity, Step, Tighten, Variants
from assistant.trade import fluids, units

_CLASSES = ("8.8", "10.9", "12.9")
"""The classes of bolts that are met most (common practice, no source)."""


def on_ask(turn: Turn, intent: intents.Ask) -> None:
    """Answer a question about the present step, or the torque of a fastener of any step."""
    if intent.fastener is not None:
        for words in _torque_of(turn, intent.fastener, intent.unit):
            turn.say(words)
        return
    for words in _answers(turn, intent) or (_nothing(turn, intent.topic),):
        turn.say(words)


def _answers(turn: Turn, intent: intents.Ask) -> list[str]:
    """Return the answer's sentences; none where the step has nothing of what was asked."""
    step, answers, procedure = turn.state.step, turn.state.answers, turn.state.procedure
    tightens = [t for t in step.tighten if t.applies(answers)]
    fasteners = [f for f in step.fasteners if f.applies(answers)]
    fits = fitting.fits_of(turn.state, step)
    removes = [r for r in step.remove if r.applies(answers)]
    match intent.topic:
        case intents.Topic.TORQUE:
            if procedure.unwritten is not None and not tightens:
                return _usual_by_class(fasteners[:1], intent.unit)
            return [_torque_in(t, intent.unit) for t in tightens]
        case intents.Topic.LOCKER:
            if procedure.unwritten is not None:
                noted = [wording.sentence(fit.how) for fit in fits if fit.how]
                applied = turn.state.of_step(events.LockerApplied)
                noted += [wording.sentence(wording.event(event)) for event in applied]
                return noted or [wording.sentence(wording.steps.NOT_STATED)]
            return [wording.answers.locker(t) for t in tightens]
        case intents.Topic.TOOL:
            return [wording.answers.tool(name) for name in step.tools]
        case intents.Topic.PARTS:
            told = [wording.steps.fit(procedure, f) for f in fits]
            told += [wording.steps.remove(procedure, r) for r in removes]
            return [wording.sentence(words) for words in told]
        case intents.Topic.BAG:
            into = [wording.answers.into_bag(step.bag)] if step.bag else []
            return into + ([wording.answers.from_bag(step.from_bag)] if step.from_bag else [])
        case intents.Topic.COUNT:
            told = [wording.steps.number_of_fasteners(f) for f in fasteners]
            named = [(f.part, f.count) for f in fits] + [(r.part, r.count) for r in removes]
            told += [wording.steps.parts(facts.Parts.of(procedure, *one)) for one in named]
            return [wording.sentence(words) for words in told]
        case intents.Topic.HAZARD:
            told = [wording.steps.hazard(remaining.hazard(h)) for h in step.hazards]
            return told + _releases(turn, tightens)
        case intents.Topic.SIZE:
            return [wording.answers.size(f) for f in fasteners]
        case intents.Topic.LIMITS:
            return [wording.answers.reading_limits(r) for r in turn.state.readings()]
        case intents.Topic.ORDER:
            loosens = [one for one in step.loosen if one.applies(answers)]
            return [_order(turn, of) for of in tightens] + [_order(turn, of) for of in loosens]
        case intents.Topic.HOW:
            return [wording.answers.how(f.part, f.how) for f in fits if f.how]
        case intents.Topic.DETAIL:
            detail = [wording.answers.detail(step.detail)] if step.detail else []
            return detail + _releases(turn, tightens)
        case intents.Topic.SETTING:
            return _with_wrenches(turn, tightens, setting)
        case intents.Topic.WRENCH:
            return _with_wrenches(turn, tightens, band)
        case intents.Topic.MIX:
            return _mix(step)
        case intents.Topic.CLAMP:
            return _clamp_loads(fasteners, tightens)
        case intents.Topic.THREAD:
            return _threads(fasteners)
        case intents.Topic.QUANTITY:
            return _quantity(step)
        case intents.Topic.WHY:
            return [wording.answers.why(step.why)] if step.why else []


def _torque_of(turn: Turn, fastener: str, unit: str | None) -> list[str]:
    """Word the torque of a fastener at each step that tightens it, and which step that is."""
    answers = turn.state.answers
    found = []
    for number, step in enumerate(turn.state.procedure.steps, 1):
        for tighten in step.tighten:
            if tighten.fastener != fastener or _ruled_out(tighten, answers):
                continue
            if _ruled_out(step, answers):
                continue
            needs = {**step.when, **tighten.when}
            open_ones = {name: want for name, want in needs.items() if name not in answers}
            told = _torque_in(tighten, unit)
            found.append(wording.answers.at(number, told, _wants(open_ones)))
    if not found and turn.state.procedure.unwritten is not None:
        same = [p for p in turn.state.pieces if p.name == fastener and p.thread]
        of_name = [f for p in same for f in turn.state.procedure.step(p.id).fasteners]
        found = _usual_by_class(of_name[:1], unit)
    return found or [wording.answers.no_torque_of(fastener)]


def _usual_by_class(fasteners: list[Fastener], unit: str | None) -> list[str]:
    """Word the usual torques of fasteners whose class nobody said, in a unit or in N·m: one for
    each class that may be marked on the head. None of them is set by it.
    """
    told = []
    for one in fasteners:
        by_class = []
        for grade in _CLASSES if one.thread else ():
            # Nobody has checked in a job without a procedure that there is such a thread.
            with suppress(AssistantError):
                torque = arithmetic.recommended(one.model_copy(update={"grade": grade}))
                by_class += [] if torque is None else [(grade, _in_unit(torque, unit))]
        told += [wording.answers.usual_by_class(one, by_class)] if by_class else []
    return [*told, wording.pieces.SET_FIRST] if told else [wording.pieces.NOTHING_USUAL]


def _in_unit(torque: Quantity, unit: str | None) -> Quantity:
    """Return a torque in whole numbers of a unit, which is as fine as a usual one is worth."""
    if unit is None or unit == torque.unit:
        return torque
    value = units.convert(float(torque.value), torque.unit, unit)
    return Quantity(value=Decimal(f"{value:.0f}"), unit=unit)


def _ruled_out(of: Variants, answers: Mapping[str, str]) -> bool:
    """Whether a question was answered otherwise than something needs; an open one rules out
    nothing.
    """
    given = {name: want for name, want in of.when.items() if name in answers}
    return not all(answers[name] in _each(want) for name, want in given.items())


def _wants(when: Mapping[str, str | tuple[str, ...]]) -> list[str]:
    return [answer for want in when.values() for answer in _each(want)]


def _each(want: str | tuple[str, ...]) -> tuple[str, ...]:
    return (want,) if isinstance(want, str) else want


def on_of_set(turn: Turn, intent: intents.OfSet) -> None:
    """Answer the mean, the greatest or the least of the readings of one thing at this step."""
    readings = turn.state.readings()
    if not readings:
        turn.say(wording.answers.nothing(turn.state.number, intents.Topic.LIMITS))
        return
    taken = turn.state.of_step(events.ReadingRecorded)
    last = taken[-1].name if taken else readings[0].name
    name = intent.name or last
    measured = turn.state.results.readings.get(name)
    if measured is None or measured.step.id != turn.state.step_id:
        turn.say(wording.answers.not_read_yet(name))
        return
    values = measured.values
    unit = measured.reading.unit
    of = {"mean": sum(values) / len(values), "greatest": max(values), "least": min(values)}
    turn.say(wording.answers.of_set(name, len(values), intent.use, plain(of[intent.use]), unit))


def _nothing(turn: Turn, topic: intents.Topic) -> str:
    """Word that the step has nothing of what was asked, with what helps instead."""
    number = turn.state.number
    if topic is intents.Topic.TORQUE:
        answers = turn.state.answers
        fasteners = [f for f in turn.state.step.fasteners if f.applies(answers)]
        recommended = [(one, arithmetic.recommended(one)) for one in fasteners]
        usual = [(one, torque) for one, torque in recommended if torque is not None]
        if usual:
            return wording.answers.usual_torques(number, usual)
    wrench = topic in (intents.Topic.SETTING, intents.Topic.WRENCH)
    if wrench and not turn.state.procedure.wrenches:
        return wording.answers.no_wrenches(number)
    return wording.answers.nothing(number, topic)


def _releases(turn: Turn, tightens: list[Tighten]) -> list[str]:
    """Word how each joint with high strength thread-locker is undone."""
    joints = [t.fastener for t in tightens if t.locker and t.locker.strength == "high"]
    if not joints:
        return []
    how = arithmetic.release("high", turn.state.procedure)
    return [wording.answers.release(joint, how) for joint in joints]


def _order(turn: Turn, of: Tighten | Loosen) -> str:
    count = turn.state.count_of(of.fastener)
    if of.order is None or count == 1:
        return wording.answers.order(of.fastener, of.order)
    bolts = arithmetic.bolts(of, count)
    if isinstance(of, Loosen):
        return wording.answers.order_of_loosening(of.fastener, bolts)
    return wording.answers.order(of.fastener, of.order, bolts)


def _with_wrenches(
    turn: Turn,
    tightens: list[Tighten],
    word: Callable[[State, Tighten, tuple[outstanding_work.Outstanding, ...]], str],
) -> list[str]:
    if not turn.state.procedure.wrenches:
        return []
    said = []
    for tighten in tightens:
        try:
            said.append(word(turn.state, tighten, turn.outstanding()))
        except AssistantError as error:
            said.append(wording.answers.cannot_say(str(error)))
    return said


def _mix(step: Step) -> list[str]:
    if step.mix is None:
        return []
    found = fluids.mix_total(arithmetic.quantity(step.mix.total), step.mix.ratio)
    unit = step.mix.total.unit
    first, second = (plain(units.express(part, unit)) for part in (found.first, found.second))
    return [wording.answers.mix(step.mix, first, second)]


def _quantity(step: Step) -> list[str]:
    if step.fluid is None:
        return []
    full = units.express(arithmetic.to_level(step.fluid), step.fluid.capacity.unit)
    return [wording.answers.fill(step.fluid, plain(full))]


def _clamp_loads(fasteners: list[Fastener], tightens: list[Tighten]) -> list[str]:
    """Word what each torque gives: clamp load, and its share of the bolt's proof load."""
    said = []
    for tighten in tightens:
        for one in fasteners:
            sane = arithmetic.sanity(one, tighten) if one.name == tighten.fastener else None
            if sane is not None:
                load = Decimal(f"{units.express(sane.load, 'kN'):.0f}")
                share = Decimal(f"{sane.share * 100:.0f}")
                said.append(wording.answers.clamp_load(one.name, load, share))
    return said


def _threads(fasteners: list[Fastener]) -> list[str]:
    """Word how much thread each bolt engages, and how much it needs."""
    said = []
    for one in fasteners:
        length = arithmetic.bolt_length(one)
        if length is not None:
            engaged, needed = (
                Decimal(f"{units.express(value, 'mm'):.0f}")
                for value in (length.engaged, length.needed)
            )
            said.append(wording.answers.thread_engaged(one.name, engaged, needed))
    return said


def _torque_in(tighten: Tighten, unit: str | None) -> str:
    if unit is None or unit == tighten.torque.unit:
        return wording.answers.torque(tighten)
    torque = tighten.torque
    value = units.convert(float(torque.value), torque.unit, unit)
    # Three figures: as fine as a wrench's scale is read, and no finer than it is worth.
    rounded = Decimal(f"{value:.{0 if value >= 100 else 1}f}")
    return wording.answers.torque_in(tighten, rounded, unit)
