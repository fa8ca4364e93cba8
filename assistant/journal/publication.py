"""Sends a bench's journal to the shop's PostgreSQL: what it lacks, in order, each job by itself.

What is sent is verified before it leaves and again by the database as it arrives. A batch is one
transaction: whole turns of one job, and the clips and pictures that they name. Where it is
interrupted, the batch is there or it is not, and the next run goes on from there. Any number of
processes may publish the same journal, and any number of journals at once. Additions are sent once
all of their job is there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from typing import TYPE_CHECKING, Any

from assistant.journal import additions, chain, named, search
from assistant.journal.records import Head
from assistant.journal.server import Refused, Server, search_words
from assistant.journal.store import Journal

if TYPE_CHECKING:
    from sqlalchemy import Connection

MOST_BYTES = 4_000_000
"""Of a batch; one turn larger than this goes by itself."""
_JOBS_AT_ONCE = 1000


@dataclass(frozen=True)
class Refusal:
    """A job that was not sent, or not on from some place, and why."""

    job: int
    place: int | None
    """The first event that is wrong; None where it is no event's fault."""
    why: str

    def __str__(self) -> str:
        return f"Job {self.job} is refused: {self.why}."


@dataclass
class Outcome:
    """What one run did."""

    looked_at: int = 0
    """Jobs of the journal."""
    jobs: int = 0
    """Jobs of which something was sent."""
    events: int = 0
    clips: int = 0
    pictures: int = 0
    additions: int = 0
    """What was entered after jobs were closed."""
    refused: list[Refusal] = field(default_factory=list)


@dataclass
class _Batch:
    links: list[chain.Link] = field(default_factory=list)
    events: list[dict[str, Any]] = field(default_factory=list)
    clips: dict[str, bytes] = field(default_factory=dict)
    """FLAC by SHA-256."""
    pictures: dict[str, bytes] = field(default_factory=dict)
    """JPEG by SHA-256."""
    size: int = 0

    def add(self, other: _Batch) -> None:
        self.links += other.links
        self.events += other.events
        self.clips |= other.clips
        self.pictures |= other.pictures
        self.size += other.size


class _Fault(Exception):
    def __init__(self, place: int | None, why: str) -> None:
        super().__init__(why)
        self.place = place
        self.why = why


def publish(
    journal: Journal,
    server: Server,
    tell: Callable[[str], None] = lambda text: None,
    *,
    most_bytes: int = MOST_BYTES,
) -> Outcome:
    """Send what the server lacks of every job; `tell` is told how far it is.

    A job whose chain is altered or forked is in the outcome's refusals, and the others go on.
    Raises Unreachable where the server does not answer, AssistantError where it cannot be used;
    whatever was sent before that stays sent.
    """
    server.prepare()
    outcome = Outcome()
    numbers = journal.numbers()
    for start in range(0, len(numbers), _JOBS_AT_ONCE):
        part = {journal.identity(n).uid: n for n in numbers[start : start + _JOBS_AT_ONCE]}
        there, known = _heads(server, part), _additions(server, part)
        outcome.looked_at += len(part)
        for uid, number in part.items():
            here = journal.head(number)
            try:
                if here is None or there.get(uid) != (here.place, here.hash):
                    tell(f"job {number}, {start + len(part)} of {len(numbers)} jobs looked at")
                    _publish_job(journal, server, number, outcome, tell, most_bytes)
                added = {_digest(text): text for text in journal.addition_texts(number)}
                for digest in known.get(uid, ()):
                    added.pop(digest, None)
                _send_additions(journal, server, number, added)
                outcome.additions += len(added)
            except _Fault as fault:
                outcome.refused.append(Refusal(number, fault.place, fault.why))
    return outcome


def _heads(server: Server, uids: Iterable[str]) -> dict[str, tuple[int, str]]:
    import sqlalchemy as sa

    with server.transaction() as db:
        rows = db.execute(
            sa.text("SELECT job, place, hash FROM head WHERE job = ANY(:uids)"),
            {"uids": list(uids)},
        )
        return {job: (place, digest) for job, place, digest in rows}


