"""A journal as version 2 of the program wrote it: chained, with clips and without transcripts."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from assistant.dialogue import events
from tests.bench_helpers import Hands

SCHEMA = """
CREATE TABLE job (
    number INTEGER PRIMARY KEY AUTOINCREMENT,   -- for people at this bench
    uid TEXT NOT NULL UNIQUE,        -- a UUID, the same wherever the job travels
    bench TEXT NOT NULL,             -- where it was begun
    opened TEXT NOT NULL,
    title TEXT NOT NULL,
    unit TEXT,
    late INTEGER NOT NULL            -- events up to this place were chained by a migration only
);
CREATE TABLE event (
    job INTEGER NOT NULL REFERENCES job (number),
    place INTEGER NOT NULL,          -- 1, 2, 3 … within the job; order never rests on the clock
    previous TEXT NOT NULL,          -- the hash of the event before it
    hash TEXT NOT NULL,              -- see chain.py
    body TEXT NOT NULL,              -- the whole event as canonical JSON (RFC 8785)
    PRIMARY KEY (job, place)
) WITHOUT ROWID;
CREATE TABLE head (                  -- of each job's last event; so a missing end shows
    job INTEGER PRIMARY KEY REFERENCES job (number),
    place INTEGER NOT NULL,
    hash TEXT NOT NULL,
    kind TEXT NOT NULL,
    at TEXT NOT NULL,                -- ISO 8601, local time with its offset
    step TEXT
);
CREATE TABLE clip (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    job INTEGER NOT NULL REFERENCES job (number),
    sha256 TEXT NOT NULL,            -- of the FLAC bytes; the event that names it has it too
    flac BLOB NOT NULL,              -- 16 kHz mono
    UNIQUE (job, sha256)
);
CREATE VIRTUAL TABLE search USING fts5 (   -- rowid is job * 2^24 + place; see searching.py
    about, text, tokenize = "unicode61 remove_diacritics 2"
);
CREATE TRIGGER event_fixed BEFORE UPDATE ON event
    BEGIN SELECT RAISE(ABORT, 'events are never changed'); END;
CREATE TRIGGER event_kept BEFORE DELETE ON event
    BEGIN SELECT RAISE(ABORT, 'events are never removed'); END;
CREATE TRIGGER event_sealed BEFORE INSERT ON event
    WHEN (SELECT kind FROM head WHERE job = NEW.job) = 'job closed'
    BEGIN SELECT RAISE(ABORT, 'nothing is ever added to a closed job'); END;
CREATE TRIGGER clip_fixed BEFORE UPDATE ON clip
    BEGIN SELECT RAISE(ABORT, 'clips are never changed'); END;
CREATE TRIGGER clip_kept BEFORE DELETE ON clip
    BEGIN SELECT RAISE(ABORT, 'clips are never removed'); END;
CREATE TRIGGER job_fixed BEFORE UPDATE ON job
    BEGIN SELECT RAISE(ABORT, 'jobs are never changed'); END;
CREATE TRIGGER job_kept BEFORE DELETE ON job
    BEGIN SELECT RAISE(ABORT, 'jobs are never removed'); END;
CREATE TRIGGER head_forward BEFORE UPDATE ON head WHEN NEW.place <= OLD.place
    BEGIN SELECT RAISE(ABORT, 'a job never goes back'); END;
CREATE TRIGGER head_kept BEFORE DELETE ON head
    BEGIN SELECT RAISE(ABORT, 'jobs are never removed'); END;
PRAGMA user_version = 2;
PRAGMA journal_mode = WAL;
"""


def version_2(path: Path, clip: bytes) -> tuple[events.Event, ...]:
    """Write a file with one closed job that has a note with this clip; return its events."""
    hands = Hands(path.with_name("made.db"))
    hands.hear("note", sound=clip, free_speech=True)
    hands.say("close job", "affirm")
    history = hands.bench.journal.events(1)
    hands.bench.journal.close()
    with closing(sqlite3.connect(path)) as db:
        db.executescript(SCHEMA)
        db.execute("ATTACH ? AS made", (str(path.with_name("made.db")),))
        for table in ("job", "event", "head", "clip"):
            db.execute(f"INSERT INTO {table} SELECT * FROM made.{table}")
        db.execute("INSERT INTO search (rowid, about, text) SELECT rowid, * FROM made.search")
        db.commit()
    return history
