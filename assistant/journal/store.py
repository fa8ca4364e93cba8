"""The journal: every event of every job of a bench, in one SQLite file that only ever grows.

An event is on disk when `append` returns: SQLite's write-ahead log with `synchronous=FULL` syncs
each commit. Rows cannot be changed or removed: triggers in the file itself refuse it, and the hash
chain (see `chain`) shows it where somebody got round them. Clips and pictures are kept in the same
file, written in the same transaction as the event that names them.
"""

from __future__ import annotations

import sqlite3
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from hashlib import sha256
from heapq import merge
from itertools import islice
from operator import itemgetter
from pathlib import Path
from typing import Any

from assistant.dialogue.events import Base, Event, JobOpened, PictureTaken
from assistant.errors import AssistantError
from assistant.journal import chain, schema, search
from assistant.journal.additions import Addition
from assistant.journal.records import (
    CLOSED,
    Head,
    Hit,
    Identity,
    JobSummary,
    Records,
    Tally,
    Transcript,
    summary_of,
)


class CannotRecord(AssistantError):
    """Nothing was kept, for a reason that may pass: the same can be tried again.

    Its text is made to be spoken; `detail` is for whoever looks after the computer.
    """

    def __init__(self, text: str, detail: str) -> None:
        super().__init__(text)
        self.detail = detail


