"""Evidence: what was told of results at the time, and which of it stands no longer. Pure.

What follows from readings is told when it changes, and kept as it was told. Once a correction, a
retest or another reading has changed it, what was told before is in effect still, for nobody took
it back, but it is not so any more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import get_args

from assistant.dialogue import events, results
from assistant.dialogue.state import State


@dataclass(frozen=True)
class Superseded:
    """That something was told of a result and is no longer so."""

    by: events.Event | None
    """What was told of it next; None where nothing follows any more."""


def superseded(
    history: Sequence[events.Event], effective: Sequence[bool], state: State
) -> dict[int, Superseded]:
    """Return the evidence that is no longer so, by its place in the history. What was taken back is
    not among it: that says so itself. `effective` tells for each event whether it is in effect, and
    `state` is what they all lead to.
    """
    now = {
        _about(event): _bare(event)
        for event in (results.as_event(each, history[-1].at, 0) for each in state.results.followed)
        if event is not None
    }
    told: dict[tuple[str | None, ...], list[int]] = {}
    for place, event in enumerate(history):
        if isinstance(event, get_args(results.Evidence)) and effective[place]:
            told.setdefault(_about(event), []).append(place)
    found: dict[int, Superseded] = {}
    for about, places in told.items():
        for nth, place in enumerate(places):
            bare = _bare(history[place])
            others = (history[other] for other in places[nth + 1 :])
            next_one = next((other for other in others if _bare(other) != bare), None)
            if next_one is not None:
                found[place] = Superseded(next_one)
            elif now.get(about) != bare:
                found[place] = Superseded(None)
    return found


def _about(event: events.Base) -> tuple[str | None, ...]:
    """Return which result is told."""
    match event:
        case events.ValueWorkedOut(name=name):
            return event.kind, event.step, name
        case events.PartChosen(chosen_by=name):
            return event.kind, event.step, name
        case events.FluidMeasured(fluid=name):
            return event.kind, event.step, name
        case events.LeakJudged():
            return event.kind, event.step
        case _:
            raise TypeError(f"{event!r} tells no result")


def _bare(event: events.Base) -> str:
    """Return what an event tells, whenever and by whomever it was told."""
    return event.model_dump_json(exclude={"at", "turn", "by", "heard"})
