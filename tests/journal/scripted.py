"""A whole job as a script, each phrase of which records something, and what has to come of it.

However often the work is broken off and taken up again, the job comes out as in one go: `told`
leaves out of the events what may differ, the times and the taking up.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

from assistant.bench.conversation import Conversation
from assistant.dialogue import events
from assistant.dialogue import state as job_state
from tests.bench_helpers import heard

SCRIPT = (
    "affirm",
    "*circlip missing drum side",
    "bag seven",
    "correction bag one",
    "order two drain plugs",
    "order one circlip",
    "*note",
    "note all is well",
    "skip step",
    "waiting for part",
    "previous step",
    "next step",
    "splined shaft",
    "next step",
    "reading bore 25.10",
    "affirm",
    "reading shaft 24.98",
    "correction reading 25.07",
    "*drain plug worn",
    "next step",
    "affirm",
    "tightened seven",
    "tightened four zero",
    "correction one four",
    "turned nine zero degrees",
    "tightened one zero",
    "next step",
    "start timer",
    "close job",
    "affirm",
)
"""Each phrase is a turn. With a star it is spoken, and its sound is kept."""


def clip(number: int) -> bytes:
    """Return the sound of the phrase of that number, from 0."""
    return f"the sound of phrase {number}, ".encode() * 400


def say(bench: Conversation, number: int) -> None:
    """Say the phrase of that number, from 0."""
    phrase = SCRIPT[number]
    if not phrase.startswith("*"):
        bench.typed(phrase)
        return
    bench.take(heard(bench, phrase[1:], sound=clip(number), free_speech=phrase == "*note"))


def said(history: Sequence[events.Event]) -> int:
    """Return how many phrases of the script a job has: its turns, but for the opening and such."""
    return (
        len({e.turn for e in history if not isinstance(e, events.JobOpened | events.JobTakenUp)})
        - 1
    )


class Clock:
    """Moves on by a second each time it is looked at; the timer never becomes due."""

    def __init__(self) -> None:
        self.now = datetime(2031, 3, 4, 9, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


def told(history: Iterable[events.Event]) -> list[dict[str, Any]]:
    """Return the events without what may differ between one go and several."""
    kept = [event for event in history if not isinstance(event, events.JobTakenUp)]
    turns = _turns(kept)
    return [_alike(event.model_dump(mode="json"), turns) for event in kept]


def _turns(history: Iterable[events.Event]) -> dict[int, int]:
    """Return each turn's number when those that take a job up are not counted."""
    numbers = {e.turn for e in history if not isinstance(e, events.JobTakenUp)}
    return {turn: n for n, turn in enumerate(sorted(numbers), 1)}


def _alike(value: Any, turns: dict[int, int]) -> Any:
    """Return a value of an event with its turns counted anew, and without the times in it.

    Which timers run is the same, but not how long they still have.
    """
    if isinstance(value, list):
        return [_alike(each, turns) for each in value]
    if not isinstance(value, dict):
        return value
    row = {}
    for key, part in value.items():
        if key in ("at", "due") or (key == "left" and not isinstance(part, list)):
            continue
        if key in ("turn", "withdrew", "started_turn"):
            row[key] = turns.get(part, part)
        elif key == "turns" and isinstance(part, list):
            row[key] = [turns.get(each, each) for each in part]
        else:
            row[key] = _alike(part, turns)
    return row


def alike(state: job_state.State) -> tuple[object, ...]:
    """Return a state without what may differ between one go and several."""
    pending = None
    if state.pending is not None:
        pending = _alike(state.pending.model_dump(mode="json"), _turns(state.history))
    rest = replace(state, history=(), log=(), turn=0, pending=None)
    return rest, pending, told(state.history)