class Journal(Records):
    """A bench's journal, open for reading and appending.

    Raises AssistantError, naming the file, where it cannot be opened, read or written.
    """

    path: Path

    def __init__(self, path: Path, *, create: bool = True, bench: str | None = None) -> None:
        self.path = path
        self.bench = bench or schema.this_bench()
        if not create and not path.is_file():
            raise AssistantError(
                f"There is no journal {path} yet. Start a job with: assistant run PROCEDURE"
            )
        try:
            schema.make_folder(path.absolute().parent)
            self._db = schema.connect(path)
            schema.prepare(self._db, path)
        except (OSError, sqlite3.Error) as error:
            raise AssistantError(f"Cannot open the journal {path}: {error}.") from error

    def close(self) -> None:
        """Close the file; appended events are on disk already."""
        self._db.close()

    @contextmanager
    def _reading(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise AssistantError(f"Cannot read the journal {self.path}: {error}.") from error

    @contextmanager
    def _writing(self) -> Iterator[None]:
        try:
            with schema.writing(self._db):
                yield
        except sqlite3.Error as error:
            schema.forget_refused(self._db)
            raise self._cannot_record(error) from error

    def _cannot_record(self, error: sqlite3.Error) -> CannotRecord:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # The rest says which system call.
        why, when = _REASONS.get(code, _OTHERWISE)
        return CannotRecord(
            f"I cannot record: {why}. Nothing was kept; say it again {when}.",
            f"The journal {self.path} says: {error}.",
        )

    # Writing

    def open_job(self, history: Sequence[Event]) -> int:
        """Begin a job with its first events, and return its number."""
        opened = history[0]
        if not isinstance(opened, JobOpened):
            raise AssistantError("A job starts with its opening.")
        uid = str(uuid.uuid4())
        bodies = [_body(event) for event in history]
        first = chain.parse(bodies[0])
        who = Identity(uid, self.bench, first["at"], opened.title, opened.unit)
        with self._writing():
            return self._begin(who, chain.links(uid, 1, chain.START, bodies))

    def append(
        self,
        job: int,
        after: int,
        history: Sequence[Event],
        clip: bytes | None = None,
        picture: bytes | None = None,
    ) -> tuple[Event, ...]:
        """Put events on disk, and return them as stored: with the clip's number and digest.

        `after` is how many events of the job the caller knows of; `clip` is FLAC, and `picture`
        the JPEG that one of the events names. Raises CannotRecord where nothing can be written,
        and AssistantError where the job has gone on elsewhere meanwhile or is closed, or where a
        picture is missing that an event names; nothing was written then.
        """
        if any(event.kind == CLOSED for event in history[:-1]):
            raise AssistantError("Nothing follows the closing of a job.")
        with self._writing():
            row = self._db.execute(
                "SELECT uid, place, hash, kind FROM job JOIN head ON job = number WHERE job = ?",
                (job,),
            ).fetchone()
            if row is None:
                raise AssistantError(f"There is no job {job} in {self.path}.")
            uid, place, previous, kind = row
            if place != after:
                raise AssistantError(
                    f"Job {job} has gone on somewhere else. Stop here, and resume it there or here."
                )
            if kind == CLOSED:
                raise AssistantError(
                    f"Job {job} is closed and sealed. Open another for what is still to do."
                )
            if clip is not None:
                history = self._with_clip(job, history, clip)
            if picture is not None:
                self._keep_picture(job, picture)
            self._see_that_pictures_are_there(job, history)
            bodies = [_body(event) for event in history]
            schema.insert(self._db, job, chain.links(uid, after + 1, previous, bodies))
        return tuple(history)

    def _with_clip(self, job: int, history: Sequence[Event], clip: bytes) -> list[Event]:
        number, digest = self._keep_clip(job, clip)

        def named(event: Event) -> Event:
            if event.heard is None:
                return event
            heard = event.heard.model_copy(update={"clip": number, "clip_sha256": digest})
            return event.model_copy(update={"heard": heard})

        return [named(event) for event in history]

    def _keep_clip(self, job: int, clip: bytes) -> tuple[int, str]:
        digest = sha256(clip).hexdigest()
        known = self._db.execute(
            "SELECT number FROM clip WHERE job = ? AND sha256 = ?", (job, digest)
        ).fetchone()
        if known is not None:
            return int(known[0]), digest
        cursor = self._db.execute(
            "INSERT INTO clip (job, sha256, flac) VALUES (?, ?, ?)", (job, digest, clip)
        )
        return int(cursor.lastrowid or 0), digest

    def _keep_picture(self, job: int, jpeg: bytes) -> None:
        """Keep a picture; the same one of the same job is kept once."""
        self._db.execute(
            "INSERT INTO picture (job, sha256, jpeg) VALUES (?, ?, ?) "
            "ON CONFLICT (job, sha256) DO NOTHING",
            (job, sha256(jpeg).hexdigest(), jpeg),
        )

    def _see_that_pictures_are_there(self, job: int, history: Sequence[Event]) -> None:
        for event in history:
            if isinstance(event, PictureTaken) and self.picture(job, event.sha256) is None:
                raise AssistantError(f"The picture {event.sha256[:16]}… was not given.")

    def adopt(
        self,
        who: Identity,
        links: Iterable[chain.Link],
        clips: Iterable[bytes],
        additions: Iterable[str] = (),
        pictures: Iterable[bytes] = (),
    ) -> int | None:
        """Copy a whole job from elsewhere into this journal; return its number here.

        `additions` are the stored texts of what was entered after it was closed. Returns
        None where a job of that uid is here already. The caller has verified all of it. Copies all
        of it or nothing; raises CannotRecord where it cannot be written.
        """
        with self._writing():
            if self._number_of(who.uid) is not None:
                return None
            number = self._begin(who, links)
            for clip in clips:
                self._keep_clip(number, clip)
            for jpeg in pictures:
                self._keep_picture(number, jpeg)
            self._keep_additions(number, additions)
        return number

    def _begin(self, who: Identity, links: Iterable[chain.Link]) -> int:
        cursor = self._db.execute(
            "INSERT INTO job (uid, bench, opened, title, unit) VALUES (?, ?, ?, ?, ?)",
            (who.uid, who.bench, who.opened, who.title, who.unit),
        )
        number = int(cursor.lastrowid or 0)
        schema.insert(self._db, number, iter(links))
        return number

    def add_transcript(self, job: int, digest: str, transcript: Transcript) -> bool:
        """Put a transcript beside a job's clip, of which `digest` is the SHA-256.

        A job may be closed: it is no event, and the chain is as it was. False where the same
        recogniser's of that clip is there already. Raises CannotRecord where nothing can be
        written, and AssistantError where the job has no such clip.
        """
        with self._writing():
            known = self._db.execute(
                "SELECT recogniser FROM clip LEFT JOIN transcript USING (job, sha256) "
                "WHERE job = ? AND sha256 = ?",
                (job, digest),
            ).fetchall()
            if not known:
                raise AssistantError(f"Job {job} in {self.path} has no clip {digest[:16]}….")
            if (transcript.recogniser,) in known:
                return False
            self._db.execute(
                "INSERT INTO transcript (job, sha256, at, text, recogniser) VALUES (?, ?, ?, ?, ?)",
                (
                    job,
                    digest,
                    transcript.at.isoformat(),
                    transcript.text,
                    transcript.recogniser,
                ),
            )
        return True

    def add(self, job: int, event: Addition, jpeg: bytes | None = None) -> None:
        """Put what was entered after a job was closed beside the job, in no chain, with the picture
        that it names.

        Raises CannotRecord where it cannot be written, and AssistantError where the job is open.
        """
        self.add_stored(job, [_body(event)], [jpeg] if jpeg else [])

    def add_stored(self, job: int, additions: Iterable[str], pictures: Iterable[bytes] = ()) -> int:
        """Put those additions beside a closed job that are not there, and the pictures that they
        name; return how many additions that were.

        The caller has verified them. Raises as `add` does.
        """
        with self._writing():
            if self.seal(job) is None:
                raise AssistantError(f"Job {job} is open; this belongs into its own record.")
            for jpeg in pictures:
                self._keep_picture(job, jpeg)
            return self._keep_additions(job, additions)

    def _keep_additions(self, job: int, additions: Iterable[str]) -> int:
        there = set(self.addition_texts(job))
        new = [body for body in dict.fromkeys(additions) if body not in there]
        self._db.executemany(
            "INSERT INTO addition (job, body) VALUES (?, ?)", [(job, body) for body in new]
        )
        return len(new)

    # Reading a job

    def transcripts(self, job: int) -> dict[str, tuple[Transcript, ...]]:
        """Return the transcripts of a job's clips by the clip's SHA-256, the first made first."""
        with self._reading():
            rows = self._db.execute(
                "SELECT sha256, text, recogniser, at FROM transcript WHERE job = ? ORDER BY number",
                (job,),
            ).fetchall()
        found: dict[str, tuple[Transcript, ...]] = {}
        for digest, text, recogniser, at in rows:
            made = Transcript(text, recogniser, datetime.fromisoformat(at))
            found[digest] = (*found.get(digest, ()), made)
        return found

    def addition_texts(self, job: int) -> tuple[str, ...]:
        """Return what was entered after a job was closed, in order, as stored."""
        with self._reading():
            rows = self._db.execute(
                "SELECT body FROM addition WHERE job = ? ORDER BY number", (job,)
            ).fetchall()
        return tuple(body for (body,) in rows)

    def _bodies(self, job: int, after: int, limit: int | None) -> Sequence[str]:
        with self._reading():
            rows = self._db.execute(
                "SELECT body FROM event WHERE job = ? AND place > ? ORDER BY place LIMIT ?",
                (job, after, -1 if limit is None else limit),
            ).fetchall()
        return [body for (body,) in rows]

    def _has_kind(self, job: int, kind: str) -> bool:
        with self._reading():
            found = self._db.execute(
                "SELECT 1 FROM event WHERE job = ? AND instr(body, ?) LIMIT 1",
                (job, f'"kind":"{kind}"'),
            )
            return found.fetchone() is not None

    def _clip_numbers(self, job: int) -> Mapping[str, int]:
        with self._reading():
            rows = self._db.execute("SELECT sha256, number FROM clip WHERE job = ?", (job,))
            return dict(rows.fetchall())

    def _clip(self, number: int, digest: str | None) -> bytes | None:
        with self._reading():
            row = self._db.execute(
                "SELECT flac FROM clip WHERE number = ? AND sha256 = coalesce(?, sha256)",
                (number, digest),
            ).fetchone()
        return None if row is None else bytes(row[0])

    def identity(self, job: int) -> Identity:
        """Return what a job is known by. Raises AssistantError for an unknown one."""
        with self._reading():
            row = self._db.execute(
                "SELECT uid, bench, opened, title, unit FROM job WHERE number = ?", (job,)
            ).fetchone()
        if row is None:
            raise self.unknown(job)
        return Identity(*row)

    def number_of(self, uid: str) -> int | None:
        """Return the number that a job has here; None where it is not here."""
        with self._reading():
            return self._number_of(uid)

    def _number_of(self, uid: str) -> int | None:
        row = self._db.execute("SELECT number FROM job WHERE uid = ?", (uid,)).fetchone()
        return None if row is None else int(row[0])

    def head(self, job: int) -> Head | None:
        """Return a job's last event as it was noted beside it; None for an unknown job."""
        with self._reading():
            row = self._db.execute(
                "SELECT place, hash, kind FROM head WHERE job = ?", (job,)
            ).fetchone()
        return None if row is None else Head(row[0], row[1], row[2] == CLOSED)

    def links(self, job: int, after: int = 0) -> Iterator[chain.Link]:
        """Yield the job's events as stored, in order, those after a place."""
        with self._reading():
            rows = self._db.execute(
                "SELECT place, previous, hash, body FROM event WHERE job = ? AND place > ? "
                "ORDER BY place",
                (job, after),
            )
            for row in rows:
                yield chain.Link(*row)

    def sounds(self, job: int) -> Iterator[tuple[str, bytes]]:
        """Yield the job's clips: the digest they are kept under, and the FLAC bytes."""
        with self._reading():
            rows = self._db.execute(
                "SELECT sha256, flac FROM clip WHERE job = ? ORDER BY number", (job,)
            )
            for digest, flac in rows:
                yield digest, bytes(flac)

    def sound(self, job: int, digest: str) -> bytes | None:
        """Return a job's clip by its SHA-256, as FLAC; None where it is not there."""
        with self._reading():
            row = self._db.execute(
                "SELECT flac FROM clip WHERE job = ? AND sha256 = ?", (job, digest)
            ).fetchone()
        return None if row is None else bytes(row[0])

    def pictures(self, job: int) -> Iterator[tuple[str, bytes]]:
        """Yield the job's pictures: the digest they are kept under, and the JPEG bytes."""
        with self._reading():
            rows = self._db.execute(
                "SELECT sha256, jpeg FROM picture WHERE job = ? ORDER BY number", (job,)
            )
            for digest, jpeg in rows:
                yield digest, bytes(jpeg)

    def picture(self, job: int, digest: str) -> bytes | None:
        """Return a job's picture by its SHA-256, as JPEG; None where it is not there."""
        with self._reading():
            row = self._db.execute(
                "SELECT jpeg FROM picture WHERE job = ? AND sha256 = ?", (job, digest)
            ).fetchone()
        return None if row is None else bytes(row[0])

    def strays(self) -> Iterator[str]:
        """Yield a plain sentence for each job that is there only in part, or removed as a whole.

        Jobs are numbered without a gap, and the file knows the last number that was given.
        """
        with self._reading():
            given = self._db.execute("SELECT seq FROM sqlite_sequence WHERE name = 'job'")
            last = (given.fetchone() or (0,))[0]
            numbers = {n for (n,) in self._db.execute("SELECT number FROM job")}
            for table in ("event", "head", "clip", "picture", "transcript", "addition"):
                rows = self._db.execute(
                    f"SELECT DISTINCT job FROM {table} WHERE job NOT IN (SELECT number FROM job)"
                )
                for (job,) in rows:
                    yield f"there is something of job {job}, but no job {job}"
        top = max(numbers, default=0)
        for number in range(1, max(top, last) + 1):
            if number not in numbers:
                yield f"job {number} is missing"
        if top > last:
            yield f"job {top} was put in afterwards"

    # Lists

    def jobs(
        self,
        limit: int | None = None,
        search: str | None = None,
        *,
        before: int | None = None,
        closed: bool | None = None,
        ordered: bool = False,
        asked: bool = False,
    ) -> tuple[JobSummary, ...]:
        """Return the jobs that are asked for, the latest first; see `Records.jobs`."""
        where = ["head.job < ?"]
        values: list[Any] = [2**63 - 1 if before is None else before]
        if search is not None:
            numbers = self._found(search, limit, before)
            # Whole numbers of our own, so they can stand in the text whatever their count.
            where.append(f"head.job IN ({', '.join(map(str, numbers))})")
        if closed is not None:
            where.append(f"kind {'=' if closed else '<>'} '{CLOSED}'")
        kinds = [schema.ORDERED] * ordered + [schema.ASKED] * asked
        where += [
            "EXISTS (SELECT 1 FROM event INDEXED BY event_of_orders "
            f"WHERE event.job = head.job AND ({schema.OF_ORDERS}) AND {kind})"
            for kind in kinds
        ]
        # Open jobs are few among many: only these are looked at.
        heads = "head INDEXED BY head_open" if closed is False else "head"
        with self._reading():
            rows = self._db.execute(
                f"""
                SELECT number, title, unit, opened, at, step, kind, place, uid, bench, hash
                FROM {heads} CROSS JOIN job ON job.number = head.job WHERE {" AND ".join(where)}
                ORDER BY head.job DESC LIMIT ?
                """,
                (*values, -1 if limit is None else limit),
            ).fetchall()
        return tuple(summary_of(*row) for row in rows)

    def tally(self) -> Tally:
        """Return how much there is."""
        with self._reading():
            row = self._db.execute(
                "SELECT count(*), coalesce(sum(kind = ?), 0), coalesce(sum(place), 0), "
                "(SELECT count(*) FROM addition) FROM head",
                (CLOSED,),
            ).fetchone()
        return Tally(row[0] - row[1], row[1], row[2], row[3])

    def _found(self, search: str, limit: int | None, before: int | None) -> list[int]:
        numbers: dict[int, None] = {}
        for job, _ in self._matches(search, before=before):
            numbers[job] = None
            if len(numbers) == limit:
                break
        return list(numbers)

    def _matches(
        self, text: str, job: int | None = None, before: int | None = None
    ) -> Iterator[tuple[int, int]]:
        """Yield the job and place of each event that is found, of the latest jobs first."""
        least, most = search.rows(job)
        if before is not None:
            most = search.rows(before)[0] - 1
        with self._reading():
            for (row,) in self._db.execute(
                "SELECT rowid FROM search WHERE search MATCH ? AND rowid BETWEEN ? AND ? "
                "ORDER BY rowid DESC",
                (search.query(text), least, most),
            ):
                yield search.job_and_place(row)

    def search(self, text: str, limit: int = 50, *, job: int | None = None) -> tuple[Hit, ...]:
        """Return the events in which the words are found; see `Records.search`."""
        places = islice(self._matches(text, job), limit)
        return tuple(self._hit(*place) for place in places)

    def _hit(self, job: int, place: int) -> Hit:
        title, unit, body = self._db.execute(
            "SELECT title, unit, body FROM job JOIN event ON job = number "
            "WHERE job = ? AND place = ?",
            (job, place),
        ).fetchone()
        event = chain.parse(body)
        at = datetime.fromisoformat(event["at"])
        return Hit(job, place, title, unit, at, event["kind"], search.text_of(event))

    def orders(self, job: int | None = None) -> Iterator[tuple[int, str]]:
        """Yield what tells of orders, of a job or of all; see `Records.orders`."""
        of, values = ("", ()) if job is None else ("AND job = ?", (job,))
        with self._reading():
            said = self._db.execute(
                f"SELECT job, body FROM event WHERE ({schema.OF_ORDERS}) {of} ORDER BY job, place",
                values,
            )
            later = self._db.execute(
                f"SELECT job, body FROM addition WHERE {schema.MOVED} {of} ORDER BY job, number",
                values,
            )
            yield from merge(said, later, key=itemgetter(0))

    def numbers(self) -> list[int]:
        """Return the numbers of all jobs, in their order."""
        with self._reading():
            return [n for (n,) in self._db.execute("SELECT number FROM job ORDER BY number")]


_REASONS = {
    sqlite3.SQLITE_FULL: ("the disk is full", "when there is room"),
    sqlite3.SQLITE_READONLY: ("the journal may only be read", "when it may be written"),
    sqlite3.SQLITE_PERM: ("the journal may not be written", "when it may be written"),
    sqlite3.SQLITE_CANTOPEN: ("the journal cannot be opened", "when its disk is there"),
    sqlite3.SQLITE_IOERR: ("the disk does not work", "when it does"),
    sqlite3.SQLITE_BUSY: ("another program holds the journal", "in a moment"),
    sqlite3.SQLITE_LOCKED: ("another program holds the journal", "in a moment"),
    sqlite3.SQLITE_CORRUPT: ("the journal is damaged", "when it has been put right"),
    sqlite3.SQLITE_NOTADB: ("the journal is damaged", "when it has been put right"),
}
_OTHERWISE = ("the journal does not take it", "when it has been put right")


def _body(event: Base) -> str:
    return chain.canonical(event.model_dump(mode="json"))
