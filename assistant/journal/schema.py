"""The tables of the journal's file, and how the file is opened, written and synced."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

from assistant.errors import AssistantError
from assistant.journal import chain, search

VERSION = 1
"""Of the layout; a file of another version is refused."""

_PATIENCE_S = 5.0
"""How long to wait for another process that is writing; somebody waits for the answer."""

_RETRY_S = 0.01
"""How soon to try again what SQLite refuses instead of waiting for it."""

OF_ORDERS = " OR ".join(
    f'instr(body, \'"kind":"{kind}"\')'
    for kind in ("part ordered", "order moved", "customer asked", "withdrawn")
)
"""The condition of the index `event_of_orders`; SQLite uses the index only word for word.

By instr, because a body need not be good JSON before it is verified.
"""
MOVED = 'instr(body, \'"kind":"order moved"\')'
"""The condition for an addition that tells of orders."""

ORDERED = 'instr(body, \'"kind":"part ordered"\')'
"""The condition for an event that orders a part."""

ASKED = 'instr(body, \'"kind":"customer asked"\')'
"""The condition for an event that has the customer asked about extra work."""

# A transcript is made from its clip and can be made again, so it is no event, in no chain, and can
# be added when the job is sealed. An addition is what the parts desk enters when the job is sealed,
# or who signs it off.
_TABLES = f"""
CREATE TABLE job (
    number INTEGER PRIMARY KEY AUTOINCREMENT,   -- for people at this bench
    uid TEXT NOT NULL UNIQUE,        -- a UUID, the same wherever the job travels
    bench TEXT NOT NULL,             -- where it was begun
    opened TEXT NOT NULL,
    title TEXT NOT NULL,
    unit TEXT
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
CREATE TABLE picture (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    job INTEGER NOT NULL REFERENCES job (number),
    sha256 TEXT NOT NULL,            -- of the JPEG bytes; the event that names it has it too
    jpeg BLOB NOT NULL,
    UNIQUE (job, sha256)
);
CREATE VIRTUAL TABLE search USING fts5 (   -- rowid is job * 2^24 + place; see search.py
    about, text, tokenize = "unicode61 remove_diacritics 2"
);
CREATE TABLE transcript (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    job INTEGER NOT NULL REFERENCES job (number),
    sha256 TEXT NOT NULL,            -- of the clip
    at TEXT NOT NULL,                -- ISO 8601, local time with its offset
    text TEXT NOT NULL,
    recogniser TEXT NOT NULL,        -- and its model
    FOREIGN KEY (job, sha256) REFERENCES clip (job, sha256)
);
CREATE TABLE addition (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    job INTEGER NOT NULL REFERENCES job (number),
    body TEXT NOT NULL               -- one of additions.py, as an event is kept
);
CREATE INDEX transcript_of ON transcript (job, sha256);
CREATE INDEX addition_of ON addition (job);
CREATE INDEX head_open ON head (job) WHERE kind <> 'job closed';
CREATE INDEX event_of_orders ON event (job, place) WHERE {OF_ORDERS};
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
CREATE TRIGGER picture_fixed BEFORE UPDATE ON picture
    BEGIN SELECT RAISE(ABORT, 'pictures are never changed'); END;
CREATE TRIGGER picture_kept BEFORE DELETE ON picture
    BEGIN SELECT RAISE(ABORT, 'pictures are never removed'); END;
CREATE TRIGGER job_fixed BEFORE UPDATE ON job
    BEGIN SELECT RAISE(ABORT, 'jobs are never changed'); END;
CREATE TRIGGER job_kept BEFORE DELETE ON job
    BEGIN SELECT RAISE(ABORT, 'jobs are never removed'); END;
CREATE TRIGGER head_forward BEFORE UPDATE ON head WHEN NEW.place <= OLD.place
    BEGIN SELECT RAISE(ABORT, 'a job never goes back'); END;
CREATE TRIGGER head_kept BEFORE DELETE ON head
    BEGIN SELECT RAISE(ABORT, 'jobs are never removed'); END;
CREATE TRIGGER transcript_fixed BEFORE UPDATE ON transcript
    BEGIN SELECT RAISE(ABORT, 'transcripts are never changed'); END;
CREATE TRIGGER transcript_kept BEFORE DELETE ON transcript
    BEGIN SELECT RAISE(ABORT, 'transcripts are never removed'); END;
CREATE TRIGGER addition_fixed BEFORE UPDATE ON addition
    BEGIN SELECT RAISE(ABORT, 'additions are never changed'); END;
CREATE TRIGGER addition_kept BEFORE DELETE ON addition
    BEGIN SELECT RAISE(ABORT, 'additions are never removed'); END;
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
    _write_ahead(db)
    db.execute("PRAGMA synchronous = FULL")
    db.execute("PRAGMA foreign_keys = ON")
    return db


def _write_ahead(db: sqlite3.Connection) -> None:
    """Have the file keep a write-ahead log.

    Where several programs begin a new file at once, SQLite refuses all but one of them at once,
    without the wait it is given for other locks; by then another may have done it.
    """
    until = time.monotonic() + _PATIENCE_S
    while db.execute("PRAGMA journal_mode").fetchone() != ("wal",):
        try:
            db.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError:
            if time.monotonic() > until:
                raise
            time.sleep(_RETRY_S)


def _only_readable(path: Path) -> bool:
    """Whether the folder takes no new file, which SQLite needs to read a file that changes.

    Without a log beside it nobody has the file open, and it does not change.
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
    """Make sure that a refused commit does not come back.

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
    """Make the tables in an empty file.

    Raises AssistantError where the file is not a journal, or is laid out in another version.
    """
    if _version(db) == VERSION:
        return
    with writing(db):
        # Asked again: another process may have been quicker.
        version = _version(db)
        if version == VERSION:
            return
        if version:
            raise AssistantError(
                f"The journal {path} is laid out in version {version}, and this assistant reads "
                f"version {VERSION}. Open it with the assistant that wrote it."
            )
        if db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
            raise AssistantError(f"{path} is a database, but not a journal.")
        _run(db, _TABLES + _RULES)
        db.execute(f"PRAGMA user_version = {VERSION}")
    sync_folder(path.parent)


def _version(db: sqlite3.Connection) -> int:
    return int(db.execute("PRAGMA user_version").fetchone()[0])


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


def this_bench() -> str:
    """Return the name of this bench: the computer's."""
    import platform

    return platform.node() or "bench"


def insert(db: sqlite3.Connection, job: int, links: Iterator[chain.Link]) -> None:
    """Add links to a job, in order, and what is kept beside them: its head and the search index."""
    title, unit = db.execute("SELECT title, unit FROM job WHERE number = ?", (job,)).fetchone()
    about = search.about(title, unit)
    last: tuple[chain.Link, dict[str, Any]] | None = None
    for link in links:
        event = chain.parse(link.body)
        db.execute(
            "INSERT INTO event (job, place, previous, hash, body) VALUES (?, ?, ?, ?, ?)",
            (job, link.place, link.previous, link.hash, link.body),
        )
        text = search.text_of(event)
        if text:
            db.execute(
                "INSERT INTO search (rowid, about, text) VALUES (?, ?, ?)",
                (search.row(job, link.place), about, text),
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
