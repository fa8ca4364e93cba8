"""The job record for people: what was done, found, measured and tightened, from the journal.

`build` is pure: the same events and procedure give the same record. What is in effect is what the
session's own replay says, and what follows from readings is worked out from those that stand. What
was withdrawn is kept in a list of its own, and shown as such.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from assistant.dialogue import events, ledger, remaining
from assistant.errors import AssistantError
from assistant.journal.additions import Entry as Added
from assistant.journal.earlier import on_unit
from assistant.journal.records import JobSummary, Records, Transcript
from assistant.procedure.model import Procedure
from assistant.report import corrections as second_thoughts
from assistant.report import (
    failures,
    measured,
    parts,
    photos,
    recurring,
    steps,
    summary,
    texts,
    wording,
)
from assistant.report.entries import Sources
from assistant.report.model import (
    Affirmed,
    Afterwards,
    Answer,
    Bag,
    EarlierJob,
    ExtraWork,
    FollowedJob,
    JobHazard,
    KitItem,
    Note,
    Record,
    SignOff,
    Stop,
    Timer,
)
from assistant.report.spans import by_person, spans


def build(
    history: Sequence[events.Event],
    procedure: Procedure,
    job: int,
    *,
    seal: str | None = None,
    transcripts: Mapping[str, tuple[Transcript, ...]] | None = None,
    afterwards: Sequence[Added] = (),
    sign_offs: Sequence[events.SignedOff] = (),
    earlier: Sequence[JobSummary] = (),
    follows: int | None = None,
) -> Record:
    """Return the record of a job from all its events, in order, and the procedure as worked from.

    `seal` is the hash that the journal sealed the job with, where it is closed; `transcripts` are
    those of its clips, by the SHA-256 of the clip; `afterwards` is what the desk entered when
    the job was closed already, `sign_offs` who signed it off then; `earlier` are the jobs on the
    same unit that were opened before it, and `follows` is the number that the job which it is a
    follow-up of has here.

    Raises AssistantError where the events do not start with the job's opening, or do not fit
    together.
    """
    if not history or not isinstance(history[0], events.JobOpened):
        raise AssistantError(f"Job {job} does not start with its opening; it is damaged.")
    sources = Sources(history, procedure, transcripts or {}, afterwards)
    built = _record(sources, history[0], job, seal)
    before = tuple(
        EarlierJob(job=o.job, uid=o.uid, title=o.title, opened=o.opened, closed=o.closed)
        for o in earlier
    )
    signed = tuple(
        SignOff(at=e.at, by=e.by or "", note=e.note, despite=tuple(map(wording.left, e.despite)))
        for e in sign_offs
    )
    more = {"earlier": before, "sign_offs": signed, "follows": _follows(history[0], follows)}
    return built.model_copy(update=more)


def kept(
    journal: Records, job: int, history: Sequence[events.Event], procedure: Procedure
) -> Record:
    """Return the record of a job with all that is kept beside its events; raises as `build`."""
    return build(
        history,
        procedure,
        job,
        seal=journal.seal(job),
        transcripts=journal.transcripts(job),
        afterwards=journal.additions(job),
        sign_offs=journal.sign_offs(job),
        earlier=on_unit(journal, job),
        follows=_here(journal, history),
    )


def _here(journal: Records, history: Sequence[events.Event]) -> int | None:
    """Return the number here of the job that a job follows; None where it is not here."""
    opened = history[0] if history else None
    follows = opened.follows if isinstance(opened, events.JobOpened) else None
    return journal.number_of(follows.uid) if follows else None


def _follows(opened: events.JobOpened, here: int | None) -> FollowedJob | None:
    of = opened.follows
    if of is None:
        return None
    return FollowedJob(
        job=here, number_then=of.job, uid=of.uid, title=of.title, opened=of.opened, unit=of.unit
    )


def _record(of: Sources, opened: events.JobOpened, job: int, seal: str | None) -> Record:
    closed = of.state.of_job(events.JobClosed)
    gone_through = tuple(steps.steps(of))
    questions = tuple(second_thoughts.questioned(of))
    withdrawn = tuple(second_thoughts.withdrawn(of))
    fitted = tuple(parts.fitted(of, gone_through))
    failed = failures.find(of)
    readings = tuple(measured.readings(of))
    worked_out = tuple(measured.worked_out(of))
    return Record(
        job=job,
        seal=seal,
        title=opened.title,
        procedure=opened.procedure,
        revision=opened.revision,
        texts=tuple(texts.used(of, opened)),
        equipment=recurring.named(of.procedure.equipment),
        unit=opened.unit,
        sample=opened.sample,
        remark=opened.remark,
        sign_offs=(),
        follows=None,
        earlier=(),
        opened=opened.at,
        closed=closed[-1].at if closed else None,
        last=of.events[-1].at,
        by=tuple(dict.fromkeys(e.by for e in of.events if e.by)),
        stops=tuple(
            Stop(left=before.at, taken_up=event.at)
            for before, event in pairwise(e for e in of.events if not ledger.from_desk(e))
            if isinstance(event, events.JobTakenUp)
        ),
        spans=tuple(spans(of.events)),
        time_by_person=by_person(of.events),
        nonconformities=failed,
        summary=summary.summary(of, gone_through, failed, questions, withdrawn),
        steps=gone_through,
        findings=tuple(parts.findings(of, fitted)),
        notes=of.all(Note, events.NoteRecorded),
        photos=tuple(photos.photos(of)),
        readings=readings,
        reading_sets=tuple(measured.sets(of, readings)),
        found_and_left=tuple(measured.pairs(of, worked_out)),
        worked_out=worked_out,
        parts_chosen=tuple(measured.chosen(of)),
        leak_tests=tuple(measured.leak_tests(of)),
        fluids=tuple(measured.fluids(of)),
        torques=tuple(measured.torques(of)),
        fitted=fitted,
        parts=tuple(parts.lives(of)),
        orders=tuple(parts.orders(of, fitted)),
        afterwards=tuple(of.entry(Afterwards, event) for event in of.afterwards),
        extra_work=tuple(_extra_work(of)),
        kit=of.all(KitItem, events.KitItemChecked),
        bags=tuple(of.entry(Bag, e, bag=e.number) for e in of.state.of_job(events.BagRecorded)),
        answers=tuple(
            of.entry(Answer, e, question=_question(of, e))
            for e in of.state.of_job(events.QuestionAnswered)
        ),
        timers=tuple(_timers(of)),
        job_hazards=tuple(_job_hazards(of)),
        hazards=tuple(
            of.entry(Affirmed, e, texts=tuple(map(wording.hazard, e.hazards)))
            for e in of.state.of_job(events.HazardsHeard)
        ),
        conditions=tuple(
            of.entry(Affirmed, e, texts=(e.condition,))
            for e in of.state.of_job(events.ConditionAffirmed)
        ),
        questioned=tuple(q for q, _ in questions),
        withdrawn=withdrawn,
    )


def _question(of: Sources, event: events.QuestionAnswered) -> str:
    step = of.step(event)
    return step.question.say if step and step.question else event.question


def _job_hazards(of: Sources) -> Iterator[JobHazard]:
    """Yield each hazard of the whole procedure, with who affirmed it first."""
    heard = of.state.of_job(events.HazardsHeard)
    for of_procedure in of.procedure.hazards:
        hazard = remaining.hazard(of_procedure)
        event = next((e for e in heard if hazard in e.hazards), None)
        yield JobHazard(
            text=wording.hazard(hazard),
            affirmed=event.at if event else None,
            by=event.by if event else None,
            asked=of.procedure.must_be_affirmed(of_procedure),
        )


def _extra_work(of: Sources) -> Iterator[ExtraWork]:
    """Yield each question to the customer that stands, and how it stands."""
    for one in of.questions:
        answer = one.answer
        open_or_void = "waiting" if one.about is not None else "taken back"
        yield of.entry(
            ExtraWork,
            one.asked,
            work=wording.extra_work(one.work),
            stand=open_or_void if answer is None else answer.answer,
            answered=answer.at if answer else None,
            name=answer.name if answer else None,
            entered_by=answer.by if answer else None,
            note=answer.note if answer else None,
            after_closing=answer is not None and not any(answer is e for e in of.events),
        )


def _timers(of: Sources) -> Iterator[Timer]:
    rang = {e.started_turn: e.at for e in of.state.of_job(events.TimerRang)}
    cancelled = {e.started_turn: e.at for e in of.state.of_job(events.TimerCancelled)}
    for e in of.state.of_job(events.TimerStarted):
        yield of.entry(Timer, e, rang=rang.get(e.turn), cancelled=cancelled.get(e.turn))
