"""Tightening orders and passes."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.trade import order, units

Q = units.parse_quantity


@pytest.mark.parametrize(
    ("count", "expected"),
    [
        # ASME PCC-1, legacy cross pattern, from memory of its table
        (4, (1, 3, 2, 4)),
        (8, (1, 5, 3, 7, 2, 6, 4, 8)),
        (12, (1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12)),
        (16, (1, 9, 5, 13, 3, 11, 7, 15, 2, 10, 6, 14, 4, 12, 8, 16)),
        (20, (1, 11, 6, 16, 3, 13, 8, 18, 5, 15, 10, 20, 2, 12, 7, 17, 4, 14, 9, 19)),
        # common practice, no source
        (5, (1, 3, 5, 2, 4)),
        (6, (1, 4, 2, 5, 3, 6)),
        (3, (1, 2, 3)),
        (2, (1, 2)),
        (1, (1,)),
    ],
)
def test_star(count: int, expected: tuple[int, ...]) -> None:
    assert order.star(count) == expected


@given(st.integers(1, 200))
def test_star_holds_each_bolt_once_and_goes_across(count: int) -> None:
    bolts = order.star(count)
    assert sorted(bolts) == list(range(1, count + 1))
    if count % 2 == 0:
        for one, other in zip(bolts[::2], bolts[1::2], strict=True):
            assert abs(one - other) == count // 2
    elif count > 4:
        apart = [abs(a - b) for a, b in pairwise(bolts)]
        assert all(min(gap, count - gap) >= count // 2 - 1 for gap in apart)


@pytest.mark.parametrize("count", range(1, 41))
def test_star_is_whole_for_every_usual_count(count: int) -> None:
    assert sorted(order.star(count)) == list(range(1, count + 1))


def test_spiral() -> None:
    # a head of two rows of five: the middle first, the corners last (common practice, no source)
    bolts = order.spiral(2, 5)
    assert set(bolts[:2]) == {3, 8}
    assert set(bolts[-4:]) == {1, 5, 6, 10}
    assert order.spiral(1, 3) == (2, 3, 1)
    assert order.spiral(3, 3)[0] == 5


@given(st.integers(1, 12), st.integers(1, 12))
def test_spiral_only_goes_outwards(rows: int, columns: int) -> None:
    bolts = order.spiral(rows, columns)
    assert sorted(bolts) == list(range(1, rows * columns + 1))
    far = [
        ((n - 1) // columns - (rows - 1) / 2) ** 2 + ((n - 1) % columns - (columns - 1) / 2) ** 2
        for n in bolts
    ]
    assert far == sorted(far)


def test_given_and_loosen() -> None:
    assert order.given([2, 1, 3]) == (2, 1, 3)
    assert order.loosen(order.star(8)) == (8, 4, 6, 2, 7, 3, 5, 1)
    for wrong in ([1, 1, 2], [1, 3], [0, 1], [1, 2, 2]):
        with pytest.raises(AssistantError, match="each bolt once"):
            order.given(wrong)
    with pytest.raises(AssistantError):
        order.given([1, 2], 3)


def test_plan() -> None:
    star = order.star(4)
    assert len(order.plan(star, Q("20 N·m"))) == 12
    turns = order.plan(star, Q("20 N·m"), last=order.final(star))
    assert len(turns) == 16
    assert [turn.bolt for turn in turns[:4]] == [1, 3, 2, 4]
    assert [units.express(turn.target, "N·m") for turn in turns[::4]] == pytest.approx(
        [6, 14, 20, 20]
    )
    assert [turn.bolt for turn in turns[12:]] == [1, 2, 3, 4]
    assert turns[12].kind == "check"
    assert turns[0].sentence() == "Bolt 1, 6 N·m."
    assert order.pass_sentences(turns)[0] == "Pass 1, 6 N·m: bolts 1, 3, 2, 4."
    assert order.pass_sentences(turns)[3] == (
        "Pass 4, 20 N·m again, until none turns: bolts 1, 2, 3, 4."
    )


def test_a_last_pass_goes_round_a_circle_and_over_a_field_again() -> None:
    # ASME PCC-1: the last pass of a flange goes round it, bolt by bolt. For a field of bolts:
    # common practice, no source.
    assert order.final(order.star(8)) == (1, 2, 3, 4, 5, 6, 7, 8)
    field = order.spiral(2, 5)
    assert order.final(field, "field") == field
    # Two or three bolts hardly slacken each other (common practice, no source).
    assert order.final(order.star(3)) == ()
    assert order.final(order.star(4)) == (1, 2, 3, 4)
    with pytest.raises(AssistantError, match="each bolt once"):
        order.final((1, 2, 2, 3))
    with pytest.raises(AssistantError, match="each bolt once"):
        order.plan(order.star(4), Q("20 N·m"), last=(1, 2, 3))
    with pytest.raises(AssistantError, match="angle"):
        order.plan(order.star(4), Q("20 N·m"), last=(1, 2, 3, 4), angles=(Q("90 deg"),))


def test_plan_with_angle() -> None:
    turns = order.plan(order.star(4), Q("20 N·m"), (0.5, 1), angles=(Q("90 deg"), Q("45 deg")))
    assert [turn.kind for turn in turns[::4]] == ["torque", "torque", "angle", "angle"]
    assert [turn.stage for turn in turns[::4]] == [1, 2, 3, 4]
    assert turns[-1].sentence() == "Bolt 4, 45° further."


@pytest.mark.parametrize("shares", [(), (1, 0.5), (0.5,), (0, 1), (0.5, 0.5, 1), (0.5, 1, 1.2)])
def test_plan_refuses_shares(shares: tuple[float, ...]) -> None:
    with pytest.raises(AssistantError, match="have to rise"):
        order.plan((1, 2), Q("20 N·m"), shares)


def test_refused() -> None:
    for count in (0, -1, 501):
        with pytest.raises(AssistantError):
            order.star(count)
    for rows, columns in ((0, 5), (5, -1), (100, 100)):
        with pytest.raises(AssistantError):
            order.spiral(rows, columns)
    with pytest.raises(AssistantError):
        order.plan((1, 2), Q("20 mm"))
    with pytest.raises(AssistantError):
        order.plan((1, 2), Q("20 N·m"), angles=(Q("400 deg"),))
