"""Earlier jobs on the same unit or, failing that, by the same procedure, and what they left.

A unit is what somebody typed when the job was begun, so it is compared without its
capitals, spaces and punctuation. Earlier means opened before, wherever the job was worked on.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime

from assistant.dialogue import earlier
from assistant.dialogue.earlier import EarlierJob, LastTime
from assistant.dialogue.events import JobOpened
from assistant.dialogue.facts import FollowedJob
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.errors import AssistantError
from assistant.journal.records import JobSummary, Records
from assistant.procedure import unwritten

_TOLD = 3
"""How many earlier jobs are told of, the latest first."""
_LOOKED_AT = 300
"""How many jobs, the latest first, are looked at for one by the same procedure. The first event of
each is read, about a millisecond a job; the procedure in it is not, which would be a third of a
second."""


def on_unit(records: Records, job: int) -> tuple[JobSummary, ...]:
    """Return the earlier jobs on the unit of a job, the latest first; none where it names no unit.

    Raises AssistantError for an unknown job, and where the jobs cannot be listed.
    """
    return _on_unit(records, records.summary(job))


@dataclass(frozen=True)
class ThisJob:
    """What earlier jobs are looked for by."""

    uid: str
    unit: str | None
    opened: datetime
    procedure: str | None
    """Its name, of whatever revision; None where it cannot be read."""


@dataclass(frozen=True)
class Found:
    """The earlier jobs that one record has, the latest first, and what the latest few left."""

    jobs: tuple[JobSummary, ...] = ()
    told: Mapping[str, EarlierJob] = field(default_factory=dict)
    """By the job's uid."""
    same_unit: bool = False


def this(records: Records, job: int) -> ThisJob:
    """Return what the jobs before a job are looked for by. Raises AssistantError for an unknown."""
    of = records.summary(job)
    return ThisJob(of.uid, of.unit, of.opened, _procedure(records, job))


def look(records: Records, of: ThisJob) -> Found:
    """Return the jobs before a job that a record has: on its unit or, failing that, by its
    procedure. The job itself need not be in that record.

    Raises AssistantError where the jobs cannot be listed. An earlier job that cannot be read is
    among them, as damaged.
    """
    found, same_unit = _on_unit(records, of), True
    if not found:
        found, same_unit = _by_procedure(records, of), False
    told = {one.uid: summary_of(records, one) for one in found[:_TOLD]}
    return Found(found, told, same_unit)


def joined(of: ThisJob, here: Found, shop: Found | None = None) -> LastTime:
    """Return what is told of earlier jobs: those of the bench's journal, and those of the shop's
    database that other benches worked on. A job that both have is told from the journal.
    """
    known = {one.uid for one in here.jobs}
    others = [one for one in shop.jobs if one.uid not in known] if shop else []
    same_unit = bool(
        (here.same_unit and here.jobs) or (shop is not None and shop.same_unit and others)
    )
    ours = here.jobs if here.same_unit is same_unit else ()
    theirs = others if shop is not None and shop.same_unit is same_unit else []
    away = {one.uid for one in theirs}
    found = _latest_first((*ours, *theirs))
    jobs = []
    for one in found[:_TOLD]:
        if one.uid in away and shop is not None:
            jobs.append(replace(shop.told[one.uid], bench=one.bench))
        else:
            jobs.append(here.told[one.uid])
    return LastTime(
        jobs=tuple(jobs),
        more=max(0, len(found) - _TOLD),
        same_unit=same_unit or not found,
        unit_known=bool(_same(of.unit)),
    )


def last_time(records: Records, job: int) -> LastTime:
    """Return what one record tells of the jobs before a job; raises as `this` and `look` do."""
    of = this(records, job)
    return joined(of, look(records, of))


def followed(records: Records, job: int) -> tuple[FollowedJob, EarlierJob]:
    """Return what is kept of a job in one that follows it, and what it found and left.

    Raises AssistantError for an unknown job, and for an open one: what it leaves is not known yet.
    """
    one = records.summary(job)
    if not one.closed:
        raise AssistantError(
            f"Job {job} is open, so no job can follow it. Go on with it: assistant resume {job}"
        )
    kept = FollowedJob(uid=one.uid, job=one.job, title=one.title, opened=one.opened, unit=one.unit)
    return kept, summary_of(records, one)


def summary_of(records: Records, of: JobSummary) -> EarlierJob:
    """Return what a job found and left; as damaged where its record cannot be read."""
    try:
        history = records.events(of.job)
        procedure = procedure_of(history, of.job)
        state = replay_stored(procedure, history)
        return earlier.of_job(of.job, of.opened, state, records.additions(of.job))
    except AssistantError:
        return EarlierJob(of.job, of.opened, damaged=True)


def _on_unit(records: Records, of: ThisJob | JobSummary) -> tuple[JobSummary, ...]:
    unit = _same(of.unit)
    return _latest_first(one for one in _before(records, of) if unit and _same(one.unit) == unit)


def _by_procedure(records: Records, of: ThisJob) -> tuple[JobSummary, ...]:
    return _latest_first(
        one
        for one in _before(records, of, _LOOKED_AT)
        if of.procedure is not None and _procedure(records, one.job) == of.procedure
    )


def _procedure(records: Records, job: int) -> str | None:
    """Return the name of a job's procedure, of whatever revision; None where it cannot be read."""
    with suppress(AssistantError):
        opened = records.opening(job)
        if isinstance(opened, JobOpened):
            # Of jobs that nobody has written up, those on a machine of the same title are alike.
            own = opened.procedure != unwritten.NAME
            return opened.procedure if own else f"{unwritten.NAME} {_same(opened.title)}"
    return None


def _before(
    records: Records, of: ThisJob | JobSummary, limit: int | None = None
) -> Iterable[JobSummary]:
    jobs = records.jobs(limit)
    return (one for one in jobs if one.opened < of.opened and one.uid != of.uid)


def _latest_first(jobs: Iterable[JobSummary]) -> tuple[JobSummary, ...]:
    return tuple(sorted(jobs, key=lambda one: one.opened, reverse=True))


def _same(text: str | None) -> str:
    """Return what is compared of a text that somebody typed."""
    return "".join(sign for sign in (text or "").casefold() if sign.isalnum())
