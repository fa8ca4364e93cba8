"""The tables of the journal's file, and how a file of an older version becomes one of this."""

from __future__ import annotations

import json
import os
import sqlite3
import uuid
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from hashlib import sha256
from pathlib import Path
from typing import IO, Any

from assistant.errors import AssistantError
from assistant.journal import chain, searching

VERSION = 4

_PATIENCE_S = 5.0
"""How long another process that writes is waited for; somebody is waiting for an answer."""

_TABLES = """
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
"""

_RULES = """
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
"""

# What a clip says is made from it, and can be made again: so it is no event and in no chain, and
# can be added when the job is sealed. It is never changed all the same.
_TRANSCRIPTS = """
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
"""


OF_ORDERS = " OR ".join(
    f'instr(body, \'"kind":"{kind}"\')' for kind in ("part ordered", "order moved", "withdrawn")
)
"""What an event has that tells of orders; word for word as in the index, or that is not used."""

# The orders of all jobs are read without reading all that happened in them; instr, because no
# body has to be good JSON before it is verified. A part may arrive when its job is sealed: what
# the desk enters then stands beside the chain, and proves nothing.
_ORDERS = f"""
CREATE INDEX event_of_orders ON event (job, place) WHERE {OF_ORDERS};
CREATE TABLE afterwards (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    job INTEGER NOT NULL REFERENCES job (number),
    body TEXT NOT NULL               -- an order moved after the job was closed, as an event is kept
);
CREATE INDEX afterwards_of ON afterwards (job);
CREATE TRIGGER afterwards_fixed BEFORE UPDATE ON afterwards
    BEGIN SELECT RAISE(ABORT, 'what was entered is never changed'); END;
CREATE TRIGGER afterwards_kept BEFORE DELETE ON afterwards
    BEGIN SELECT RAISE(ABORT, 'what was entered is never removed'); END;
"""


def connect(path: Path) -> sqlite3.Connection:
    """Open the file with the settings that survive a loss of power.

    A commit is in the write-ahead log and synced when it returns: `synchronous=FULL`, and on
    macOS `fullfsync`, without which a sync stops at the drive's own cache. A file on a medium
    that can only be read is opened for that.
    """
    if _only_readable(path):
        name = f"{path.absolute().as_uri()}?mode=ro&immutable=1"
        return sqlite3.connect(name, uri=True, isolation_level=None)
    db = sqlite3.connect(path, isolation_level=None, timeout=_PATIENCE_S)
    db.execute("PRAGMA fullfsync = ON")
    db.execute("PRAGMA checkpoint_fullfsync = ON")
    if db.execute("PRAGMA journal_mode").fetchone() != ("wal",):
        db.execute("PRAGMA journal_mode = WAL")
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA foreign_keys = ON")
    return db


def _only_readable(path: Path) -> bool:
    """Whether nothing can be made beside the file, as SQLite must to read it while it changes.

    It does not change where there is no log beside it: nobody has it open.
    """
    log = path.with_name(f"{path.name}-wal")
    nothing_new = path.is_file() and not os.access(path.parent, os.W_OK)
    return nothing_new and not (log.exists() and log.stat().st_size)


@contextmanager
def writing(db: sqlite3.Connection) -> Iterator[None]:
    """Do all of it or nothing; what was done is on disk when this returns."""
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        # After some errors SQLite has rolled back already.
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise


def forget_refused(db: sqlite3.Connection) -> None:
    """See to it that what could not be synced does not come back.

    A commit that was written whole and then not synced is refused, but stands at the end of the
    log, until the next one is written over it; were the process killed before, it would be taken
    for good by whoever opens the file next. So the log is emptied, if the disk lets it be.
    """
    with suppress(sqlite3.Error):
        db.execute("PRAGMA busy_timeout = 0")
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with suppress(sqlite3.Error):
        db.execute(f"PRAGMA busy_timeout = {_PATIENCE_S * 1000:.0f}")


def prepare(db: sqlite3.Connection, path: Path) -> None:
    """Make the tables where there are none, and bring those of an older version up to this one.

    Raises AssistantError where the file is no journal, or a newer version's.
    """
    if _version(db) == VERSION:
        return
    with writing(db):
        # Asked again: another process may have been quicker.
        version = _version(db)
        if version == VERSION:
            return
        if version > VERSION:
            raise AssistantError(
                f"The journal {path} was written by a newer assistant. Update this one."
            )
        if version == 0:
            if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                raise AssistantError(f"{path} is a database, but not a journal.")
            _run(db, _TABLES + _RULES)
        else:
            keep_old(path, version)
        if version == 1:
            _from_1(db)
        if version < 3:
            _run(db, _TRANSCRIPTS)
        if version < 4:
            _run(db, _ORDERS)
        db.execute(f"PRAGMA user_version = {VERSION}")
    sync_folder(path.parent)


