"""Units as procedures write them, and quantities: numbers with a unit.

The table below is complete. A unit that is not in it is refused, and the message names the nearest
one. To read the name of a unit takes only the table; `pint` is imported for the first calculation,
because that takes 0.2 s.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any, TypeAlias

from assistant.errors import AssistantError

if TYPE_CHECKING:
    import pint

    Quantity: TypeAlias = pint.Quantity[float]

LARGEST = 1e9
"""Largest number in any unit. Nothing in a workshop is larger, so a larger one is a mistake."""


@dataclass(frozen=True)
class Unit:
    """One unit of the table."""

    key: str
    """The symbol, as it is shown."""
    pint: str
    """Its name in `pint`."""
    ucum: str
    """Its code in UCUM, the Unified Code for Units of Measure (unitsofmeasure.org)."""
    kind: str
    """What it measures, such as "torque"."""
    also: tuple[str, ...] = ()
    """Other ways to write it."""


# pint defines the units; the tests check them against NIST SP 811. The tests check the UCUM codes
# against UCUM's own table, which has no ounce of force, only an ounce times standard gravity. In
# torque written "ft lb" or "kg m", lb and kg are units of force. A fluid ounce without "imp" is the
# US one.
UNITS = (
    Unit("N·m", "newton*meter", "N.m", "torque", ("newton metre", "newton meter", "m·N")),
    Unit("cN·m", "centinewton*meter", "cN.m", "torque"),
    Unit(
        "lbf·ft",
        "force_pound*foot",
        "[lbf_av].[ft_i]",
        "torque",
        ("lb·ft", "ft·lbf", "ft·lb", "ft·lbs", "lbs·ft"),
    ),
    Unit(
        "lbf·in",
        "force_pound*inch",
        "[lbf_av].[in_i]",
        "torque",
        ("lb·in", "in·lbf", "in·lb", "in·lbs", "lbs·in"),
    ),
    Unit("kgf·m", "kilogram_force*meter", "kgf.m", "torque", ("kg·m", "m·kgf", "m·kg", "kp·m")),
    Unit(
        "kgf·cm",
        "kilogram_force*centimeter",
        "kgf.cm",
        "torque",
        ("kg·cm", "cm·kgf", "cm·kg", "kp·cm"),
    ),
    Unit(
        "ozf·in", "force_ounce*inch", "[oz_av].[g].[in_i]", "torque", ("oz·in", "in·ozf", "in·oz")
    ),
    Unit("mm", "millimeter", "mm", "length", ("millimetre", "millimeter")),
    Unit("cm", "centimeter", "cm", "length", ("centimetre", "centimeter")),
    Unit("m", "meter", "m", "length", ("metre", "meter")),
    Unit("µm", "micrometer", "um", "length", ("um", "μm", "micron", "micrometre")),
    Unit("in", "inch", "[in_i]", "length", ("inch", '"', "inches")),
    Unit("thou", "thou", "[mil_i]", "length", ("mil",)),
    Unit("ft", "foot", "[ft_i]", "length", ("foot", "feet")),
    Unit("mm²", "millimeter**2", "mm2", "area", ("mm2", "mm^2", "square millimetre")),
    Unit("cm²", "centimeter**2", "cm2", "area", ("cm2", "cm^2", "square centimetre")),
    Unit("in²", "inch**2", "[in_i]2", "area", ("in2", "in^2", "square inch")),
    Unit("bar", "bar", "bar", "pressure"),
    Unit("mbar", "millibar", "mbar", "pressure", ("millibar",)),
    Unit("Pa", "pascal", "Pa", "pressure", ("pascal",)),
    Unit("kPa", "kilopascal", "kPa", "pressure", ("kilopascal",)),
    Unit("MPa", "megapascal", "MPa", "pressure", ("megapascal", "N/mm²", "N/mm2")),
    Unit("psi", "psi", "[psi]", "pressure", ("lbf/in²", "lbf/in2")),
    Unit("mmHg", "mmHg", "mm[Hg]", "pressure"),
    Unit("inHg", "inHg", "[in_i'Hg]", "pressure"),
    Unit("°C", "degree_Celsius", "Cel", "temperature", ("degC", "C", "deg C", "celsius")),
    Unit("°F", "degree_Fahrenheit", "[degF]", "temperature", ("degF", "F", "deg F", "fahrenheit")),
    Unit("K", "kelvin", "K", "temperature", ("kelvin",)),
    Unit(
        "ml", "milliliter", "mL", "volume", ("millilitre", "milliliter", "cm³", "cm3", "cc", "cm^3")
    ),
    Unit("l", "liter", "L", "volume", ("litre", "liter", "dm³", "dm3")),
    Unit("m³", "meter**3", "m3", "volume", ("m3", "m^3")),
    Unit("fl oz", "fluid_ounce", "[foz_us]", "volume", ("US fl oz", "fluid ounce")),
    Unit(
        "imp fl oz",
        "imperial_fluid_ounce",
        "[foz_br]",
        "volume",
        ("UK fl oz", "imperial fluid ounce"),
    ),
    Unit("US pt", "US_pint", "[pt_us]", "volume", ("US pint",)),
    Unit("US qt", "US_liquid_quart", "[qt_us]", "volume", ("US quart", "qt", "quart")),
    Unit("US gal", "US_liquid_gallon", "[gal_us]", "volume", ("US gallon",)),
    Unit("imp gal", "imperial_gallon", "[gal_br]", "volume", ("UK gal", "imperial gallon")),
    Unit("s", "second", "s", "time", ("sec", "second")),
    Unit("min", "minute", "min", "time", ("minute",)),
    Unit("h", "hour", "h", "time", ("hr", "hour")),
    Unit("d", "day", "d", "time", ("day",)),
    Unit("°", "degree", "deg", "angle", ("deg", "degree")),
    Unit("N", "newton", "N", "force", ("newton",)),
    Unit("kN", "kilonewton", "kN", "force", ("kilonewton",)),
    Unit("lbf", "force_pound", "[lbf_av]", "force", ("pound force",)),
    Unit("kgf", "kilogram_force", "kgf", "force", ("kp",)),
    Unit("g", "gram", "g", "mass", ("gram", "gramme")),
    Unit("kg", "kilogram", "kg", "mass", ("kilogram", "kilogramme")),
    Unit("lb", "pound", "[lb_av]", "mass", ("pound", "lbs")),
    Unit("oz", "ounce", "[oz_av]", "mass", ("ounce",)),
    Unit("V", "volt", "V", "voltage", ("volt",)),
    Unit("mV", "millivolt", "mV", "voltage", ("millivolt",)),
    Unit("A", "ampere", "A", "current", ("amp", "ampere")),
    Unit("mA", "milliampere", "mA", "current", ("milliamp",)),
    Unit("Ω", "ohm", "Ohm", "resistance", ("Ω", "ohm")),
    Unit("kΩ", "kiloohm", "kOhm", "resistance", ("kΩ", "kohm", "kilohm")),
    Unit("MΩ", "megaohm", "MOhm", "resistance", ("MΩ", "Mohm", "megohm")),
    Unit("rpm", "revolutions_per_minute", "{rev}/min", "speed of rotation", ("r/min", "rev/min")),
    Unit("ml/min", "milliliter/minute", "mL/min", "flow", ("cm³/min", "cc/min")),
    Unit("l/min", "liter/minute", "L/min", "flow"),
    Unit("mbar·l/s", "millibar*liter/second", "mbar.L/s", "leak rate", ("mbar l/s",)),
    Unit("Pa·m³/s", "pascal*meter**3/second", "Pa.m3/s", "leak rate", ("Pa m3/s",)),
    Unit("%", "percent", "%", "ratio", ("percent", "per cent")),
    Unit("", "dimensionless", "1", "ratio"),
)

_BY_KEY = {unit.key: unit for unit in UNITS}


def _squeeze(text: str) -> str:
    """Drop what people write between the parts of a unit, as in "ft-lb", "ft. lb" and "ft·lb"."""
    return re.sub(r"[\s.·⋅∙•*×\-‑_]+", "", text)


def _spellings() -> tuple[dict[str, Unit], dict[str, Unit]]:
    exact: dict[str, Unit] = {}
    folded: dict[str, Unit] = {}
    for unit in UNITS:
        for text in (unit.key, *unit.also):
            key = _squeeze(text)
            plural = len(key) >= 3 and key.isascii() and key.islower() and key[-1] not in "s23"
            for form in (key, key + "s") if plural else (key,):
                exact.setdefault(form, unit)
                # Mega and milli differ only by case, so a mega unit needs its capital M.
                if not form.startswith("M"):
                    folded.setdefault(form.casefold(), unit)
    for says in ("foot pound", "foot pounds", "pound foot", "pound feet"):
        folded[_squeeze(says)] = _BY_KEY["lbf·ft"]
    for says in ("inch pound", "inch pounds", "pound inch", "pound inches"):
        folded[_squeeze(says)] = _BY_KEY["lbf·in"]
    return exact, folded


_EXACT, _FOLDED = _spellings()


_HIDDEN = {
    spelling: f"write N·m for newton metres; {spelling} is a multiple of the newton or a slip"
    for spelling in ("mN", "Mn", "MN", "mn")
} | {
    f"M{rest}": f"write m{rest}, because a capital M means a million"
    for rest in ("bar", "Bar", "V", "A")
}
"""Spellings that would be taken as one unit and may mean another, and what to write instead."""


def find(text: str) -> Unit:
    """Return the unit of this name.

    A name in the exact case comes first (mΩ, MΩ). Otherwise case does not matter: "nm" is newton
    metres, because nobody measures nanometres at a bench.

    Raises:
        AssistantError: there is no such unit; the message names the nearest one.
    """
    key = _squeeze(text)
    hidden = _HIDDEN.get(text.strip())
    if hidden is not None:
        raise AssistantError(f"There is no unit {text.strip()!r} here: {hidden}.")
    unit = _EXACT.get(key) or _FOLDED.get(key.casefold())
    if unit is not None and (key or not text.strip()):
        return unit
    from rapidfuzz import fuzz, process

    near = process.extractOne(
        key, [name for name in _EXACT if name], scorer=fuzz.ratio, processor=str.casefold
    )
    close = near is not None and near[1] >= 50
    known = f"did you mean {_EXACT[near[0]].key}?" if close else "use one such as N·m, mm or bar."
    raise AssistantError(f"There is no unit {text.strip()!r} here: {known}")


def canonical(text: str) -> str:
    """Return the unit's symbol as it is shown: "ft lb" is "lbf·ft", "degC" is "°C".

    Raises:
        AssistantError: there is no such unit.
    """
    return find(text).key


def is_unit(text: str) -> bool:
    """Whether the text names a unit."""
    try:
        find(text)
    except AssistantError:
        return False
    return True


def kind(text: str) -> str:
    """Return what the unit measures: "torque", "length", "pressure" …

    Raises:
        AssistantError: there is no such unit.
    """
    return find(text).kind


def ucum(text: str) -> str | None:
    """Return the unit's UCUM code for other programs, such as "N.m"; None for an unknown unit."""
    try:
        return find(text).ucum
    except AssistantError:
        return None


