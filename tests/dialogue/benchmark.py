"""How the cost of replaying a job grows with its events: numbers, not pass or fail.

    python -m tests.dialogue.benchmark [--most 10000]

The events are what `decide` really makes of orders, findings and notes at the small box's bench,
with every tenth one a withdrawal; making ten thousand of them takes a minute, most of it the
withdrawals. "replay" folds the record at once, as when a job is taken up;
"one by one" applies each event as a live bench does, which folds anew at each withdrawal.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from assistant.dialogue import events, intents
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job
from assistant.procedure import reading
from tests.bench_helpers import SMALL

PROCEDURE = reading.parse(SMALL, "small.yaml")
_SAID: tuple[intents.Intent, ...] = (
    intents.Order("circlip", 2),
    intents.Finding("end plate", "worn", "drum side"),
    intents.Note("the paint is old"),
    intents.Finding("circlip", "missing"),
    intents.Order("drain plug"),
    intents.Note("more of the same"),
    intents.Finding("drain plug", "corroded"),
    intents.Order("end plate"),
    intents.Finding("end plate", "cracked"),
    intents.Disregard(),
)


def main() -> None:
    """Make a record of each size, time both ways, and print a table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--most", type=int, default=10_000, metavar="EVENTS")
    args = parser.parse_args()
    print("  events  withdrawn  replay s  one by one s")
    size = 1_000
    while size <= args.most:
        record = made(size)
        withdrawn = sum(isinstance(event, events.Withdrawn) for event in record)
        at_once = min(seconds(replayed, record) for _ in range(5))
        singly = seconds(applied, record)
        print(f"{len(record):8}  {withdrawn:9}  {at_once:8.3f}  {singly:12.3f}", flush=True)
        size *= 10


def made(size: int) -> list[events.Event]:
    """Return the events of an open job, at least so many."""
    now = datetime(2031, 3, 4, 9, tzinfo=UTC)
    record = list(open_job(PROCEDURE, SMALL, now).events)
    state = job_state.replay(PROCEDURE, record)
    while len(record) < size:
        for intent in _SAID:
            now += timedelta(seconds=20)
            decision = decide(state, intent, now)
            for event in decision.events:
                state = job_state.apply(state, event)
            record += decision.events
    return record


def replayed(record: list[events.Event]) -> job_state.State:
    """Fold the record at once."""
    return job_state.replay(PROCEDURE, record)


def applied(record: list[events.Event]) -> job_state.State:
    """Apply each event to the state before it."""
    state = job_state.start(PROCEDURE)
    for event in record:
        state = job_state.apply(state, event)
    return state


def seconds(fold: Callable[[list[events.Event]], object], record: list[events.Event]) -> float:
    """Return how long a way of folding takes on a record."""
    begun = time.perf_counter()
    fold(record)
    return time.perf_counter() - begun


if __name__ == "__main__":
    main()
