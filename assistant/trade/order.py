"""The order in which to tighten or loosen the bolts of a joint, and the passes to full torque.

Bolts have numbers from 1. An order is a tuple that holds each number once.
"""

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
"""How the bolts lie: on a circle, numbered round it, or in the rows of a rectangular field."""

MOST_BOLTS = 500
"""Most bolts in one joint."""
USUAL_SHARES = (0.3, 0.7, 1.0)
"""Passes as shares of the final torque (ASME PCC-1, legacy: 20 to 30 %, 50 to 70 %, 100 %)."""
LEAST_FOR_FINAL = 4
"""Fewest bolts that need a last pass at full torque, because tightening one slackens those beside
it. ASME PCC-1 asks for it on flanges, which have four bolts or more; on other joints it is common
practice, no source."""

# By the number of bolts in a quarter of the circle, the order of the bolts in each quarter: the
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
    """Return the numbers 1 to `count` so that on a ring each is far from those before it."""
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

    With a multiple of four, opposite pairs follow each other, each pair followed by the pair square
    to it, as in the legacy cross pattern of ASME PCC-1. With another even count, opposite pairs
    follow each other. With an odd count, each step is just under half the circle (five bolts:
    1 3 5 2 4).

    Raises:
        AssistantError: the count is not 1 to 500.
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
    """Return the order round the circle, 1 to `count`.

    Raises:
        AssistantError: the count is not 1 to 500.
    """
    return tuple(range(1, _count(count) + 1))


def final(order: Sequence[int], layout: Layout = "circle") -> tuple[int, ...]:
    """Return the order of a last pass at full torque; empty if none is needed.

    Tightening a bolt slackens those beside it, so the last pass is repeated until no bolt turns. It
    goes round a circle bolt by bolt (ASME PCC-1). In a field it repeats the tightening order
    (common practice, no source). Fewer than `LEAST_FOR_FINAL` bolts need no last pass.

    Args:
        order: the tightening order, each bolt once.
        layout: how the bolts lie.

    Raises:
        AssistantError: the order does not hold each bolt once.
    """
    bolts = given(order)
    if len(bolts) < LEAST_FOR_FINAL:
        return ()
    return circle(len(bolts)) if layout == "circle" else bolts


def spiral(rows: int, columns: int) -> tuple[int, ...]:
    """Return the order of a rectangular field of bolts, from its centre outwards, clockwise.

    Bolts are numbered row by row from the top left. Bolts at the same distance from the centre
    follow each other clockwise, beginning at the top.

    Raises:
        AssistantError: there is no row or no column, or there are more than 500 bolts.
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
    """Check an order that a procedure gives, and return it.

    Args:
        numbers: the bolts in order.
        count: how many bolts there are; None for as many as `numbers` has.

    Raises:
        AssistantError: a bolt is missing, comes twice or does not exist.
    """
    want = range(1, (len(numbers) if count is None else count) + 1)
    if sorted(numbers) != list(want):
        missing = sorted(set(want) - set(numbers))
        which = f"missing: {', '.join(map(str, missing))}" if missing else "one comes twice"
        raise AssistantError(f"The tightening order has to hold each bolt once ({which}).")
    return tuple(numbers)


def loosen(order: Sequence[int]) -> tuple[int, ...]:
    """Return the loosening order, the reverse of a tightening order."""
    return tuple(reversed(order))


@dataclass(frozen=True)
class Turn:
    """One bolt in one pass."""

    stage: int
    """Number of the pass, from 1."""
    bolt: int
    """Number of the bolt, from 1."""
    target: Quantity
    """Torque to reach, or angle to turn further."""
    kind: Literal["torque", "check", "angle"]
    """`check` is the last pass at full torque, over bolts that the others have slackened."""

    def sentence(self) -> str:
        """Return a sentence to speak: "Bolt 7, 10 N·m."."""
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
        order: the tightening order, each bolt once.
        torque: final torque, above 0.
        shares: the passes as rising shares of the torque; the last is 1.
        last: the order of a last pass at full torque (`final`); empty for none.
        angles: angles to turn after the torque, one pass each, above 0 and at most 360°.

    Raises:
        AssistantError: the order, the shares or the angles make no sense, or there are both a last
            pass and angles: a torque wrench cannot check a bolt that was turned by angle.
    """
    bolts = given(order)
    units.require(torque, "torque", "torque", above=0)
    rising = all(low < high for low, high in itertools.pairwise(shares))
    if not shares or shares[0] <= 0 or not rising or abs(shares[-1] - 1) > 1e-9:
        raise AssistantError("The passes have to rise from above 0 up to the full torque.")
    for angle in angles:
        units.require(angle, "angle", "angle", above=0)
        if units.express(angle, "°") > 360 + 1e-9:
            raise AssistantError("An angle after torque is 360 degrees at most: check it.")
    if last and angles:
        raise AssistantError(
            "A last pass at full torque cannot follow an angle: leave out one of the two."
        )
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
    """Return a sentence for each pass of a plan: "Pass 1, 10 N·m: bolts 1, 5, 3, 7."."""
    said = []
    for stage in sorted({turn.stage for turn in turns}):
        mine = [turn for turn in turns if turn.stage == stage]
        what = {"angle": " further", "check": " again, until none turns", "torque": ""}
        bolts = ", ".join(str(turn.bolt) for turn in mine)
        target = units.show(mine[0].target) + what[mine[0].kind]
        said.append(f"Pass {stage}, {target}: bolt{'s' if len(mine) > 1 else ''} {bolts}.")
    return tuple(said)
