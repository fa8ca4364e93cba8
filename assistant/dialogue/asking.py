"""Answers to questions about the present step."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from assistant.dialogue import intents, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.state import State
from assistant.dialogue.tightening import band, setting
from assistant.dialogue.turn import Turn
from assistant.dialogue.working_out import plain
from assistant.errors import AssistantError
from assistant.procedure import arithmetic
from assistant.procedure.model import Fastener, Loosen, Procedure, Step, Tighten
from assistant.trade import fluids, units


def on_ask(turn: Turn, intent: intents.Ask) -> None:
    """Answer a question about the present step, from the procedure."""
    step, answers = turn.state.step, turn.state.answers
    tightens = [t for t in step.tighten if t.applies(answers)]
    fasteners = [f for f in step.fasteners if f.applies(answers)]
    fits = [f for f in step.fit if f.applies(answers)]
    removes = [r for r in step.remove if r.applies(answers)]
    procedure = turn.state.procedure
    said: list[str] = []
    match intent.topic:
        case intents.Topic.TORQUE:
            said = [f"{t.fastener}, {_torque_in(t, intent.unit)}" for t in tightens]
            missing = "no torque" + _usual_torques(fasteners)
        case intents.Topic.LOCKER:
            said = [f"{t.fastener}, {wording.locker(t)}" for t in tightens]
            missing = "no thread locker"
        case intents.Topic.TOOL:
            said = list(step.tools)
            missing = "no special tool"
        case intents.Topic.PARTS:
            said = [wording.fit(procedure, f) for f in fits]
            for remove in removes:
                away = ", to be thrown away" if remove.discard else ""
                said.append(
                    f"{wording.parts(procedure, remove.part, remove.count)}, to come off{away}"
                )
            missing = "no parts"
        case intents.Topic.BAG:
            if step.bag:
                said.append(f"into bag {wording.count(step.bag)}")
            if step.from_bag:
                said.append(f"from bag {wording.count(step.from_bag)}")
            missing = "no bag"
        case intents.Topic.COUNT:
            said = [wording.number_of_fasteners(f) for f in fasteners]
            said += [wording.parts(procedure, f.part, f.count) for f in fits]
            said += [wording.parts(procedure, r.part, r.count) for r in removes]
            missing = "nothing to count"
        case intents.Topic.HAZARD:
            said = [wording.hazard(h.signal.value, h.say) for h in step.hazards]
            said += _releases(procedure, tightens)
            missing = "no caution of its own. The usual care applies"
        case intents.Topic.SIZE:
            said = [wording.fastener(f) for f in fasteners]
            missing = "no fastener"
        case intents.Topic.LIMITS:
            said = [f"{r.name}, {wording.limits(r.limits)}" for r in turn.state.readings()]
            missing = "no reading"
        case intents.Topic.ORDER:
            said = [_order(turn, t) for t in tightens]
            said += [_order(turn, one) for one in step.loosen if one.applies(answers)]
            missing = "no order"
        case intents.Topic.HOW:
            said = [f"{f.part}, {f.how}" for f in fits if f.how]
            missing = "nothing about which way round"
        case intents.Topic.DETAIL:
            said = ([step.detail] if step.detail else []) + _releases(procedure, tightens)
            missing = "no more detail"
        case intents.Topic.SETTING:
            said = _with_wrenches(turn, tightens, setting)
            missing = "no torque" if procedure.wrenches else "no list of wrenches"
        case intents.Topic.WRENCH:
            said = _with_wrenches(turn, tightens, band)
            missing = "no torque" if procedure.wrenches else "no list of wrenches"
        case intents.Topic.MIX:
            said = _mix(step)
            missing = "nothing to mix"
        case intents.Topic.CLAMP:
            said = _clamp_loads(fasteners, tightens)
            missing = "no torque on a fastener of a known grade"
        case intents.Topic.THREAD:
            said = _threads(fasteners)
            missing = "no fastener whose hole or length is given"
        case intents.Topic.QUANTITY:
            said = _quantity(step)
            missing = "nothing to fill"
    if not said:
        turn.say(f"Step {wording.count(turn.state.number)} has {missing}.")
    for words in said:
        turn.say(wording.sentence(words))


def _releases(procedure: Procedure, tightens: list[Tighten]) -> list[str]:
    """Word how a joint with high strength thread-locker is undone: a caution for the next hand."""
    joints = [t.fastener for t in tightens if t.locker and t.locker.strength == "high"]
    if not joints:
        return []
    how = wording.figures(arithmetic.release("high", procedure))
    return [f"{joint}, high strength thread locker. {how}" for joint in joints]


def _order(turn: Turn, of: Tighten | Loosen) -> str:
    count = turn.state.count_of(of.fastener)
    if of.order is None or count == 1:
        return f"{of.fastener}, {wording.order(of.order)}"
    numbers = wording.listing(wording.count(number) for number in arithmetic.bolts(of, count))
    if isinstance(of, Loosen):
        return f"{of.fastener}, loosen in the reverse of the tightening order, {numbers}"
    return f"{of.fastener}, {wording.order(of.order)}, {numbers}"


def _with_wrenches(
    turn: Turn,
    tightens: list[Tighten],
    word: Callable[[State, Tighten, tuple[job_state.Outstanding, ...]], str],
) -> list[str]:
    if not turn.state.procedure.wrenches:
        return []
    said = []
    for tighten in tightens:
        try:
            said.append(word(turn.state, tighten, turn.outstanding()))
        except AssistantError as error:
            said.append(str(error))
    return said


def _mix(step: Step) -> list[str]:
    if step.mix is None:
        return []
    mix = step.mix
    found = fluids.mix_total(arithmetic.quantity(mix.total), mix.ratio)
    first, second = (
        wording.quantity(plain(units.express(part, mix.total.unit)), mix.total.unit)
        for part in (found.first, found.second)
    )
    made = wording.amount(mix.total)
    return [f"for {made}, {mix.first} {first} and {mix.second} {second}"]


def _quantity(step: Step) -> list[str]:
    if step.fluid is None:
        return []
    unit = step.fluid.capacity.unit
    full = plain(units.express(arithmetic.to_level(step.fluid), unit))
    verb = "should come out" if step.fluid.drains else "fills it"
    return [f"{step.fluid.name}, what {verb} is {wording.quantity(full, unit)}"]


def _clamp_loads(fasteners: list[Fastener], tightens: list[Tighten]) -> list[str]:
    """Word what each torque gives: clamp load, and its share of the bolt's proof load."""
    said = []
    for tighten in tightens:
        for one in fasteners:
            sane = arithmetic.sanity(one, tighten) if one.name == tighten.fastener else None
            if sane is not None:
                load = wording.digits(Decimal(f"{units.express(sane.load, 'kN'):.0f}"))
                share = wording.digits(Decimal(f"{sane.share * 100:.0f}"))
                said.append(
                    f"{one.name}, {load} kilonewtons by reckoning, {share} percent of proof load"
                )
    return said