def same_dimension(a: str, b: str) -> bool:
    """Whether the two units measure the same kind of thing (torque is not energy)."""
    return find(a).kind == find(b).kind


@cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry of all quantities in this process; pint cannot mix registries."""
    import pint

    return pint.UnitRegistry()


def __getattr__(name: str) -> Any:
    # Programs that use pint expect `units.ureg`; pint is imported only when somebody uses it.
    if name == "ureg":
        return registry()
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def quantity(value: float, unit: str) -> Quantity:
    """Return a number with its unit.

    Raises:
        AssistantError: the unit is unknown, the number is not finite or beyond `LARGEST`, or the
            temperature is below absolute zero.
    """
    found = find(unit)
    number = float(value)
    if not math.isfinite(number) or abs(number) > LARGEST:
        raise AssistantError(f"{value} {found.key} cannot be right: check the number.")
    result: Quantity = registry().Quantity(number, found.pint)
    if found.kind == "temperature" and result.to("kelvin").magnitude < -1e-9:
        raise AssistantError(f"{value} {found.key} is below absolute zero: check the number.")
    return result


_NUMBER = r"(?P<sign>[+\-−–]?)\s*(?:(?P<whole>\d+)[ \-])?(?P<num>\d+)\s*/\s*(?P<den>\d+)"
_WRITTEN = re.compile(
    rf"\s*(?:{_NUMBER}|(?P<decimal>[+\-−–]?\s*(?:\d+(?:\.\d+)?|\.\d+)))\s*(?P<unit>[^\d\s,].*?)?\s*"
)


def parse_quantity(text: str) -> Quantity:
    """Read a number and a unit: "14 N·m", "-0.05mm", "1 1/2 in", "20 °C", "2.5".

    Raises:
        AssistantError: the text is not a number with a known unit.
    """
    match = _WRITTEN.fullmatch(text) if len(text) <= 60 else None
    if match is None:
        raise AssistantError(
            f"Write a number with a point and a unit, such as 14.5 N·m, not {text.strip()[:60]!r}."
        )
    if match["decimal"]:
        number = float(re.sub(r"[−–]", "-", match["decimal"]).replace(" ", ""))
    else:
        if int(match["den"]) == 0:
            raise AssistantError(f"{text.strip()!r} divides by zero: check the fraction.")
        number = float(int(match["whole"] or 0) + Fraction(int(match["num"]), int(match["den"])))
        if match["sign"] not in ("", "+"):
            number = -number
    return quantity(number, match["unit"] or "")


def express(value: Quantity, unit: str) -> float:
    """Return the number of `value` in `unit`; a temperature difference stays a difference.

    Raises:
        AssistantError: the unit is unknown, or the two measure different things.
    """
    import pint

    found = find(unit)
    target = found.pint
    if found.kind == "temperature" and _is_difference(value):
        target = {"°C": "delta_degree_Celsius", "°F": "delta_degree_Fahrenheit"}.get(
            found.key, target
        )
    try:
        return float(value.to(target).magnitude)
    except pint.DimensionalityError:
        raise AssistantError(
            f"{show(value)} is not {_a(found.kind)}, so it cannot be given in {_named(found)}."
        ) from None


def _is_difference(value: Quantity) -> bool:
    return "delta_" in str(value.units)


def as_difference(value: Quantity) -> Quantity:
    """Return a temperature as a difference (a graduation of 0.5 °C); other quantities unchanged."""
    name = {
        "degree_Celsius": "delta_degree_Celsius",
        "degree_Fahrenheit": "delta_degree_Fahrenheit",
        "kelvin": "delta_degree_Celsius",
    }.get(str(value.units))
    if name is None:
        return value
    result: Quantity = registry().Quantity(value.magnitude, name)
    return result


def number_like(value: Quantity, like: Quantity) -> float:
    """Return the number of `value` in the unit of `like`, as a difference if `like` is one.

    Raises:
        AssistantError: the two measure different things.
    """
    import pint

    both = as_difference(value) if _is_difference(like) else value
    try:
        return float(both.to(like.units).magnitude)
    except pint.DimensionalityError:
        raise AssistantError(
            f"{show(value)} and {show(like)} measure different things: check the units."
        ) from None


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Convert a number from one unit to another.

    Raises:
        AssistantError: a unit is unknown, or the two measure different things.
    """
    source, target = find(from_unit), find(to_unit)
    if source.kind != target.kind:
        raise AssistantError(
            f"{_named(source)} cannot be converted to {_named(target)}: "
            f"one is {_a(source.kind)}, the other {_a(target.kind)}."
        )
    return express(quantity(value, source.key), target.key)


