"""Readings: formulas, uncertainty, limits, wear and choice of part."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.trade import measure, units

Q = units.parse_quantity
READINGS = {
    "bore": Q("80.05 mm"),
    "shaft": Q("80 mm"),
    "end float": Q("0.3 mm"),
    "first": Q("20 °C"),
    "second": Q("30 °C"),
    "force": Q("100 N"),
    "arm": Q("0.5 m"),
}


@pytest.mark.parametrize(
    ("formula", "unit", "expected"),
    [
        ("bore - shaft", "mm", 0.05),
        ("bore - shaft - 0.02*mm", "mm", 0.03),
        ("(bore - shaft)/2", "mm", 0.025),
        ("end_float * 2", "mm", 0.6),
        ("mean(first, second)", "°C", 25),
        ("second - first", "°C", 10),
        ("second - first", "°F", 18),
        ("force * arm", "N·m", 50),
        ("max(bore, shaft) - min(bore, shaft)", "thou", 0.05 / 0.0254),
        ("sqrt(bore ** 2)", "mm", 80.05),
        ("abs(shaft - bore)", "mm", 0.05),
        ("bore / shaft", "", 1.000625),
        ("-bore + 2*bore", "mm", 80.05),
    ],
)
def test_formula(formula: str, unit: str, expected: float) -> None:
    result = measure.evaluate(formula, READINGS)
    assert units.express(result, unit) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(
    "formula",
    [
        "",
        "bore +",
        "bore + 1",
        "bore + force",
        "first + second",
        "bore / (shaft - shaft)",
        "bore ** 9",
        "9 ** 9 ** 9",
        "2 ** bore",
        "(-2) ** 0.5",
        "nothing + 1",
        "eval(bore)",
        "bore.to('in')",
        "bore.__class__",
        "__import__('os')",
        "bore if 1 else 2",
        "[bore][0]",
        "(lambda: 1)()",
        "'a' * 9",
        "f'{bore}'",
        "bore < shaft",
        "max()",
        "mean()",
        "max(bore, key=abs)",
        "max(*bore)",
        "min(bore, 3)",
        "True + 1",
        "1e300 * 1e300",
        "bore := 1",
        "(" * 90 + "1" + ")" * 90,
        "1" * 201,
    ],
)
def test_formula_refused_in_one_sentence(formula: str) -> None:
    if formula.startswith("((("):  # deep, yet plain arithmetic
        assert measure.evaluate(formula, {}).magnitude == 1
        return
    with pytest.raises(AssistantError) as caught:
        measure.evaluate(formula, READINGS)
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_names_and_check() -> None:
    assert set(measure.names_in("max(bore, end_float) - 0.1*mm")) == {"bore", "end_float", "mm"}
    assert measure.names_in("race_depth - spigot + spigot") == ("race_depth", "spigot")
    measure.check_formula("bore - shaft", {"bore": "mm", "shaft": "in"}, "thou")
    measure.check_formula("sqrt(bore**2 - shaft**2)", {"bore": "mm", "shaft": "mm"}, "mm")
    measure.check_formula("sqrt(shaft**2 - bore**2)", {"bore": "mm", "shaft": "mm"}, "mm")
    with pytest.raises(AssistantError, match="does not give a result in mm"):
        measure.check_formula("bore * shaft", {"bore": "mm", "shaft": "mm"}, "mm")
    with pytest.raises(AssistantError, match="no such reading"):
        measure.check_formula("bore - hole", {"bore": "mm"}, "mm")


@given(st.text("bore shaft+-*/()0123456789.^minax,", max_size=40))
def test_no_formula_escapes_but_as_a_quantity_or_a_plain_error(formula: str) -> None:
    try:
        result = measure.evaluate(formula, READINGS)
    except AssistantError:
        return
    assert math.isfinite(result.magnitude)


def test_uncertainty_of_resolution() -> None:
    # GUM (JCGM 100:2008) F.2.2.1, from memory: standard uncertainty 0.29 δx; twice that for k = 2
    assert units.express(measure.expanded_uncertainty(Q("0.01 mm")), "mm") == pytest.approx(
        2 * 0.29 * 0.01, rel=0.01
    )


@given(
    st.floats(10, 100),
    st.floats(10, 100),
    st.floats(0.001, 0.1),
    st.floats(0.001, 0.1),
    st.sampled_from(["a - b", "a + 2*b", "a * b", "a / b", "sqrt(a*b)", "a**2 - b"]),
)
def test_uncertainty_propagates_as_the_uncertainties_library(
    a: float, b: float, step_a: float, step_b: float, formula: str
) -> None:
    uncertainties = pytest.importorskip("uncertainties")  # PyPI: uncertainties 3.2
    values = {"a": units.quantity(a, ""), "b": units.quantity(b, "")}
    steps = {"a": units.quantity(step_a, ""), "b": units.quantity(step_b, "")}
    mine = measure.uncertainty_of(formula, values, steps)
    scale = 2 / math.sqrt(12)
    names = {
        "a": uncertainties.ufloat(a, step_a * scale),
        "b": uncertainties.ufloat(b, step_b * scale),
        "sqrt": lambda value: value**0.5,
    }
    theirs = eval(formula, {"__builtins__": {}}, names)
    assert mine is not None
    assert float(mine.magnitude) == pytest.approx(theirs.std_dev, rel=1e-3)


def test_uncertainty_keeps_units_and_temperatures() -> None:
    result = measure.uncertainty_of(
        "bore - shaft", READINGS, {"bore": Q("0.01 mm"), "shaft": Q("0.01 mm")}
    )
    assert result is not None
    assert units.express(result, "mm") == pytest.approx(0.01 * 2 / math.sqrt(12) * math.sqrt(2))
    warm = measure.uncertainty_of("second - first", READINGS, {"first": Q("1 °C")})
    assert warm is not None
    assert units.express(warm, "°C") == pytest.approx(2 / math.sqrt(12))
    assert measure.uncertainty_of("bore", READINGS, {}) is None


@pytest.mark.parametrize(
    ("value", "least", "most", "step", "verdict"),
    [
        ("24.97 mm", "24.95 mm", "25 mm", None, "within limits"),
        ("25 mm", "24.95 mm", "25 mm", None, "within limits"),
        ("25.01 mm", "24.95 mm", "25 mm", None, "above the limit"),
        ("24.94 mm", "24.95 mm", None, "0.001 mm", "below the limit"),
        ("25 mm", "24.95 mm", "25 mm", "0.01 mm", "too close to call"),
        ("24.955 mm", "24.95 mm", "25 mm", "0.01 mm", "too close to call"),
        ("24.97 mm", "24.95 mm", "25 mm", "0.01 mm", "within limits"),
        ("0.98 in", "24.5 mm", "25 mm", None, "within limits"),
        ("68 °F", "19.9 °C", "20.1 °C", None, "within limits"),
        ("68 °F", "19.9 °C", "20.1 °C", "1 °C", "too close to call"),
        ("5 mm", None, None, "1 mm", "within limits"),
    ],
)
def test_judge(
    value: str, least: str | None, most: str | None, step: str | None, verdict: str
) -> None:
    result = measure.judge(
        Q(value),
        None if least is None else Q(least),
        None if most is None else Q(most),
        None if step is None else measure.expanded_uncertainty(Q(step)),
    )
    assert result.verdict == verdict
    assert result.ok is (verdict == "within limits")
    assert result.sentence().endswith(".")


def test_as_near_as_the_uncertainty_is_too_close() -> None:
    for value, verdict in (("9.5 mm", "too close to call"), ("9.49 mm", "within limits")):
        assert measure.judge(Q(value), None, Q("10 mm"), Q("0.5 mm")).verdict == verdict
    for value, verdict in (("10.5 mm", "too close to call"), ("10.51 mm", "above the limit")):
        assert measure.judge(Q(value), None, Q("10 mm"), Q("0.5 mm")).verdict == verdict


def test_powers_are_bounded() -> None:
    assert measure.evaluate("2 ** 4", {}).magnitude == 16
    for formula in ("2 ** 5", "2 ** -5", "2 ** 2 ** 3"):
        with pytest.raises(AssistantError, match="power"):
            measure.evaluate(formula, {})


def test_judge_a_temperature_difference() -> None:
    rise = measure.evaluate("second - first", READINGS)
    assert measure.judge(rise, None, Q("12 °C")).ok
    assert not measure.judge(rise, None, Q("9 °C")).ok


def test_judge_refuses() -> None:
    with pytest.raises(AssistantError, match="different things"):
        measure.judge(Q("5 mm"), Q("1 bar"))
    with pytest.raises(AssistantError, match="more than the most"):
        measure.judge(Q("5 mm"), Q("6 mm"), Q("4 mm"))


@given(st.floats(-10, 10), st.floats(-10, 10), st.floats(0, 5), st.floats(0, 2))
def test_sure_verdicts_are_never_wrong_within_the_uncertainty(
    value: float, least: float, width: float, doubt: float
) -> None:
    mm = [units.quantity(number, "mm") for number in (value, least, least + width, doubt)]
    verdict = measure.judge(*mm).verdict
    for true in (value - doubt, value + doubt):
        if verdict is measure.Verdict.WITHIN:
            assert least - 1e-6 <= true <= least + width + 1e-6
        elif verdict is measure.Verdict.BELOW:
            assert value < least
        elif verdict is measure.Verdict.ABOVE:
            assert value > least + width


def test_wear_works_for_shaft_and_bore() -> None:
    shaft = measure.wear(Q("24.93 mm"), Q("25 mm"), Q("24.9 mm"))
    assert shaft.share == pytest.approx(0.7)
    assert shaft.serviceable
    bore = measure.wear(Q("25.12 mm"), Q("25 mm"), Q("25.1 mm"))
    assert bore.share == pytest.approx(1.2)
    assert not bore.serviceable
    assert "past its service limit" in bore.sentence()
    with pytest.raises(AssistantError):
        measure.wear(Q("25 mm"), Q("25 mm"), Q("25 mm"))


def test_better_than_new_is_questioned() -> None:
    # A shaft does not grow by wear, nor a bore shrink, so such a reading is questioned.
    for reading, new, limit in (
        ("25.02 mm", "25 mm", "24.9 mm"),
        ("24.98 mm", "25 mm", "25.1 mm"),
    ):
        found = measure.wear(Q(reading), Q(new), Q(limit))
        assert found.condition is measure.Condition.BETTER_THAN_NEW
        assert not found.serviceable
        assert units.express(found.worn, "mm") == pytest.approx(-0.02)
        assert found.share == pytest.approx(-0.2)
        assert found.sentence() == (
            "0.02 mm better than new: measure again, and check that it is the right part."
        )
    new = measure.wear(Q("25 mm"), Q("25 mm"), Q("24.9 mm"))
    assert new.condition is measure.Condition.SERVICEABLE
    assert new.share == 0
    # A graduation of 0.02 mm gives 0.012 mm either way (GUM, F.2.2.1, k = 2).
    doubt = measure.expanded_uncertainty(Q("0.02 mm"))
    close = measure.wear(Q("25.01 mm"), Q("25 mm"), Q("24.9 mm"), doubt)
    assert close.condition is measure.Condition.SERVICEABLE
    far = measure.wear(Q("25.02 mm"), Q("25 mm"), Q("24.9 mm"), doubt)
    assert far.condition is measure.Condition.BETTER_THAN_NEW


def test_wear_at_its_limit_is_judged_as_any_reading() -> None:
    at = measure.wear(Q("24.9 mm"), Q("25 mm"), Q("24.9 mm"))
    assert at.condition is measure.Condition.SERVICEABLE
    assert at.share == pytest.approx(1)
    doubt = measure.expanded_uncertainty(Q("0.01 mm"))
    for reading, condition in (
        ("24.91 mm", measure.Condition.SERVICEABLE),
        ("24.905 mm", measure.Condition.UNSURE),
        ("24.9 mm", measure.Condition.UNSURE),
        ("24.895 mm", measure.Condition.UNSURE),
        ("24.89 mm", measure.Condition.WORN_OUT),
    ):
        found = measure.wear(Q(reading), Q("25 mm"), Q("24.9 mm"), doubt)
        assert found.condition is condition, reading
    assert (
        "it is good to 0.0058 mm"
        in measure.wear(Q("24.9 mm"), Q("25 mm"), Q("24.9 mm"), doubt).sentence()
    )


def test_worked_out_values() -> None:
    # Fits: ISO 286-1, 3.2; a 25 H7/f7 pair at its limits has 0.020 to 0.062 mm (from memory)
    assert units.express(measure.clearance(Q("25.021 mm"), Q("24.959 mm")), "mm") == pytest.approx(
        0.062
    )
    assert units.express(measure.clearance(Q("25 mm"), Q("24.98 mm")), "mm") == pytest.approx(0.02)
    assert units.express(
        measure.end_float(Q("52 mm"), Q("50.1 mm"), Q("1.6 mm")), "mm"
    ) == pytest.approx(0.3)
    readings = [Q("80.02 mm"), Q("80.05 mm"), Q("80.01 mm")]
    for work in (measure.out_of_round, measure.taper, measure.run_out):
        assert units.express(work(readings), "mm") == pytest.approx(0.04)
        with pytest.raises(AssistantError):
            work(readings[:1])
        with pytest.raises(AssistantError):
            work([Q("1 mm"), Q("1 bar")])
    assert units.express(measure.mean([Q("1 in"), Q("24.6 mm")]), "mm") == pytest.approx(25)
    assert units.express(measure.mean([Q("20 °C"), Q("30 °C")]), "°C") == pytest.approx(25)
    with pytest.raises(AssistantError):
        measure.clearance(Q("-1 mm"), Q("1 mm"))


SHIMS = [
    measure.Row("thin shim", up_to=Q("0.2 mm")),
    measure.Row("middle shim", Q("0.2 mm"), Q("0.4 mm")),
    measure.Row("thick shim", Q("0.4 mm"), Q("0.6 mm")),
]


def test_choice() -> None:
    assert measure.choose(Q("0.2 mm"), SHIMS).part == "thin shim"
    assert measure.choose(Q("0.21 mm"), SHIMS).part == "middle shim"
    near = measure.choose(Q("0.398 mm"), SHIMS, Q("0.006 mm"))
    assert (near.part, near.unsure) == ("middle shim", "thick shim")
    assert "measure again" in near.sentence()
    assert measure.choose(Q("0.3 mm"), SHIMS, Q("0.006 mm")).unsure is None
    near = measure.choose(Q("0.202 mm"), SHIMS, Q("0.006 mm"))
    assert (near.part, near.unsure) == ("middle shim", "thin shim")
    # Beyond the end of the table there is no other part.
    assert measure.choose(Q("0.598 mm"), SHIMS, Q("0.006 mm")).unsure is None
    # A row excludes its lower limit and includes its upper one.
    with pytest.raises(AssistantError, match="no part fits"):
        measure.choose(Q("0.2 mm"), SHIMS[1:])
    assert measure.choose(Q("0.6 mm"), SHIMS).part == "thick shim"
    with pytest.raises(AssistantError, match="no part fits"):
        measure.choose(Q("0.7 mm"), SHIMS)
    with pytest.raises(AssistantError):
        measure.choose(Q("0.3 bar"), SHIMS)