def _version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])


def keep_old(path: Path, version: int) -> Path:
    """Copy a journal of an older version beside itself, whole and synced; return the copy."""
    name = f"{path.stem}.v{version}-backup"
    copy = path.with_name(f"{name}.db")
    number = 1
    while copy.exists():
        number += 1
        copy = path.with_name(f"{name}-{number}.db")
    part = copy.with_suffix(".part")
    part.unlink(missing_ok=True)
    try:
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as target:
            source.backup(target)
        with part.open("rb+") as file:
            synced(file)
        part.replace(copy)
        sync_folder(path.parent)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return copy


def synced(file: IO[bytes]) -> None:
    """Put what was written to a file on disk."""
    file.flush()
    os.fsync(file.fileno())


def make_folder(folder: Path) -> None:
    """Make a folder, and those above it, so that they are there after the power went."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def sync_folder(folder: Path) -> None:
    """Put a folder's entries on disk, where the system can: a new file's name is one."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


# Version 1: no chain, no uid; a clip was known by its number alone.


def _from_1(db: sqlite3.Connection) -> None:
    for trigger in ("event_fixed", "event_kept", "clip_fixed", "clip_kept"):
        db.execute(f"DROP TRIGGER IF EXISTS {trigger}")
    for table in ("event", "clip", "job"):
        db.execute(f"ALTER TABLE {table} RENAME TO {table}_1")
    _run(db, _TABLES)
    bench = this_bench()
    jobs = db.execute(
        """
        SELECT number, first.body ->> 'at', first.body ->> 'title', first.body ->> 'unit',
               (SELECT max(place) FROM event_1 WHERE job = number)
        FROM job_1 JOIN event_1 AS first ON first.job = number AND first.place = 1 ORDER BY number
        """
    )
    for number, opened, title, unit, late in jobs:
        uid = str(uuid.uuid4())
        db.execute(
            "INSERT INTO job VALUES (?, ?, ?, ?, ?, ?, ?)",
            (number, uid, bench, opened, title, unit, late),
        )
        _clips_from_1(db, number)
        rows = db.execute("SELECT body FROM event_1 WHERE job = ? ORDER BY place", (number,))
        bodies = (_body_from_1(db, body) for (body,) in rows)
        insert(db, number, chain.links(uid, 1, chain.START, bodies))
    for table in ("event", "clip", "job"):
        db.execute(f"DROP TABLE {table}_1")
    _run(db, _RULES)


def _clips_from_1(db: sqlite3.Connection, job: int) -> None:
    clips = db.execute("SELECT number, flac FROM clip_1 WHERE job = ? ORDER BY number", (job,))
    for number, flac in clips:
        db.execute(
            "INSERT OR IGNORE INTO clip VALUES (?, ?, ?, ?)",
            (number, job, sha256(flac).hexdigest(), flac),
        )


def _body_from_1(db: sqlite3.Connection, body: str) -> str:
    event = json.loads(body)
    heard = event.get("heard")
    if heard and heard.get("clip") is not None:
        # From here on an altered clip shows.
        row = db.execute("SELECT flac FROM clip_1 WHERE number = ?", (heard["clip"],)).fetchone()
        if row is not None:
            heard["clip_sha256"] = sha256(row[0]).hexdigest()
    return chain.canonical(event)


def this_bench() -> str:
    """Return the name of this bench: the computer's."""
    import platform

    return platform.node() or "bench"


def insert(db: sqlite3.Connection, job: int, links: Iterator[chain.Link]) -> None:
    """Add links to a job, in order, and what is kept beside them: the head, the search index."""
    title, unit = db.execute("SELECT title, unit FROM job WHERE number = ?", (job,)).fetchone()
    about = searching.about(title, unit)
    last: tuple[chain.Link, dict[str, Any]] | None = None
    for link in links:
        event = chain.parse(link.body)
        db.execute(
            "INSERT INTO event (job, place, previous, hash, body) VALUES (?, ?, ?, ?, ?)",
            (job, link.place, link.previous, link.hash, link.body),
        )
        text = searching.text_of(event)
        if text:
            db.execute(
                "INSERT INTO search (rowid, about, text) VALUES (?, ?, ?)",
                (searching.row(job, link.place), about, text),
            )
        last = link, event
    if last is None:
        return
    link, event = last
    db.execute(
        """
        INSERT INTO head (job, place, hash, kind, at, step) VALUES (?, ?, ?, ?, ?, ?)
        ON CONFLICT (job) DO UPDATE SET place = excluded.place, hash = excluded.hash,
            kind = excluded.kind, at = excluded.at, step = excluded.step
        """,
        (job, link.place, link.hash, event["kind"], event["at"], event.get("step")),
    )


def _run(db: sqlite3.Connection, script: str) -> None:
    # Not executescript, which commits first.
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            db.execute(statement)
            statement = ""
