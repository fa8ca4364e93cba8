"""How the journal's cost grows, from a thousand events to a million: numbers, not pass or fail.

    python -m tests.journal.benchmark [--most 1000000] [--json FILE]

Each size is a journal of its own, filled with jobs of a hundred events such as a bench makes: half
a dozen of a job's are found by searching. Filling goes past the bench, in large transactions; what
is then measured is what a user waits for, in a process of its own: the middle and the worst of
several. The worst has what is done once, such as reading the procedure; "cold" asks the system to
have nothing of the file in memory.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from assistant.desk import orders
from assistant.journal import chain, schema
from assistant.journal.records import Identity
from assistant.journal.store import Journal
from tests.bench_helpers import Hands
from tests.journal import scripted

EVENTS_A_JOB = 100
_TITLES = ("Small box", "Harbour winch gearbox overhaul", "Pump rebuild", "Tail box check")
_PARTS = ("circlip", "drain plug", "oil seal", "shim", "bearing", "earth lead", "coupling", "key")
_CONDITIONS = ("missing", "worn", "frayed", "broken", "corroded", "loose", "wrongly fitted")


def main() -> None:
    """Fill, measure, and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=1_000_000, metavar="EVENTS")
    parser.add_argument("--json", type=Path, metavar="FILE", help="the numbers, for the machine")
    parser.add_argument("--measure", type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.measure:
        print(json.dumps(_measured(args.measure)))
        return
    rows = []
    events = 1_000
    while events <= args.most:
        with tempfile.TemporaryDirectory(prefix="assistant-benchmark-") as folder:
            rows.append(_one_size(Path(folder) / "journal.db", events))
        _print(rows[-1], head=len(rows) == 1)
        events *= 10
    if args.json:
        args.json.write_text(json.dumps(rows, indent=1) + "\n", encoding="utf-8")


def _one_size(path: Path, events: int) -> dict[str, Any]:
    begun = time.perf_counter()
    fill(path, events)
    filled = time.perf_counter() - begun
    told = subprocess.run(
        [sys.executable, "-m", "tests.journal.benchmark", "--measure", str(path)],
        check=True,
        capture_output=True,
        text=True,
    )
    row: dict[str, Any] = json.loads(told.stdout)
    row.update(events=events, mb=path.stat().st_size / 1e6, fill_s=filled)
    return row


# Filling


def fill(path: Path, events: int) -> None:
    """Fill a journal with so many events, in jobs of a hundred; the last job is open."""
    pattern = _pattern(path.with_name("pattern.db"))
    chance = random.Random(events)
    journal = Journal(path)
    db = journal._db
    jobs = max(1, events // EVENTS_A_JOB)
    at = datetime(2031, 1, 1, tzinfo=UTC)
    for begin in range(0, jobs, 500):
        with schema.writing(db):
            for number in range(begin + 1, min(begin + 500, jobs) + 1):
                at += timedelta(hours=3)
                title, unit = chance.choice(_TITLES), f"serial {number:05}"
                uid = str(uuid.UUID(int=chance.getrandbits(128), version=4))
                who = Identity(uid, "bench", _iso(at), title, unit)
                bodies = _bodies(pattern, chance, who, at, closed=number < jobs)
                journal._begin(who, chain.links(uid, 1, chain.START, bodies))
    journal.close()


def _pattern(path: Path) -> list[dict[str, Any]]:
    """Return the events of a real job as JSON: what a bench really writes."""
    bench = Hands(path).bench
    for number in range(len(scripted.SCRIPT)):
        scripted.say(bench, number)
    events = [event.model_dump(mode="json") for event in bench.journal.events(1)]
    bench.journal.close()
    return events


def _bodies(
    pattern: list[dict[str, Any]], chance: random.Random, who: Identity, at: datetime, closed: bool
) -> Iterator[str]:
    opened, *middle, close = pattern
    rest = [row for row in middle if row["kind"] not in ("part ordered", "note", "finding")]
    searched = [row for row in middle if row["kind"] in ("part ordered", "note", "finding")]
    yield _body(opened, at, 1, title=who.title, unit=who.unit)
    last = EVENTS_A_JOB - 2 if closed else EVENTS_A_JOB - 1
    for number in range(last):
        at += timedelta(seconds=20)
        turn = number + 2
        if number % 16 != 5:
            yield _body(rest[number % len(rest)], at, turn)
            continue
        row = searched[number // 16 % len(searched)]
        part, condition = chance.choice(_PARTS), chance.choice(_CONDITIONS)
        changed = {
            "finding": {"part": part, "condition": condition},
            "note": {"text": f"the {part} was {condition}, mark {chance.randrange(100_000)}"},
            "part ordered": {"part": part, "part_number": f"TB-{chance.randrange(1000)}"},
        }[row["kind"]]
        yield _body(row, at, turn, **changed)
    if closed:
        yield _body(close, at, EVENTS_A_JOB)


def _body(row: dict[str, Any], at: datetime, turn: int, **changed: object) -> str:
    # No clips: they are not looked at by what is measured.
    heard = row["heard"] and row["heard"] | {"clip": None, "clip_sha256": None}
    return chain.canonical(row | {"at": _iso(at), "turn": turn, "heard": heard} | changed)


def _iso(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


# Measuring


def _measured(path: Path) -> dict[str, Any]:
    import resource

    from assistant.journal import verification

    times: dict[str, list[float]] = {}

    def measure(name: str, action: Callable[[], object], repeats: int = 9) -> None:
        for _ in range(repeats):
            begun = time.perf_counter()
            action()
            times.setdefault(name, []).append((time.perf_counter() - begun) * 1000)

    before = _peak_mb(resource)

    def resume() -> None:
        hands = Hands(path, open_job=False)
        latest = hands.bench.journal.latest_open()
        assert latest is not None
        hands.bench.take_up(latest)
        hands.bench.journal.close()

    measure("resume", resume)
    measure("resume, cold", lambda: (_forget(path), resume()), 5)
    _forget(path)
    journal = Journal(path)
    measure("list of 50, cold", lambda: journal.jobs(limit=50), 1)
    measure("search, cold", lambda: _found(journal, "bearing worn"), 1)
    latest = journal.numbers()[-1]
    assert journal.jobs(limit=1)[0].job == latest
    measure("list of 50", lambda: journal.jobs(limit=50))
    measure("list of all", journal.jobs)
    listed = _peak_mb(resource)
    measure("search, rare word", lambda: _found(journal, "serial 00001"))
    measure("search, common word", lambda: _found(journal, "circlip"))
    measure("search, two words", lambda: _found(journal, "winch frayed"))
    measure("search, of all", lambda: _found(journal, "bearing worn winch"))
    measure("jobs, common word", lambda: journal.jobs(limit=50, search="circlip"))
    measure("jobs, all found", lambda: journal.jobs(search="circlip"))
    measure("orders of all", lambda: list(orders.listed(journal)), 5)
    hands = Hands(path, open_job=False)
    hands.bench.take_up(latest)
    measure("a phrase", lambda: hands.say("order two drain plugs"), 30)
    measure("verify a job", lambda: verification.job(journal, latest))
    begun = time.perf_counter()
    assert all(verification.job(journal, n).fault is None for n in journal.numbers())
    return {
        "jobs": latest,
        "ms": {
            name: [min(all_), statistics.median(all_), max(all_)] for name, all_ in times.items()
        },
        "verify_all_s": time.perf_counter() - begun,
        "peak_mb": _peak_mb(resource),
        "before_mb": before,
        "listed_mb": listed,
    }


def _forget(path: Path) -> None:
    """Ask the system to keep nothing of the file in memory, where it can be asked."""
    if hasattr(os, "posix_fadvise"):
        with path.open("rb") as file:
            os.fsync(file.fileno())
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)


def _found(journal: Journal, text: str) -> None:
    # Measuring what finds nothing would flatter; ten jobs need not have every pair of words.
    assert journal.search(text) or len(journal.numbers()) < 50


def _peak_mb(resource: Any) -> float:
    """Return the most memory that this process has had (on Linux, where it is in KiB)."""
    return float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss) / 1024


def _print(row: dict[str, Any], head: bool) -> None:
    names = list(row["ms"])
    if head:
        print("middle (worst) in ms")
        begin, end = ["   events", "  jobs", "    MB", "fill s"], ["verify all s", "peak MB"]
        print("  ".join([*begin, *names, *end]))
    cells = [f"{row['events']:9}", f"{row['jobs']:6}", f"{row['mb']:6.1f}", f"{row['fill_s']:6.1f}"]
    for name in names:
        _, middle, worst = row["ms"][name]
        cells.append(f"{middle:.1f} ({worst:.1f})".rjust(len(name)))
    print("  ".join([*cells, f"{row['verify_all_s']:12.1f}", f"{row['peak_mb']:7.0f}"]), flush=True)


if __name__ == "__main__":
    main()
