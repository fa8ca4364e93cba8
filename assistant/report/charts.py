"""What of a record is seen sooner than read: its time, and values against what was asked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from markupsafe import Markup

from assistant.report import svg, wording
from assistant.report.model import Record, Span

# The time line.

_LEFT, _RIGHT, _TOP = 96, 22, 40
_BAR, _LANE, _GAP = 18, 11, 8
_WIDTH = 720
_APART = 24
"""Marks of a kind that are nearer than this are drawn as one with their number."""

_TICKS, _MOST_TICKS = (0.25, 0.5, 1, 2, 3), 8
"""How many hours may lie between the marks of the clock, and how many marks there are at most."""

_DAYS = 10
"""So many days are in one drawing, for a page cannot break inside one."""

_BARS = {
    "at work": ("c-work", 11),
    "quiet": ("c-quiet", 5),
    "standing by": ("c-by", 11),
}
_MARKS = ("finding or note", "torque", "reading", "order", "skipped")
_SEVERAL = {"finding or note": "findings or notes", "skipped": "skipped"}


@dataclass(frozen=True)
class _Day:
    day: date
    bars: list[tuple[str, float, float]]
    """Kind, begun and ended, in hours of the day."""
    marks: list[tuple[str, float]]


def time_line(record: Record) -> list[svg.Drawing]:
    """Draw when the job was worked on, a row for each day with an entry, and what came about.

    The hours are those on the bench's clock.
    """
    days = _days(record)
    hours = [hour for day in days for _, *span in day.bars for hour in span]
    hours += [hour for day in days for _, hour in day.marks]
    if not hours:
        return []
    first, last = int(min(hours)), min(24, int(max(hours)) + 1)
    return [
        _time_drawing(days[at : at + _DAYS], 1 + at // _DAYS, first, last)
        for at in range(0, len(days), _DAYS)
    ]


def _days(record: Record) -> list[_Day]:
    found: dict[date, _Day] = {}

    def of(day: date) -> _Day:
        return found.setdefault(day, _Day(day, [], []))

    for span in record.spans:
        for day, begun, ended in _by_day(span):
            of(day).bars.append((span.kind, begun, ended))
    for kind, at in _marks(record):
        of(at.date()).marks.append((kind, _hour(at)))
    return [found[day] for day in sorted(found)]


def _by_day(span: Span) -> Iterator[tuple[date, float, float]]:
    """Yield the parts of a span that lie on one day, in hours of the day."""
    if span.kind not in _BARS:
        return
    first, last = span.begun.date(), span.ended.date()
    if first != last and span.kind != "at work":
        # A job that nobody left off is quiet through nights; days without a word are not drawn.
        return
    for number in range(first.toordinal(), last.toordinal() + 1):
        day = date.fromordinal(number)
        begun = _hour(span.begun) if day == first else 0.0
        yield day, begun, _hour(span.ended) if day == last else 24.0


def _hour(at: datetime) -> float:
    return at.hour + at.minute / 60 + at.second / 3600


def _marks(record: Record) -> Iterator[tuple[str, datetime]]:
    for kind, entries in (
        ("finding or note", (*record.findings, *record.notes)),
        ("torque", record.torques),
        ("reading", record.readings),
        ("order", [one for order in record.orders for one in order.orders]),
    ):
        for entry in entries:
            yield kind, entry.at
    for step in record.steps:
        if step.skipped:
            yield "skipped", step.skipped


def _time_drawing(days: Sequence[_Day], number: int, first: int, last: int) -> svg.Drawing:
    scale = (_WIDTH - _LEFT - _RIGHT) / (last - first)

    def x(hour: float) -> float:
        return _LEFT + (hour - first) * scale

    shapes: list[Markup] = []
    y = float(_TOP)
    for day in days:
        shapes.append(svg.text(0, y + 13, f"{day.day:%a} {day.day.isoformat()}"))
        shapes.append(svg.line("c-line", _LEFT, y + 9, _WIDTH - _RIGHT, y + 9))
        for kind, begun, ended in day.bars:
            style, thick = _BARS[kind]
            wide = max(1.5, x(ended) - x(begun))
            shapes.append(svg.rect(style, x(begun), y + 9 - thick / 2, wide, thick))
        y += _BAR
        for kind in _MARKS:
            places = [x(hour) for marked, hour in day.marks if marked == kind]
            if places:
                shapes += _lane(kind, sorted(places), y + _LANE / 2)
                y += _LANE
        y += _GAP
    grid: list[Markup] = []
    every = next(e for e in _TICKS if (last - first) / e <= _MOST_TICKS)
    for tick in range(int((last - first) / every) + 1):
        hour = first + tick * every
        grid.append(svg.line("c-grid", x(hour), _TOP - 6, x(hour), y - 4))
        clock = f"{int(hour):02}:{round(hour % 1 * 60):02}"
        grid.append(svg.text(x(hour), _TOP - 10, clock, "middle"))
    title = "Time line of the job" + (f", part {number}" if number > 1 else "")
    told = " ".join(map(_told, days))
    whole = (*_legend(), *grid, *shapes)
    return svg.Drawing(f"time-{number}", _WIDTH, y, title, told, whole)


def _lane(kind: str, places: Sequence[float], y: float) -> Iterator[Markup]:
    """Draw the marks of one kind on one day; those that would cover each other are one, counted."""
    together: list[list[float]] = []
    for place in places:
        if together and place - together[-1][0] < _APART:
            together[-1].append(place)
        else:
            together.append([place])
    for group in together:
        yield _mark(kind, group[0], y)
        if len(group) > 1:
            yield svg.text(group[0] + 6, y + 3.5, str(len(group)))


def _told(day: _Day) -> str:
    counts = [(kind, sum(1 for k, _ in day.marks if k == kind)) for kind in _MARKS]
    seconds = sum(ended - begun for kind, begun, ended in day.bars if kind == "at work") * 3600
    parts = [wording.several(count, kind, _SEVERAL.get(kind)) for kind, count in counts if count]
    came = ", ".join(parts) or "no entries"
    return f"{day.day.isoformat()}: at work {wording.duration(seconds)}; {came}."


def _legend() -> Iterator[Markup]:
    x = float(_LEFT)
    for kind, (style, thick) in _BARS.items():
        yield svg.rect(style, x, 8 - thick / 2, 16, thick)
        yield svg.text(x + 20, 11.5, kind)
        x += 32 + 6.2 * len(kind)
    for kind in _MARKS:
        yield _mark(kind, x + 5, 8)
        yield svg.text(x + 13, 11.5, kind)
        x += 25 + 6.2 * len(kind)


def _mark(kind: str, x: float, y: float) -> Markup:
    """Draw a mark by which its kind is known by shape, not by colour alone."""
    match kind:
        case "finding or note":
            return svg.polygon("c-mark", [(x - 4, y + 3.5), (x + 4, y + 3.5), (x, y - 4)])
        case "torque":
            return svg.circle("c-good", x, y, 2.8)
        case "reading":
            return svg.polygon("c-fix", [(x - 3.8, y), (x, y - 3.8), (x + 3.8, y), (x, y + 3.8)])
        case "order":
            return svg.rect("c-fix", x - 3, y - 3, 6, 6)
        case _:
            return svg.rect("c-mark", x - 5, y - 1.2, 10, 2.4)


# A value against what was asked.

_PLOT_WIDTH, _PLOT_HEIGHT = 132, 20
_EDGE = 8


def against(
    name: str,
    what: str,
    value: Decimal,
    unit: str,
    least: Decimal | None,
    most: Decimal | None,
    asked: Decimal | None = None,
) -> svg.Drawing:
    """Draw a value against its limits, all as numbers of `unit`; one beyond the edge has an arrow.

    `asked` is marked where it is given. The text for who cannot see it says where the value lies.
    """
    low, high = _shown(value, least, most)
    middle = _PLOT_HEIGHT / 2

    def x(number: Decimal) -> float:
        share = min(1.0, max(0.0, float((number - low) / (high - low))))
        return _EDGE + share * (_PLOT_WIDTH - 2 * _EDGE)

    left = x(least) if least is not None else 0.0
    right = x(most) if most is not None else float(_PLOT_WIDTH)
    shapes = [svg.rect("c-band", left, 3, right - left, _PLOT_HEIGHT - 6)]
    shapes.append(svg.line("c-line", 0, middle, _PLOT_WIDTH, middle))
    for limit in (least, most):
        if limit is not None:
            shapes.append(svg.line("c-limit", x(limit), 1, x(limit), _PLOT_HEIGHT - 1))
    if asked is not None:
        shapes.append(svg.line("c-line", x(asked), 5, x(asked), _PLOT_HEIGHT - 5))
    below, above = least is not None and value < least, most is not None and value > most
    if value < low or value > high:
        tip = 1.0 if value < low else _PLOT_WIDTH - 1.0
        back = tip + (8 if value < low else -8)
        shapes.append(
            svg.polygon("c-mark", [(tip, middle), (back, middle - 5), (back, middle + 5)])
        )
    elif below or above:
        at = x(value)
        shapes.append(
            svg.polygon(
                "c-mark",
                [(at - 5, middle), (at, middle - 5), (at + 5, middle), (at, middle + 5)],
            )
        )
    else:
        shapes.append(svg.circle("c-good", x(value), middle, 4))
    told = f"{wording.quantity(value, unit)} {_where(value, unit, least, most)}"
    return svg.Drawing(name, _PLOT_WIDTH, _PLOT_HEIGHT, what, told, tuple(shapes))


def _where(value: Decimal, unit: str, least: Decimal | None, most: Decimal | None) -> str:
    if least is not None and value < least:
        return f"is below {wording.quantity(least, unit)}"
    if most is not None and value > most:
        return f"is above {wording.quantity(most, unit)}"
    limits = [wording.quantity(limit, unit) for limit in (least, most) if limit is not None]
    return f"keeps to {' and '.join(limits)}"


def _shown(value: Decimal, least: Decimal | None, most: Decimal | None) -> tuple[Decimal, Decimal]:
    """Return what range of numbers is drawn: the limits in its middle half, or one limit at it."""
    if least is not None and most is not None and most > least:
        margin = (most - least) / 2
        return least - margin, most + margin
    limit = least if least is not None else most
    if limit is None:
        raise ValueError("a value without limits cannot be drawn against them")
    reach = max(abs(value - limit) * Decimal("1.3"), abs(limit) / 20, Decimal("1e-9"))
    return limit - reach, limit + reach


# The bolts of a pass.

_BOLT, _ROW_OF_BOLTS = 11, 12


def bolts(name: str, what: str, count: int, called: Sequence[int]) -> svg.Drawing:
    """Draw the bolts of one pass in the order of their numbers: full where one was called out."""
    rows = -(-count // _ROW_OF_BOLTS)
    shapes = []
    for number in range(1, count + 1):
        row, place = divmod(number - 1, _ROW_OF_BOLTS)
        kind = "c-good" if number in called else "c-open"
        shapes.append(svg.circle(kind, (place + 0.5) * _BOLT, (row + 0.5) * _BOLT, 3.6))
    told = f"called out: {', '.join(map(str, called))} of {count}"
    return svg.Drawing(name, _PLOT_WIDTH, rows * _BOLT, what, told, tuple(shapes))
