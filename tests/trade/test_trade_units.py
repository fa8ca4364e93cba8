"""Units: published conversion factors, spellings, and refusal to mix kinds."""

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.trade import units

# NIST SP 811 (2008), appendix B.8, unless another source is named: lbf·ft, lbf·in, kgf·m and psi
# from a list of check values, the others from memory of that table.
NIST = [
    ("lbf·ft", "N·m", 1.355818),
    ("lbf·in", "N·m", 0.1129848),
    ("kgf·m", "N·m", 9.80665),
    ("ozf·in", "cN·m", 0.7061552),
    ("kgf·cm", "N·m", 0.0980665),  # kgf·m, hundredth
    ("psi", "Pa", 6894.757),
    ("bar", "kPa", 100),
    ("in", "mm", 25.4),
    ("thou", "mm", 0.0254),
    ("ft", "m", 0.3048),
    ("fl oz", "ml", 29.57353),
    ("imp fl oz", "ml", 28.41306),
    ("US gal", "l", 3.785412),
    ("imp gal", "l", 4.54609),
    ("US qt", "l", 0.9463529),
    ("lbf", "N", 4.448222),
    ("kgf", "N", 9.80665),
    ("lb", "kg", 0.45359237),
    ("oz", "g", 28.34952),
    ("inHg", "kPa", 3.386389),
    ("mmHg", "Pa", 133.3224),
    ("°", "°", 1),
    ("h", "min", 60),  # SI brochure, table 8
    ("d", "h", 24),  # SI brochure, table 8
]


@pytest.mark.parametrize(("source", "target", "factor"), NIST)
def test_published_factors(source: str, target: str, factor: float) -> None:
    assert units.convert(1, source, target) == pytest.approx(factor, rel=5e-7)


@pytest.mark.parametrize(
    ("value", "source", "target", "expected"),
    [
        # ITS-90 and NIST SP 811, B.8: t/°C = (t/°F - 32)/1.8; T/K = t/°C + 273.15
        (32, "°F", "°C", 0),
        (212, "°F", "°C", 100),
        (-40, "°F", "°C", -40),
        (20, "°C", "K", 293.15),
    ],
)
def test_temperatures(value: float, source: str, target: str, expected: float) -> None:
    assert units.convert(value, source, target) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("N·m", "N·m"),
        ("Nm", "N·m"),
        ("N*m", "N·m"),
        ("nm", "N·m"),
        ("newton metres", "N·m"),
        ("lbf·ft", "lbf·ft"),
        ("ft lb", "lbf·ft"),
        ("ft-lbs", "lbf·ft"),
        ("foot pounds", "lbf·ft"),
        ("in lb", "lbf·in"),
        ("kgf·m", "kgf·m"),
        ("kg-cm", "kgf·cm"),
        ("oz in", "ozf·in"),
        ("inches", "in"),
        ("degC", "°C"),
        ("deg", "°"),
        ("fl. oz", "fl oz"),
        ("litres", "l"),
        ("cc", "ml"),
        ("MPa", "MPa"),
    ],
)
def test_spellings(text: str, key: str) -> None:
    assert units.canonical(text) == key


def test_a_name_has_a_plural_where_english_gives_it_one() -> None:
    for text, key in (("bars", "bar"), ("litres", "l"), ("inches", "in"), ("pounds", "lb")):
        assert units.canonical(text) == key
    # Units that end in s, squares, cubes and short symbols have no plural.
    for text in ("inchess", "mm2s", "cm3s", "mms"):
        assert not units.is_unit(text), text


@pytest.mark.parametrize(("text", "near"), [("mpa", "MPa"), ("mΩ", "MΩ"), ("Nmm", "N·m")])
def test_milli_is_not_taken_for_mega_and_the_nearest_is_named(text: str, near: str) -> None:
    with pytest.raises(AssistantError, match=near):
        units.canonical(text)


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("14 N·m", 14, "N·m"),
        ("14.5Nm", 14.5, "N·m"),
        ("-0.05 mm", -0.05, "mm"),
        ("−5 °C", -5, "°C"),
        ("3/8 in", 0.375, "in"),
        ("-3/8 in", -0.375, "in"),
        ("0 K", 0, "K"),
        ("-273.15 °C", -273.15, "°C"),
        ("−1 1/2 in", -1.5, "in"),
        ("+3/8 in", 0.375, "in"),
        ("1 1/2 in", 1.5, "in"),
        ("90°", 90, "°"),
        ("2.5", 2.5, ""),
        ("5 fl oz", 5, "fl oz"),
    ],
)
def test_parse(text: str, number: float, unit: str) -> None:
    value = units.parse_quantity(text)
    assert units.unit_of(value) == unit
    assert value.magnitude == pytest.approx(number)


@pytest.mark.parametrize(
    "text",
    ["", "mm", "14 furlong", "14 mpa", "1,5 mm", "1e3 mm", "3/0 mm", "-300 °C", "9999999999 mm"],
)
def test_refused_in_one_plain_sentence(text: str) -> None:
    with pytest.raises(AssistantError) as caught:
        units.parse_quantity(text)
    said = str(caught.value)
    assert said[0].isupper() or said[0] in "-39'"
    assert said.endswith((".", "?"))
    assert "\n" not in said


@given(
    st.floats(0.001, 1e5),
    st.sampled_from(units.UNITS),
    st.sampled_from(units.UNITS),
)
def test_round_trip_or_refused(value: float, one: units.Unit, other: units.Unit) -> None:
    if units.same_dimension(one.key, other.key):
        try:
            there = units.convert(value, one.key, other.key)
        except AssistantError:
            raise AssertionError("one dimension, yet refused") from None
        if abs(there) <= units.LARGEST:
            back = units.convert(there, other.key, one.key)
            assert back == pytest.approx(value, rel=1e-9, abs=1e-9)
    else:
        with pytest.raises(AssistantError, match="cannot be converted to"):
            units.convert(value, one.key, other.key)


@given(st.sampled_from(units.UNITS))
def test_is_unit_agrees_with_canonical(unit: units.Unit) -> None:
    for text in (unit.key, unit.key + "zz", "bore", unit.key.upper(), unit.key.lower()):
        try:
            units.canonical(text)
            known = True
        except AssistantError:
            known = False
        assert units.is_unit(text) is known


@given(st.sampled_from(units.UNITS))
def test_canonical_is_stable_and_shown_units_are_read_back(unit: units.Unit) -> None:
    assert units.canonical(unit.key) == unit.key
    for text in unit.also:
        assert units.canonical(text) == unit.key
    assert units.unit_of(units.quantity(2, unit.key)) == unit.key


@given(st.floats(-1e6, 1e6), st.integers(2, 6))
def test_shown_number_is_near(value: float, digits: int) -> None:
    shown = float(units.number(value, digits))
    assert shown == pytest.approx(value, rel=0.51 * 10 ** (1 - digits), abs=1e-300)


def test_reading_a_unit_does_not_import_pint() -> None:
    code = (
        "import sys; from assistant.cli import sums; from assistant.trade import units, measure,"
        "order, wrench, fasteners, leak, fluids, threadlocker; units.canonical('ft lb');"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
