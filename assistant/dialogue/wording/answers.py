"""Answers to questions about the present step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from assistant.dialogue import facts, intents
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import (
    amount,
    count,
    digits,
    figures,
    limits,
    listing,
    percent,
    quantity,
    sentence,
    several,
)
from assistant.procedure.model import Fastener, Fluid, Mix, Quantity, Reading, Tighten

_MISSING: dict[intents.Topic, str] = {
    intents.Topic.TORQUE: "no torque",
    intents.Topic.LOCKER: "no thread locker",
    intents.Topic.TOOL: "no special tool",
    intents.Topic.PARTS: "no parts",
    intents.Topic.BAG: "no bag",
    intents.Topic.COUNT: "nothing to count",
    intents.Topic.HAZARD: "no caution of its own. The usual care applies",
    intents.Topic.SIZE: "no fastener",
    intents.Topic.LIMITS: "no reading",
    intents.Topic.ORDER: "no order",
    intents.Topic.HOW: "nothing about which way round",
    intents.Topic.DETAIL: "no more detail",
    intents.Topic.SETTING: "no torque",
    intents.Topic.WRENCH: "no torque",
    intents.Topic.MIX: "nothing to mix",
    intents.Topic.CLAMP: "no torque on a fastener of a known grade",
    intents.Topic.THREAD: "no fastener whose hole or length is given",
    intents.Topic.QUANTITY: "nothing to fill",
    intents.Topic.WHY: "no reason given. Say more detail",
}


def nothing(number: int, topic: intents.Topic) -> str:
    """Word that a step has nothing of what was asked for."""
    return sentence(f"{steps.name(number)} has {_MISSING[topic]}")


def no_wrenches(number: int) -> str:
    """Word that the procedure lists no wrenches."""
    return sentence(f"{steps.name(number)} has no list of wrenches")


def usual_torques(number: int, usual: Sequence[tuple[Fastener, Quantity]]) -> str:
    """Word what is usual where the procedure gives no torque, as no more than that."""
    told = listing(
        f"{one.name}, {steps.thread(one.thread)}, threads dry, {amount(torque)}"
        for one, torque in usual
    )
    return sentence(
        f"{steps.name(number)} has no torque. Ask for the maker's. "
        f"Usual for the size and grade, and no more than that: {told}"
    )


def usual_by_class(of: Fastener, usual: Sequence[tuple[str, Quantity]]) -> str:
    """Word what is usual for a size, by the class on the head, as no more than that."""
    told = listing(f"marked {figures(grade)}, {amount(torque)}" for grade, torque in usual)
    return sentence(
        f"usual for {steps.thread(of.thread)}, threads dry, and not the maker's: {told}"
    )


# Tightening


def torque(tighten: Tighten) -> str:
    """Word the torques of a tightening."""
    return sentence(f"{tighten.fastener}, {steps.passes(tighten)}")


def torque_in(tighten: Tighten, converted: Decimal, unit: str) -> str:
    """Word a torque in the unit that was asked for, then as the procedure has it."""
    asked = amount(tighten.torque)
    return sentence(f"{tighten.fastener}, {quantity(converted, unit)}, which is {asked}")


def at(number: int, told: str, where: Sequence[str] = ()) -> str:
    """Word an answer about another step: its number first, and for which answers it applies."""
    only = f", for {listing(where, 'or')}" if where else ""
    return f"{sentence(steps.name(number) + only)} {told}"


def no_torque_of(fastener: str) -> str:
    """Word that the procedure has no torque for a fastener."""
    return sentence(f"the procedure has no torque for the {fastener}. Ask for the maker's")


def locker(tighten: Tighten) -> str:
    """Word the thread-locker of a tightening, or that nobody said."""
    return sentence(f"{tighten.fastener}, {steps.locker(tighten) or steps.NOT_STATED}")


def order(fastener: str, of: str | tuple[int, ...] | None, bolts: Sequence[int] = ()) -> str:
    """Word the order that bolts are tightened in, with their numbers where they are known."""
    numbers = f", {listing(map(count, bolts))}" if bolts else ""
    return sentence(f"{fastener}, {steps.order(of)}{numbers}")


def order_of_loosening(fastener: str, bolts: Sequence[int]) -> str:
    """Word the order that bolts are loosened in."""
    numbers = listing(map(count, bolts))
    return sentence(f"{fastener}, loosen in the reverse of the tightening order, {numbers}")


def release(fastener: str, how: str) -> str:
    """Word how a joint with high strength thread-locker is undone: a caution for the next hand."""
    return sentence(f"{fastener}, high strength thread locker. {figures(how)}")


def clamp_load(fastener: str, kilonewtons: Decimal, share: Decimal) -> str:
    """Word what a torque gives: clamp load, and its share of the bolt's proof load."""
    load = f"{digits(kilonewtons)} kilonewtons"
    return sentence(f"{fastener}, {load} by reckoning, {percent(share)} of proof load")


