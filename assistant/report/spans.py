"""How the time of a job was spent, as far as its events tell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from itertools import pairwise

from assistant.dialogue import events, ledger
from assistant.report.model import PersonTime, Span

QUIET = timedelta(minutes=30)
"""Longer than that without a word, nobody can tell from the record whether there was work."""


def spans(history: Sequence[events.Event]) -> Iterator[Span]:
    """Yield the stretches of a job's time in order, each as long as its kind lasts.

    Between two events it is *stopped* where the job was taken up again, *standing by* where that
    was asked for, *quiet* for longer than `QUIET`, else *at work*. What the parts desk enters is no
    work, and is left out. Where the clock was set back between two events no time passed, and the
    next stretch begins at the later event.
    """
    open_one: Span | None = None
    for span, _ in _between(history):
        if open_one and open_one.kind == span.kind and open_one.ended == span.begun:
            open_one = open_one.model_copy(update={"ended": span.ended})
            continue
        if open_one:
            yield open_one
        open_one = span
    if open_one:
        yield open_one


def by_person(history: Sequence[events.Event]) -> tuple[PersonTime, ...]:
    """Return the time of each person at the bench, in the order in which they came.

    Time between two events is that of whoever was at the bench at the first of them: who signs on
    is there from then, and what goes before is the other's. While nobody has signed on, as after a
    stop, it is nobody's by name. A stop is nobody's time.
    """
    found: dict[str | None, dict[str, timedelta]] = {}
    for span, who in _between(history):
        if span.kind != "stopped":
            times = found.setdefault(who, {})
            times[span.kind] = times.get(span.kind, timedelta()) + (span.ended - span.begun)
    return tuple(
        PersonTime(
            by=who,
            at_work=_seconds(times.get("at work")),
            quiet=_seconds(times.get("quiet")),
            standing_by=_seconds(times.get("standing by")),
        )
        for who, times in found.items()
    )


def _seconds(of: timedelta | None) -> float:
    return of.total_seconds() if of else 0.0


def _between(history: Sequence[events.Event]) -> Iterator[tuple[Span, str | None]]:
    """Yield the time between each two events that follow each other, and who was at the bench."""
    standing_by = False
    for before, event in pairwise(e for e in history if not ledger.from_desk(e)):
        standing_by = isinstance(before, events.StoodBy) or (
            standing_by and not isinstance(before, events.Resumed | events.JobTakenUp)
        )
        # A clock that was set back: there is no time to show, but a stop is one all the same.
        if event.at <= before.at and not isinstance(event, events.JobTakenUp):
            continue
        ended = max(before.at, event.at)
        kind = (
            "stopped"
            if isinstance(event, events.JobTakenUp)
            else "standing by"
            if standing_by
            else "quiet"
            if event.at - before.at > QUIET
            else "at work"
        )
        span = Span.model_validate({"kind": kind, "begun": before.at, "ended": ended})
        yield span, before.by


def at_work(of: Iterable[Span]) -> float:
    """Return how long the job was worked on, in seconds."""
    return sum((s.ended - s.begun).total_seconds() for s in of if s.kind == "at work")
