"""Calls the trade's calculations (`assistant.trade`) with the fields of a procedure.

The calculations know nothing of procedures. This module turns a procedure's fields into the
arguments that they take, and fills in what the procedure leaves out.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.procedure.model import (
    Cure,
    Fastener,
    Fluid,
    Loosen,
    Procedure,
    Quantity,
    Tighten,
    Wait,
    Wrench,
)
from assistant.trade import fasteners, fluids, order, threadlocker, units
from assistant.trade import wrench as wrenches

if TYPE_CHECKING:
    from assistant.trade.units import Quantity as Amount

REFERENCE = Quantity.model_validate({"value": "22", "unit": "°C"})
"""Temperature of a joint if none is given: the reference temperature of thread-locker data
sheets."""


def quantity(amount: Quantity) -> Amount:
    """Return a procedure's quantity as a `pint` quantity, to calculate with."""
    return units.quantity(float(amount.value), amount.unit)


def maybe(amount: Quantity | None) -> Amount | None:
    """Return a procedure's quantity as a `pint` quantity, or None for None."""
    return None if amount is None else quantity(amount)


# fasteners


def sanity(fastener: Fastener, tighten: Tighten) -> fasteners.Sanity | None:
    """Judge a torque by the bolt's strength. Returns None if the procedure gives no grade, or does
    not say what is on the threads.

    Raises AssistantError for an unknown thread or grade.
    """
    if fastener.grade is None:
        return None
    thread = fasteners.thread(fastener.thread)
    strength = fasteners.grade(fastener.grade, thread)
    state = "thread-locker" if tighten.locker else tighten.lubricated
    if state == "not stated":
        return None
    return fasteners.sanity(quantity(tighten.torque), thread, strength, state)


def bolt_length(fastener: Fastener) -> fasteners.Length | None:
    """Judge a bolt's length by its grip and hole. Returns None if the procedure lacks one of them.

    Raises AssistantError for an unknown thread.
    """
    if fastener.length is None or fastener.grip is None:
        return None
    if fastener.hole_depth is None and fastener.engaged_in is None:
        return None
    return fasteners.bolt_length(
        fasteners.thread(fastener.thread),
        quantity(fastener.length),
        quantity(fastener.grip),
        maybe(fastener.washer),
        maybe(fastener.hole_depth),
        fastener.engaged_in or "steel",
    )


def recommended(fastener: Fastener) -> Quantity | None:
    """Return the usual torque for a fastener, dry, in whole N·m, for use where none is given.

    Returns None for a fastener without a grade. Raises AssistantError for an unknown thread or
    grade.
    """
    if fastener.grade is None:
        return None
    thread = fasteners.thread(fastener.thread)
    torque = fasteners.recommended_torque(thread, fasteners.grade(fastener.grade, thread))
    return Quantity(value=Decimal(round(units.express(torque, "N·m"))), unit="N·m")


# fluids


def to_level(fluid: Fluid) -> Amount:
    """Return the volume that fills an empty sump to the fluid's level."""
    return fluids.to_level(quantity(fluid.capacity), float(fluid.level))


# order


