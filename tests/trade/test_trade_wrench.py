"""Wrenches: rounding, adapters, classes and calibration."""

import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.trade import units, wrench

Q = units.parse_quantity
BIG = wrench.Wrench("the big wrench", Q("40 N·m"), Q("200 N·m"), Q("1 N·m"))
SMALL = wrench.Wrench("the small wrench", Q("5 N·m"), Q("25 N·m"), Q("0.25 N·m"))
INCH = wrench.Wrench("the foot pound wrench", Q("10 lbf·ft"), Q("80 lbf·ft"), Q("1 lbf·ft"))
METRIC = wrench.Wrench("a wrench", Q("10 N·m"), Q("100 N·m"), Q("1 N·m"))


@pytest.mark.parametrize(
    ("wanted", "shown"), [("39 lbf·ft", 53), ("30 lbf·ft", 41), ("52 lbf·ft", 71)]
)
def test_rounding_to_a_scale(wanted: str, shown: float) -> None:
    # common practice, no source
    assert units.express(wrench.setting(Q(wanted), METRIC).set_to, "N·m") == pytest.approx(shown)


def test_small_and_inch_scales() -> None:
    # common practice, no source: 14 lbf·ft is 19 N·m
    result = wrench.setting(Q("14 lbf·ft"), wrench.Wrench("w", Q("5 N·m"), Q("50 N·m"), Q("1 N·m")))
    assert units.express(result.set_to, "N·m") == pytest.approx(19)
    # 1 lbf·ft is 1.355 818 N·m, NIST SP 811
    back = wrench.setting(Q("53 N·m"), INCH)
    assert units.unit_of(back.set_to) == "lbf·ft"
    assert back.set_to.magnitude == pytest.approx(39)
    assert back.error_share == pytest.approx(39 * 1.355818 / 53 - 1, rel=1e-3)


def test_a_torque_off_the_scale_is_refused_and_another_wrench_named() -> None:
    for off, place in (
        ("12 N·m", wrench.Range.BELOW_SCALE),
        ("201 N·m", wrench.Range.ABOVE_SCALE),
    ):
        assert BIG.range_of(Q(off)) is place
        with pytest.raises(AssistantError, match=f"{place} of the big wrench, 40 N·m to 200 N·m"):
            wrench.setting(Q(off), BIG)
    with pytest.raises(AssistantError, match="use the small wrench"):
        wrench.setting(Q("12 N·m"), BIG, [BIG, SMALL])
    with pytest.raises(AssistantError, match="use another wrench"):
        wrench.setting(Q("900 N·m"), BIG, [BIG, SMALL])
    for edge in ("40 N·m", "200 N·m"):
        assert wrench.setting(Q(edge), BIG).suits


def test_below_a_fifth_the_class_says_nothing() -> None:
    # ISO 6789: tests at 20, 60 and 100 % of the largest torque (public manual of a wrench tester).
    low = wrench.Wrench("w", Q("2 N·m"), Q("100 N·m"), Q("1 N·m"))
    assert units.express(low.good_from, "N·m") == pytest.approx(20)
    result = wrench.setting(Q("19 N·m"), low, [BIG, SMALL])
    assert result.range is wrench.Range.BELOW_CLASS
    assert not result.suits
    # The wrench can still be set to it, but the message names a wrench that covers it.
    assert units.express(result.set_to, "N·m") == pytest.approx(19)
    assert result.instead is SMALL
    assert "below what class II A covers" in result.sentence()
    assert wrench.setting(Q("20 N·m"), low, [BIG, SMALL]).instead is None
    assert wrench.band(Q("19 N·m"), low) is None
    for covered in ("20 N·m", "60 N·m", "100 N·m"):
        assert low.range_of(Q(covered)) is wrench.Range.COVERED
        assert wrench.band(Q(covered), low) is not None
    for off in ("1 N·m", "101 N·m", "0 N·m"):
        with pytest.raises(AssistantError):
            wrench.band(Q(off), low)
    # A scale that begins above a fifth is covered from its beginning.
    high = wrench.Wrench("w", Q("40 N·m"), Q("100 N·m"), Q("1 N·m"))
    assert units.express(high.good_from, "N·m") == pytest.approx(40)


