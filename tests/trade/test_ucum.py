"""The units' UCUM codes, compared with UCUM's own table (ucum-essence.xml, in ucumvert)."""

from functools import cache

import pytest
import ucumvert

from assistant.grammar import units as spoken
from assistant.trade import units


@cache
def _registry() -> ucumvert.PintUcumRegistry:
    return ucumvert.PintUcumRegistry()


# Units that ucumvert's bridge to pint defines differently from UCUM's table: inches of mercury at
# 60 °F; and a revolution, which in UCUM is a remark in braces without a size.
ELSEWHERE = {"inHg", "rpm"}


@pytest.mark.parametrize("unit", units.UNITS, ids=lambda unit: unit.key or "none")
def test_the_code_is_one_of_ucums_and_means_the_same_unit(unit: units.Unit) -> None:
    theirs = _registry().from_ucum(unit.ucum)
    if unit.key in ELSEWHERE:
        return
    ours = units.registry().Quantity(1, unit.pint).to_base_units()
    other = theirs.to_base_units()
    assert str(other.dimensionality) == str(ours.dimensionality)
    assert other.magnitude == pytest.approx(ours.magnitude, rel=1e-6)


def test_inches_of_mercury_are_those_of_ucums_table() -> None:
    # ucum-essence.xml: m[Hg] is 133.3220 kPa, [in_i'Hg] is [in_i] of it: 0.0254 × 133.3220 kPa.
    assert units.ucum("inHg") == "[in_i'Hg]"
    assert units.convert(1, "inHg", "kPa") == pytest.approx(0.0254 * 133.3220, rel=1e-5)


def test_every_unit_that_can_be_said_has_a_code() -> None:
    for key in spoken.DIMENSION:
        assert units.ucum(key), key


def test_what_is_no_unit_has_none() -> None:
    assert units.ucum("bad unit") is None