def bolts(of: Tighten | Loosen, count: int) -> tuple[int, ...]:
    """Return the bolts' numbers, from 1, in the order to tighten or to loosen them.

    Raises AssistantError for an order that does not work with this number of bolts.
    """
    match of.order:
        case "star":
            found = order.star(count)
        case "spiral":
            rows = of.rows or 0
            if rows < 1 or count % rows:
                raise AssistantError(
                    f"A spiral of {count} bolts needs 'rows': a number that divides them evenly."
                )
            found = order.spiral(rows, count // rows)
        case tuple():
            found = order.given(of.order, count)
        case None | "circle" | "as numbered":
            found = order.circle(count)
        case _:
            raise AssistantError(
                f"There is no order '{of.order}': write star, spiral, circle, as numbered, "
                "or the bolts' numbers in order."
            )
    return order.loosen(found) if isinstance(of, Loosen) else found


def turns(of: Tighten, count: int) -> tuple[order.Turn, ...]:
    """Return every bolt of every pass of a tightening, in order.

    Raises AssistantError as `bolts` does, and for passes that do not rise to the torque.
    """
    torque = quantity(of.torque)
    shares = [units.number_like(quantity(t), torque) / float(of.torque.value) for t in of.passes]
    angles = (of.angle, *of.then_angles) if of.angle else ()
    in_order = bolts(of, count)
    last = () if not of.circular_pass else order.circle(count) if _ring(of) else in_order
    return order.plan(
        in_order,
        torque,
        (*shares, 1.0),
        last=last,
        angles=[quantity(angle) for angle in angles],
    )


def final_pass(of: Tighten, count: int) -> tuple[int, ...]:
    """Return the order of a last pass at full torque that the joint would profit from.

    Returns an empty tuple if it would not, or if an angle follows the torque. Raises AssistantError
    as `bolts` does.
    """
    if of.angle is not None:
        return ()
    return order.final(bolts(of, count), "circle" if _ring(of) else "field")


def _ring(of: Tighten) -> bool:
    """Whether the order says that the bolts lie on a circle; a list of numbers does not say."""
    return of.order in ("star", "circle")


# wrenches


def wrench(tool: Wrench) -> wrenches.Wrench:
    """Return a wrench of the procedure to calculate with.

    Raises AssistantError for an unknown class, or a range or graduation that cannot be.
    """
    return wrenches.Wrench(
        tool.name,
        quantity(tool.least),
        quantity(tool.most),
        quantity(tool.graduation),
        tool.kind,
        maybe(tool.length),
        tool.calibrated,
        tool.interval_months,
    )


def at_drive(torque: Quantity, tighten: Tighten, of: wrenches.Wrench) -> Amount:
    """Return the torque at the wrench's drive that gives `torque` at the fastener.

    Raises AssistantError if there is an adapter and the wrench's length is unknown.
    """
    wanted = quantity(torque)
    if tighten.adapter is None:
        return wanted
    return wrenches.at_drive(
        wanted, _length(of), quantity(tighten.adapter), maybe(tighten.adapter_angle)
    )


def at_fastener(shown: Amount, tighten: Tighten, of: wrenches.Wrench) -> Amount:
    """Return the torque at the fastener when the wrench shows `shown` at its drive.

    Raises AssistantError if there is an adapter and the wrench's length is unknown.
    """
    if tighten.adapter is None:
        return shown
    return wrenches.at_fastener(
        shown, _length(of), quantity(tighten.adapter), maybe(tighten.adapter_angle)
    )


def _length(of: wrenches.Wrench) -> Amount:
    if of.length is None:
        raise AssistantError(
            f"The length of {of.name} is missing, and an adapter needs it: add 'length' to it."
        )
    return of.length


def best_setting(
    torque: Quantity, tighten: Tighten, tools: Iterable[Wrench]
) -> wrenches.Setting | None:
    """Return the setting of the wrench that suits the torque and rounds it least.

    Returns None if no wrench suits, or none of known length if there is an adapter.
    """
    found = []
    for tool in tools:
        one = wrench(tool)
        if tighten.adapter is not None and one.length is None:
            continue
        drive = at_drive(torque, tighten, one)
        if one.suits(drive):
            found.append(wrenches.setting(drive, one))
    return min(
        found,
        key=lambda s: (round(abs(s.error_share), 6), units.express(s.wrench.most, "N·m")),
        default=None,
    )


# thread-locker


@lru_cache(maxsize=64)
def _cure_seconds(of: Cure) -> int:
    # Cached because every step asks for it, and it never changes.
    cure = threadlocker.cure(
        of.strength,
        quantity(of.temperature or REFERENCE),
        maybe(of.gap),
        primer=of.primer,
        metal=of.metal,
        table=_table(of.table),
    )
    if of.use in ("handling", "full"):
        time = cure.full if of.use == "full" else cure.handling
    else:
        time = cure.wait_for(of.use)
    return round(units.express(time, "s"))


def wait_seconds(wait: Wait) -> int:
    """Return the length of a wait in seconds.

    Raises AssistantError for a cure that the table does not cover, or a wait without a time.
    """
    if wait.locker is not None:
        return _cure_seconds(wait.locker)
    if wait.time is None:
        raise AssistantError(f"The wait {wait.purpose} has neither a time nor a thread-locker.")
    return round(units.convert(float(wait.time.value), wait.time.unit, "s"))


def release(strength: str, procedure: Procedure | None = None) -> str:
    """Return how to undo a joint with thread-locker of this strength, as a sentence.

    Raises AssistantError if the shop's own table does not say.
    """
    own = procedure.locker_table if procedure is not None else None
    table = _table(json.dumps(own)) if own is not None else threadlocker.shipped()
    try:
        return table.release[strength]
    except KeyError:
        raise AssistantError(
            f"The thread-locker table {table.name} does not say how {strength} strength is undone."
        ) from None


@lru_cache(maxsize=8)
def _table(text: str | None) -> threadlocker.Table:
    return threadlocker.shipped() if text is None else threadlocker.read_table(text)
