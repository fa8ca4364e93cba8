"""A journal as version 1 of the program wrote it: no chain, no uid."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from assistant.dialogue import events
from tests.bench_helpers import Hands

SCHEMA = """
CREATE TABLE job (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    opened TEXT NOT NULL
);
CREATE TABLE event (
    job INTEGER NOT NULL REFERENCES job (number),
    place INTEGER NOT NULL,          -- 1, 2, 3 … within the job; order never rests on the clock
    kind TEXT NOT NULL,
    at TEXT NOT NULL,                -- ISO 8601, local time with its offset
    body TEXT NOT NULL,              -- the whole event as JSON
    PRIMARY KEY (job, place)
) WITHOUT ROWID;
CREATE TABLE clip (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    job INTEGER NOT NULL REFERENCES job (number),
    flac BLOB NOT NULL               -- 16 kHz mono
);
CREATE TRIGGER event_fixed BEFORE UPDATE ON event
    BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_kept BEFORE DELETE ON event
    BEGIN SELECT RAISE(ABORT, 'events are never removed'); END;
CREATE TRIGGER clip_fixed BEFORE UPDATE ON clip
    BEGIN SELECT RAISE(ABORT, 'clips are never changed'); END;
CREATE TRIGGER clip_kept BEFORE DELETE ON clip
    BEGIN SELECT RAISE(ABORT, 'clips are never removed'); END;
PRAGMA user_version = 1;
PRAGMA journal_mode = WAL;
"""

CLIPS = (b"the first sound", b"the second sound", b"the second sound")


def version_1(path: Path) -> list[tuple[events.Event, ...]]:
    """Write a file with an open job and a closed one with clips; return the events of each."""
    jobs = []
    with closing(sqlite3.connect(path)) as db:
        db.executescript(SCHEMA)
        clips = iter(CLIPS)
        number = 0
        for job in (1, 2):
            hands = Hands(path.with_name(f"made-{job}.db"))
            hands.say("affirm", "bag one")
            for sound in clips if job == 2 else ():
                hands.now += timedelta(seconds=5)
                hands.hear("circlip missing upper", sound=sound)
            if job == 2:
                hands.say("close job", "affirm")
            history = []
            opened = hands.bench.journal.events(1)[0].at.isoformat()
            db.execute("INSERT INTO job VALUES (?, ?)", (job, opened))
            for place, event in enumerate(hands.bench.journal.events(1), 1):
                if event.heard is not None and event.heard.clip is not None:
                    number += 1
                    heard = event.heard.model_copy(update={"clip": number, "clip_sha256": None})
                    event = event.model_copy(update={"heard": heard})
                    db.execute(
                        "INSERT INTO clip (number, job, flac) VALUES (?, ?, ?)",
                        (number, job, CLIPS[number - 1]),
                    )
                # Version 1 knew no digests, and wrote its models as they came.
                exclude = {"heard": {"clip_sha256"}} if event.heard else None
                body = event.model_dump_json(exclude=exclude)
                row = (job, place, event.kind, event.at.isoformat(), body)
                db.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?)", row)
                history.append(event)
            jobs.append(tuple(history))
            hands.bench.journal.close()
        db.commit()
    return jobs
