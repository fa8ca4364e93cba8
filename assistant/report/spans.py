"""How the time of a job was spent, as far as its events tell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import timedelta
from itertools import pairwise

from assistant.dialogue import events, ledger
from assistant.report.model import Span

QUIET = timedelta(minutes=30)
"""Longer than that without a word, nobody can tell from the record whether there was work."""


def spans(history: Sequence[events.Event]) -> Iterator[Span]:
    """Yield the stretches of a job's time in order, each as long as its kind lasts.

    Between two events it is *stopped* where the job was taken up again, *standing by* where that
    was asked for, *quiet* for longer than `QUIET`, else *at work*. What the parts desk enters is no
    work, and is left out. Where the clock was set back
    between two events no time passed, and the next stretch begins at the later event.
    """
    open_one: Span | None = None
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
        if open_one and open_one.kind == kind and open_one.ended == before.at:
            open_one = open_one.model_copy(update={"ended": ended})
            continue
        if open_one:
            yield open_one
        open_one = Span.model_validate({"kind": kind, "begun": before.at, "ended": ended})
    if open_one:
        yield open_one


def at_work(of: Iterable[Span]) -> float:
    """Return how long the job was worked on, in seconds."""
    return sum((s.ended - s.begun).total_seconds() for s in of if s.kind == "at work")