def thread_engaged(fastener: str, engaged: Decimal, needed: Decimal) -> str:
    """Word how many millimetres of thread a bolt engages, and how many it needs."""
    goes_in, least = quantity(engaged, "mm"), quantity(needed, "mm")
    return sentence(f"{fastener}, {goes_in} of thread goes in, of at least {least} needed")


# Wrenches


def setting(
    wrench: str,
    to: facts.Amount,
    error: Decimal,
    at_nut: facts.Amount | None,
    fastener: str | None = None,
) -> str:
    """Word what to set a wrench to, the number last; `error` is what rounding adds, in percent.

    With an adapter `at_nut` is what the fastener then gets, which is another torque.
    """
    off = ""
    if abs(error) >= Decimal("0.05"):
        off = f"{percent(abs(error))} {'high' if error > 0 else 'low'}, "
    named = f"{fastener}, " if fastener else ""
    gives = f"with the adapter, for {amount(at_nut)} at the nut, " if at_nut else ""
    return sentence(f"{named}{wrench}, {gives}{off}set {amount(to)}")


def unsuited(fastener: str, asked: Quantity, wrench: str, instead: str | None) -> str:
    """Word that the wrench named is not good for a torque; `instead` is the setting of another."""
    other = f"use the {instead[:1].lower()}{instead[1:]}" if instead else "and no other suits"
    out = f"{amount(asked)} is outside the good range of the {wrench}"
    return sentence(f"{fastener}, {out}, {other}")


def no_wrench(fastener: str, asked: Quantity | None = None) -> str:
    """Word that no wrench of the list suits."""
    torque = f" {amount(asked)}" if asked else ""
    return sentence(f"{fastener}, no wrench of the list suits{torque}")


def band(
    fastener: str,
    wrench: str,
    to: facts.Amount,
    least: Decimal,
    most: Decimal,
    at_nut: bool = False,
) -> str:
    """Word what a wrench may really give at its setting (its class by ISO 6789-1); `at_nut`: with
    an adapter, so that it is not what the scale shows.
    """
    where = " at the nut" if at_nut else ""
    between = f"{digits(least)} to {quantity(most, to.unit)}{where}"
    return sentence(f"{fastener}, {wrench}; set to {amount(to)} it gives {between}")


def no_band(fastener: str, wrench: str, to: facts.Amount) -> str:
    """Word that a wrench's class says nothing of such a setting."""
    return sentence(f"{fastener}, {wrench}; its class does not cover {amount(to)}")


def cannot_say(why: str) -> str:
    """Word why a sum cannot be done; `why` is the sum's own sentence."""
    return sentence(figures(why))


# Parts and bags


def tool(name: str) -> str:
    """Word a tool of the step."""
    return sentence(name)


def into_bag(number: int) -> str:
    """Word the bag that what comes off goes into."""
    return f"Into bag {count(number)}."


def from_bag(number: int) -> str:
    """Word the bag that the hardware comes from."""
    return f"From bag {count(number)}."


