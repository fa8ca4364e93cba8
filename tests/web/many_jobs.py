"""A journal with many jobs, each a copy of one that was typed at a bench and made by the real code.

Copies have their own identity, title, unit and times; only they go past the bench, in large
transactions, for ten thousand sessions would take hours.
"""

from __future__ import annotations

import random
import tempfile
import uuid
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from assistant.journal import chain, schema
from assistant.journal.records import Identity
from assistant.journal.store import Journal
from tests.bench_helpers import Hands

_TITLES = ("Small box", "Small box, deck side", "Small box, spare", "Test box overhaul")
_AT_ONCE = 500
_OPENED = ("affirm", "circlip missing drum side", "bag one", "note scored on one side")
_HALF = (*_OPENED, "order two drain plugs", "next step", "splined shaft", "next step")
_MEASURED = (*_HALF, "reading bore 25.01", "reading shaft 24.98", "next step")
_TIGHTENED = ("affirm", "tightened seven", "tightened four zero", "correction one four")
_DONE = (*_MEASURED, *_TIGHTENED, "turned nine zero degrees", "tightened one zero", "next step")
SESSIONS = (
    _OPENED,
    _HALF,
    (*_HALF, "stand by"),
    (*_MEASURED, "order one circlip", "skip step", "waiting for part"),
    (*_MEASURED, *_TIGHTENED[:3]),
    (*_OPENED, "end plate broken", "order one end plate", "disregard", "next step"),
    (*_DONE, "start timer"),
    (*_HALF, "close job", "affirm"),
    (*_DONE, "start timer", "+15", "next step", "close job", "affirm"),
    (*_MEASURED, "skip step", "not fitted", "close job", "affirm"),
)
"""What is typed, each at a bench of its own; +15 lets so many minutes pass. Seven stay open."""


def fill(path: Path, jobs: int, seed: int = 1) -> Journal:
    """Return a new journal with so many jobs; one in five is open, the latest among them."""
    with tempfile.TemporaryDirectory() as folder:
        typed = [_typed(Path(folder) / f"{n}.db", session) for n, session in enumerate(SESSIONS)]
    still_open = [events for events in typed if events[-1]["kind"] != "job closed"]
    closed = [events for events in typed if events[-1]["kind"] == "job closed"]
    chance = random.Random(seed)
    journal = Journal(path)
    at = datetime(2031, 1, 1, 7, 0, tzinfo=UTC)
    for begin in range(1, jobs + 1, _AT_ONCE):
        with schema.writing(journal._db):
            for number in range(begin, min(begin + _AT_ONCE, jobs + 1)):
                at += timedelta(minutes=17)
                which = still_open if number % 5 == 0 or number == jobs else closed
                _copy(journal, chance.choice(which), number, at, chance)
    return journal


def _typed(path: Path, session: tuple[str, ...]) -> list[dict[str, Any]]:
    hands = Hands(path)
    for phrase in session:
        if phrase.startswith("+"):
            hands.wait(minutes=int(phrase))
        else:
            hands.say(phrase)
    events = [event.model_dump(mode="json") for event in hands.bench.journal.events(1)]
    hands.bench.journal.close()
    return events


def _copy(
    journal: Journal, events: list[dict[str, Any]], number: int, at: datetime, chance: random.Random
) -> None:
    uid = str(uuid.UUID(int=chance.getrandbits(128), version=4))
    title, unit = chance.choice(_TITLES), f"serial {number:05}"
    bodies = list(_bodies(events, at, title, unit))
    opened = chain.parse(bodies[0])["at"]
    who = Identity(uid, f"bench {chance.randrange(1, 7)}", opened, title, unit)
    journal._begin(who, chain.links(uid, 1, chain.START, bodies))


def _bodies(events: list[dict[str, Any]], at: datetime, title: str, unit: str) -> Iterator[str]:
    later = at - datetime.fromisoformat(events[0]["at"])
    for event in events:
        moved = event | {"at": (datetime.fromisoformat(event["at"]) + later).isoformat()}
        if event["kind"] == "job opened":
            moved |= {"title": title, "unit": unit}
        yield chain.canonical(moved)
