"""Spoken units, from words to keys and back. The phrases are common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.grammar import jsgf as grammar
from assistant.grammar import units

_SAID = {
    "newton metres": "N·m",
    "newton meters": "N·m",
    "foot pounds": "lbf·ft",
    "pound feet": "lbf·ft",
    "inch pounds": "lbf·in",
    "kilogram metres": "kgf·m",
    "kilogram force centimetres": "kgf·cm",
    "ounce inches": "ozf·in",
    "millimetres": "mm",
    "millimeters": "mm",
    "microns": "µm",
    "inches": "in",
    "thou": "thou",
    "thousandths of an inch": "thou",
    "bar": "bar",
    "kilopascals": "kPa",
    "p s i": "psi",
    "pounds per square inch": "psi",
    "degrees": "°",
    "degrees celsius": "°C",
    "Degrees C": "°C",
    "fahrenheit": "°F",
    "millilitres": "ml",
    "c c": "ml",
    "liters": "l",
    "fluid ounces": "fl oz",
    "seconds": "s",
    "minutes": "min",
    "hours": "h",
    "days": "d",
    "ohms": "Ω",
    "volts": "V",
    "amps": "A",
    "grams": "g",
    "kilograms": "kg",
    "kilos": "kg",
    "r p m": "rpm",
    "revolutions per minute": "rpm",
}


@pytest.mark.parametrize(("said", "key"), _SAID.items())
def test_as_people_say_them(said: str, key: str) -> None:
    assert units.parse(said.split()) == key


def test_every_unit_is_tried_above() -> None:
    assert set(_SAID.values()) == set(units.DIMENSION)


@pytest.mark.parametrize("key", units.DIMENSION)
def test_spoken_and_heard_again(key: str) -> None:
    for value in (0, 1, 14, Decimal("0.5"), "1.0", -1):
        assert units.parse(units.spoken(key, value).split()) == key


@pytest.mark.parametrize(
    ("key", "value", "wording"),
    [
        ("N·m", 14, "newton metres"),
        ("N·m", 1, "newton metre"),
        ("mm", Decimal("0.05"), "millimetres"),
        ("mm", "1.0", "millimetre"),
        ("in", 1.5, "inches"),
        ("°C", -1, "degree celsius"),
        ("thou", 1, "thou"),
        ("bar", 3, "bar"),
        ("h", 0, "hours"),
    ],
)
def test_wording(key: str, value: Decimal | float | str, wording: str) -> None:
    assert units.spoken(key, value) == wording


@given(st.lists(st.sampled_from(sorted(units.DIMENSION)), min_size=1, max_size=6))
def test_every_phrase_of_a_grammar_gives_one_of_its_units(keys: list[str]) -> None:
    text = f"#JSGF V1.0;\ngrammar t;\npublic <unit> = {units.jsgf(keys)};\n"
    words_of = units.jsgf(keys).strip("()").split(" | ")
    assert len(set(words_of)) == len(words_of)
    network = grammar.parse(text).network()
    heard = set()
    for phrase in words_of:
        assert network.accepts(phrase.split())
        heard.add(units.parse(phrase.split(), keys))
    assert heard == set(keys)


def test_mils_are_never_a_length() -> None:
    assert units.parse(["mils"], ["ml", "l"]) == "ml"
    for expected in ([], ["mm"], ["thou"], ["ml", "mm"]):
        with pytest.raises(ValueError, match="millilitres or millimetres or thou"):
            units.parse(["mils"], expected)
    assert "mil" not in units.jsgf(["ml", "mm"]).strip("()").split(" | ")
    assert "mil" in units.jsgf(["ml"]).strip("()").split(" | ")


def test_degrees_are_an_angle_unless_a_temperature_is_expected() -> None:
    assert units.parse(["degrees"]) == "°"
    assert units.parse(["degrees"], ["°C"]) == "°C"
    assert units.parse(["degrees"], ["°C", "°"]) == "°"
    with pytest.raises(ValueError, match="degrees celsius or degrees fahrenheit"):
        units.parse(["degrees"], ["°C", "°F"])


def test_pounds_are_never_a_torque() -> None:
    assert units.parse(["pounds"], ["psi", "bar"]) == "psi"
    for expected in ([], ["lbf·ft"], ["psi", "lbf·in"]):
        with pytest.raises(ValueError, match="Say the unit in full"):
            units.parse(["pounds"], expected)


@pytest.mark.parametrize("said", ["", "fish", "newton", "metres", "foot"])
def test_what_is_no_unit(said: str) -> None:
    with pytest.raises(ValueError, match=r"\.$"):
        units.parse(said.split())


def test_unknown_keys() -> None:
    with pytest.raises(ValueError, match="fish"):
        units.spoken("fish", 1)
    with pytest.raises(ValueError, match="fish"):
        units.jsgf(["fish"])
    with pytest.raises(ValueError, match="fish"):
        units.parse(["bar"], ["fish"])
    with pytest.raises(ValueError, match="at least one"):
        units.jsgf([])


@pytest.mark.parametrize(
    ("symbol", "key"),
    [
        ("Nm", "N·m"),
        ("ft-lb", "lbf·ft"),
        ("in lb", "lbf·in"),
        ("kgf.m", "kgf·m"),
        ("\u03bcm", "µm"),  # Greek mu; the key has the micro sign
        ("\u2126", "Ω"),
        ('"', "in"),
        ("°", "°"),
        ("mL", "ml"),
    ],
)
def test_written_symbols(symbol: str, key: str) -> None:
    assert units.WRITTEN[symbol] == key


@pytest.mark.parametrize(
    ("typed", "spelt"),
    [
        ("14 newton meters", "14 newton metres"),
        ("2 Liters", "2 litres"),
        ("five milliliters", "five millilitres"),
        ("flow meter", "flow meter"),
        ("micrometer", "micrometer"),
        ("kilogram force meters", "kilogram force metres"),
    ],
)
def test_american_spelling(typed: str, spelt: str) -> None:
    assert units.grammar_spelling(typed).lower() == spelt