def size(one: Fastener) -> str:
    """Word a fastener in full."""
    return sentence(steps.fastener(one))


def reading_limits(of: Reading) -> str:
    """Word the limits of a reading."""
    return sentence(f"{of.name}, {limits(of.limits)}")


def how(part: str, way: str) -> str:
    """Word which way round a part goes in."""
    return sentence(f"{part}, {way}")


def detail(text: str) -> str:
    """Word more detail of the step."""
    return sentence(text)


def why(reason: str) -> str:
    """Word the reason for the step."""
    return sentence(reason)


# Parts, asked from anywhere


def in_bag(number: int, contents: Sequence[facts.Parts]) -> str:
    """Word what is in a bag."""
    return sentence(f"in bag {count(number)}: {_held(contents)}")


def bag_opened(number: int, contents: Sequence[facts.Parts], at: int) -> str:
    """Word what was put into a bag, and the number of the step at which it was opened."""
    held = _held(contents)
    return sentence(f"bag {count(number)} was opened at {steps.name(at)}. It held {held}")


def bag_empty(number: int) -> str:
    """Word that all that was put into a bag is missing or away."""
    return f"Bag {count(number)} has nothing left in it: what was put in is missing or away."


def _held(contents: Sequence[facts.Parts]) -> str:
    return steps.all_of(contents) or "what came off, which the procedure does not list"


def no_such_bag(number: int) -> str:
    """Word that no such bag was recorded."""
    return f"No bag {count(number)} is recorded."


def on_order(parts: Sequence[facts.Parts]) -> str:
    """Word what is still to come."""
    if not parts:
        return "Nothing is on order."
    return sentence(f"still to come: {steps.all_of(parts)}")


def ordered(parts: facts.Parts, counts: Mapping[facts.OrderState, int]) -> str:
    """Word what became of an order, by its states."""
    states = listing(f"{count(number)} {_STATES[state]}" for state, number in counts.items())
    return sentence(f"{parts.name} on order: {states}")


_STATES: dict[facts.OrderState, str] = {
    "asked": "asked for",
    "ordered": "ordered",
    "received": "received",
    "fitted": "installed",
    "cancelled": "cancelled",
}


def fitted_at(parts: facts.Parts, number: int) -> str:
    """Word that parts were fitted, and at which step."""
    return sentence(f"{steps.parts(parts)} fitted at {steps.name(number)}")


def at_step(name: str, number: int, *, comes_off: bool, done: bool) -> str:
    """Word at which step a part comes off, or a fastener is, where nothing was recorded of it."""
    step = steps.name(number)
    if not comes_off:
        return sentence(f"the {name} belongs to {step}. Nothing is recorded of where it is")
    if done:
        return sentence(f"the {name} came off at {step}, into no bag")
    return sentence(f"still in place: the {name} comes off at {step}")


def nothing_of(name: str) -> str:
    """Word that nothing is known of where a part is."""
    return sentence(f"nothing is recorded of the {name}")


# Readings


def of_set(name: str, number: int, use: str, value: Decimal, unit: str) -> str:
    """Word the mean, the greatest or the least of so many readings of one thing."""
    return sentence(f"{name}, {several(number, 'reading')}, {use} {quantity(value, unit)}")


def not_read_yet(name: str) -> str:
    """Word that a reading was not taken yet."""
    return sentence(f"{name} was not measured yet. Say reading {name}, and the value")


# Fluids


def mix(of: Mix, first: Decimal, second: Decimal) -> str:
    """Word how much of each goes into a mixture, in the unit of the whole."""
    unit = of.total.unit
    one, other = quantity(first, unit), quantity(second, unit)
    return sentence(f"for {amount(of.total)}, {of.first} {one} and {of.second} {other}")


def fill(of: Fluid, full: Decimal) -> str:
    """Word how much fluid should come out or goes in, in the unit of its capacity."""
    verb = "should give" if of.drains else "takes"
    return sentence(f"{of.name}, the machine {verb} {quantity(full, of.capacity.unit)}")
