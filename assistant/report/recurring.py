"""What recurs: parts and conditions by how often they were found, and on which models.

Counted by jobs, because three circlips missing from one machine are one occasion. What was
corrected or withdrawn is not counted, nor what was found clean or sound; a part is counted by its
own name, whatever it was called. A model is the equipment that the procedure names, or the title of
a job that nobody has written up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of
from assistant.dialogue.withdrawal import what_stands
from assistant.errors import AssistantError
from assistant.journal.records import JobSummary, Records
from assistant.procedure.model import Equipment
from assistant.report.judging import severity_of
from assistant.report.model import Severity


@dataclass(frozen=True)
class Seen:
    """What one job found."""

    job: JobSummary
    model: str
    found: tuple[tuple[str, str, int], ...]
    """Part, condition, and how many of the part, each pair once."""


@dataclass(frozen=True)
class Recurring:
    """A part found in one condition, in several jobs."""

    part: str
    condition: str
    severity: Severity
    """As usual for the condition; what somebody said of one of them does not count here."""
    jobs: tuple[int, ...]
    """The numbers of the jobs that found it, the latest first."""
    count: int
    """How many of the part, in all of them."""
    models: tuple[tuple[str, int], ...]
    """Each model with the number of its jobs that found it, the most first."""
    units: tuple[str, ...]
    """The units that it was found on more than once, as they were given."""
    last: datetime
    """When the latest of these jobs was opened."""


def seen(records: Records, job: JobSummary) -> Seen:
    """Return what a job found. Raises AssistantError where its record cannot be read."""
    history = records.events(job.job)
    counts: Counter[tuple[str, str]] = Counter()
    findings = [e for e in what_stands(history) if isinstance(e, events.FindingRecorded)]
    if not findings:
        return Seen(job, "", ())
    procedure = procedure_of(history, job.job)
    for finding in findings:
        if severity_of(finding.condition) != "none":
            known = procedure.part(finding.part)
            counts[known.name if known else finding.part, finding.condition] += finding.count
    model = job.title if procedure.unwritten is not None else named(procedure.equipment)
    return Seen(job, model, tuple((*pair, count) for pair, count in counts.items()))


def named(equipment: Equipment) -> str:
    """Return what a kind of machine is called: maker, model, kind."""
    told = (equipment.maker, equipment.model, equipment.kind)
    return " ".join(text for text in told if text)


def gather(records: Records, jobs: Iterable[JobSummary]) -> tuple[list[Seen], list[int]]:
    """Return what jobs found, and the numbers of those that cannot be read."""
    found, unreadable = [], []
    for job in jobs:
        try:
            found.append(seen(records, job))
        except AssistantError:
            unreadable.append(job.job)
    return found, unreadable


def over(of: Sequence[Seen], least: int = 2) -> tuple[Recurring, ...]:
    """Return what was found in at least so many jobs, what most jobs found first."""
    pairs: dict[tuple[str, str], list[tuple[Seen, int]]] = {}
    for one in of:
        for part, condition, count in one.found:
            pairs.setdefault((part, condition), []).append((one, count))
    found = [
        _recurring(part, condition, sorted(where, key=lambda w: w[0].job.opened, reverse=True))
        for (part, condition), where in pairs.items()
        if len(where) >= least
    ]
    return tuple(sorted(found, key=lambda r: (-len(r.jobs), -r.count, r.part, r.condition)))


def _recurring(part: str, condition: str, where: Sequence[tuple[Seen, int]]) -> Recurring:
    models = Counter(one.model for one, _ in where)
    units = Counter(one.job.unit for one, _ in where if one.job.unit)
    return Recurring(
        part=part,
        condition=condition,
        severity=severity_of(condition),
        jobs=tuple(one.job.job for one, _ in where),
        count=sum(count for _, count in where),
        models=tuple(sorted(models.items(), key=lambda m: (-m[1], m[0]))),
        units=tuple(sorted(unit for unit, times in units.items() if times > 1)),
        last=where[0][0].job.opened,
    )
