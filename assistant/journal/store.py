"""The journal: every event of every job of a shop, in one SQLite file that only ever grows.

An event is on disk when `append` returns: SQLite's write-ahead log with `synchronous=FULL` syncs
each commit. Rows cannot be changed or removed; triggers in the file itself refuse it. Clips are
kept in the same file, written in the same transaction as the event that names them.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from assistant.errors import AssistantError
from assistant.session import events as ev

SCHEMA_VERSION = 1

_SCHEMA = """
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
"""


@dataclass(frozen=True)
class JobSummary:
    """One line of the list of jobs."""

    job: int
    title: str
    unit: str | None
    opened: datetime
    last: datetime
    step: str | None
    closed: bool
    events: int


class Journal:
    """A shop's journal, open for reading and appending.

    Raises AssistantError, naming the file, where it cannot be opened, read or written.
    """

    def __init__(self, path: Path, *, create: bool = True) -> None:
        self.path = path
        if not create and not path.is_file():
            raise AssistantError(
                f"There is no journal {path} yet. Start a job with: assistant run PROCEDURE"
            )
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(path, isolation_level=None, timeout=10)
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = FULL")
            self._db.execute("PRAGMA foreign_keys = ON")
            self._prepare()
        except (OSError, sqlite3.Error) as error:
            raise AssistantError(f"Cannot open the journal {path}: {error}.") from error

    def _prepare(self) -> None:
        with self._writing():
            (version,) = self._db.execute("PRAGMA user_version").fetchone()
            if version == 0:
                tables = self._db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
                if tables:
                    raise AssistantError(f"{self.path} is a database, but not a journal.")
                for statement in _statements(_SCHEMA):
                    self._db.execute(statement)
                self._db.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
            elif version > SCHEMA_VERSION:
                raise AssistantError(
                    f"The journal {self.path} was written by a newer assistant. Update this one."
                )

    def close(self) -> None:
        """Close the file; appended events are on disk already."""
        self._db.close()

    @contextmanager
    def _writing(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    def open_job(self, events: Sequence[ev.Event]) -> int:
        """Begin a job with its first events, and return its number."""
        try:
            with self._writing():
                cursor = self._db.execute(
                    "INSERT INTO job (opened) VALUES (?)", (events[0].at.isoformat(),)
                )
                job = int(cursor.lastrowid or 0)
                self._insert(job, 1, events)
        except sqlite3.Error as error:
            raise self._cannot_record(error) from error
        return job

    def append(
        self, job: int, after: int, events: Sequence[ev.Event], clip: bytes | None = None
    ) -> tuple[ev.Event, ...]:
        """Put events on disk, and return them as stored: with the clip's number.

        `after` is how many events of the job the caller knows of. Raises AssistantError where
        the job has gone on elsewhere meanwhile, or nothing can be written; then nothing was.
        """
        try:
            with self._writing():
                if clip is not None:
                    cursor = self._db.execute(
                        "INSERT INTO clip (job, flac) VALUES (?, ?)", (job, clip)
                    )
                    events = [_with_clip(event, int(cursor.lastrowid or 0)) for event in events]
                self._insert(job, after + 1, events)
        except sqlite3.IntegrityError as error:
            raise AssistantError(
                f"Job {job} has gone on somewhere else. Stop here, and resume it there or here."
            ) from error
        except sqlite3.Error as error:
            raise self._cannot_record(error) from error
        return tuple(events)

    def _cannot_record(self, error: sqlite3.Error) -> AssistantError:
        return AssistantError(f"I cannot record. The journal {self.path} says: {error}.")

    def _insert(self, job: int, place: int, events: Sequence[ev.Event]) -> None:
        self._db.executemany(
            "INSERT INTO event (job, place, kind, at, body) VALUES (?, ?, ?, ?, ?)",
            [
                (job, number, event.kind, event.at.isoformat(), event.model_dump_json())
                for number, event in enumerate(events, place)
            ],
        )

    def events(self, job: int) -> tuple[ev.Event, ...]:
        """Return the job's events in order. Raises AssistantError for an unknown job."""
        rows = self._db.execute(
            "SELECT body FROM event WHERE job = ? ORDER BY place", (job,)
        ).fetchall()
        if not rows:
            known = [str(s.job) for s in self.jobs()][:20]
            there = f"The latest are {', '.join(known)}" if known else "There are none"
            raise AssistantError(f"There is no job {job} in {self.path}. {there}.")
        return tuple(ev.EVENT.validate_json(body) for (body,) in rows)

    def clip(self, number: int) -> bytes:
        """Return a clip as FLAC. Raises AssistantError for an unknown one."""
        row = self._db.execute("SELECT flac FROM clip WHERE number = ?", (number,)).fetchone()
        if row is None:
            raise AssistantError(f"There is no clip {number} in {self.path}.")
        return bytes(row[0])

    def clips(self, events: Sequence[ev.Event]) -> dict[int, bytes]:
        """Return the clips that the events name, as FLAC, by number."""
        numbers = {e.heard.clip for e in events if e.heard and e.heard.clip is not None}
        return {number: self.clip(number) for number in sorted(numbers)}

    def jobs(self) -> tuple[JobSummary, ...]:
        """Return every job, the latest first."""
        rows = self._db.execute(
            """
            SELECT job.number, first.body ->> 'title', first.body ->> 'unit', job.opened, last.at,
                   last.body ->> 'step', last.kind = 'job closed', last.place
            FROM job
            JOIN event AS first ON first.job = job.number AND first.place = 1
            JOIN event AS last ON last.job = job.number
                 AND last.place = (SELECT max(place) FROM event WHERE job = job.number)
            ORDER BY job.number DESC
            """
        )
        return tuple(
            JobSummary(
                job=number,
                title=title,
                unit=unit,
                opened=datetime.fromisoformat(opened),
                last=datetime.fromisoformat(last),
                step=step,
                closed=bool(closed),
                events=events,
            )
            for number, title, unit, opened, last, step, closed, events in rows
        )


def _statements(script: str) -> Iterator[str]:
    """Split a script where SQLite says that a statement is complete."""
    statement = ""
    for line in script.splitlines(keepends=True):
        statement += line
        if sqlite3.complete_statement(statement):
            yield statement
            statement = ""


def _with_clip(event: ev.Event, number: int) -> ev.Event:
    if event.heard is None:
        return event
    heard = event.heard.model_copy(update={"clip": number})
    return event.model_copy(update={"heard": heard})
