"""Torque wrenches: their range, setting, accuracy and calibration, with or without an adapter.

Classes and permissible deviations are those of ISO 6789-1:2017 (hand torque tools, requirements for
conformance). The standard tests a wrench at 20, 60 and 100 % of its largest torque. Below a fifth
of the largest torque the class therefore guarantees nothing, and a torque off the scale cannot be
set at all.

Torque "at the drive" is what the wrench shows. Torque "at the fastener" is what the nut gets. The
two differ with an adapter, which makes the wrench longer; `at_drive` and `at_fastener` convert
between them.
"""

from __future__ import annotations

import math
from calendar import monthrange
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.trade import measure, units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

# Class to permissible deviation in percent: for a largest torque up to 10 N·m, and above it. Type I
# indicates the torque; type II is set to it and clicks. II A and the border of 10 N·m are in public
# manuals; the rest is from memory of ISO 6789-1:2017, 5.1.5.
DEVIATION: dict[str, tuple[float, float]] = {
    "I A": (6, 6),  # wrench, torsion or flexion bar
    "I B": (6, 4),  # wrench, rigid housing, with scale, dial or display
    "I C": (6, 4),  # wrench, rigid housing, electronic
    "I D": (6, 6),  # screwdriver, with scale, dial or display
    "I E": (6, 4),  # screwdriver, electronic
    "II A": (6, 4),  # wrench, adjustable, graduated or with display
    "II B": (6, 4),  # wrench, fixed adjustment
    "II C": (6, 4),  # wrench, adjustable, not graduated
    "II D": (6, 6),  # screwdriver, adjustable, graduated or with display
    "II E": (6, 6),  # screwdriver, fixed adjustment
    "II F": (6, 6),  # screwdriver, adjustable, not graduated
    "II G": (6, 6),  # wrench, flexion bar, adjustable, graduated
}
COVERED_FROM = 0.2
"""Share of the largest torque at which the tests of a wrench begin, so that its class applies.

ISO 6789: tests at 20, 60 and 100 % of the largest torque (a public manual of a wrench tester). The
2017 edition allows tests of some graduated wrenches from their lowest mark; a fifth is right for
all.
"""
INTERVAL_MONTHS = 12
"""Calibration interval in months if the user has set none (ISO 6789, from memory)."""
INTERVAL_CYCLES = 5000
"""Calibration interval in cycles; the first of the two to pass counts (ISO 6789, from memory)."""


class Range(StrEnum):
    """Whether a torque is on a wrench's scale, and covered by its class."""

    COVERED = "covered by the class"
    BELOW_CLASS = "below what the class covers"
    """On the scale, but below a fifth of the largest torque."""
    BELOW_SCALE = "below the scale"
    ABOVE_SCALE = "above the scale"


@dataclass(frozen=True)
class Wrench:
    """One torque wrench of the shop's list of tools.

    Raises AssistantError for an unknown class, or a range or graduation that cannot be.
    """

    name: str
    least: Quantity
    """Smallest torque on the scale, in the unit of the scale."""
    most: Quantity
    """Largest torque on the scale, in the unit of the scale."""
    graduation: Quantity
    """Smallest step of the scale, in the unit of the scale."""
    kind: str = "II A"
    """Class to ISO 6789-1."""
    length: Quantity | None = None
    """From the middle of the drive to the middle of the hand; needed with an adapter."""
    calibrated: date | None = None
    """Day of the last calibration; None if there is none on record."""
    interval_months: int = INTERVAL_MONTHS
    """Months that a calibration lasts."""

    def __post_init__(self) -> None:
        units.require(self.most, "torque", "wrench's largest torque", above=0)
        units.require(self.least, "torque", "wrench's least torque")
        units.require(self.graduation, "torque", "wrench's graduation", above=0)
        low, step = (units.number_like(value, self.most) for value in (self.least, self.graduation))
        if not 0 <= low < float(self.most.magnitude) or step > float(self.most.magnitude):
            raise AssistantError(
                f"The scale of the wrench {self.name} makes no sense: its smallest torque has to "
                "be below its largest, and its graduation no larger than that."
            )
        deviation(self.kind, self.most)

    @property
    def good_from(self) -> Quantity:
        """The smallest torque that this wrench's class covers, in the unit of its scale."""
        largest = float(self.most.magnitude)
        low = max(units.number_like(self.least, self.most), COVERED_FROM * largest)
        result: Quantity = units.registry().Quantity(low, self.most.units)
        return result

    def range_of(self, torque: Quantity) -> Range:
        """Return where a torque at the drive lies in this wrench's range.

        The ends of the range belong to it. Raises AssistantError if it is not a torque.
        """
        number = units.number_like(torque, self.most)
        slack = 1e-9 * abs(number)
        if number > float(self.most.magnitude) + slack:
            return Range.ABOVE_SCALE
        if number < units.number_like(self.least, self.most) - slack:
            return Range.BELOW_SCALE
        if number < float(self.good_from.magnitude) - slack:
            return Range.BELOW_CLASS
        return Range.COVERED

    def suits(self, torque: Quantity) -> bool:
        """Whether this wrench's class covers the torque at the drive."""
        return self.range_of(torque) is Range.COVERED


