"""What people type into cells: read as what it is, or refused with what to write."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from assistant.authoring import typed, typed_sizes
from assistant.authoring.typed import Unreadable
from assistant.trade import units


def said(torque: typed.Torque) -> str:
    passes = "".join(f"{one}, " for one in torque.passes)
    angles = "".join(f" + {one}" for one in torque.angles)
    off = f" ± {torque.tolerance} %" if torque.tolerance is not None else ""
    return f"{passes}{torque.amount}{angles}{off}"


@pytest.mark.parametrize(
    ("text", "heading", "wanted"),
    [
        ("25Nm", None, "25 N·m"),
        ("25 N.m", None, "25 N·m"),
        ("25.0 Nm", None, "25.0 N·m"),
        ("18 ft-lb", None, "18 lbf·ft"),
        ("18 ft. lbs.", None, "18 lbf·ft"),
        ("12 inlbs", None, "12 lbf·in"),
        ("10 kgm", None, "10 kgf·m"),
        ("25", "N·m", "25 N·m"),
        ("to 25", "N·m", "25 N·m"),
        ("tighten to 33 ft-lb", None, "33 lbf·ft"),
        ("8,5 Nm", None, "8.5 N·m"),
        ("25 ±2 Nm", None, "25 N·m ± 8.0 %"),
        ("25 Nm +/- 2", None, "25 N·m ± 8.0 %"),
        ("25 Nm ± 8%", None, "25 N·m ± 8 %"),
        ("40 Nm + 90°", None, "40 N·m + 90 °"),
        ("40 Nm then 90° then 90 deg", None, "40 N·m + 90 ° + 90 °"),
        ("20/40/60 Nm", None, "20 N·m, 40 N·m, 60 N·m"),
        ("20/40/60 Nm", "lbf·ft", "20 N·m, 40 N·m, 60 N·m"),
        ("20 Nm, 40 Nm, 60 Nm, then 90°", None, "20 N·m, 40 N·m, 60 N·m + 90 °"),
        ("20 then 40", "N·m", "20 N·m, 40 N·m"),
        ("25 Nm (18 ft-lb)", None, "25 N·m"),
        ("25 Nm / 18 ft-lb", None, "25 N·m"),
    ],
)
def test_torques(text: str, heading: str | None, wanted: str) -> None:
    assert said(typed.torque(text, heading)) == wanted


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("8-10 Nm", "is a range; give one value"),
        ("8 to 10 Nm", "is a range"),
        ("8–10", "is a range"),
        ("8/10 Nm", "may be two passes or two sizes"),
        ("60/40/20 Nm", "passes have to rise"),
        ("1,200 Nm", "may be 1.200 or 1200"),
        ("25", "has no unit, and the heading gives none"),
        ("25 Nm (30 ft-lb)", "are not the same torque"),
        ("8 Mn", "is no torque; is N·m meant?"),
        ("45 mm", "is not a torque: mm measures length"),
        ("25 Nn", "no unit 'Nn' here: did you mean"),
        ("hand tight", "is not a number with a unit, such as 25 N·m"),
        ("0 Nm", "cannot be right"),
        ("-5 Nm", "cannot be right"),
        ("25 ± 20 Nm", "a tolerance that cannot be right"),
        ("=A1", "is not a number"),
    ],
)
def test_torques_that_are_not_guessed(text: str, expected: str) -> None:
    with pytest.raises(Unreadable, match=expected.replace("(", r"\(").replace("?", r"\?")):
        typed.torque(text)


def test_what_was_taken_in_one_way_of_several_is_told() -> None:
    for text, heading, expected in (
        ("8,5 Nm", None, "the decimal comma in '8,5' is taken as 8.5"),
        ("18 ft-lb", "N·m", "the heading says N·m, the cell lbf·ft, which is taken"),
        ("25 Nm (18 ft-lb)", None, "25 N·m is taken, not 18 lbf·ft"),
        ("20/40/60 Nm", None, "taken as passes before 60 N·m"),
        ("25 ±2 Nm", None, "taken as a tolerance of 8.0 %"),
    ):
        assert expected in typed.torque(text, heading).noticed
    assert typed.torque("25Nm", "N·m").noticed == ""


@pytest.mark.parametrize(
    ("text", "heading", "least", "most"),
    [
        ("0.05 mm max", None, "None", "0.05 mm"),
        ("max. 0.05", "mm", "None", "0.05 mm"),
        ("≤0.05 mm", None, "None", "0.05 mm"),
        ("3 mm or less", None, "None", "3 mm"),
        ("min 3 mm", None, "3 mm", "None"),
        ("2 bar min", None, "2 bar", "None"),
        (">= 2 bar", None, "2 bar", "None"),
        ("33–37", "mm", "33 mm", "37 mm"),
        ("33-37 mm", None, "33 mm", "37 mm"),
        ("0.05 to 0.10 mm", None, "0.05 mm", "0.10 mm"),
        ("19,90 - 20,00 mm", None, "19.90 mm", "20.00 mm"),
        ("-5 - 10 °C", None, "-5 °C", "10 °C"),
        ("35 ±0.01 mm", None, "34.99 mm", "35.01 mm"),
        ("1 mm to 2 mm", None, "1 mm", "2 mm"),
    ],
)
def test_limits(text: str, heading: str | None, least: str, most: str) -> None:
    found = typed.limits(text, heading)
    assert (str(found.least), str(found.most)) == (least, most)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0.05 mm", "one value; write min or max beside it"),
        ("33–37", "has no unit"),
        ("good", "is not a number with a unit"),
        ("35 ±1 %", "instead of a percentage"),
    ],
)
def test_limits_that_are_not_guessed(text: str, expected: str) -> None:
    with pytest.raises(Unreadable, match=expected):
        typed.limits(text)


@pytest.mark.parametrize(
    ("text", "thread", "length", "grade", "count"),
    [
        ("M8", "M8", None, None, None),
        ("M8x1.25", "M8x1.25", None, None, None),
        ("M10x1", "M10x1", None, None, None),
        ("M8 x 30", "M8", "30 mm", None, None),
        ("M8x1.25x30", "M8x1.25", "30 mm", None, None),
        ("M8x30 8.8", "M8", "30 mm", "8.8", None),
        ("M8x30-10,9", "M8", "30 mm", "10.9", None),
        ("4 x M8x30", "M8", "30 mm", None, 4),
        ("M6x16 A4-70", "M6", "16 mm", "A4-70", None),
        ("1/4-20", "1/4-20", None, None, None),
        ("1/4-20 UNC x 1 1/2", "1/4-20 UNC", "1.5 in", None, None),
        ("G1/4", "G1/4", None, None, None),
    ],
)
def test_sizes(
    text: str, thread: str, length: str | None, grade: str | None, count: int | None
) -> None:
    found = typed_sizes.size(text)
    assert found.thread == thread
    assert (str(found.length) if found.length else None) == length
    assert (found.grade, found.count) == (grade, count)


@pytest.mark.parametrize("d", ["M3", "M4", "M5", "M6", "M8", "M10", "M12", "M16", "M20", "M24"])
def test_a_pitch_and_a_length_are_told_apart(d: str) -> None:
    # ISO 261: the coarse pitches; ISO 888: the shortest usual lengths.
    coarse = {"M3": 0.5, "M4": 0.7, "M5": 0.8, "M6": 1, "M8": 1.25, "M10": 1.5, "M12": 1.75,
              "M16": 2, "M20": 2.5, "M24": 3}[d]  # fmt: skip
    assert typed_sizes.size(f"{d}x{coarse:g}").length is None
    for length in (8, 10, 12, 16, 20, 100):
        found = typed_sizes.size(f"{d}x{length}")
        assert found.thread == d and str(found.length) == f"{length} mm"


@pytest.mark.parametrize(
    ("read", "text", "expected"),
    [
        (typed_sizes.size, "bolt", "no size of a thread"),
        (typed_sizes.size, "M7.3", "no thread"),
        (typed_sizes.strength, "blue", "write low, medium or high"),
        (typed_sizes.strength, "yes", "write low, medium or high"),
        (typed_sizes.strength, "medium or high", "write low, medium or high"),
        (typed_sizes.lubricant, "?", "write dry, oil, grease, paste or thread-locker"),
        (typed_sizes.order, "as usual", "write star, spiral"),
        (typed_sizes.yes, "perhaps", "write yes or no"),
        (typed_sizes.grade, "strong", "no property class"),
    ],
)
def test_words_that_are_not_guessed(
    read: Callable[[str], object], text: str, expected: str
) -> None:
    with pytest.raises(Unreadable, match=expected):
        read(text)


def test_words() -> None:
    assert typed_sizes.strength("Medium strength") == "medium"
    assert typed_sizes.strength("none") is None
    assert typed_sizes.lubricant("lightly oiled") == "oil"
    assert typed_sizes.lubricant("clean and dry") == "dry"
    assert typed_sizes.order("criss-cross") == "star"
    assert typed_sizes.order("1-3-2-4") == [1, 3, 2, 4]
    assert typed_sizes.yes("x") and not typed_sizes.yes("-")


@pytest.mark.parametrize("unit", [unit.key for unit in units.UNITS if unit.kind == "torque"])
def test_every_unit_of_torque_is_read_as_it_is_shown(unit: str) -> None:
    assert said(typed.torque(f"25 {unit}")) == f"25 {unit}"
