"""The job record for people: what was done, found, measured and tightened, from the journal.

`build` is pure: the same events and procedure give the same record. What is in effect is what the
session's own replay says; what was withdrawn is kept in a list of its own, and shown as such.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import pairwise
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.journal.store import Transcript
from assistant.procedure.model import Procedure
from assistant.report import measured, parts, second_thoughts, steps, summary
from assistant.report.entries import Sources
from assistant.report.model import (
    Affirmed,
    Afterwards,
    Answer,
    Bag,
    Fluid,
    KitItem,
    LeakTest,
    Note,
    PartChosen,
    Reading,
    Record,
    Stop,
    Timer,
    WorkedOut,
)
from assistant.report.spans import spans
from assistant.session import events as ev
from assistant.session import ledger

if TYPE_CHECKING:
    from assistant.journal.shop import Shop
    from assistant.journal.store import Journal


def build(
    events: Sequence[ev.Event],
    procedure: Procedure,
    job: int,
    *,
    seal: str | None = None,
    transcripts: Mapping[str, tuple[Transcript, ...]] | None = None,
    afterwards: Sequence[ev.OrderMoved] = (),
) -> Record:
    """Return the record of a job from all its events, in order, and the procedure as worked from.

    `seal` is the hash that the journal sealed the job with, where it is closed; `transcripts` are
    those of its clips, by the SHA-256 of the clip; `afterwards` is what was entered when the job
    was closed already.

    Raises AssistantError where the events do not start with the job's opening, or do not fit
    together.
    """
    if not events or not isinstance(events[0], ev.JobOpened):
        raise AssistantError(f"Job {job} does not start with its opening; it is damaged.")
    with made_by_a_session():
        return _record(
            Sources(events, procedure, transcripts or {}, afterwards), events[0], job, seal
        )


def kept(
    journal: Journal | Shop, job: int, events: Sequence[ev.Event], procedure: Procedure
) -> Record:
    """Return the record of a job with all that is kept beside its events; raises as `build`."""
    return build(
        events,
        procedure,
        job,
        seal=journal.seal(job),
        transcripts=journal.transcripts(job),
        afterwards=journal.afterwards(job),
    )


@contextmanager
def made_by_a_session() -> Iterator[None]:
    """Say in a plain sentence what trips over events that no session can have made.

    They come from files and databases that others write; each is good in itself, but one may
    withdraw what never was, or count to a number that nobody can say.
    """
    try:
        yield
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise AssistantError(
            f"The job's events do not fit together ({type(error).__name__}: {error}). "
            "See whether they were altered, with: assistant verify"
        ) from error


def _record(of: Sources, opened: ev.JobOpened, job: int, seal: str | None) -> Record:
    closed = of.state.of_job(ev.JobClosed)
    equipment = of.procedure.equipment
    gone_through = tuple(steps.steps(of))
    questions = tuple(second_thoughts.questioned(of))
    withdrawn = tuple(second_thoughts.withdrawn(of))
    fitted = tuple(parts.fitted(of, gone_through))
    return Record(
        job=job,
        seal=seal,
        title=opened.title,
        procedure=opened.procedure,
        revision=opened.revision,
        equipment=" ".join(
            text for text in (equipment.maker, equipment.model, equipment.kind) if text
        ),
        unit=opened.unit,
        sample=opened.sample,
        remark=opened.remark,
        opened=opened.at,
        closed=closed[-1].at if closed else None,
        last=of.events[-1].at,
        by=tuple(dict.fromkeys(e.by for e in of.events if e.by)),
        stops=tuple(
            Stop(left=before.at, taken_up=event.at)
            for before, event in pairwise(e for e in of.events if not ledger.from_desk(e))
            if isinstance(event, ev.JobTakenUp)
        ),
        spans=tuple(spans(of.events)),
        summary=summary.summary(of, gone_through, questions, withdrawn),
        steps=gone_through,
        findings=tuple(parts.findings(of, fitted)),
        notes=of.all(Note, ev.NoteRecorded),
        readings=tuple(measured.measured(of, Reading, ev.ReadingRecorded)),
        worked_out=tuple(measured.measured(of, WorkedOut, ev.ValueWorkedOut)),
        parts_chosen=of.all(PartChosen, ev.PartChosen),
        leak_tests=of.all(LeakTest, ev.LeakJudged),
        fluids=of.all(Fluid, ev.FluidMeasured),
        torques=tuple(measured.torques(of)),
        fitted=fitted,
        orders=tuple(parts.orders(of, fitted)),
        afterwards=tuple(of.entry(Afterwards, event) for event in of.afterwards),
        kit=of.all(KitItem, ev.KitItemChecked),
        bags=tuple(of.entry(Bag, e, bag=e.number) for e in of.state.of_job(ev.BagRecorded)),
        answers=tuple(
            of.entry(Answer, e, question=_question(of, e))
            for e in of.state.of_job(ev.QuestionAnswered)
        ),
        timers=tuple(_timers(of)),
        hazards=tuple(
            of.entry(Affirmed, e, texts=e.hazards) for e in of.state.of_job(ev.HazardsHeard)
        ),
        conditions=tuple(
            of.entry(Affirmed, e, texts=(e.condition,))
            for e in of.state.of_job(ev.ConditionAffirmed)
        ),
        questioned=tuple(q for q, _ in questions),
        withdrawn=withdrawn,
    )


def _question(of: Sources, event: ev.QuestionAnswered) -> str:
    step = of.step(event)
    return step.question.say if step and step.question else event.question


def _timers(of: Sources) -> Iterator[Timer]:
    rang = {e.started_turn: e.at for e in of.state.of_job(ev.TimerRang)}
    cancelled = {e.started_turn: e.at for e in of.state.of_job(ev.TimerCancelled)}
    for e in of.state.of_job(ev.TimerStarted):
        yield of.entry(Timer, e, rang=rang.get(e.turn), cancelled=cancelled.get(e.turn))
