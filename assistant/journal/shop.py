"""Reads the shop's record from PostgreSQL, with the same methods as a bench's journal.

Jobs and clips have the shop's own numbers here; a job's uid and bench say where it comes from.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from assistant.errors import AssistantError
from assistant.journal import chain, search
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
from assistant.journal.server import Server, search_words

if TYPE_CHECKING:
    from sqlalchemy import RowMapping

_AT_ONCE = 1000

OF_ORDERS = " OR ".join(
    f'strpos(body, \'"kind":"{kind}"\') > 0'
    for kind in ("part ordered", "order moved", "customer asked", "withdrawn")
)
"""The condition of the index `event_of_orders`, which is used only word for word."""
_MOVED = 'strpos(body, \'"kind":"order moved"\') > 0'
"""The condition for an addition that tells of orders."""
ORDERED = 'strpos(body, \'"kind":"part ordered"\') > 0'
"""The condition for an event that orders a part."""
ASKED = 'strpos(body, \'"kind":"customer asked"\') > 0'
"""The condition for an event that has the customer asked about extra work."""


class Shop(Records):
    """The shop's record, open for reading; `path` is its URL without any password.

    Raises AssistantError, naming it, where it cannot be reached or read.
    """

    path: str

    def __init__(self, url: str) -> None:
        self._server = Server(url, read_only=True)
        self.path = self._server.name
        self._server.check()

    def close(self) -> None:
        """Let go of the connection."""
        self._server.close()

    def _rows(self, sql: str, **values: Any) -> Sequence[RowMapping]:
        import sqlalchemy as sa

        with self._server.transaction() as db:
            return db.execute(sa.text(sql), values).mappings().all()

    def _one(self, sql: str, **values: Any) -> RowMapping | None:
        return next(iter(self._rows(sql, **values)), None)

    # Reading a job

    def _bodies(self, job: int, after: int, limit: int | None) -> Sequence[str]:
        rows = self._rows(
            "SELECT body FROM event JOIN job ON job.uid = event.job "
            "WHERE job.number = :job AND place > :after ORDER BY place LIMIT :most",
            job=job,
            after=after,
            most=limit,
        )
        return [row["body"] for row in rows]

    def _has_kind(self, job: int, kind: str) -> bool:
        row = self._one(
            "SELECT 1 FROM event JOIN job ON job.uid = event.job "
            "WHERE job.number = :job AND strpos(body, :kind) > 0 LIMIT 1",
            job=job,
            kind=f'"kind":"{kind}"',
        )
        return row is not None

    def _clip_numbers(self, job: int) -> Mapping[str, int]:
        rows = self._rows(
            "SELECT sha256, clip.number FROM clip JOIN job ON job.uid = clip.job "
            "WHERE job.number = :job",
            job=job,
        )
        return {row["sha256"]: int(row["number"]) for row in rows}

    def _clip(self, number: int, digest: str | None) -> bytes | None:
        row = self._one(
            "SELECT flac FROM clip "
            "WHERE number = :number AND sha256 = coalesce(CAST(:digest AS text), sha256)",
            number=number,
            digest=digest,
        )
        return None if row is None else bytes(row["flac"])

    def addition_texts(self, job: int) -> tuple[str, ...]:
        """Return what was entered after a job was closed, as it arrived and as stored."""
        rows = self._rows(
            "SELECT body FROM addition JOIN job ON job.uid = addition.job "
            "WHERE job.number = :job ORDER BY addition.number",
            job=job,
        )
        return tuple(row["body"] for row in rows)

    def identity(self, job: int) -> Identity:
        """Return what a job is known by. Raises AssistantError for an unknown one."""
        row = self._one(
            "SELECT uid, bench, opened, title, unit FROM job WHERE number = :job", job=job
        )
        if row is None:
            raise self.unknown(job)
        return Identity(**row)

    def number_of(self, uid: str) -> int | None:
        """Return the number that a job has here; None where it is not here."""
        row = self._one("SELECT number FROM job WHERE uid = :uid", uid=uid)
        return None if row is None else int(row["number"])

    def head(self, job: int) -> Head | None:
        """Return a job's last event as it is noted beside it; None for an unknown job."""
        row = self._one(
            "SELECT place, hash, kind FROM head JOIN job ON job.uid = head.job "
            "WHERE job.number = :job",
            job=job,
        )
        return None if row is None else Head(row["place"], row["hash"], row["kind"] == CLOSED)

    def links(self, job: int, after: int = 0) -> Iterator[chain.Link]:
        """Yield the job's events as stored, in order, those after a place."""
        uid = self.identity(job).uid
        while True:
            rows = self._rows(
                "SELECT place, previous, hash, body FROM event WHERE job = :uid "
                "AND place > :after ORDER BY place LIMIT :most",
                uid=uid,
                after=after,
                most=_AT_ONCE,
            )
            for row in rows:
                yield chain.Link(**row)
            if len(rows) < _AT_ONCE:
                return
            after = rows[-1]["place"]

    def sounds(self, job: int) -> Iterator[tuple[str, bytes]]:
        """Yield the job's clips: the digest they are kept under, and the FLAC bytes."""
        uid = self.identity(job).uid
        rows = self._rows("SELECT sha256 FROM clip WHERE job = :uid ORDER BY number", uid=uid)
        for row in rows:
            flac = self.sound(job, row["sha256"])
            if flac is not None:
                yield row["sha256"], flac

    def transcripts(self, job: int) -> dict[str, tuple[Transcript, ...]]:
        """Return nothing: transcripts stay on the bench, and can be made again from the clips."""
        return {}

    def sound(self, job: int, digest: str) -> bytes | None:
        """Return a job's clip by its SHA-256, as FLAC; None where it is not there."""
        row = self._one(
            "SELECT flac FROM clip JOIN job ON job.uid = clip.job "
            "WHERE job.number = :job AND clip.sha256 = :digest",
            job=job,
            digest=digest,
        )
        return None if row is None else bytes(row["flac"])

    def pictures(self, job: int) -> Iterator[tuple[str, bytes]]:
        """Yield the job's pictures: the digest they are kept under, and the JPEG bytes."""
        uid = self.identity(job).uid
        rows = self._rows("SELECT sha256 FROM picture WHERE job = :uid ORDER BY number", uid=uid)
        for row in rows:
            jpeg = self.picture(job, row["sha256"])
            if jpeg is not None:
                yield row["sha256"], jpeg

    def picture(self, job: int, digest: str) -> bytes | None:
        """Return a job's picture by its SHA-256, as JPEG; None where it is not there."""
        row = self._one(
            "SELECT jpeg FROM picture JOIN job ON job.uid = picture.job "
            "WHERE job.number = :job AND picture.sha256 = :digest",
            job=job,
            digest=digest,
        )
        return None if row is None else bytes(row["jpeg"])

    def strays(self) -> Iterator[str]:
        """Yield nothing: the database's own rules hold jobs and what belongs to them together."""
        yield from ()

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
        where = ["number < :before"]
        values: dict[str, Any] = {"before": 2**63 - 1 if before is None else before}
        if search is not None:
            values |= _queries(search)
            where.append(
                "number IN (SELECT number FROM search "
                "WHERE words @@ CAST(:each AS tsquery) AND own @@ CAST(:some AS tsquery))"
            )
        if closed is not None:
            where.append(f"kind {'=' if closed else '<>'} '{CLOSED}'")
        where += [
            f"EXISTS (SELECT FROM event WHERE event.job = uid AND ({OF_ORDERS}) AND {kind})"
            for kind in [ORDERED] * ordered + [ASKED] * asked
        ]
        rows = self._rows(
            "SELECT number, title, unit, opened, at, step, kind, place, uid, bench, hash "
            f"FROM job JOIN head ON head.job = job.uid WHERE {' AND '.join(where)} "
            "ORDER BY number DESC LIMIT :most",
            most=limit,
            **values,
        )
        return tuple(summary_of(*row.values()) for row in rows)

    def tally(self) -> Tally:
        """Return how much there is."""
        row = self._one(
            "SELECT count(*) AS jobs, count(*) FILTER (WHERE kind = :closed) AS closed, "
            "coalesce(sum(place), 0) AS events, (SELECT count(*) FROM addition) AS additions "
            "FROM head",
            closed=CLOSED,
        )
        counts = row.values() if row else (0, 0, 0, 0)
        jobs, closed, events, additions = (int(value) for value in counts)
        return Tally(jobs - closed, closed, events, additions)

    def search(self, text: str, limit: int = 50, *, job: int | None = None) -> tuple[Hit, ...]:
        """Return the events in which the words are found; see `Records.search`."""
        rows = self._rows(
            "SELECT search.number, place, title, unit, body FROM search "
            "JOIN event USING (job, place) JOIN job ON job.uid = search.job "
            "WHERE words @@ CAST(:each AS tsquery) AND own @@ CAST(:some AS tsquery) "
            "AND (CAST(:job AS bigint) IS NULL OR search.number = :job) "
            "ORDER BY search.number DESC, place DESC LIMIT :most",
            most=limit,
            job=job,
            **_queries(text),
        )
        return tuple(_hit(*row.values()) for row in rows)

    def orders(self, job: int | None = None) -> Iterator[tuple[int, str]]:
        """Yield what tells of orders, of a job or of all, as a journal does."""
        rows = self._rows(
            f"SELECT job.number, body FROM (SELECT job, 0 AS later, place, body FROM event "
            f"WHERE ({OF_ORDERS}) UNION ALL SELECT job, 1, number, body FROM addition "
            f"WHERE {_MOVED}) AS told "
            "JOIN job ON job.uid = told.job "
            "WHERE (CAST(:job AS bigint) IS NULL OR job.number = :job) "
            "ORDER BY job.number, later, place",
            job=job,
        )
        for row in rows:
            yield row["number"], row["body"]

    def numbers(self) -> list[int]:
        """Return the numbers of all jobs, in their order."""
        return [int(row["number"]) for row in self._rows("SELECT number FROM job ORDER BY number")]


def _queries(text: str) -> dict[str, str]:
    words = search_words(text)
    if not words:
        raise AssistantError("Search for at least one word.")
    # Letters and digits alone, so nothing in them means anything to the database.
    each = [f"'{word}':*" for word in words]
    return {"each": " & ".join(each), "some": " | ".join(each)}


def _hit(job: int, place: int, title: str, unit: str | None, body: str) -> Hit:
    event = chain.parse(body)
    at = datetime.fromisoformat(event["at"])
    return Hit(job, place, title, unit, at, event["kind"], search.text_of(event))
