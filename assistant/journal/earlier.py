"""Earlier jobs on the same unit or, failing that, by the same procedure, and what they left.

A unit is what somebody typed when the job was begun, so it is compared without its
capitals, spaces and punctuation. Earlier means opened before, wherever the job was worked on.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress

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
    this = records.summary(job)
    unit = _same(this.unit)
    return _latest_first(one for one in _before(records, this) if unit and _same(one.unit) == unit)


def last_time(records: Records, job: int) -> LastTime:
    """Return what the earlier jobs on the unit of a job found and left, or those by its procedure.

    Raises AssistantError for an unknown job, and where the jobs cannot be listed. An earlier job
    that cannot be read is among them, as damaged.
    """
    this = records.summary(job)
    found, same_unit = on_unit(records, job), True
    if not found:
        found, same_unit = _by_procedure(records, this), False
    return LastTime(
        jobs=tuple(summary_of(records, one) for one in found[:_TOLD]),
        more=max(0, len(found) - _TOLD),
        same_unit=same_unit,
        unit_known=bool(_same(this.unit)),
    )


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


def _by_procedure(records: Records, this: JobSummary) -> tuple[JobSummary, ...]:
    name = _procedure(records, this.job)
    return _latest_first(
        one
        for one in _before(records, this, _LOOKED_AT)
        if name is not None and _procedure(records, one.job) == name
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


def _before(records: Records, this: JobSummary, limit: int | None = None) -> Iterable[JobSummary]:
    jobs = records.jobs(limit)
    return (one for one in jobs if one.opened < this.opened and one.uid != this.uid)


def _latest_first(jobs: Iterable[JobSummary]) -> tuple[JobSummary, ...]:
    return tuple(sorted(jobs, key=lambda one: one.opened, reverse=True))


def _same(text: str | None) -> str:
    """Return what is compared of a text that somebody typed."""
    return "".join(sign for sign in (text or "").casefold() if sign.isalnum())