@dataclass(frozen=True)
class Setting:
    """What to set a wrench to, for a torque on its scale."""

    wanted: Quantity
    """The torque wanted at the drive."""
    wrench: Wrench
    set_to: Quantity
    """The nearest graduation, in the wrench's unit."""
    error: Quantity
    """`set_to` less `wanted`, in the wrench's unit."""
    range: Range
    """Covered by the class, or below what the class covers."""
    instead: Wrench | None
    """Another wrench of the list whose class covers the torque, if this one's does not."""

    @property
    def suits(self) -> bool:
        """Whether the wrench's class covers the torque."""
        return self.range is Range.COVERED

    @property
    def error_share(self) -> float:
        """The error as a share of the torque wanted."""
        return float(self.error.magnitude) / units.number_like(self.wanted, self.error)

    def sentence(self) -> str:
        """Return the setting as a sentence to speak."""
        if not self.suits:
            other = "use another wrench" if self.instead is None else f"use {self.instead.name}"
            return (
                f"{units.show(self.wanted)} is below what class {self.wrench.kind} covers for "
                f"{self.wrench.name}, from {units.show(self.wrench.good_from)}: {other}."
            )
        off = self.error_share * 100
        error = "exact" if abs(off) < 0.05 else f"{abs(off):.1f}% {'high' if off > 0 else 'low'}"
        return f"Set {units.show(self.set_to, digits=4)}, {error}."


def setting(torque: Quantity, wrench: Wrench, others: Iterable[Wrench] = ()) -> Setting:
    """Round a torque to the wrench's nearest graduation, down from halfway between two.

    Args:
        torque: the torque wanted at the drive, above 0, in any unit of torque.
        wrench: the wrench in hand.
        others: the shop's wrenches, to suggest another if this one does not suit.

    Raises:
        AssistantError: the torque is not above 0 or is off the wrench's scale. The message names a
            wrench of `others` that suits, if there is one.
    """
    units.require(torque, "torque", "torque", above=0)
    place = wrench.range_of(torque)
    instead = None if place is Range.COVERED else choose(torque, others)
    if place in (Range.BELOW_SCALE, Range.ABOVE_SCALE):
        other = "use another wrench" if instead is None else f"use {instead.name}"
        raise AssistantError(
            f"{units.show(torque)} is {place} of {wrench.name}, {units.show(wrench.least)} to "
            f"{units.show(wrench.most)}: {other}."
        )
    number = units.number_like(torque, wrench.most)
    start, step = (units.number_like(q, wrench.most) for q in (wrench.least, wrench.graduation))
    steps = math.ceil((number - start) / step - 0.5 - 1e-9)
    make = units.registry().Quantity
    rounded = min(max(start + steps * step, start), float(wrench.most.magnitude))
    return Setting(
        torque,
        wrench,
        make(rounded, wrench.most.units),
        make(rounded - number, wrench.most.units),
        place,
        instead,
    )


def choose(torque: Quantity, wrenches: Iterable[Wrench]) -> Wrench | None:
    """Return the wrench that suits the torque and rounds it least, or None if none suits.

    Of several that are equally good, it is the one with the smallest range.
    """
    fitting = [wrench for wrench in wrenches if wrench.suits(torque)]
    if not fitting:
        return None
    return min(
        fitting,
        key=lambda wrench: (
            round(abs(setting(torque, wrench).error_share), 6),
            units.express(wrench.most, "N·m"),
        ),
    )


def at_drive(
    torque: Quantity, length: Quantity, adapter: Quantity, angle: Quantity | None = None
) -> Quantity:
    """Return the setting of a wrench with an adapter on its end: T·L / (L + E·cos θ).

    Args:
        torque: T, wanted at the fastener, above 0.
        length: L, from the middle of the drive to the middle of the hand, above 0.
        adapter: E, from the middle of the drive to the middle of the fastener, 0 or more.
        angle: θ between adapter and wrench: 0 in line (the default, lower setting), 90° square
            (unchanged), 180° folded back (higher setting).

    Returns:
        The setting, in the unit of `torque`. It is exact if the hand pushes square to the wrench.

    Raises:
        AssistantError: a quantity of the wrong kind or out of range, or an adapter that leaves the
            wrench less than a tenth of its arm.

    Source: US Army TM 9-254, torque wrenches; textbook lever arithmetic.
    """
    units.require(torque, "torque", "torque", above=0)
    result: Quantity = torque / _gain(length, adapter, angle)
    return result