def _threads(fasteners: list[Fastener]) -> list[str]:
    """Word how much thread each bolt engages, and how much it needs."""
    said = []
    for one in fasteners:
        length = arithmetic.bolt_length(one)
        if length is not None:
            engaged, needed = (
                wording.quantity(Decimal(f"{units.express(value, 'mm'):.0f}"), "mm")
                for value in (length.engaged, length.needed)
            )
            said.append(f"{one.name}, {engaged} of thread goes in, of at least {needed} needed")
    return said


def _usual_torques(fasteners: list[Fastener]) -> str:
    """Word what is usual where the procedure gives no torque, as no more than that."""
    said = []
    for one in fasteners:
        usual = arithmetic.recommended(one)
        if usual is not None:
            said.append(
                f"{one.name}, {wording.thread(one.thread)}, threads dry, {wording.amount(usual)}"
            )
    if not said:
        return ""
    return (
        ". Ask for the maker's. Usual for the size and grade, and no more than that: "
        + wording.listing(said)
    )


def _torque_in(tighten: Any, unit: str | None) -> str:
    if unit is None or unit == tighten.torque.unit:
        return wording.passes(tighten)
    torque = tighten.torque
    value = units.convert(float(torque.value), torque.unit, unit)
    # Three figures: as fine as a wrench's scale is read, and no finer than it is worth.
    places = 0 if value >= 100 else 1
    rounded = Decimal(f"{value:.{places}f}")
    return f"{wording.quantity(rounded, unit)}, which is {wording.amount(torque)}"