def _additions(server: Server, uids: Iterable[str]) -> dict[str, list[str]]:
    """Return the digests of the additions that the server has of jobs, by the job's uid."""
    import sqlalchemy as sa

    with server.transaction() as db:
        rows = db.execute(
            sa.text(
                "SELECT job, array_agg(sha256) AS digests FROM addition "
                "WHERE job = ANY(:uids) GROUP BY job"
            ),
            {"uids": list(uids)},
        )
        return {row.job: row.digests for row in rows}


def _digest(text: str) -> str:
    return sha256(text.encode()).hexdigest()


def _send_additions(
    journal: Journal, server: Server, number: int, added: Mapping[str, str]
) -> None:
    """Send what was entered after a job was closed, by digest, and the pictures that it names; all
    of it or nothing.
    """
    import sqlalchemy as sa

    if not added:
        return
    uid = journal.identity(number).uid
    try:
        pictures = {d: journal.picture(number, d) for d in additions.pictures(added.values())}
        if not all(jpeg and sha256(jpeg).hexdigest() == d for d, jpeg in pictures.items()):
            raise _Fault(None, "a picture that was put in after closing is missing or altered")
        with server.transaction() as db:
            _insert_pictures(db, uid, pictures)
            db.execute(
                sa.text(
                    "INSERT INTO addition (job, sha256, body) VALUES (:job, :digest, :body) "
                    "ON CONFLICT (job, sha256) DO NOTHING"
                ),
                [{"job": uid, "digest": d, "body": text} for d, text in added.items()],
            )
    except ValueError as error:
        raise _Fault(None, "what was entered after it was closed cannot be read") from error
    except Refused as error:
        raise _Fault(None, f"the shop's database does not take it ({error})") from error


def _publish_job(
    journal: Journal,
    server: Server,
    number: int,
    outcome: Outcome,
    tell: Callable[[str], None],
    most_bytes: int,
) -> None:
    uid = journal.identity(number).uid
    head = journal.head(number)
    bad = chain.verify(uid, journal.links(number))
    if bad is not None:
        raise _Fault(bad.place, bad.text)
    if head is None:
        raise _Fault(None, "what is noted of its last event is missing")
    sent = False
    while True:
        try:
            batch, left = _send(journal, server, number, head, most_bytes)
        except Refused as error:
            raise _Fault(None, f"the shop's database does not take it ({error})") from error
        if batch is None:
            return
        outcome.jobs += not sent
        sent = True
        outcome.events += len(batch.links)
        outcome.clips += len(batch.clips)
        outcome.pictures += len(batch.pictures)
        if left:
            tell(f"job {number}, {head.place - left} of {head.place} events")


def _send(
    journal: Journal, server: Server, number: int, head: Head, most_bytes: int
) -> tuple[_Batch | None, int]:
    """Send the next batch of a job, in one transaction.

    Return it, and how many events are still to send; None where nothing was left to send.
    """
    import sqlalchemy as sa

    who = journal.identity(number)
    with server.transaction() as db:
        # Only one publisher at a time sends a job; until this one's batch is there, others wait.
        db.execute(
            sa.text("SELECT pg_advisory_xact_lock(hashtextextended(:uid, 0))"), {"uid": who.uid}
        )
        row = db.execute(
            sa.text("SELECT place, hash FROM head WHERE job = :uid"), {"uid": who.uid}
        ).one_or_none()
        there, last = (0, chain.START) if row is None else (int(row[0]), str(row[1]))
        _see_that_it_follows(journal, db, number, who.uid, head, there, last)
        batch = _next(journal, number, there, most_bytes)
        if not batch.links:
            return None, 0
        if not there:
            db.execute(
                sa.text(
                    "INSERT INTO job (uid, bench, opened, title, unit) "
                    "VALUES (:uid, :bench, :opened, :title, :unit)"
                ),
                vars(who),
            )
        _insert(db, who.uid, search.about(who.title, who.unit), batch)
    return batch, max(0, head.place - batch.links[-1].place)


