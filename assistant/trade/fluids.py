"""Fluids: how much goes in, how to mix it, and whether as much came out as went in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.trade import units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity


def to_level(capacity: Quantity, level: float, now: float = 0.0) -> Quantity:
    """Return what to pour in to bring a sump from a level to another, in the capacity's unit.

    Args:
        capacity: when full, above 0.
        level: wanted, a share of full from 0 to 1. Straight-sided: level goes as volume.
        now: the level it stands at, a share no higher than `level`.

    Raises:
        AssistantError: shares out of range, or a level that asks for draining.
    """
    units.require(capacity, "volume", "capacity", above=0)
    if not (0 <= now <= 1 and 0 <= level <= 1):
        raise AssistantError("A level is a share of full, from 0 to 1.")
    if level < now:
        raise AssistantError("It stands higher than the level wanted: drain, not fill.")
    result: Quantity = capacity * (level - now)
    return result


def ratio(text: str) -> float:
    """Read a mixing ratio as parts of the first to one of the second: "50:1", "50 to 1", "3:2".

    Raises:
        AssistantError: not two numbers above 0.
    """
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(?::|/|to)\s*(\d+(?:\.\d+)?)\s*", text)
    if match is None or float(match[1]) == 0 or float(match[2]) == 0:
        raise AssistantError(f"Write a mixing ratio as 50:1, not {text.strip()!r}.")
    return float(match[1]) / float(match[2])


@dataclass(frozen=True)
class Mix:
    """Two fluids of a mixture."""

    first: Quantity
    second: Quantity
    total: Quantity

    def sentence(self) -> str:
        """Say it."""
        first, second = units.show(self.first), units.show(self.second)
        return f"{first} and {second} make {units.show(self.total)}."


def mix_total(total: Quantity, parts: str) -> Mix:
    """Divide a total by a ratio "first:second"; volumes are taken to add up."""
    units.require(total, "volume", "total", above=0)
    first = ratio(parts)
    return Mix(total * (first / (first + 1)), total * (1 / (first + 1)), total)


def mix_into(base: Quantity, parts: str) -> Mix:
    """Add to a base what the ratio "first:second" asks for: 5 l at 50:1 takes 0.1 l."""
    units.require(base, "volume", "base", above=0)
    second: Quantity = base * (1 / ratio(parts))
    return Mix(base, second, base + second)


@dataclass(frozen=True)
class Drain:
    """What came out against what should be in."""

    out: Quantity
    fill: Quantity
    share: float
    missing: Quantity
    """In the unit of `fill`; negative when more came out than should be in."""
    ok: bool

    def sentence(self) -> str:
        """Say it."""
        came = f"{units.number(units.number_like(self.out, self.fill))} of {units.show(self.fill)}"
        if self.ok:
            return f"{came} came out, as expected."
        gap = units.show(abs(float(self.missing.magnitude)) * (self.fill / self.fill.magnitude))
        what = "is missing" if self.missing.magnitude > 0 else "too much"
        return f"{came} came out, {gap} {what}: look for the reason before filling."


def drain(out: Quantity, fill: Quantity, tolerance: float = 0.1) -> Drain:
    """Judge a drained quantity against the fill.

    Args:
        out: what came out, 0 or more.
        fill: what should be in, above 0.
        tolerance: share that may stay behind or come extra; a tenth clings (common practice, no
            source).

    Raises:
        AssistantError: wrong kinds or negative values.
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
