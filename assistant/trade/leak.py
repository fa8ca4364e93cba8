"""Pressure and vacuum hold tests, corrected for a change in temperature where it was read.

A sealed volume of gas keeps p/T, absolute pressure over absolute temperature. What is missing
from it is leak. The volume is taken as rigid and the gas as ideal: good for air to some 20 bar.

The pressure lost is judged against what is allowed as any dimension is against its limit
(`measure.judge`): the limit itself passes, and a loss nearer to it than the uncertainty of the
readings is too close to call.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.trade import measure, units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

ATMOSPHERE_KPA = 101.325
"""Standard atmosphere, ISO 2533; the day's own pressure is better."""
GAS_CONSTANT = 8.314462618
"""J/(mol·K), CODATA 2018."""
_REFERENCE_KELVIN = 293.15
"""20 °C: the temperature that a leak rate is given at where none was read (ISO 1)."""


class Outcome(StrEnum):
    """How a hold test ended."""

    PASS = "pass"
    FAIL = "fail"
    UNSURE = "too close to call"
    """The loss is nearer to what is allowed than the uncertainty of the readings."""
    DOUBTFUL = "doubtful"
    """The pressure went the way that no leak can take it, by more than is allowed."""


@dataclass(frozen=True)
class Hold:
    """Result of a hold test; pressures are differences, in the unit of `allowed`."""

    outcome: Outcome
    measured: Quantity
    """Pressure lost as the gauge shows it (vacuum lost, for a vacuum); negative for a gain."""
    thermal: Quantity
    """The part of it that the temperature explains; 0 where no temperatures were read."""
    lost: Quantity
    """The rest of it: the leak, at the temperature of the start where that was read."""
    allowed: Quantity
    uncertainty: Quantity | None
    """Expanded uncertainty (k = 2) of `lost`; None where no resolution is known."""
    rate: Quantity | None
    """Leak rate, mbar·l/s; None where the volume is not known, and for a gain, which is no leak."""
    moles: float | None
    """The same as a molar flow, mol/s."""
    corrected: bool
    """Whether temperatures were read, so that the result allows for them. A change of one degree is
    worth a third of a percent of the absolute pressure."""

    def sentence(self) -> str:
        """Say it."""
        lost, allowed = units.show(self.lost).lstrip("-"), units.show(self.allowed)
        if not self.corrected:
            thermal = "no temperatures were read, so a change of temperature is not allowed for"
        else:
            thermal = f"temperature explains {units.show(self.thermal)}"
        if self.outcome is Outcome.DOUBTFUL:
            return f"In doubt: {lost} the wrong way; check gauge and temperature ({thermal})."
        if self.outcome is Outcome.UNSURE and self.uncertainty is not None:
            good_to = units.show(self.uncertainty, digits=2)
            outcome = f"Too close to call, good to {good_to}"
        else:
            outcome = str(self.outcome).capitalize()
        way = "gained" if self.lost.magnitude < 0 else "lost"
        rate = "" if self.rate is None else f" Leak rate {units.show(self.rate)}."
        return (
            f"{outcome}: {lost} {way} of {allowed} allowed to be lost; the gauge shows "
            f"{units.show(self.measured)}, {thermal}.{rate}"
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
    resolution: Quantity | None = None,
    temperature_resolution: Quantity | None = None,
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
        resolution: of the gauge; without it the readings are taken at their word.
        temperature_resolution: of the thermometer; exact where it is left out.

    Returns:
        The result, pressures in the unit of `allowed`. The leak rate is volume by pressure lost
        over time, at the temperature of the start where that was read, else at 20 °C.

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
    warm, ratio = _REFERENCE_KELVIN, 1.0
    if start_temperature is not None and end_temperature is not None:
        warm = _kelvin(start_temperature)
        ratio = warm / _kelvin(end_temperature)
    # Vacuum is lost as the pressure rises.
    sign = 1.0 if start.magnitude > 0 else -1.0
    measured = sign * (first - last)
    lost = sign * (first - last * ratio)

    def like_allowed(kilopascals: float) -> Quantity:
        result: Quantity = units.quantity(kilopascals, "kPa").to(allowed.units)
        return result

    uncertainty = None
    if resolution is not None:
        gauge = _doubt(resolution, "pressure", "kPa")
        degrees = 0.0
        if start_temperature is not None and temperature_resolution is not None:
            degrees = _doubt(temperature_resolution, "temperature", "K")
        uncertainty = like_allowed(_uncertainty(last * ratio, ratio, warm, gauge, degrees))
    rate, moles = None, None
    if volume is not None:
        units.require(volume, "volume", "volume", above=0)
        if time is None:
            raise AssistantError("A leak rate needs the time between the readings.")
        seconds = units.express(units.require(time, "time", "time", above=0), "s")
        if lost >= 0:
            throughput = 1000 * lost * units.express(volume, "m³") / seconds
            rate = units.quantity(throughput, "Pa·m³/s").to(units.find("mbar·l/s").pint)
            moles = throughput / (GAS_CONSTANT * warm)
    return Hold(
        _outcome(like_allowed(lost), allowed, uncertainty),
        like_allowed(measured),
        like_allowed(measured - lost),
        like_allowed(lost),
        allowed,
        uncertainty,
        rate,
        moles,
        start_temperature is not None,
    )


def _outcome(lost: Quantity, allowed: Quantity, uncertainty: Quantity | None) -> Outcome:
    least: Quantity = allowed * -1
    if measure.judge(lost, least=least).verdict is measure.Verdict.BELOW:
        return Outcome.DOUBTFUL
    return {
        measure.Verdict.WITHIN: Outcome.PASS,
        measure.Verdict.UNSURE: Outcome.UNSURE,
    }.get(measure.judge(lost, most=allowed, uncertainty=uncertainty).verdict, Outcome.FAIL)


def _doubt(resolution: Quantity, kind: str, unit: str) -> float:
    """Return the expanded uncertainty of one reading of an instrument, in a unit."""
    step = units.as_difference(units.quantity(1, unit))
    one = measure.expanded_uncertainty(units.require(resolution, kind, f"{kind}'s resolution"))
    return units.number_like(one, step)


def _uncertainty(last: float, ratio: float, warm: float, gauge: float, degrees: float) -> float:
    """Return the expanded uncertainty of the pressure lost, in kPa.

    Root of the sum of squares of what each reading's own uncertainty changes in
    p₁ − p₂·T₁/T₂ (GUM, JCGM 100:2008, 5.1.2), readings independent.

    Args:
        last: p₂·T₁/T₂, absolute, kPa.
        ratio: T₁/T₂.
        warm: T₁, K.
        gauge: expanded uncertainty of each pressure, kPa.
        degrees: the same of each temperature, K.
    """
    by_temperature = last / warm * degrees
    return math.hypot(gauge, gauge * ratio, by_temperature, by_temperature * ratio)


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
