"""The record's summary: the job in a few numbers, and what stands out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from assistant.dialogue import events, ledger, results
from assistant.report import wording
from assistant.report.corrections import RECORDED, Question
from assistant.report.entries import Sources
from assistant.report.model import (
    Entry,
    Nonconformity,
    StandsOut,
    Status,
    StepRecord,
    Summary,
    Withdrawn,
)
from assistant.report.parts import STANDING


def summary(
    of: Sources,
    steps: tuple[StepRecord, ...],
    failed: Sequence[Nonconformity],
    questions: Sequence[Question],
    withdrawn: tuple[Withdrawn, ...],
) -> Summary:
    """Return the summary of a job from its steps, its nonconformities, its questions and what was
    taken back.
    """

    def how_many(status: Status) -> int:
        return sum(1 for step in steps if step.status == status)

    statuses = Counter(one.status for one in failed)
    wrong_bags = [e for e in of.state.of_job(events.BagRecorded) if not e.within]
    return Summary(
        complete=of.state.closed
        and not statuses["open"]
        and not of.state.in_pieces
        and all(step.status in ("done", "not applicable") for step in steps),
        in_pieces=of.state.in_pieces,
        open=statuses["open"],
        conceded=statuses["conceded"],
        settled=statuses["settled"],
        applicable=len(steps) - how_many("not applicable"),
        done=how_many("done"),
        skipped=how_many("skipped"),
        started=how_many("started"),
        not_reached=how_many("not reached"),
        not_applicable=how_many("not applicable"),
        outside=statuses["open"] + statuses["conceded"] + len(wrong_bags),
        overridden=sum(
            1 for q, _ in questions if q.outcome == "affirmed" and not q.since_withdrawn
        ),
        to_order=ledger.total(of.ledger, STANDING),
        to_come=ledger.total(of.ledger, ledger.TO_COME),
        to_come_now=ledger.total(of.ledger_now, ledger.TO_COME),
        stands_out=tuple(_standing_out(of, failed, questions, withdrawn)),
    )


def _standing_out(
    of: Sources,
    failed: Sequence[Nonconformity],
    questions: Sequence[Question],
    withdrawn: tuple[Withdrawn, ...],
) -> Iterator[StandsOut]:
    """Yield what stands out, the gravest kinds first, each in the order of the job."""
    for one in failed:
        if one.status in ("open", "conceded"):
            kind = "fails" if one.open else "conceded"
            yield _stands_out(one, kind=kind, details=wording.status(one))
    yield from _left_undone(of)
    yield from _not_as_asked(of, questions)
    yield from _put_right(of, questions)
    for gone in withdrawn:
        kind = "corrected" if gone.corrected else "withdrawn"
        details = [f"Now: {gone.instead}"] if gone.instead else []
        yield _stands_out(gone, kind=kind, details=details)


def _left_undone(of: Sources) -> Iterator[StandsOut]:
    latest = {e.step: e for e in of.state.of_job(events.StepSkipped)}
    for skip in latest.values():
        if skip.step in of.state.skipped:
            details = [f"Outstanding: {wording.outstanding(item)}" for item in skip.outstanding]
            yield of.entry(StandsOut, skip, kind="skipped", details=details)
    if not of.state.closed:
        for one in of.questions:
            if one.open:
                yield of.entry(StandsOut, one.asked, kind="left undone", details=())
    for close in of.state.of_job(events.JobClosed):
        if close.left:
            left = "job closed with work left"
            yield of.entry(
                StandsOut,
                close,
                left,
                kind="left undone",
                details=tuple(map(wording.left, close.left)),
            )


def _not_as_asked(of: Sources, questions: Sequence[Question]) -> Iterator[StandsOut]:
    """Yield what was affirmed though asked about, what is doubtful, and bags not as asked.

    Results that do not meet their requirement are nonconformities, and told as such.
    """
    affirmed = {id(e): q for q, e in questions if e and q.outcome == "affirmed"}
    worked_out = [
        of.told(each)
        for each in of.state.results.followed
        if isinstance(each, results.WorkedOut | results.PartChosen | results.LeakVerdict)
    ]
    recorded = [event for event in of.state.history if isinstance(event, RECORDED)]
    earlier = {id(event) for event in recorded} - {
        id(event) for kind in RECORDED for event in of.state.current(kind)
    }
    for event in sorted((*recorded, *worked_out), key=lambda event: event.turn):
        asked = affirmed.get(id(event))
        outside = isinstance(event, events.BagRecorded) and not event.within
        fails = getattr(event, "within", None) is False and not outside
        doubt = _doubt(event)
        if fails or id(event) in earlier or not (outside or asked or doubt):
            continue
        details = []
        if isinstance(event, events.ReadingRecorded | events.ValueWorkedOut) and event.limits:
            details.append(f"Limits: {wording.limits(event.limits)}")
        if asked:
            details.append(f"Heard “{asked.first_heard}”, asked about, and affirmed")
        if asked and not outside:
            details.append(asked.why)
        if isinstance(event, RECORDED) and event.first_heard:
            details.append(f"First heard: “{wording.first_heard(event.first_heard)}”")
        details += [doubt] if doubt else []
        kind = "outside" if outside else "affirmed" if asked else "doubtful"
        yield of.entry(StandsOut, event, kind=kind, details=details)


def _put_right(of: Sources, questions: Sequence[Question]) -> Iterator[StandsOut]:
    """Yield what was asked about and not simply affirmed, and slips of the tongue."""
    for asked, _ in questions:
        if asked.outcome in ("affirmed", "a further one") and not asked.since_withdrawn:
            continue
        came = f"then recorded: {asked.recorded}" if asked.recorded else asked.outcome
        since = " (since withdrawn)" if asked.since_withdrawn else ""
        what = f"heard “{asked.first_heard}”, {came}{since}"
        yield _stands_out(asked, what, kind="questioned", details=[asked.why])
    told = {id(event) for _, event in questions}
    corrected = {e.turn for e in of.events if isinstance(e, events.Withdrawn) and e.corrected}
    for event in of.state.history:
        if (
            isinstance(event, RECORDED)
            and event.first_heard
            and id(event) not in told
            and event.turn not in corrected
        ):
            first = wording.first_heard(event.first_heard)
            details = [f"Put right in one breath: first heard “{first}”"]
            yield of.entry(StandsOut, event, kind="corrected", details=details)


def _doubt(event: events.Base) -> str | None:
    """Write what makes something recorded doubtful, though it is within; None where nothing."""
    match event:
        case events.ReadingRecorded():
            close = "Nearer to the limit than the instrument tells apart"
            told = (close if event.too_close else None, _overdue(event))
            return "; ".join(filter(None, told)) or None
        case events.ValueWorkedOut(too_close=True):
            return "Nearer to the limit than its uncertainty"
        case events.PartChosen(unsure=str(other)):
            return f"It might as well be {other}: measure again"
        case events.PartChosen(failed=True):
            return "It follows from a value that does not meet its requirement"
        case events.LeakJudged(no_temperatures=True):
            return "No temperatures were taken, which may explain any of it"
        case events.TorqueRecorded():
            return "; ".join(filter(None, (wording.doubts(event), _overdue(event)))) or None
        case _:
            return None


def _overdue(event: events.TorqueRecorded | events.ReadingRecorded) -> str | None:
    if event.instrument is None or not event.overdue:
        return None
    return wording.instrument(event.instrument, overdue=True)


def _stands_out(entry: Entry, what: str | None = None, **fields: object) -> StandsOut:
    shared = {name: getattr(entry, name) for name in Entry.model_fields}
    return StandsOut.model_validate(shared | ({"what": what} if what else {}) | fields)
