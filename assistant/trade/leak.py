"""Pressure and vacuum hold tests, corrected for a change of temperature if it was read.

In a sealed volume of gas, p/T (absolute pressure over absolute temperature) stays constant. Any
other loss of pressure is a leak. The volume is taken as rigid and the gas as ideal, which holds for
air up to about 20 bar.

The pressure lost is judged against the loss allowed like any dimension against its limit
(`measure.judge`): a loss equal to the limit passes, and a loss closer to the limit than the
uncertainty of the readings is too close to call.
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
"""Standard atmosphere in kPa, ISO 2533. A barometer reading of the day is better."""
GAS_CONSTANT = 8.314462618
"""J/(mol·K), CODATA 2018."""
_REFERENCE_KELVIN = 293.15
"""20 °C (ISO 1): the temperature of a leak rate if no temperature was read."""


class Outcome(StrEnum):
    """How a hold test ended."""

    PASS = "pass"
    FAIL = "fail"
    UNSURE = "too close to call"
    """The loss is closer to the loss allowed than the uncertainty of the readings."""
    DOUBTFUL = "doubtful"
    """The pressure changed in the direction that no leak can cause, by more than is allowed."""


@dataclass(frozen=True)
class Hold:
    """Result of a hold test. Pressures are differences, in the unit of `allowed`."""

    outcome: Outcome
    measured: Quantity
    """Pressure lost as the gauge shows it (vacuum lost, for a vacuum); negative for a gain."""
    thermal: Quantity
    """The part of `measured` that the temperature explains; 0 if no temperatures were read."""
    lost: Quantity
    """The rest of `measured`, the leak, at the starting temperature if that was read."""
    allowed: Quantity
    """The loss that is allowed."""
    uncertainty: Quantity | None
    """Expanded uncertainty (k = 2) of `lost`; None if the gauge's resolution is unknown."""
    rate: Quantity | None
    """Leak rate, mbar·l/s; None if the volume is unknown or the pressure rose."""
    moles: float | None
    """Leak rate as a molar flow, mol/s; None as for `rate`."""
    corrected: bool
    """Whether temperatures were read, so that the result is corrected for them. A change of one
    degree changes the absolute pressure by a third of a percent."""

    def sentence(self) -> str:
        """Return the result as a sentence to speak."""
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
    """Return the gauge pressure of a sealed volume without a leak after a change of temperature.

    p₂ = (p₁ + p_atm)·T₂/T₁ − p_atm, with absolute temperatures (ideal gas, fixed volume).

    Args:
        start: gauge pressure at the start, p₁.
        cold: temperature at the start, T₁.
        warm: temperature at the end, T₂; it may be the lower one.
        atmosphere: absolute pressure of the air, p_atm.

    Returns:
        The gauge pressure p₂, in the unit of `start`.

    Raises:
        AssistantError: a quantity of the wrong kind, or a value that cannot be right.
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
        start: gauge pressure at the start, not 0.
        end: gauge pressure at the end.
        allowed: the largest loss by leakage that is allowed, 0 or more.
        start_temperature: of the gas; give both temperatures or neither.
        end_temperature: of the gas.
        volume: under test, for a leak rate; needs `time`.
        time: between the readings.
        atmosphere: absolute pressure of the air; the standard atmosphere if left out.
        resolution: of the gauge; if left out, the readings are taken as exact.
        temperature_resolution: of the thermometer; if left out, the temperatures are exact.

    Returns:
        The result, with pressures in the unit of `allowed`. The leak rate is volume times pressure
        lost over time, at the starting temperature if that was read, else at 20 °C.

    Raises:
        AssistantError: a quantity of the wrong kind, a pressure below vacuum, or a value that
            cannot be right.
    """
    air = ATMOSPHERE_KPA if atmosphere is None else units.express(_air(atmosphere), "kPa")
    first, last = _absolute(start, air), _absolute(end, air)
    units.require(allowed, "pressure", "pressure allowed to be lost")
    if start.magnitude == 0:
        raise AssistantError("A hold test starts at a pressure or a vacuum, so not at 0.")
    if allowed.magnitude < 0:
        raise AssistantError("The pressure allowed to be lost cannot be negative.")
    if (start_temperature is None) is not (end_temperature is None):
        raise AssistantError("Give the temperature at the start and at the end, or neither.")
    warm, ratio = _REFERENCE_KELVIN, 1.0
    if start_temperature is not None and end_temperature is not None:
        warm = _kelvin(start_temperature)
        ratio = warm / _kelvin(end_temperature)
    # In a vacuum test, a loss is a rise in pressure.
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
    """Return the expanded uncertainty of one reading of an instrument, as a number of `unit`."""
    step = units.as_difference(units.quantity(1, unit))
    one = measure.expanded_uncertainty(units.require(resolution, kind, f"{kind}'s resolution"))
    return units.number_like(one, step)


def _uncertainty(last: float, ratio: float, warm: float, gauge: float, degrees: float) -> float:
    """Return the expanded uncertainty of the pressure lost, in kPa.

    It is the root of the sum of the squares of what each reading's own uncertainty changes in
    p₁ − p₂·T₁/T₂, for independent readings (GUM, JCGM 100:2008, 5.1.2).

    Args:
        last: p₂·T₁/T₂, absolute, kPa.
        ratio: T₁/T₂.
        warm: T₁, K.
        gauge: expanded uncertainty of each pressure, kPa.
        degrees: expanded uncertainty of each temperature, K.
    """
    by_temperature = last / warm * degrees
    return math.hypot(gauge, gauge * ratio, by_temperature, by_temperature * ratio)


def _air(pressure: Quantity) -> Quantity:
    units.require(pressure, "pressure", "air pressure", above=0)
    if not 50 <= units.express(pressure, "kPa") <= 120:
        raise AssistantError(
            f"An air pressure of {units.show(pressure)} cannot be right: give the absolute "
            "pressure, about 101 kPa."
        )
    return pressure


def _absolute(gauge: Quantity, air: float) -> float:
    """Return the absolute pressure in kPa; `air` is the pressure of the air in kPa."""
    units.require(gauge, "pressure", "pressure")
    absolute = units.express(gauge, "kPa") + air
    if absolute < -1e-9:
        raise AssistantError(
            f"{units.show(gauge)} on the gauge is less than a perfect vacuum: read the gauge again."
        )
    return max(absolute, 0.0)


def _kelvin(temperature: Quantity) -> float:
    units.require(temperature, "temperature", "temperature")
    kelvin = units.express(temperature, "K")
    if not 173 <= kelvin <= 773:
        raise AssistantError(
            f"A gas temperature of {units.show(temperature)} cannot be right: check it. A test "
            "gas is between -100 and 500 °C."
        )
    return kelvin
