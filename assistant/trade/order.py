"""The order that bolts are tightened in, and the passes to the final torque."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from assistant.errors import AssistantError
from assistant.trade import units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

Layout = Literal["circle", "field"]
"""Bolts on a circle, numbered round it; or bolts in rows."""

MOST_BOLTS = 500
USUAL_SHARES = (0.3, 0.7, 1.0)
"""Rising passes: 20 to 30 %, 50 to 70 % and all of the torque (ASME PCC-1, legacy method)."""
LEAST_FOR_FINAL = 4
"""From how many bolts on tightening one slackens those beside it enough for a last pass at the full
torque (ASME PCC-1 asks for it on flanges, which have four bolts or more; for other joints common
practice, no source)."""

# In which order the quarters of a bolt circle are begun, by how many bolts a quarter holds: the
# legacy cross pattern of ASME PCC-1 for 4 to 32 bolts, from memory of its table.
_QUARTERS: dict[int, tuple[int, ...]] = {
    1: (1,),
    2: (1, 2),
    3: (1, 2, 3),
    4: (1, 3, 2, 4),
    5: (1, 3, 5, 2, 4),
    6: (1, 4, 2, 5, 3, 6),
    7: (1, 4, 6, 2, 5, 7, 3),
    8: (1, 5, 3, 7, 2, 6, 4, 8),
}


def _count(count: int) -> int:
    if not 1 <= count <= MOST_BOLTS:
        raise AssistantError(f"A bolt circle has 1 to {MOST_BOLTS} bolts, not {count}.")
    return count


def _spread(count: int) -> tuple[int, ...]:
    """Return 1 … count so that each stands far from those before it on a ring."""
    if count in _QUARTERS:
        return _QUARTERS[count]
    chosen, left = [1], set(range(2, count + 1))
    while left:
        gap = {
            place: min(min(abs(place - done), count - abs(place - done)) for done in chosen)
            for place in left
        }
        best = min(left, key=lambda place: (-gap[place], place))
        chosen.append(best)
        left.remove(best)
    return tuple(chosen)


def star(count: int) -> tuple[int, ...]:
    """Return the cross (star) order of a bolt circle, numbered clockwise from 1.

    A multiple of four goes by opposite pairs, each pair followed by the one square to it, as the
    legacy cross pattern of ASME PCC-1 does; another even count by opposite pairs; an odd count by
    steps of just under half the circle (five bolts: 1 3 5 2 4).

    Raises:
        AssistantError: not 1 to 500 bolts.
    """
    _count(count)
    if count % 4 == 0:
        quarter = count // 4
        return tuple(first + quarter * turn for first in _spread(quarter) for turn in (0, 2, 1, 3))
    if count % 2 == 0:
        half = count // 2
        return tuple(first + half * turn for first in _spread(half) for turn in (0, 1))
    step = max(1, (count - 1) // 2)
    return tuple(place * step % count + 1 for place in range(count))


def circle(count: int) -> tuple[int, ...]:
    """Return the bolts round the circle, 1 to `count`."""
    return tuple(range(1, _count(count) + 1))


def final(order: Sequence[int], layout: Layout = "circle") -> tuple[int, ...]:
    """Return the order of a last pass at the full torque; empty where none is needed.

    Each bolt that is tightened slackens those beside it, so the bolts are gone over once more until
    none turns. Those of a circle are taken round it, one after the other (ASME PCC-1). Those of a
    field have no round to go: the order that they were tightened in is gone through again (common
    practice, no source). Fewer than `LEAST_FOR_FINAL` bolts need none.

    Args:
        order: that the bolts are tightened in, each once.
        layout: how the bolts lie.

    Raises:
        AssistantError: an order that does not hold each bolt once.
    """
    bolts = given(order)
    if len(bolts) < LEAST_FOR_FINAL:
        return ()
    return circle(len(bolts)) if layout == "circle" else bolts


def spiral(rows: int, columns: int) -> tuple[int, ...]:
    """Return the order of a rectangular field from its centre outwards, going round clockwise.

    Bolts are numbered row by row from the top left. Bolts at one distance from the centre are
    taken clockwise, beginning at the top.

    Raises:
        AssistantError: not at least one row and column, or more than 500 bolts.
    """
    if rows < 1 or columns < 1:
        raise AssistantError("A field of bolts has at least one row and one column.")
    _count(rows * columns)

    def place(number: int) -> tuple[float, float]:
        row, column = divmod(number - 1, columns)
        up, right = (rows - 1) / 2 - row, column - (columns - 1) / 2
        return up * up + right * right, math.atan2(right, up) % math.tau

    return tuple(sorted(range(1, rows * columns + 1), key=place))


def given(numbers: Sequence[int], count: int | None = None) -> tuple[int, ...]:
    """Return the order that a procedure gives, once every bolt is in it once.

    Raises:
        AssistantError: a bolt missing, twice or unknown.
    """
    want = range(1, (len(numbers) if count is None else count) + 1)
    if sorted(numbers) != list(want):
        missing = sorted(set(want) - set(numbers))
        which = f"missing: {', '.join(map(str, missing))}" if missing else "one comes twice"
        raise AssistantError(f"The tightening order has to hold each bolt once ({which}).")
    return tuple(numbers)


def loosen(order: Sequence[int]) -> tuple[int, ...]:
    """Return the order for loosening: the reverse of tightening."""
    return tuple(reversed(order))


@dataclass(frozen=True)
class Turn:
    """One bolt in one pass."""

    stage: int
    """Which pass, from 1."""
    bolt: int
    target: Quantity
    """Torque to reach, or the angle to turn further."""
    kind: Literal["torque", "check", "angle"]
    """`check` is the final pass at full torque, for what the others have slackened."""

    def sentence(self) -> str:
        """Say it, one bolt at a time: "Bolt 7, 10 N·m."."""
        further = " further" if self.kind == "angle" else ""
        return f"Bolt {self.bolt}, {units.show(self.target)}{further}."


def plan(
    order: Sequence[int],
    torque: Quantity,
    shares: Sequence[float] = USUAL_SHARES,
    *,
    last: Sequence[int] = (),
    angles: Sequence[Quantity] = (),
) -> tuple[Turn, ...]:
    """Return every bolt of every pass, in order.

    Args:
        order: bolts, each once.
        torque: final torque, above 0.
        shares: of the torque, rising, the last 1.
        last: the order of a last pass at the full torque (`final`); empty: none.
        angles: turns after the torque, each more than 0 and at most 360°, a pass to each.

    Raises:
        AssistantError: an order, shares or angles that make no sense, or a last pass with angles:
            torque says nothing of a bolt that has been turned by angle.
    """
    bolts = given(order)
    units.require(torque, "torque", "torque", above=0)
    rising = all(low < high for low, high in itertools.pairwise(shares))
    if not shares or shares[0] <= 0 or not rising or abs(shares[-1] - 1) > 1e-9:
        raise AssistantError("Passes are shares of the torque, rising from above 0 to 1 at last.")
    for angle in angles:
        units.require(angle, "angle", "angle", above=0)
        if units.express(angle, "°") > 360 + 1e-9:
            raise AssistantError("An angle after torque is 360 degrees at most: check it.")
    if last and angles:
        raise AssistantError("Bolts turned by angle are not gone over again with a torque wrench.")
    turns = [
        Turn(stage, bolt, torque * share, "torque")
        for stage, share in enumerate(shares, 1)
        for bolt in bolts
    ]
    if last:
        again = given(last, len(bolts))
        turns += [Turn(len(shares) + 1, bolt, torque, "check") for bolt in again]
    turns += [
        Turn(len(shares) + number, bolt, angle, "angle")
        for number, angle in enumerate(angles, 1)
        for bolt in bolts
    ]
    return tuple(turns)


def pass_sentences(turns: Sequence[Turn]) -> tuple[str, ...]:
    """Say a plan one pass at a time: "Pass 1, 10 N·m: bolts 1, 5, 3, 7."."""
    said = []
    for stage in sorted({turn.stage for turn in turns}):
        mine = [turn for turn in turns if turn.stage == stage]
        what = {"angle": " further", "check": " again, until none turns", "torque": ""}
        bolts = ", ".join(str(turn.bolt) for turn in mine)
        target = units.show(mine[0].target) + what[mine[0].kind]
        said.append(f"Pass {stage}, {target}: bolt{'s' if len(mine) > 1 else ''} {bolts}.")
    return tuple(said)
