"""What earlier jobs found, measured, fitted and left."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assistant.dialogue import facts
from assistant.dialogue.earlier import EarlierJob, LastTime
from assistant.dialogue.wording import brief, remaining, steps
from assistant.dialogue.wording import record as of_record
from assistant.dialogue.wording.brief import Topic
from assistant.dialogue.wording.failures import what
from assistant.dialogue.wording.quantities import count, date, figures, listing, quantity, several

_NO_UNIT = (
    "This job does not say which unit it is on. No earlier job by this procedure is kept here."
)
_NONE = "No earlier job on this unit, or by this procedure, is kept here."
_MOST_NAMED = 4


def told(of: LastTime) -> list[str]:
    """Word what earlier jobs found and left, the latest of them in full, within
    `brief.MOST_WORDS`.
    """
    if not of.jobs:
        return [_NONE if of.unit_known else _NO_UNIT]
    return brief.told([*_latest(of), *_before(of)])


def followed(of: EarlierJob) -> list[str]:
    """Word what the job left that this one follows."""
    lead = f"it follows {_job(of)}"
    if of.damaged:
        return brief.told([Topic(0, (f"{lead}, whose record cannot be read",))])
    return brief.told([Topic(0, (lead,)), *_left(of)])


SHOP_AWAY = (
    "The shop's database does not answer, so what other benches did is not told. From this bench:"
)


def _job(of: EarlierJob) -> str:
    if of.bench is not None:
        # Its number is another one here, and at the bench that it is from.
        return f"a job of {date(of.opened.date())} at {figures(of.bench)}"
    return f"job {count(of.job)} of {date(of.opened.date())}"


def _latest(of: LastTime) -> Iterator[Topic]:
    job = of.jobs[0]
    where = "on this unit"
    if not of.same_unit:
        unknown = "no earlier job on this unit" if of.unit_known else "this job names no unit"
        where = f"by this procedure; {unknown}"
    still_open = "" if job.closed or job.damaged else ", still open"
    if job.damaged:
        yield Topic(0, (f"{_job(job)}, {where}, cannot be read",))
        return
    yield Topic(0, (f"{_job(job)}, {where}{still_open}",))
    yield from _found(job)
    if job.fitted_new:
        yield Topic(3, _parts("fitted new", [steps.parts(one) for one in job.fitted_new]))
    yield from _left(job)


def _found(job: EarlierJob) -> Iterator[Topic]:
    """Yield what was found and measured; that there was nothing is worth knowing too."""
    if not (job.findings or job.out or job.failed or job.conceded):
        yield Topic(2, ("nothing was found wrong",))
    if job.findings:
        found = list(dict.fromkeys(of_record.event(one) for one in job.findings))
        yield Topic(2, _named("found", found, several(len(found), "finding")))
    if job.out:
        out = [f"{one.name} {quantity(one.value, one.unit)}" for one in job.out]
        short = f"{several(len(out), 'reading')} out of limits at first"
        yield Topic(2, _named("out of limits at first", out, short))
    if job.conceded:
        names = [one.result.name for one in job.conceded]
        yield Topic(4, _named("conceded", names, f"{several(len(names), 'result')} conceded"))


def _left(job: EarlierJob) -> Iterator[Topic]:
    """Yield what was left: what fails ahead of what was merely not done."""
    if job.failed:
        number = len(job.failed)
        verb = "fails" if number == 1 else "fail"
        full = "left failing: " + listing(what(one) for one in job.failed)
        names = f"left failing: {listing(one.result.name for one in job.failed)}"
        values = f"left failing: {listing(map(_with_value, job.failed))}"
        yield Topic(1, (full, values, names, f"{several(number, 'result')} still {verb}"))
    undone = [one for one in job.left if not isinstance(one, facts.Failed)]
    if undone:
        full = f"left: {listing(remaining.each_left(undone))}"
        yield Topic(4, (full, _counted(undone)))
    if job.to_come:
        yield Topic(5, _parts("never received", [steps.parts(one) for one in job.to_come]))
    if not job.left and not job.to_come:
        yield Topic(1, ("nothing was left open",))


def _with_value(of: facts.Failed) -> str:
    value = f" {quantity(of.found.value, of.found.unit)}" if of.found else ""
    return of.result.name + value


def _counted(undone: Sequence[facts.Left]) -> str:
    """Word how many steps were not done and how many skipped, and how many questions to the
    customer have no answer.
    """
    number = sum(len(one.numbers) for one in undone if isinstance(one, facts.StepsNotDone))
    skipped = sum(1 for one in undone if isinstance(one, facts.SkippedStep))
    told = [f"{several(number, 'step')} not done"] if number else []
    told += [f"{several(skipped, 'step')} skipped"] if skipped else []
    asked = sum(1 for one in undone if isinstance(one, facts.CustomerToAnswer))
    told += [f"{several(asked, 'question')} to the customer not answered"] if asked else []
    return listing(told)


def _before(of: LastTime) -> Iterator[Topic]:
    """Yield each job before the latest in one sentence, and how many there are besides."""
    for job in of.jobs[1:]:
        yield Topic(6, tuple(_short(job)))
    if of.more:
        yield Topic(7, (f"and {several(of.more, 'job')} before that",))


def _short(job: EarlierJob) -> Iterator[str]:
    """Yield what is told of a job before the latest: in full, counted, as its number."""
    lead = f"before it, job {count(job.job)}" if job.bench is None else f"before it, {_job(job)}"
    if job.damaged:
        yield f"{lead}, cannot be read"
        return
    found = list(dict.fromkeys(of_record.event(one) for one in job.findings))
    failed = [one.result.name for one in (*job.conceded, *job.failed)]
    out = list(dict.fromkeys([*(one.name for one in job.out), *failed]))
    told = [f"found {listing(found)}"] if found else []
    told += [f"not right, {listing(out)}"] if out else []
    yield f"{lead}: {'; '.join(told) or 'nothing found wrong'}"
    if told:
        yield f"{lead}: {several(len(found), 'finding')}, {count(len(out))} not right"
    yield lead


def _named(head: str, things: Sequence[str], counted: str) -> tuple[str, ...]:
    """Return things by name, the first few of them, and how many they are."""
    few: tuple[str, ...] = ()
    if len(things) > _MOST_NAMED:
        more = f"{count(len(things) - _MOST_NAMED)} more"
        few = (f"{head}: {listing([*things[:_MOST_NAMED], more])}",)
    return (f"{head}: {listing(things)}", *few, counted)


def _parts(head: str, parts: Sequence[str]) -> tuple[str, ...]:
    return _named(head, parts, f"{several(len(parts), 'kind')} of part {head}")
