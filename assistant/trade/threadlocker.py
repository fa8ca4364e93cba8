"""Thread-locker: when a joint may be handled, filled, pressure tested and run.

The cure times come from a table. A shop replaces it with the data sheet of its own product; the
table that ships here is for a generic anaerobic and says so.
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
    """A data sheet: cure times in minutes at the reference conditions, and factors on them."""

    name: str
    source: str
    strengths: Mapping[str, tuple[float, float]]
    """Strength to the times of handling and full cure, in minutes."""
    temperature: tuple[tuple[float, float], ...]
    """Rows of (temperature in °C, factor), with rising temperature."""
    gap: tuple[tuple[float, float], ...]
    """Rows of (gap in mm, factor), with rising gap."""
    metal: Mapping[str, float]
    """Material of the threads to its factor."""
    primer: float
    """Factor with primer (activator), whatever the metal."""
    uses: Mapping[str, str]
    """Use of the joint to the cure that it needs, "handling" or "full"."""
    release: Mapping[str, str]
    """Strength to a sentence on how to undo the joint."""


def read_table(text: str) -> Table:
    """Read a table from YAML text, laid out as `threadlocker.yaml`.

    Raises:
        AssistantError: an entry is missing, of the wrong kind, or not above 0.
    """
    from ruamel.yaml.error import YAMLError

    from assistant import plain_yaml

    try:
        data: Any = plain_yaml.load(text)
    except YAMLError:
        raise AssistantError(
            "The thread-locker table is not readable YAML: lay it out as the generic one."
        ) from None
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
    """Return the generic table that ships with the assistant."""
    return read_table(SHIPPED.read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Cure:
    """Cure times of one joint, counted from tightening."""

    handling: Quantity
    full: Quantity
    table: Table
    strength: str

    def wait_for(self, use: str) -> Quantity:
        """Return the time from tightening until the joint is ready for a use.

        Raises:
            AssistantError: the table has no such use.
        """
        if use not in self.table.uses:
            known = ", ".join(self.table.uses)
            raise AssistantError(
                f"The thread-locker table does not cover the use {use!r}: use {known}."
            )
        return self.full if self.table.uses[use] == "full" else self.handling

    def ready(self, use: str, elapsed: Quantity) -> bool:
        """Whether the joint is ready for a use when `elapsed` has passed since tightening."""
        units.require(elapsed, "time", "time since tightening")
        return units.express(elapsed, "min") >= units.express(self.wait_for(use), "min") - 1e-9

    @property
    def release(self) -> str:
        """How to undo the joint later, as a sentence; for high strength it has a caution."""
        return self.table.release[self.strength]

    def sentence(self) -> str:
        """Return the cure times as a sentence to speak."""
        return (
            f"Handle after {_time(self.handling)}, full cure after {_time(self.full)} "
            f"({self.table.source})."
        )


def _time(value: Quantity) -> str:
    minutes = units.express(value, "min")
    return units.show(value, "min", 2) if minutes < 120 else units.show(value, "h", 2)


def _between(rows: tuple[tuple[float, float], ...], at: float, what: str) -> float:
    """Interpolate a factor geometrically, as cure rates change; refuse to extrapolate."""
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
    """Return the handling time and the full-cure time of a joint.

    Args:
        strength: "low", "medium" or "high".
        temperature: of the joint while it cures.
        gap: between the threads; 0.05 mm if left out.
        primer: whether primer (activator) was used. It also makes up for a passive metal.
        metal: material of the threads, as the table names it.
        table: a product's data sheet; the generic one if left out.

    Raises:
        AssistantError: the table does not cover a value, or a quantity is of the wrong kind.
    """
    sheet = shipped() if table is None else table
    if strength not in sheet.strengths:
        known = ", ".join(sheet.strengths)
        raise AssistantError(f"There is no thread-locker strength {strength!r}: use {known}.")
    if metal not in sheet.metal:
        known = ", ".join(sheet.metal)
        raise AssistantError(f"The thread-locker table does not cover {metal!r}: use {known}.")
    units.require(temperature, "temperature", "temperature")
    width = units.quantity(0.05, "mm") if gap is None else units.require(gap, "length", "gap")
    factor = _between(sheet.temperature, units.express(temperature, "°C"), "temperature in °C")
    factor *= _between(sheet.gap, units.express(width, "mm"), "gap in mm")
    factor *= sheet.primer if primer else sheet.metal[metal]
    handling, full = (minutes * factor for minutes in sheet.strengths[strength])
    return Cure(units.quantity(handling, "min"), units.quantity(full, "min"), sheet, strength)
