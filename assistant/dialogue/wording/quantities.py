"""Numbers, quantities, limits, times and lists as they are said."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date as Day
from datetime import datetime
from decimal import Decimal

from assistant.dialogue import facts
from assistant.grammar import nouns, numbers, units
from assistant.procedure.model import Limits, Quantity
from assistant.trade import units as units_of_trade

digits = numbers.spell_digits
count = numbers.cardinal

# Units that nobody says at the bench, so that no grammar has them.
_SELDOM = {"mbar·l/s": "millibar litres per second", "mbar": "millibar", "Pa": "pascals"}


def quantity(value: Decimal, unit: str | None) -> str:
    """Word a critical value: "one four newton metres"."""
    said = digits(value)
    return f"{said} {unit_of(unit, value)}" if unit else said


def unit_of(unit: str, value: Decimal | int = 2) -> str:
    """Word a unit as it is said after a value, of several where none is given."""
    try:
        return units.spoken(unit, value)
    except ValueError:
        # A unit from a procedure that has no word: better as written than not at all.
        return _SELDOM.get(unit, unit)


def amount(of: Quantity | facts.Amount) -> str:
    """Word a quantity as a critical value."""
    return quantity(of.value, of.unit)


def in_both(value: Decimal, unit: str | None, asked: str | None) -> str:
    """Word a value, and beside it the same in the unit that was asked for, where that is another.

    A torque is converted to three figures, as fine as a wrench is read; anything else to four
    decimals.
    """
    said = quantity(value, unit)
    if (
        unit is None
        or asked is None
        or asked == unit
        or not units_of_trade.same_dimension(unit, asked)
    ):
        return said
    number = units_of_trade.convert(float(value), unit, asked)
    if units_of_trade.same_dimension(asked, "N·m"):
        converted = Decimal(units_of_trade.number(number))
    else:
        converted = Decimal(f"{number:.4f}").normalize() + 0
    return f"{said}, {quantity(converted, asked)}"


def limits(of: Limits | facts.Bounds | None) -> str:
    """Word limits: "two four point nine five to two five point zero five millimetres"."""
    if of is not None and of.least and of.most:
        low = digits(of.least.value) if of.least.unit == of.most.unit else amount(of.least)
        return f"{low} to {amount(of.most)}"
    if of is not None and of.least:
        return f"at least {amount(of.least)}"
    if of is not None and of.most:
        return f"at most {amount(of.most)}"
    return "no limits are given"


def percent(of: Decimal | int) -> str:
    """Word a share: "six three percent"."""
    return f"{digits(of)} percent"


def sentence(text: str) -> str:
    """Make a sentence of it: a capital, and a full stop where nothing ends it."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".?!" else ".")


def inside(text: str) -> str:
    """Return a sentence as it stands inside another: no stop, no capital but in a name."""
    text = text.strip().rstrip(".?!")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def listing(things: Iterable[str], last: str = "and") -> str:
    """Join with commas and a final "and"; no comma goes before it."""
    items = list(things)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def several(number: int, one: str, many: str | None = None) -> str:
    """Word a count of things: "one bush", "four bushes"; `many` goes before the usual plural."""
    return f"{count(number)} {nouns.counted(number, one, many)}"


def are(number: int) -> str:
    """Return the verb that goes with so many: "none is", "one is", "two are"."""
    return "is" if number < 2 else "are"


_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july", "august", "september"),
    *("october", "november", "december"),
)


def date(day: Day) -> str:
    """Word a day: "four march two zero three one"."""
    return f"{count(day.day)} {_MONTHS[day.month - 1]} {digits(day.year)}"


def clock(at: datetime) -> str:
    """Word a time of day in four digits, as radio does: "zero nine three zero"."""
    return " ".join(digits(figure) for figure in f"{at:%H%M}")


def duration(seconds: float) -> str:
    """Word a time span in its largest unit and the next: "two days and three hours"."""
    left = max(0, round(seconds))
    said: list[str] = []
    for size, name in ((86400, "day"), (3600, "hour"), (60, "minute"), (1, "second")):
        number, left = divmod(left, size)
        if said:
            # Nobody says "two days and one second".
            return listing(said + ([several(number, name)] if number else []))
        if number:
            said.append(several(number, name))
    return listing(said) or "no time"


def figures(text: str) -> str:
    """Return a text for the eye with its numbers as words; whole ones as counts."""

    def worded(match: re.Match[str]) -> str:
        number = match[0]
        whole = number.isdecimal() and len(number) <= 6 and not number.startswith("0")
        return count(int(number)) if whole else digits(number)

    return re.sub(r"\d+(?:\.\d+)?", worded, text)