def at_fastener(
    shown: Quantity, length: Quantity, adapter: Quantity, angle: Quantity | None = None
) -> Quantity:
    """Return the torque at the fastener when the wrench shows a torque: T·(L + E·cos θ) / L.

    This is the inverse of `at_drive`, with the same arguments and errors. Use it for every
    statement about a joint: a reading of the wrench, or the ends of its class's band.
    """
    units.require(shown, "torque", "torque", above=0)
    result: Quantity = shown * _gain(length, adapter, angle)
    return result


def _gain(length: Quantity, adapter: Quantity, angle: Quantity | None) -> float:
    """Return the factor from the torque that the wrench shows to the torque at the fastener."""
    units.require(length, "length", "wrench's length", above=0)
    units.require(adapter, "length", "adapter's length")
    if adapter.magnitude < 0:
        raise AssistantError("An adapter's length cannot be negative: give an angle instead.")
    degrees = 0.0
    if angle is not None:
        units.require(angle, "angle", "adapter's angle")
        degrees = units.express(angle, "°")
    arm = units.express(length, "mm")
    reach = units.express(adapter, "mm") * math.cos(math.radians(degrees))
    if arm + reach <= 0.1 * arm:
        raise AssistantError("That adapter folds back past the wrench: no setting can be trusted.")
    return (arm + reach) / arm


def deviation(kind: str, most: Quantity) -> float:
    """Return the permissible deviation of a wrench, as a share, for its class and largest torque.

    Raises:
        AssistantError: there is no such class.
    """
    name = " ".join(kind.upper().split())
    if name not in DEVIATION:
        raise AssistantError(
            f"There is no class {kind!r} of hand torque tool: use one from I A to I E or II A "
            "to II G."
        )
    small, large = DEVIATION[name]
    return (small if units.express(most, "N·m") <= 10 else large) / 100


@dataclass(frozen=True)
class Band:
    """The torque that a wrench of a class may really give when it shows a torque."""

    least: Quantity
    most: Quantity
    share: float
    """Permissible deviation either way, as a share of the torque shown."""


def band(torque: Quantity, wrench: Wrench) -> Band | None:
    """Return the torque that the wrench may really give at the drive when it shows `torque`.

    Returns None below a fifth of the largest torque, where the class (ISO 6789-1) guarantees
    nothing.

    Raises:
        AssistantError: the torque is not above 0, or is off the wrench's scale.
    """
    shown = setting(torque, wrench)
    if not shown.suits:
        return None
    share = deviation(wrench.kind, wrench.most)
    return Band(torque * (1 - share), torque * (1 + share), share)


def judge(reading: Quantity, wanted: Quantity, tolerance: float) -> measure.Judgement:
    """Judge a torque reported by the technician against the torque wanted.

    Args:
        reading: the torque reported, above 0.
        wanted: the torque wanted, above 0.
        tolerance: allowed deviation as a share of `wanted`, 0.05 for 5 %.

    Raises:
        AssistantError: a quantity is not a torque above 0, or the tolerance is not a share.
    """
    for value in (reading, wanted):
        units.require(value, "torque", "torque", above=0)
    if not 0 <= tolerance < 1:
        raise AssistantError("A torque's tolerance is a share between 0 and 1.")
    return measure.judge(reading, wanted * (1 - tolerance), wanted * (1 + tolerance))


@dataclass(frozen=True)
class Calibration:
    """Whether a wrench is in calibration."""

    due: date | None
    """Last day on which it may be used; None if no calibration is on record."""
    ok: bool
    wrench: str
    """Its name."""

    def sentence(self) -> str:
        """Return the judgement as a sentence to speak."""
        if self.due is None:
            return f"{self.wrench} has no calibration on record."
        if self.ok:
            return f"{self.wrench} is in calibration until {self.due.isoformat()}."
        return f"{self.wrench} is out of calibration since {self.due.isoformat()}."


def calibration(wrench: Wrench, today: date, cycles: int = 0) -> Calibration:
    """Judge a wrench's calibration by its date, and by the cycles since then if they are counted.

    A calibration lasts 12 months or 5 000 cycles, whichever is first, unless the wrench has an
    interval of its own (ISO 6789, from memory).
    """
    if wrench.calibrated is None:
        return Calibration(None, False, wrench.name)
    months = wrench.calibrated.month - 1 + wrench.interval_months
    year, month = wrench.calibrated.year + months // 12, months % 12 + 1
    due = date(year, month, min(wrench.calibrated.day, monthrange(year, month)[1]))
    ok = wrench.calibrated <= today <= due and cycles < INTERVAL_CYCLES
    return Calibration(due, ok, wrench.name)
