"""Spoken units: from the words people say to a unit key, and from a unit key to spoken words.

A *unit key* is the symbol used throughout the project ("N·m", "lbf·ft", "°C"); the table below has
all of them. Nothing is converted here. The phrases are common practice, no source.

Some phrases mean several units. They are understood as follows:

- "mil", "mils" may be a millilitre, a millimetre or a thousandth of an inch. It is taken as
  millilitres only if millilitres are expected and no length is. It is never taken as a length.
- "degrees" alone is an angle, unless a temperature scale is expected and no angle. It is refused if
  both scales are expected.
- "pounds" alone is a pressure (psi), only if psi is expected and no torque is. It is never taken as
  a torque, because foot pounds and inch pounds differ by a factor of twelve.
- "ounces" alone is fluid ounces, only if they are expected and no torque is.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType


@dataclass(frozen=True)
class _Unit:
    dimension: str
    singular: str
    plural: str
    also: tuple[str, ...] = ()  # other spoken phrases, which the grammar offers too
    typed: tuple[str, ...] = ()  # spellings that sound like those above, for typed words only
    written: tuple[str, ...] = ()  # symbols after a figure, besides the key itself
    loose: tuple[str, ...] = ()  # phrases understood only if this unit is expected
    unless: frozenset[str] = frozenset()  # dimensions that make the loose phrases ambiguous


_LENGTH = frozenset({"length"})
_TORQUE = frozenset({"torque"})
_ANGLE = frozenset({"angle"})

_UNITS: Mapping[str, _Unit] = {
    "N·m": _Unit(
        "torque",
        "newton metre",
        "newton metres",
        typed=("newton meter", "newton meters"),
        written=("Nm", "nm", "NM", "N.m", "N-m", "N m"),
    ),
    "lbf·ft": _Unit(
        "torque",
        "foot pound",
        "foot pounds",
        also=("pound feet", "pound foot"),
        typed=("pounds feet", "feet pounds", "pounds foot"),
        written=(
            "ft-lb",
            "ft-lbs",
            "ft lb",
            "ft lbs",
            "ftlb",
            "ftlbs",
            "ft·lbf",
            "ft.lb",
            "lb-ft",
            "lb ft",
            "lbft",
            "lbf ft",
            "lbf.ft",
            "lb·ft",
        ),
    ),
    "lbf·in": _Unit(
        "torque",
        "inch pound",
        "inch pounds",
        also=("pound inches", "pound inch"),
        typed=("pounds inches", "inches pounds", "pounds inch"),
        written=(
            "in-lb",
            "in-lbs",
            "in lb",
            "in lbs",
            "inlb",
            "inlbs",
            "in·lbf",
            "in.lb",
            "lb-in",
            "lb in",
            "lbin",
            "lbf in",
            "lbf.in",
            "lb·in",
        ),
    ),
    "kgf·m": _Unit(
        "torque",
        "kilogram metre",
        "kilogram metres",
        also=("kilogram force metre", "kilogram force metres"),
        typed=(
            "kilogram meter",
            "kilogram meters",
            "kilogram force meter",
            "kilogram force meters",
        ),
        written=("kgf m", "kgfm", "kgf.m", "kgf-m", "kg·m", "kg.m", "kg-m", "kgm", "kg m"),
    ),
    "kgf·cm": _Unit(
        "torque",
        "kilogram centimetre",
        "kilogram centimetres",
        also=("kilogram force centimetre", "kilogram force centimetres"),
        typed=(
            "kilogram centimeter",
            "kilogram centimeters",
            "kilogram force centimeter",
            "kilogram force centimeters",
        ),
        written=("kgf cm", "kgfcm", "kgf.cm", "kgf-cm", "kg·cm", "kg.cm", "kg-cm", "kgcm", "kg cm"),
    ),
    "ozf·in": _Unit(
        "torque",
        "ounce inch",
        "ounce inches",
        also=("inch ounce", "inch ounces"),
        written=("oz-in", "oz in", "ozin", "oz·in", "in-oz", "in oz", "ozf in"),
    ),
    "mm": _Unit(
        "length",
        "millimetre",
        "millimetres",
        typed=("millimeter", "millimeters"),
        written=("MM",),
    ),
    "µm": _Unit(
        "length",
        "micron",
        "microns",
        typed=("micrometre", "micrometres", "micrometer", "micrometers"),
        written=("μm", "um"),
    ),
    "in": _Unit("length", "inch", "inches", written=('"', "″", "in.")),
    "thou": _Unit(
        "length",
        "thou",
        "thou",
        also=("thousandth of an inch", "thousandths of an inch"),
        typed=("thous",),
    ),
    "bar": _Unit("pressure", "bar", "bar", typed=("bars",), written=("Bar",)),
    "kPa": _Unit(
        "pressure", "kilopascal", "kilopascals", also=("k p a",), written=("kpa", "KPa", "KPA")
    ),
    "psi": _Unit(
        "pressure",
        "p s i",
        "p s i",
        also=("pound per square inch", "pounds per square inch"),
        typed=("psi",),
        written=("PSI",),
        loose=("pounds",),
        unless=_TORQUE,
    ),
    "°C": _Unit(
        "temperature",
        "degree celsius",
        "degrees celsius",
        also=("degrees c", "celsius"),
        typed=("degree c", "degrees centigrade", "degree centigrade", "centigrade"),
        written=("℃", "degC", "deg C", "C"),
        loose=("degrees", "degree"),
        unless=_ANGLE,
    ),
    "°F": _Unit(
        "temperature",
        "degree fahrenheit",
        "degrees fahrenheit",
        also=("degrees f", "fahrenheit"),
        typed=("degree f",),
        written=("℉", "degF", "deg F", "F"),
        loose=("degrees", "degree"),
        unless=_ANGLE,
    ),
    "ml": _Unit(
        "volume",
        "millilitre",
        "millilitres",
        also=("c c",),
        typed=(
            "milliliter",
            "milliliters",
            "cc",
            "cubic centimetre",
            "cubic centimetres",
            "cubic centimeter",
            "cubic centimeters",
        ),
        written=("mL", "ML", "cc"),
        loose=("mils", "mil"),
        unless=_LENGTH,
    ),
    "l": _Unit("volume", "litre", "litres", typed=("liter", "liters"), written=("L", "ltr")),
    "fl oz": _Unit(
        "volume",
        "fluid ounce",
        "fluid ounces",
        written=("floz", "fl. oz", "fl.oz"),
        loose=("ounces", "ounce"),
        unless=_TORQUE,
    ),
    "s": _Unit("time", "second", "seconds", written=("sec", "secs")),
    "min": _Unit("time", "minute", "minutes", written=("mins",)),
    "h": _Unit("time", "hour", "hours", written=("hr", "hrs")),
    "d": _Unit("time", "day", "days"),
    "°": _Unit("angle", "degree", "degrees", written=("°",)),
    "Ω": _Unit(
        "resistance", "ohm", "ohms", written=("\u2126", "ohm", "ohms")
    ),  # the key is Greek omega; U+2126 is the ohm sign
    "V": _Unit("voltage", "volt", "volts", written=("v",)),
    "A": _Unit("current", "amp", "amps", typed=("ampere", "amperes")),
    "g": _Unit("mass", "gram", "grams", typed=("gramme", "grammes")),
    "kg": _Unit(
        "mass",
        "kilogram",
        "kilograms",
        also=("kilo", "kilos"),
        typed=("kilogramme", "kilogrammes"),
        written=("KG", "kgs"),
    ),
    "rpm": _Unit(
        "rotational speed",
        "r p m",
        "r p m",
        also=("revs per minute", "revolutions per minute"),
        typed=("rpm", "rev per minute"),
        written=("RPM",),
    ),
}

DIMENSION: Mapping[str, str] = MappingProxyType({k: u.dimension for k, u in _UNITS.items()})
"""What each unit key measures: "torque", "length", "pressure", "temperature", "volume", "time",
"angle", "resistance", "voltage", "current", "mass", "rotational speed". It has every unit key."""

WRITTEN: Mapping[str, str] = MappingProxyType(
    {symbol: key for key, unit in _UNITS.items() for symbol in (key, *unit.written)}
)
"""The unit key of each symbol written after a figure ("Nm", "ft-lb", '"', "°C")."""

_PHRASES: Mapping[str, str] = {
    phrase: key
    for key, unit in _UNITS.items()
    for phrase in (unit.singular, unit.plural, *unit.also, *unit.typed)
}

# Units that a loose phrase may also mean, but is never taken for.
_ELSEWHERE: Mapping[str, list[str]] = {
    "mil": ["millimetres", "thou"],
    "pound": ["foot pounds", "inch pounds"],
}

# American spellings in typed text, and those of the grammar. "meter" alone and "micrometer" stay as
# they are, because they are also tools.
_SPELLINGS: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"\b(milli|centi|newton |kilogram |force )meter(s?)\b", re.I), r"\1metre\2"),
    (re.compile(r"\b(milli)?liter(s?)\b", re.I), r"\1litre\2"),
    (re.compile(r"\b(kilo)?gramme(s?)\b", re.I), r"\1gram\2"),
    (re.compile(r"\bdegree(s?) centigrade\b", re.I), r"degree\1 celsius"),
)


def _unit(key: str) -> _Unit:
    try:
        return _UNITS[key]
    except KeyError:
        raise ValueError(f"“{key}” is not a unit I know.") from None


def _loose(units: Iterable[str]) -> dict[str, list[str]]:
    """Return the loose phrases if `units` are expected, each with the units that it may mean."""
    keys = list(dict.fromkeys(units))
    dimensions = {_unit(key).dimension for key in keys}
    claims: dict[str, list[str]] = {}
    for key in keys:
        if not _UNITS[key].unless & dimensions:
            for phrase in _UNITS[key].loose:
                claims.setdefault(phrase, []).append(key)
    return claims


def parse(words: Sequence[str], expected: Iterable[str] = ()) -> str:
    """Return the unit key that the spoken `words` name ("newton", "metres" gives "N·m").

    `expected` are the unit keys that would fit here. They settle the loose phrases of the module's
    docstring; other units are still understood. British and American spellings are understood.
    Raises ValueError, with a sentence to speak, for anything else.
    """
    phrase = " ".join(" ".join(words).replace("-", " ").lower().split())
    if not phrase:
        raise ValueError("No unit was given.")
    claims = _loose(expected).get(phrase, [])
    if len(claims) == 1:
        return claims[0]
    if not claims and phrase in _PHRASES:
        return _PHRASES[phrase]
    meant = [unit.plural for unit in _UNITS.values() if phrase in unit.loose]
    if meant:
        meant += _ELSEWHERE.get(phrase.rstrip("s"), [])
        raise ValueError(f"“{phrase}” could be {' or '.join(meant)}. Say the unit in full.")
    raise ValueError(f"“{phrase}” is not a unit I know.")


def spoken(unit: str, value: Decimal | int | float | str) -> str:
    """Return the spoken words for the unit key `unit` after the number `value`.

    The singular is only for one and minus one ("one newton metre", "zero point five newton
    metres"). Raises ValueError for an unknown unit.
    """
    entry = _unit(unit)
    return entry.singular if abs(Decimal(str(value))) == 1 else entry.plural


def jsgf(units: Iterable[str]) -> str:
    """Return a JSGF group, in round brackets, of all phrases for the unit keys `units`.

    It has each phrase once, in British spelling (American spelling sounds the same), and the loose
    phrases that are unambiguous among `units`. `parse(words, units)` turns them back into the key.
    Raises ValueError for an unknown unit, or for no unit at all.
    """
    keys = list(dict.fromkeys(units))
    if not keys:
        raise ValueError("A list of units must hold at least one.")
    phrases: dict[str, None] = {}
    for key in keys:
        unit = _unit(key)
        phrases |= dict.fromkeys((unit.plural, unit.singular, *unit.also))
    phrases |= {phrase: None for phrase, claim in _loose(keys).items() if len(claim) == 1}
    return "(" + " | ".join(phrases) + ")"


def grammar_spelling(text: str) -> str:
    """Return typed `text` with unit words in the spelling of the grammars (meters to metres).

    Words that are also tools ("flow meter", "micrometer") stay as they are.
    """
    for pattern, replacement in _SPELLINGS:
        text = pattern.sub(replacement, text)
    return text
