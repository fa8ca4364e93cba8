"""Fluids: how much to pour in, how to mix two of them, and whether all of a fill came out."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.trade import units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity


def to_level(capacity: Quantity, level: float, now: float = 0.0) -> Quantity:
    """Return the volume that brings a sump from one level to another, in the capacity's unit.

    The sump is taken to have straight sides, so that the level is proportional to the volume.

    Args:
        capacity: when full, above 0.
        level: the level wanted, as a share of full from 0 to 1.
        now: the present level, as a share of full no higher than `level`.

    Raises:
        AssistantError: a share is out of range, or the level wanted is below the present one.
    """
    units.require(capacity, "volume", "capacity", above=0)
    if not (0 <= now <= 1 and 0 <= level <= 1):
        raise AssistantError("A level is a share of full, from 0 to 1.")
    if level < now:
        raise AssistantError("The level is already higher than the level wanted: drain some off.")
    result: Quantity = capacity * (level - now)
    return result


def ratio(text: str) -> float:
    """Read a mixing ratio and return the parts of the first fluid to one part of the second.

    Args:
        text: such as "50:1", "50 to 1" or "3:2".

    Raises:
        AssistantError: the text does not give two numbers above 0.
    """
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?::|/|to)\s*(\d+(?:\.\d+)?)\s*", text)
    if match is None or float(match[1]) == 0 or float(match[2]) == 0:
        raise AssistantError(f"Write a mixing ratio as 50:1, not {text.strip()!r}.")
    return float(match[1]) / float(match[2])


@dataclass(frozen=True)
class Mix:
    """The volumes of the two fluids of a mixture."""

    first: Quantity
    second: Quantity
    total: Quantity

    def sentence(self) -> str:
        """Return the mixture as a sentence to speak."""
        first, second = units.show(self.first), units.show(self.second)
        return f"{first} and {second} make {units.show(self.total)}."


def mix_total(total: Quantity, parts: str) -> Mix:
    """Divide a total volume by the ratio `parts`, "first:second". Volumes are taken to add up.

    Raises:
        AssistantError: the total is not a volume above 0, or the ratio cannot be read.
    """
    units.require(total, "volume", "total", above=0)
    first = ratio(parts)
    return Mix(total * (first / (first + 1)), total * (1 / (first + 1)), total)


def mix_into(base: Quantity, parts: str) -> Mix:
    """Work out what to add to a base for the ratio `parts`, "first:second": 0.1 l to 5 l at 50:1.

    Raises:
        AssistantError: the base is not a volume above 0, or the ratio cannot be read.
    """
    units.require(base, "volume", "base", above=0)
    second: Quantity = base * (1 / ratio(parts))
    return Mix(base, second, base + second)


@dataclass(frozen=True)
class Drain:
    """A drained volume compared with the fill."""

    out: Quantity
    fill: Quantity
    share: float
    """`out` as a share of `fill`."""
    missing: Quantity
    """`fill` less `out`, in the unit of `fill`; negative if more came out than the fill."""
    ok: bool
    """Whether the difference is within the tolerance."""

    def sentence(self) -> str:
        """Return the judgement as a sentence to speak."""
        came = f"{units.number(units.number_like(self.out, self.fill))} of {units.show(self.fill)}"
        if self.ok:
            return f"{came} came out, as expected."
        gap = units.show(abs(float(self.missing.magnitude)) * (self.fill / self.fill.magnitude))
        what = "is missing" if self.missing.magnitude > 0 else "too much"
        return f"{came} came out, {gap} {what}: look for the reason before filling."


def drain(out: Quantity, fill: Quantity, tolerance: float = 0.1) -> Drain:
    """Judge a drained volume against the fill.

    Args:
        out: the volume drained, 0 or more.
        fill: the volume that should have been in, above 0.
        tolerance: share of the fill that may be missing or extra. A tenth clings to the walls
            (common practice, no source).

    Raises:
        AssistantError: a quantity is not a volume or is negative, or the tolerance is not a share.
    """
    units.require(fill, "volume", "fill", above=0)
    units.require(out, "volume", "quantity drained")
    if out.magnitude < 0:
        raise AssistantError("What came out cannot be negative.")
    if not 0 <= tolerance < 1:
        raise AssistantError("A tolerance is a share from 0 to 1.")
    share = units.number_like(out, fill) / float(fill.magnitude)
    missing: Quantity = fill * (1 - share)
    return Drain(out, fill, share, missing, abs(1 - share) <= tolerance + 1e-9)