def _see_that_it_follows(
    journal: Journal, db: Connection, number: int, uid: str, head: Head, there: int, last: str
) -> None:
    """Raise _Fault where what is here is not a continuation of what is there."""
    import sqlalchemy as sa

    ours = next(journal.links(number, there - 1), None) if there else None
    if not there or (ours is not None and ours.hash == last):
        return
    theirs = db.execute(
        sa.text("SELECT place, hash FROM event WHERE job = :uid ORDER BY place"),
        {"uid": uid},
        execution_options={"yield_per": 1000},
    )
    for link, (place, digest) in zip(journal.links(number), theirs, strict=False):
        if link.hash != digest:
            raise _Fault(place, f"its event {place} is not the event {place} that the shop has")
    raise _Fault(
        head.place + 1,
        f"the shop has {there} events of it, and this journal only the first {head.place}; if an "
        "old copy of the journal was put back, do not go on with this job here",
    )


def _next(journal: Journal, number: int, after: int, most_bytes: int) -> _Batch:
    """Return what goes next: whole turns, at least one, up to so many bytes."""
    batch = _Batch()
    for turn in _turns(journal, number, after):
        if batch.links and batch.size + turn.size > most_bytes:
            break
        batch.add(turn)
    return batch


def _turns(journal: Journal, number: int, after: int) -> Iterator[_Batch]:
    """Yield the events after a place, those of one turn together, with their clips and pictures."""
    turn = _Batch()
    for link in journal.links(number, after):
        event, clip, picture = _named(link)
        if turn.events and turn.events[-1].get("turn") != event.get("turn"):
            yield turn
            turn = _Batch()
        turn.links.append(link)
        turn.events.append(event)
        turn.size += len(link.body)
        for what, digest, there, kept in (
            ("clip", clip, turn.clips, journal.sound),
            ("picture", picture, turn.pictures, journal.picture),
        ):
            if digest is None or digest in there:
                continue
            data = kept(number, digest)
            if data is None:
                raise _Fault(link.place, f"the {what} of event {link.place} is missing")
            if sha256(data).hexdigest() != digest:
                raise _Fault(link.place, f"the {what} of event {link.place} was altered")
            there[digest] = data
            turn.size += len(data)
    if turn.links:
        yield turn


def _named(link: chain.Link) -> tuple[dict[str, Any], str | None, str | None]:
    """Return the event as JSON, and the digests of the clip and of the picture that it names."""
    try:
        event = chain.parse(link.body)
        clip, picture = named.clip(event), named.picture(event)
        search.text_of(event)
    except (ValueError, KeyError, AttributeError, RecursionError) as error:
        raise _Fault(link.place, f"event {link.place} cannot be read") from error
    return event, clip, picture


def _insert_pictures(db: Connection, uid: str, pictures: Mapping[str, bytes | None]) -> None:
    import sqlalchemy as sa

    if pictures:
        db.execute(
            sa.text(
                "INSERT INTO picture (job, sha256, jpeg) VALUES (:job, :digest, :jpeg) "
                "ON CONFLICT (job, sha256) DO NOTHING"
            ),
            [{"job": uid, "digest": d, "jpeg": jpeg} for d, jpeg in pictures.items()],
        )


def _insert(db: Connection, uid: str, about: str, batch: _Batch) -> None:
    import sqlalchemy as sa

    _insert_pictures(db, uid, batch.pictures)
    if batch.clips:
        db.execute(
            sa.text(
                "INSERT INTO clip (job, sha256, flac) VALUES (:job, :digest, :flac) "
                "ON CONFLICT (job, sha256) DO NOTHING"
            ),
            [{"job": uid, "digest": d, "flac": flac} for d, flac in batch.clips.items()],
        )
    db.execute(
        sa.text(
            "INSERT INTO event (job, place, previous, hash, body) "
            "VALUES (:job, :place, :previous, :hash, :body)"
        ),
        [{"job": uid, **vars(link)} for link in batch.links],
    )
    of_job = search_words(about)
    found = []
    for link, event in zip(batch.links, batch.events, strict=True):
        own = search_words(search.text_of(event))
        if own:
            found.append({"job": uid, "place": link.place, "own": own, "words": of_job + own})
    if found:
        db.execute(
            sa.text(
                "INSERT INTO search (number, place, job, own, words) "
                "SELECT number, :place, uid, array_to_tsvector(CAST(:own AS text[])), "
                "array_to_tsvector(CAST(:words AS text[])) FROM job WHERE uid = :job"
            ),
            found,
        )
