"""Numbers of a record that follow from the procedure: limits in a unit, a wrench's setting."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from pydantic import ValidationError

from assistant.dialogue import events, facts
from assistant.errors import AssistantError
from assistant.procedure import arithmetic
from assistant.procedure.model import Procedure, Quantity, Tighten
from assistant.trade import units, wrench


@dataclass(frozen=True)
class Setting:
    """What to set which wrench to."""

    wrench: str
    number: Decimal
    unit: str


def converted(number: Decimal, unit: str, to: str) -> Decimal | None:
    """Return the number in another unit, to nine digits; in its own exactly. None for no such."""
    if unit == to:
        return number
    try:
        return _decimal(units.convert(float(number), unit, to))
    except AssistantError:
        return None


def in_unit(amount: facts.Amount | None, unit: str) -> Decimal | None:
    """Return the number of `unit` in an amount; None for none, or one that it does not measure."""
    return converted(amount.value, amount.unit, unit) if amount else None


def setting(event: events.TorqueRecorded, tighten: Tighten, procedure: Procedure) -> Setting | None:
    """Return what to set the wrench to for a torque that was recorded.

    The wrench is the one that the event names, or else the one of the procedure's list that suits
    best. None for an angle, and where no wrench suits or an adapter's sum cannot be done.
    """
    named = procedure.wrench(event.wrench) if event.wrench else None
    try:
        asked = Quantity(value=event.asked, unit=event.asked_unit)
        if not units.same_dimension(event.asked_unit, tighten.torque.unit):
            return None
        found = arithmetic.best_setting(asked, tighten, [named] if named else procedure.wrenches)
    except (AssistantError, ValidationError):
        # A journal that others wrote may hold a number that no procedure can.
        return None
    return _of(found) if found else None


def _of(found: wrench.Setting) -> Setting:
    unit = units.unit_of(found.set_to)
    return Setting(found.wrench.name, _decimal(units.express(found.set_to, unit)), unit)


def _decimal(number: float) -> Decimal:
    return Decimal(f"{number:.9g}")
