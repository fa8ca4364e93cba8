"""A journal as version 3 of the program wrote it: with transcripts; orders have no `name`."""

from __future__ import annotations

import json
import sqlite3
import uuid
from contextlib import closing
from pathlib import Path

from assistant.journal import chain
from assistant.journal.store import Identity, Journal
from tests.bench_helpers import Hands
from tests.journal import version_2

TRANSCRIPTS = """
CREATE TABLE transcript (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    job INTEGER NOT NULL REFERENCES job (number),
    sha256 TEXT NOT NULL,            -- of the clip
    at TEXT NOT NULL,                -- ISO 8601, local time with its offset
    text TEXT NOT NULL,
    recogniser TEXT NOT NULL,        -- and its model
    FOREIGN KEY (job, sha256) REFERENCES clip (job, sha256)
);
CREATE INDEX transcript_of ON transcript (job, sha256);
CREATE TRIGGER transcript_fixed BEFORE UPDATE ON transcript
    BEGIN SELECT RAISE(ABORT, 'transcripts are never changed'); END;
CREATE TRIGGER transcript_kept BEFORE DELETE ON transcript
    BEGIN SELECT RAISE(ABORT, 'transcripts are never removed'); END;
PRAGMA user_version = 3;
"""
SCHEMA = version_2.SCHEMA.replace("PRAGMA user_version = 2;", TRANSCRIPTS)


def version_3(path: Path, *phrases: str) -> None:
    """Write a file with one job in which these phrases were said, as that version kept them."""
    hands = Hands(path.with_name("said.db"))
    hands.say(*phrases)
    journal = hands.bench.journal
    bodies = []
    for link in journal.links(1):
        event = json.loads(link.body)
        if event["kind"] == "part ordered":
            del event["name"]
        bodies.append(chain.canonical(event))
    opened = json.loads(bodies[0])
    journal.close()
    uid = str(uuid.uuid4())
    made = Journal(path.with_name("made.db"))
    who = Identity(uid, "bench", opened["at"], opened["title"], opened["unit"])
    made.adopt(who, chain.links(uid, 1, chain.START, bodies), ())
    made.close()
    with closing(sqlite3.connect(path)) as db:
        db.executescript(SCHEMA)
        db.execute("ATTACH ? AS made", (str(path.with_name("made.db")),))
        for table in ("job", "event", "head"):
            db.execute(f"INSERT INTO {table} SELECT * FROM made.{table}")
        db.execute("INSERT INTO search (rowid, about, text) SELECT rowid, * FROM made.search")
        db.commit()
