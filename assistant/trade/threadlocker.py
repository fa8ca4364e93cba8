"""Thread-locker: when a joint may be handled, filled, pressure tested and run.

The figures come from a table that a shop replaces with its own product's data sheet; the one that
is shipped is a generic anaerobic and says so.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.errors import AssistantError
from assistant.trade import units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

SHIPPED = Path(__file__).with_name("threadlocker.yaml")


@dataclass(frozen=True)
class Table:
    """A data sheet: times in minutes at the reference, and what multiplies them."""

    name: str
    source: str
    strengths: Mapping[str, tuple[float, float]]
    """Handling and full cure in minutes."""
    temperature: tuple[tuple[float, float], ...]
    """°C and factor, rising in °C."""
    gap: tuple[tuple[float, float], ...]
    """Gap in mm and factor, rising in mm."""
    metal: Mapping[str, float]
    primer: float
    uses: Mapping[str, str]
    """What may be done, and whether it takes "handling" or "full" cure."""
    release: Mapping[str, str]


def read_table(text: str) -> Table:
    """Read a table from YAML, laid out as `threadlocker.yaml`.

    Raises:
        AssistantError: an entry missing, of the wrong kind, or not above 0.
    """
    from ruamel.yaml.error import YAMLError

    from assistant import plain_yaml

    try:
        data: Any = plain_yaml.load(text)
    except YAMLError:
        raise AssistantError("The thread-locker table is not readable YAML.") from None
    try:
        table = Table(
            str(data["name"]),
            str(data["source"]),
            {
                name: (_minutes(row["handling"]), _minutes(row["full"]))
                for name, row in data["strengths"].items()
            },
            _factors(data["temperature"], "°C"),
            _factors(data["gap"], "mm"),
            {name: _positive(factor) for name, factor in data["metal"].items()},
            _positive(data["primer"]),
            {str(name): str(cure) for name, cure in data["uses"].items()},
            {str(name): str(text) for name, text in data["release"].items()},
        )
    except (KeyError, TypeError, AttributeError, ValueError) as error:
        raise AssistantError(f"The thread-locker table lacks or misstates {error}.") from None
    if set(table.uses.values()) - {"handling", "full"}:
        raise AssistantError("The thread-locker table's uses take either handling or full cure.")
    if any(handling > full for handling, full in table.strengths.values()):
        raise AssistantError("The thread-locker table has a full cure shorter than handling.")
    return table


def _minutes(text: Any) -> float:
    value = units.parse_quantity(str(text))
    return units.express(units.require(value, "time", "cure time", above=0), "min")


def _positive(value: Any) -> float:
    number = float(value)
    if not 0 < number < math.inf:
        raise ValueError(f"a factor above 0 ({value})")
    return number


def _factors(rows: Mapping[Any, Any], unit: str) -> tuple[tuple[float, float], ...]:
    return tuple(
        sorted(
            (units.express(units.parse_quantity(str(at)), unit), _positive(factor))
            for at, factor in rows.items()
        )
    )


@cache
def shipped() -> Table:
    """Return the generic table that comes with the assistant."""
    return read_table(SHIPPED.read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Cure:
    """Times from tightening."""

    handling: Quantity
    full: Quantity
    table: Table
    strength: str

    def wait_for(self, use: str) -> Quantity:
        """Return the time from tightening until the joint may be put to a use.

        Raises:
            AssistantError: no such use in the table.
        """
        if use not in self.table.uses:
            known = ", ".join(self.table.uses)
            raise AssistantError(f"The table says nothing of {use!r}: it knows {known}.")
        return self.full if self.table.uses[use] == "full" else self.handling

    def ready(self, use: str, elapsed: Quantity) -> bool:
        """Whether the joint may be put to a use so long after it was tightened."""
        units.require(elapsed, "time", "time since tightening")
        return units.express(elapsed, "min") >= units.express(self.wait_for(use), "min") - 1e-9

    @property
    def release(self) -> str:
        """How to undo the joint later; a caution for high strength."""
        return self.table.release[self.strength]

    def sentence(self) -> str:
        """Say it."""
        return (
            f"Handle after {_time(self.handling)}, full cure after {_time(self.full)} "
            f"({self.table.source})."
        )


def _time(value: Quantity) -> str:
    minutes = units.express(value, "min")
    return units.show(value, "min", 2) if minutes < 120 else units.show(value, "h", 2)


def _between(rows: tuple[tuple[float, float], ...], at: float, what: str) -> float:
    """Interpolate a factor geometrically, as rates of cure go; refuse to go outside the rows."""
    low, high = rows[0][0], rows[-1][0]
    if not low - 1e-9 <= at <= high + 1e-9:
        raise AssistantError(
            f"The thread-locker table holds for a {what} from {low:g} to {high:g}, not {at:g}."
        )
    for (left, below), (right, above) in itertools.pairwise(rows):
        if at <= right:
            part = min(max((at - left) / (right - left), 0.0), 1.0)
            return float(below ** (1 - part) * above**part)
    return rows[-1][1]


def cure(
    strength: str,
    temperature: Quantity,
    gap: Quantity | None = None,
    *,
    primer: bool = False,
    metal: str = "steel",
    table: Table | None = None,
) -> Cure:
    """Return handling and full-cure time.

    Args:
        strength: "low", "medium" or "high".
        temperature: of the joint while it cures.
        gap: between the threads; 0.05 mm where it is left out.
        primer: whether primer (activator) was put on; it makes up for a passive metal too.
        metal: what the threads are of, as the table names it.
        table: a product's data sheet; the generic one where it is left out.

    Raises:
        AssistantError: what the table does not cover, or wrong kinds.
    """
    sheet = shipped() if table is None else table
    if strength not in sheet.strengths:
        known = ", ".join(sheet.strengths)
        raise AssistantError(f"There is no thread-locker strength {strength!r}: use {known}.")
    if metal not in sheet.metal:
        known = ", ".join(sheet.metal)
        raise AssistantError(f"The thread-locker table knows no {metal!r}: use {known}.")
    units.require(temperature, "temperature", "temperature")
    width = units.quantity(0.05, "mm") if gap is None else units.require(gap, "length", "gap")
    factor = _between(sheet.temperature, units.express(temperature, "°C"), "temperature in °C")
    factor *= _between(sheet.gap, units.express(width, "mm"), "gap in mm")
    factor *= sheet.primer if primer else sheet.metal[metal]
    handling, full = (minutes * factor for minutes in sheet.strengths[strength])
    return Cure(units.quantity(handling, "min"), units.quantity(full, "min"), sheet, strength)
