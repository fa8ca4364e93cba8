"""Which revisions of its procedure a job was worked from, and which of them each step."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.dialogue import events, kept_text
from assistant.report.entries import Sources
from assistant.report.model import TextUsed


def used(of: Sources, opened: events.JobOpened) -> Iterator[TextUsed]:
    """Yield the revisions that the job was worked from, in order; none where it has none."""
    if of.procedure.unwritten is not None:
        return
    yield _text(opened.source, opened)
    offered = ""
    for event in of.events:
        if isinstance(event, events.RevisionOffered):
            offered = event.source
        elif isinstance(event, events.RevisionTaken):
            yield _text(offered, event)


def _text(source: str, since: events.Base) -> TextUsed:
    text = kept_text.procedure(source)
    return TextUsed(
        revision=text.revision,
        author=text.author,
        approver=text.approver if text.approved else None,
        date=text.date,
        supersedes=text.supersedes,
        since=since.at,
        by=since.by,
    )


def of_step(of: Sources, step: str) -> str | None:
    """Return the revision that a step was worked from: the one at its last event that is more than
    going there; None for a step that was not reached, and where there is no procedure.
    """
    if of.procedure.unwritten is not None:
        return None
    revision = entered = worked = None
    for event in of.events:
        if isinstance(event, events.JobOpened | events.RevisionTaken):
            revision = event.revision
        if event.step != step:
            continue
        if isinstance(event, events.StepEntered):
            entered = revision
        elif not isinstance(event, events.JobTakenUp | events.RevisionTaken):
            worked = revision
    return worked or entered
