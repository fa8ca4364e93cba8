"""What a job is known by, and what can be read of a record wherever it is kept.

`Records` is the reading side that a bench's journal and the shop's database share. Each says how
it fetches stored text; what that text means is worked out here, once for both.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from assistant.dialogue.events import EVENT, Event, SignedOff
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal import additions
from assistant.journal.additions import Addition, Entry
from assistant.journal.chain import Link
from assistant.procedure.model import Procedure
from assistant.text import did_you_mean

REVISED = "revision taken"
"""The kind of event after which another revision is worked from."""
CLOSED = "job closed"
"""The kind of the event that seals a job."""

_LISTED = 20
"""How many job numbers an error message offers."""


@dataclass(frozen=True)
class Identity:
    """What a job is known by, wherever it travels."""

    uid: str
    """A UUID."""
    bench: str
    """Where the job was begun."""
    opened: str
    """ISO 8601, local time with its offset."""
    title: str
    unit: str | None


@dataclass(frozen=True)
class Head:
    """The last event of a job."""

    place: int
    hash: str
    closed: bool


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
    uid: str
    bench: str
    """Where the job was begun."""
    seal: str | None
    """The hash of the closing event; None while the job is open."""


@dataclass(frozen=True)
class Tally:
    """How much a record holds."""

    open: int
    closed: int
    events: int
    additions: int
    """What was entered after jobs were closed: by the parts desk, and sign-offs."""

    @property
    def version(self) -> str:
        """A text that changes whenever anything is added that a list shows."""
        return f"{self.events}-{self.additions}"


@dataclass(frozen=True)
class Transcript:
    """What a recogniser made of a clip. Nobody has verified it."""

    text: str
    recogniser: str
    """Its name, and that of its model."""
    at: datetime


@dataclass(frozen=True)
class Hit:
    """An event that a search found."""

    job: int
    place: int
    title: str
    unit: str | None
    at: datetime
    kind: str
    text: str
    """The words of the event that are searched."""


class Records(ABC):
    """A record open for reading. Every method raises AssistantError where it cannot be read."""

    path: Path | str
    """The journal's file, or the database's URL without any password."""

    @abstractmethod
    def close(self) -> None:
        """Let go of the file or the connection."""

    # One job

    @abstractmethod
    def _bodies(self, job: int, after: int, limit: int | None) -> Sequence[str]:
        """Return a job's stored events after a place, in order; () for an unknown job."""

    @abstractmethod
    def _has_kind(self, job: int, kind: str) -> bool:
        """Return whether a job has an event of a kind, withdrawn or not, without reading it."""

    @abstractmethod
    def _clip_numbers(self, job: int) -> Mapping[str, int]:
        """Return the numbers that a job's clips have here, by their SHA-256."""

    @abstractmethod
    def _clip(self, number: int, digest: str | None) -> bytes | None:
        """Return a clip by its number, if it also has this SHA-256 where one is given."""

    @abstractmethod
    def identity(self, job: int) -> Identity:
        """Return what a job is known by. Raises AssistantError for an unknown one."""

    @abstractmethod
    def number_of(self, uid: str) -> int | None:
        """Return the number that a job has here; None where it is not here."""

    @abstractmethod
    def head(self, job: int) -> Head | None:
        """Return a job's last event as noted beside the chain; None for an unknown job."""

    @abstractmethod
    def links(self, job: int, after: int = 0) -> Iterator[Link]:
        """Yield the job's events as stored, in order, those after a place."""

    @abstractmethod
    def sounds(self, job: int) -> Iterator[tuple[str, bytes]]:
        """Yield the job's clips: the SHA-256 each is kept under, and the FLAC bytes."""

    @abstractmethod
    def sound(self, job: int, digest: str) -> bytes | None:
        """Return a job's clip by its SHA-256, as FLAC; None where it is not there."""

    @abstractmethod
    def pictures(self, job: int) -> Iterator[tuple[str, bytes]]:
        """Yield the job's pictures: the SHA-256 each is kept under, and the JPEG bytes."""

    @abstractmethod
    def picture(self, job: int, digest: str) -> bytes | None:
        """Return a job's picture by its SHA-256, as JPEG; None where it is not there."""

    @abstractmethod
    def transcripts(self, job: int) -> dict[str, tuple[Transcript, ...]]:
        """Return the transcripts of a job's clips by the clip's SHA-256, the first made first."""

    @abstractmethod
    def addition_texts(self, job: int) -> tuple[str, ...]:
        """Return what was entered after a job was closed, in order, as stored."""

    def events(self, job: int, after: int = 0) -> tuple[Event, ...]:
        """Return the job's events in order, those after a place, with this record's clip numbers.

        Raises AssistantError for an unknown job, and for one that cannot be read.
        """
        bodies = self._bodies(job, after, None)
        if not bodies:
            if after:
                return ()
            raise self.unknown(job)
        numbers = self._clip_numbers(job)
        return tuple(_numbered(event, numbers) for event in self._read(job, bodies))

    def procedure(self, job: int) -> Procedure:
        """Return the procedure that a job is worked from: that it was begun with, or a revision
        that was taken since; of a job without one, with the steps that came about.

        Raises AssistantError for an unknown job, and for one that cannot be read.
        """
        opened = procedure_of([self.opening(job)], job)
        if opened.unwritten is None and not self._has_kind(job, REVISED):
            return opened
        return procedure_of(self.events(job), job)

    def opening(self, job: int) -> Event:
        """Return the job's first event, which opens it unless the record is damaged.

        Raises AssistantError for an unknown job, and for one that cannot be read.
        """
        first = self._bodies(job, 0, 1)
        if not first:
            raise self.unknown(job)
        return self._read(job, first)[0]

    def _read(self, job: int, bodies: Sequence[str]) -> list[Event]:
        try:
            return [EVENT.validate_json(body) for body in bodies]
        except ValueError as error:
            raise AssistantError(
                f"Job {job} in {self.path} is damaged: it has events that cannot be read. "
                f"See which with: assistant verify {job}"
            ) from error

    def additions(self, job: int) -> tuple[Entry, ...]:
        """Return what the desk entered after a job was closed, in order."""
        return tuple(one for one in self._added(job) if not isinstance(one, SignedOff))

    def sign_offs(self, job: int) -> tuple[SignedOff, ...]:
        """Return the sign-offs of a closed job, in order."""
        return tuple(one for one in self._added(job) if isinstance(one, SignedOff))

    def _added(self, job: int) -> tuple[Addition, ...]:
        try:
            return additions.read(self.addition_texts(job))
        except ValueError as error:
            raise AssistantError(
                f"What was entered after job {job} was closed cannot be read. "
                f"See whether it was altered, with: assistant verify {job}"
            ) from error

    def clip(self, number: int) -> bytes:
        """Return a clip as FLAC. Raises AssistantError for an unknown one."""
        flac = self._clip(number, None)
        if flac is None:
            raise AssistantError(f"There is no clip {number} in {self.path}.")
        return flac

    def clips(self, history: Sequence[Event]) -> dict[int, bytes]:
        """Return the clips that events name, as FLAC, by number; missing ones are left out.

        The events are those that `events` returned, with this record's clip numbers.
        """
        found: dict[int, bytes] = {}
        for event in history:
            heard = event.heard
            if heard is None or heard.clip is None or heard.clip in found:
                continue
            flac = heard.clip_sha256 and self._clip(heard.clip, heard.clip_sha256)
            if flac:
                found[heard.clip] = flac
        return found

    def seal(self, job: int) -> str | None:
        """Return the hash that a closed job is sealed with; None for an open one."""
        head = self.head(job)
        return head.hash if head is not None and head.closed else None

    def unknown(self, job: int) -> AssistantError:
        """Return the error for a job that is not here, with the numbers that may be meant."""
        known = [str(summary.job) for summary in self.jobs(limit=_LISTED)]
        there = f"The latest are {', '.join(known)}" if known else "There are none"
        meant = did_you_mean(str(job), known)
        return AssistantError(f"There is no job {job} in {self.path}.{meant} {there}.")

    # All jobs

    @abstractmethod
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
        """Return the jobs, the latest first: all, or so many, or those in which words are found.

        `before` keeps the jobs with smaller numbers, `closed` those that are closed (or open), and
        `ordered` those in which a part was ever ordered, `asked` those in which the customer was
        ever to be asked. `search` describes what is searched.
        Raises AssistantError for a search without any word.
        """

    @abstractmethod
    def search(self, text: str, limit: int = 50, *, job: int | None = None) -> tuple[Hit, ...]:
        """Return the events in which the words are found, of the latest jobs first, or of one job.

        Every word, or its beginning, has to be the event's or in its job's title or unit, and at
        least one the event's own.
        """

    @abstractmethod
    def orders(self, job: int | None = None) -> Iterator[tuple[int, str]]:
        """Yield what tells of orders, of a job or of all: the job's number, an event's JSON.

        Orders, what became of them and what was withdrawn, in the order of jobs and events; last of
        each closed job its additions. An event may be of another kind.
        """

    @abstractmethod
    def tally(self) -> Tally:
        """Return how much there is."""

    @abstractmethod
    def numbers(self) -> list[int]:
        """Return the numbers of all jobs, in their order."""

    @abstractmethod
    def strays(self) -> Iterator[str]:
        """Yield a plain sentence for each job that is there only in part, or removed as a whole."""

    def summary(self, job: int) -> JobSummary:
        """Return one job's line of the list. Raises AssistantError for an unknown job."""
        for found in self.jobs(1, before=job + 1):
            if found.job == job:
                return found
        raise self.unknown(job)

    def latest_open(self) -> int | None:
        """Return the number of the latest job that is not closed; None where there is none."""
        return next((found.job for found in self.jobs(1, closed=False)), None)


def _numbered(event: Event, numbers: Mapping[str, int]) -> Event:
    """Return the event with the number that its clip has here, by its SHA-256."""
    heard = event.heard
    if heard is None or heard.clip_sha256 is None:
        return event
    number = numbers.get(heard.clip_sha256, heard.clip)
    if number == heard.clip:
        return event
    return event.model_copy(update={"heard": heard.model_copy(update={"clip": number})})


def summary_of(
    number: int,
    title: str,
    unit: str | None,
    opened: str,
    at: str,
    step: str | None,
    kind: str,
    place: int,
    uid: str,
    bench: str,
    last_hash: str,
) -> JobSummary:
    """Return a line of the list from a row of the job and its head."""
    closed = kind == CLOSED
    return JobSummary(
        job=number,
        title=title,
        unit=unit,
        opened=datetime.fromisoformat(opened),
        last=datetime.fromisoformat(at),
        step=step,
        closed=closed,
        events=place,
        uid=uid,
        bench=bench,
        seal=last_hash if closed else None,
    )