@given(st.floats(41, 199))
def test_rounding_is_to_a_graduation_and_near(number: float) -> None:
    result = wrench.setting(units.quantity(number, "N·m"), BIG)
    shown = units.express(result.set_to, "N·m")
    assert shown == pytest.approx(round(shown), abs=1e-9)
    assert abs(shown - number) <= 0.5 + 1e-6
    again = wrench.setting(result.set_to, BIG)
    assert units.express(again.set_to, "N·m") == pytest.approx(shown)


@pytest.mark.parametrize(
    ("angle", "setting"),
    [
        (None, 71.1),  # US Army TM 9-254: T·L/(L+E)
        ("0 deg", 71.1),
        ("90 deg", 80.0),  # square to the wrench: unchanged
        ("180 deg", 91.43),  # folded back, textbook lever arithmetic: 80·40/35
        ("60 deg", 75.29),  # 80·40/(40 + 2.5)
    ],
)
def test_adapter(angle: str | None, setting: float) -> None:
    result = wrench.at_drive(
        Q("80 N·m"), Q("40 cm"), Q("5 cm"), None if angle is None else Q(angle)
    )
    assert units.express(result, "N·m") == pytest.approx(setting, abs=0.02)


@given(st.floats(1, 300), st.floats(100, 1000), st.floats(0, 80), st.floats(0, 180))
def test_adapter_gives_the_torque_back(t: float, arm: float, adapter: float, angle: float) -> None:
    result = wrench.at_drive(
        units.quantity(t, "N·m"),
        units.quantity(arm, "mm"),
        units.quantity(adapter, "mm"),
        units.quantity(angle, "deg"),
    )
    # The moment of the push at the hand about the fastener, worked out from positions.
    force = units.express(result, "N·m") / (arm / 1000)
    at_fastener = force * (arm + adapter * math.cos(math.radians(angle))) / 1000
    assert at_fastener == pytest.approx(t, rel=1e-9)
    told = wrench.at_fastener(
        result,
        units.quantity(arm, "mm"),
        units.quantity(adapter, "mm"),
        units.quantity(angle, "deg"),
    )
    assert units.express(told, "N·m") == pytest.approx(t, rel=1e-9)


def test_an_adapter_in_line_gives_the_nut_more_than_the_wrench_shows() -> None:
    # US Army TM 9-254, T·L/(L+E) the other way round: 71.1 N·m shown, 40 cm and 5 cm give 80 N·m.
    told = wrench.at_fastener(Q("71.1 N·m"), Q("40 cm"), Q("5 cm"))
    assert units.express(told, "N·m") == pytest.approx(80, abs=0.02)
    square = wrench.at_fastener(Q("71.1 N·m"), Q("40 cm"), Q("5 cm"), Q("90 deg"))
    assert units.express(square, "N·m") == pytest.approx(71.1)
    with pytest.raises(AssistantError):
        wrench.at_fastener(Q("0 N·m"), Q("40 cm"), Q("5 cm"))
    with pytest.raises(AssistantError, match="folds back"):
        wrench.at_fastener(Q("80 N·m"), Q("40 cm"), Q("36 cm"), Q("180 deg"))
    # Ten per cent of the arm is not enough; a little more is.
    assert wrench.at_fastener(Q("80 N·m"), Q("40 cm"), Q("35.9 cm"), Q("180 deg")).magnitude > 0