def _named(unit: Unit) -> str:
    return unit.key or "a plain number"


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


_SHOWN = {
    "[length] ** 2 * [mass] / [time] ** 2": "N·m",
    "[length] * [mass] / [time] ** 2": "N",
    "[length]": "mm",
    "[length] ** 2": "mm²",
    "[length] ** 3": "ml",
    "[mass] / [length] / [time] ** 2": "kPa",
    "[time]": "min",
    "[mass]": "g",
    "dimensionless": "",
}


@cache
def _key_of(pint_unit: str) -> str | None:
    registry_ = registry()
    for unit in UNITS:
        if str(registry_.Unit(unit.pint)) == pint_unit:
            return unit.key
    return None


def unit_of(value: Quantity) -> str:
    """Return the symbol of the quantity's unit, or pint's name if the table has no such unit."""
    name = str(value.units)
    if name.startswith("delta_"):
        return canonical(name.removeprefix("delta_").replace("degree_", ""))
    key = _key_of(name)
    if key is None:
        key = _SHOWN.get(str(value.dimensionality))
    return name if key is None else key


def number(value: float, digits: int = 3) -> str:
    """Return the number as text with so many significant digits, but never round whole digits away.

    Three digits give "71.1" and "203456".
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def show(value: Quantity, unit: str | None = None, digits: int = 3) -> str:
    """Return the quantity as text, such as "71.1 N·m", in `unit` or its own.

    Raises:
        AssistantError: `unit` is unknown, or measures something else.
    """
    key = canonical(unit) if unit is not None else unit_of(value)
    try:
        find(key)
        amount = express(value, key)
    except AssistantError:
        if unit is not None:
            raise
        amount = float(value.magnitude)
    text = number(amount, digits)
    return f"{text}{key}" if key in ("°", "%") else f"{text} {key}".strip()


def require(value: Quantity, kind: str, what: str, *, above: float | None = None) -> Quantity:
    """Check that `value` is a `kind`, such as "length", and more than `above`; return it.

    Args:
        value: the quantity to check.
        kind: the kind of a unit in the table.
        what: name of the quantity, for the message.
        above: a number in the unit of `value`; None for no bound.

    Raises:
        AssistantError: the value measures something else, is not finite or is too small.
        ValueError: the table has no unit of this kind.
    """
    example = next((unit for unit in UNITS if unit.kind == kind), None)
    if example is None:
        raise ValueError(kind)
    if value.dimensionality != registry().Quantity(1, example.pint).dimensionality:
        raise AssistantError(
            f"The {what} has to be {_a(kind)}, such as in {example.key}, not {show(value)}."
        )
    if not math.isfinite(value.magnitude):
        raise AssistantError(f"The {what} is not a number.")
    if above is not None and value.magnitude <= above:
        raise AssistantError(f"The {what} has to be more than {above:g}, not {show(value)}.")
    return value
