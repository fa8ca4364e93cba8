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

MOST_BOLTS = 500
USUAL_SHARES = (0.3, 0.7, 1.0)
"""Rising passes: 20 to 30 %, 50 to 70 % and all of the torque (ASME PCC-1, legacy method)."""

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
    """Return the bolts round the circle, 1 to `count`: the last pass, at the full torque."""
    return tuple(range(1, _count(count) + 1))


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
    """`check` is the final pass round the circle at full torque."""

    def sentence(self) -> str:
        """Say it, one bolt at a time: "Bolt 7, 10 N·m."."""
        further = " further" if self.kind == "angle" else ""
        return f"Bolt {self.bolt}, {units.show(self.target)}{further}."


def plan(
    order: Sequence[int],
    torque: Quantity,
    shares: Sequence[float] = USUAL_SHARES,
    *,
    check: bool = True,
    angles: Sequence[Quantity] = (),
) -> tuple[Turn, ...]:
    """Return every bolt of every pass, in order.

    Args:
        order: bolts, each once.
        torque: final torque, above 0.
        shares: of the torque, rising, the last 1.
        check: a last pass round the circle at full torque; left out where an angle follows.
        angles: turns after the torque, each more than 0 and at most 360°, a pass to each.

    Raises:
        AssistantError: an order, shares or angles that make no sense.
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
    turns = [
        Turn(stage, bolt, torque * share, "torque")
        for stage, share in enumerate(shares, 1)
        for bolt in bolts
    ]
    if check and not angles and len(bolts) > 1:
        turns += [Turn(len(shares) + 1, bolt, torque, "check") for bolt in circle(len(bolts))]
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
        what = {"angle": " further", "check": " again, round the circle", "torque": ""}
        bolts = ", ".join(str(turn.bolt) for turn in mine)
        target = units.show(mine[0].target) + what[mine[0].kind]
        said.append(f"Pass {stage}, {target}: bolt{'s' if len(mine) > 1 else ''} {bolts}.")
    return tuple(said)