@pytest.mark.parametrize(
    ("torque", "length", "adapter", "angle"),
    [
        ("0 N·m", "400 mm", "50 mm", "0 deg"),
        ("80 N·m", "0 mm", "50 mm", "0 deg"),
        ("80 N·m", "400 mm", "-50 mm", "0 deg"),
        ("80 N·m", "400 mm", "400 mm", "180 deg"),
        ("80 mm", "400 mm", "50 mm", "0 deg"),
        ("80 N·m", "400 N", "50 mm", "0 deg"),
        ("80 N·m", "400 mm", "50 mm", "5 mm"),
    ],
)
def test_adapter_refuses(torque: str, length: str, adapter: str, angle: str) -> None:
    with pytest.raises(AssistantError) as caught:
        wrench.at_drive(Q(torque), Q(length), Q(adapter), Q(angle))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("kind", "most", "share"),
    [
        ("II A", "100 N·m", 0.04),  # ISO 6789, type II class A: 4 % above 10 N·m, 6 % to 10 N·m
        ("II A", "10 N·m", 0.06),
        ("ii a", "100 N·m", 0.04),
        ("I A", "100 N·m", 0.06),  # ISO 6789-1:2017, 5.1.5, from memory
        ("I B", "100 N·m", 0.04),  # the same
        ("II D", "5 N·m", 0.06),  # the same
        ("II G", "100 N·m", 0.06),  # the same
    ],
)
def test_class_and_band(kind: str, most: str, share: float) -> None:
    assert wrench.deviation(kind, Q(most)) == share
    tool = wrench.Wrench("w", Q("1 N·m"), Q(most), Q("0.1 N·m"), kind)
    gives = wrench.band(Q(most) * 0.8, tool)
    assert gives is not None
    set_to = 0.8 * units.express(Q(most), "N·m")
    assert gives.share == share
    assert units.express(gives.least, "N·m") == pytest.approx(set_to * (1 - share))
    assert units.express(gives.most, "N·m") == pytest.approx(set_to * (1 + share))


def test_every_class_has_the_deviation_of_the_standard() -> None:
    # ISO 6789-1:2017, 5.1.5, from memory, in percent: torsion and flexion bars and screwdrivers
    # with a scale 6 throughout; the others 6 up to 10 N·m and 4 above.
    six = {"I A", "I D", "II D", "II E", "II F", "II G"}
    assert set(wrench.DEVIATION) == six | {"I B", "I C", "I E", "II A", "II B", "II C"}
    for kind in wrench.DEVIATION:
        assert wrench.deviation(kind, Q("10 N·m")) == 0.06
        assert wrench.deviation(kind, Q("10.1 N·m")) == (0.06 if kind in six else 0.04)


def test_reading_is_judged_across_units() -> None:
    assert wrench.judge(Q("53 N·m"), Q("39 lbf·ft"), 0.04).ok
    assert not wrench.judge(Q("40 N·m"), Q("14 N·m"), 0.05).ok
    with pytest.raises(AssistantError):
        wrench.judge(Q("53 N·m"), Q("39 mm"), 0.04)
    with pytest.raises(AssistantError):
        wrench.judge(Q("53 N·m"), Q("53 N·m"), 4)


def test_calibration() -> None:
    # ISO 6789, from memory: 12 months or 5 000 cycles, whichever is first
    tool = wrench.Wrench("w", Q("1 N·m"), Q("50 N·m"), Q("1 N·m"), calibrated=date(2024, 2, 29))
    assert wrench.calibration(tool, date(2025, 2, 28)).ok
    late = wrench.calibration(tool, date(2025, 3, 1))
    assert not late.ok
    assert late.due == date(2025, 2, 28)
    assert "out of calibration" in late.sentence()
    assert not wrench.calibration(tool, date(2024, 6, 1), cycles=5000).ok
    assert not wrench.calibration(BIG, date(2024, 6, 1)).ok


def test_wrench_refuses_nonsense() -> None:
    for least, most, step in (
        ("50 N·m", "20 N·m", "1 N·m"),
        ("5 N·m", "20 mm", "1 N·m"),
        ("5 N·m", "20 N·m", "0 N·m"),
        ("-5 N·m", "20 N·m", "1 N·m"),
    ):
        with pytest.raises(AssistantError):
            wrench.Wrench("w", Q(least), Q(most), Q(step))
    with pytest.raises(AssistantError, match="class"):
        wrench.Wrench("w", Q("5 N·m"), Q("20 N·m"), Q("1 N·m"), "III Z")
    with pytest.raises(AssistantError):
        wrench.setting(Q("-5 N·m"), BIG)
