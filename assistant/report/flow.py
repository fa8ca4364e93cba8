"""A picture of a procedure's flow: its steps from top to bottom, and what opens what.

On the left a bar runs beside the steps that a gate holds, from the gate to where it is lifted. On
the right a line leads from a step to each step that depends on it: that has to be done after it,
that is gone to from an answer, that is there only after an answer, whose wait it starts, or whose
part it chooses. Under each step stands the same in words, so that nothing is told by lines alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TypeVar

from markupsafe import Markup

from assistant.procedure.model import Procedure
from assistant.report import opening, svg
from assistant.report.opening import Gate, Kind, Link
from assistant.text import plain

_LEFT, _BOX, _LINE, _GAP, _LANE, _TOP = 44, 460, 14, 10, 14, 30
"""Pixels: the margin of the bars, a step's width, a line of text, between steps, between lines on
the right, and above the first."""
_MOST = 72
"""Characters of a line in a step."""

_CLASSES: dict[Kind, str] = {
    "after": "c-line",
    "answer": "c-limit",
    "wait": "c-by",
    "choice": "c-by",
}


def drawing(procedure: Procedure) -> svg.Drawing:
    """Return the picture."""
    led, held = opening.links(procedure), opening.gates(procedure)
    y, places, shapes, stage = float(_TOP), [], [], ""
    for number, step in enumerate(procedure.steps, 1):
        name = procedure.stage_of(step.id).name
        if name != stage:
            shapes.append(svg.text(_LEFT, y + _LINE, name.upper()))
            y, stage = y + _LINE + _GAP, name
        told = [*opening.alone(step), *(link.told for link in led if link.to == number)]
        height = _LINE * (1 + len(told)) + 8
        shapes.append(svg.rect("c-open", _LEFT, y, _BOX, height))
        lines = [f"{number}  {step.say}", *(f"   {line}" for line in told)]
        for at, line in enumerate(lines, 1):
            shapes.append(svg.text(_LEFT + 6, y + at * _LINE, _cut(line)))
        places.append((y, y + height))
        y += height + _GAP
    for lane, gate in _lanes(held):
        x = _LEFT - 10 - 8 * lane
        top, bottom = places[gate.number - 1][0], places[gate.to - 1][1]
        shapes.append(svg.rect("c-work", x, top, 4, bottom - top))
    right = _LEFT + _BOX
    lanes = _lanes(led)
    for lane, link in lanes:
        shapes += _leads(link, right, right + _LANE * (lane + 1), places)
    width = right + _LANE * (2 + max([lane for lane, _ in lanes], default=0))
    return svg.Drawing(
        "flow", width, y, f"Flow of {procedure.title}", opening.told(led, held), tuple(shapes)
    )


def _leads(
    link: Link, x: float, lane: float, places: Sequence[tuple[float, float]]
) -> Iterator[Markup]:
    """Yield a line from the lower end of one step round to the upper end of another, and its
    arrow.
    """
    begins, ends = places[link.number - 1][1] - 8, places[link.to - 1][0] + 8
    kind = _CLASSES[link.kind]
    yield svg.line(kind, x, begins, lane, begins)
    yield svg.line(kind, lane, begins, lane, ends)
    yield svg.line(kind, lane, ends, x, ends)
    yield svg.polygon("c-work", [(x, ends), (x + 6, ends - 3), (x + 6, ends + 3)])


Span = TypeVar("Span", Gate, Link)


def _lanes(spans: Sequence[Span]) -> list[tuple[int, Span]]:
    """Give each span the first lane in which it meets no other."""
    taken: list[list[tuple[int, int]]] = []
    found = []
    for span in spans:
        low, high = sorted((span.number, span.to))
        free = (n for n, lane in enumerate(taken) if all(high < a or b < low for a, b in lane))
        lane = next(free, len(taken))
        if lane == len(taken):
            taken.append([])
        taken[lane].append((low, high))
        found.append((lane, span))
    return found


def _cut(line: str) -> str:
    line = plain(line)
    return line if len(line) <= _MOST else line[: _MOST - 1].rstrip() + "…"
