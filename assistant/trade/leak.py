"""Pressure and vacuum hold tests, corrected for a change in temperature.

A sealed volume of gas keeps p/T, absolute pressure over absolute temperature. What is missing
from it is leak. The volume is taken as rigid and the gas as ideal: good for air to some 20 bar.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.trade import units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

ATMOSPHERE_KPA = 101.325
"""Standard atmosphere, ISO 2533; the day's own pressure is better."""
GAS_CONSTANT = 8.314462618
"""J/(mol·K), CODATA 2018."""


class Outcome(StrEnum):
    """How a hold test ended."""

    PASS = "pass"
    FAIL = "fail"
    DOUBTFUL = "doubtful"


@dataclass(frozen=True)
class Hold:
    """Result of a hold test."""

    outcome: Outcome
    """Doubtful: the pressure went the way that no leak can take it, by more than is allowed."""
    measured: Quantity
    """Pressure lost as the gauge shows it (vacuum lost, for a vacuum)."""
    thermal: Quantity
    """Part of it that the temperature explains."""
    lost: Quantity
    """Rest of it: the leak, at the temperature of the start."""
    allowed: Quantity
    rate: Quantity | None
    """Leak rate, mbar·l/s, where the volume is known."""
    moles: float | None
    """The same as a molar flow, mol/s."""

    def sentence(self) -> str:
        """Say it."""
        lost, allowed = units.show(self.lost), units.show(self.allowed)
        measured, thermal = units.show(self.measured), units.show(self.thermal)
        if self.outcome is Outcome.DOUBTFUL:
            return f"In doubt: the change is {lost} the wrong way; check gauge and temperature."
        rate = "" if self.rate is None else f" Leak rate {units.show(self.rate)}."
        return (
            f"{self.outcome.capitalize()}: {lost} lost of {allowed} allowed; the gauge shows "
            f"{measured}, temperature explains {thermal}.{rate}"
        )


def expected(start: Quantity, cold: Quantity, warm: Quantity, atmosphere: Quantity) -> Quantity:
    """Return the gauge pressure that a sealed volume reaches from `cold` to `warm` with no leak.

    p₂ = (p₁ + p_atm)·T₂/T₁ − p_atm, absolute pressures and temperatures (ideal gas, fixed volume).

    Args:
        start: gauge pressure at first.
        cold: temperature at first.
        warm: temperature at last; may be the lower one.
        atmosphere: absolute pressure of the air.
    """
    air = units.express(_air(atmosphere), "kPa")
    absolute = _absolute(start, air)
    after = absolute * _kelvin(warm) / _kelvin(cold) - air
    result: Quantity = units.quantity(after, "kPa").to(start.units)
    return result


def hold(
    start: Quantity,
    end: Quantity,
    allowed: Quantity,
    *,
    start_temperature: Quantity | None = None,
    end_temperature: Quantity | None = None,
    volume: Quantity | None = None,
    time: Quantity | None = None,
    atmosphere: Quantity | None = None,
) -> Hold:
    """Judge a hold test of pressure (gauge above 0) or vacuum (gauge below 0).

    Args:
        start: gauge pressure at first, not 0.
        end: gauge pressure at last.
        allowed: the most that may be lost to leak, 0 or more.
        start_temperature: of the gas; give both or neither.
        end_temperature: of the gas.
        volume: of what is tested, for a leak rate; needs `time`.
        time: between the readings.
        atmosphere: absolute; standard where it is left out.

    Returns:
        The result, pressures in the unit of `allowed`. The leak rate is volume by pressure lost
        over time, corrected to the temperature of the start.

    Raises:
        AssistantError: wrong kinds, a pressure below vacuum, or values that make no sense.
    """
    air = ATMOSPHERE_KPA if atmosphere is None else units.express(_air(atmosphere), "kPa")
    first, last = _absolute(start, air), _absolute(end, air)
    units.require(allowed, "pressure", "pressure allowed to be lost")
    if start.magnitude == 0:
        raise AssistantError("A hold test starts at a pressure or a vacuum, not at nothing.")
    if allowed.magnitude < 0:
        raise AssistantError("The pressure allowed to be lost cannot be negative.")
    if (start_temperature is None) is not (end_temperature is None):
        raise AssistantError("Give the temperature at the start and at the end, or neither.")
    ratio = 1.0
    kelvin = 293.15
    if start_temperature is not None and end_temperature is not None:
        kelvin = _kelvin(start_temperature)
        ratio = kelvin / _kelvin(end_temperature)
    # Vacuum is lost as the pressure rises.
    sign = 1.0 if start.magnitude > 0 else -1.0
    measured = sign * (first - last)
    lost = sign * (first - last * ratio)
    most = units.express(allowed, "kPa")
    outcome = Outcome.PASS if lost <= most + 1e-9 else Outcome.FAIL
    if lost < -most - 1e-9:
        outcome = Outcome.DOUBTFUL
    rate, moles = None, None
    if volume is not None:
        units.require(volume, "volume", "volume", above=0)
        if time is None:
            raise AssistantError("A leak rate needs the time between the readings.")
        seconds = units.express(units.require(time, "time", "time", above=0), "s")
        cubic_metres = units.express(volume, "m³")
        throughput = 1000 * lost * cubic_metres / seconds
        rate = units.quantity(throughput, "Pa·m³/s").to(units.find("mbar·l/s").pint)
        moles = throughput / (GAS_CONSTANT * kelvin)

    def like_allowed(kilopascals: float) -> Quantity:
        result: Quantity = units.quantity(kilopascals, "kPa").to(allowed.units)
        return result

    return Hold(
        outcome,
        like_allowed(measured),
        like_allowed(measured - lost),
        like_allowed(lost),
        allowed,
        rate,
        moles,
    )


def _air(pressure: Quantity) -> Quantity:
    units.require(pressure, "pressure", "air pressure", above=0)
    if not 50 <= units.express(pressure, "kPa") <= 120:
        raise AssistantError(f"An air pressure of {units.show(pressure)} cannot be right.")
    return pressure


def _absolute(gauge: Quantity, air: float) -> float:
    """Return the absolute pressure in kPa."""
    units.require(gauge, "pressure", "pressure")
    absolute = units.express(gauge, "kPa") + air
    if absolute < -1e-9:
        raise AssistantError(f"{units.show(gauge)} on the gauge is less than a perfect vacuum.")
    return max(absolute, 0.0)


def _kelvin(temperature: Quantity) -> float:
    units.require(temperature, "temperature", "temperature")
    kelvin = units.express(temperature, "K")
    if not 173 <= kelvin <= 773:
        raise AssistantError(f"A gas at {units.show(temperature)} is no test of the workshop's.")
    return kelvin
