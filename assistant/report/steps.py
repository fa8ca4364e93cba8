"""The steps of the record: how far each came, and what was recorded at it."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.dialogue import events
from assistant.report import texts, wording
from assistant.report.entries import Sources
from assistant.report.model import Status, StepLine, StepRecord

# What a step's list leaves out: its coming and going has its own columns, and asking for a thing
# shows in what then came of it.
NOT_LISTED = (
    events.JobOpened,
    events.JobTakenUp,
    events.RevisionOffered,
    events.RevisionTaken,
    events.JobClosed,
    events.StepEntered,
    events.StepDone,
    events.BoltCalled,
    events.SkipAsked,
    events.ConcessionAsked,
    events.ReviewOpened,
    events.CloseAsked,
    events.NoteOpened,
    events.KitOpened,
    events.StoodBy,
    events.Resumed,
)


def steps(of: Sources) -> Iterator[StepRecord]:
    """Yield each step of the procedure, in its order."""
    route = {step.id for step in of.state.route()}
    asked_at = {s.question.name: s.id for s in of.procedure.steps if s.question}
    statuses: dict[str, Status] = {}
    for number, step in enumerate(of.procedure.steps, 1):
        # Of every set: a step that was opened again was entered, and perhaps skipped, before.
        entered = [e for e in of.state.of_job(events.StepEntered) if e.step == step.id]
        skipped = [e for e in of.state.of_job(events.StepSkipped) if e.step == step.id]
        done = of.state.of_step(events.StepDone, step.id)
        # While its question is open, a step may yet apply; where that question itself does
        # not apply it never will.
        may_apply = all(
            name in of.state.answers or statuses.get(asked_at[name]) != "not applicable"
            for name in step.when
            if name in asked_at
        ) and any(name not in of.state.answers for name in step.when)
        statuses[step.id] = (
            "done"
            if step.id in of.state.done
            else "skipped"
            if step.id in of.state.skipped
            else "not applicable"
            if step.id not in route and not may_apply
            else "started"
            if entered
            else "not reached"
        )
        is_skipped = statuses[step.id] == "skipped"
        left = skipped[-1].outstanding if is_skipped else ()
        yield StepRecord(
            number=number,
            id=step.id,
            stage=of.procedure.stage_of(step.id).name,
            say=step.say,
            status=statuses[step.id],
            entered=entered[0].at if entered else None,
            done=done[-1].at if statuses[step.id] == "done" and done else None,
            skipped=skipped[-1].at if is_skipped else None,
            reason=wording.reason(skipped[-1].reason) if is_skipped else None,
            outstanding=tuple(map(wording.outstanding, left)),
            revision=texts.of_step(of, step.id),
            lines=tuple(_lines(of, step.id)),
        )


def _lines(of: Sources, step: str) -> Iterator[StepLine]:
    current = {id(event) for event in of.state.current(events.Base)}
    for place, (event, stands) in enumerate(zip(of.events, of.effective, strict=True)):
        if event.step == step and not isinstance(event, NOT_LISTED):
            yield StepLine(
                at=event.at,
                kind=event.kind,
                what=wording.event(event),
                by=event.by,
                gone="taken back"
                if not stands
                else "another since"
                if place in of.superseded
                else "earlier set"
                if isinstance(event, _IN_SETS) and id(event) not in current
                else None,
            )


_IN_SETS = (events.ReadingRecorded, events.TorqueRecorded)
