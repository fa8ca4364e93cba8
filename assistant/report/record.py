"""The job record for people: what was done, found, measured and tightened, from the journal.

`build` is pure: the same events and procedure give the same record. What is in effect is what the
session's own replay says; what was withdrawn is kept in a list of its own, and shown as such.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import pairwise
from typing import TypeVar

from assistant.errors import AssistantError
from assistant.journal.store import Transcript
from assistant.procedure.model import Limits, Procedure, Step, Tighten
from assistant.report import figures, writing
from assistant.report.judging import judge
from assistant.report.model import (
    Affirmed,
    Afterwards,
    Answer,
    Bag,
    Entry,
    Finding,
    Fitted,
    Fluid,
    KitItem,
    LeakTest,
    Note,
    Order,
    OrderEntry,
    PartChosen,
    Questioned,
    Reading,
    Record,
    Stand,
    StandsOut,
    Status,
    StepLine,
    StepRecord,
    Stop,
    Summary,
    Timer,
    Torque,
    Withdrawn,
    WorkedOut,
)
from assistant.report.spans import spans
from assistant.session import events as ev
from assistant.session import ledger
from assistant.session import state as st
from assistant.trade import units

E = TypeVar("E", bound=Entry)

_Question = tuple[Questioned, ev.Event | None]
"""A question, and the event that was recorded in answer to it."""

_RECORDED = (
    ev.TorqueRecorded,
    ev.ReadingRecorded,
    ev.BagRecorded,
    ev.PartOrdered,
    ev.OrderMoved,
)
_IN_PLACE = (*_RECORDED, ev.FindingRecorded, ev.QuestionAnswered)

_STANDING: tuple[ev.OrderState, ...] = ("asked", "ordered", "received", "fitted")
"""Orders that are not cancelled."""

# What a step's list leaves out: its coming and going has its own columns, and asking for a thing
# shows in what then came of it.
_NOT_LISTED = (
    ev.JobOpened,
    ev.JobTakenUp,
    ev.JobClosed,
    ev.StepEntered,
    ev.StepDone,
    ev.BoltCalled,
    ev.SkipAsked,
    ev.CloseAsked,
    ev.NoteOpened,
    ev.KitOpened,
    ev.StoodBy,
    ev.Resumed,
)


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
        builder = _Builder(events, procedure, transcripts or {}, afterwards)
        return builder.record(events[0], job, seal)


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


def in_effect(events: Sequence[ev.Event], procedure: Procedure) -> list[bool]:
    """Return for each event whether it is still in effect; a withdrawal itself is."""
    kept = {id(event) for event in st.replay(procedure, events).history}
    return [isinstance(event, ev.Withdrawn) or id(event) in kept for event in events]


class _Builder:
    """Holds what the parts of the record are worked out from."""

    def __init__(
        self,
        events: Sequence[ev.Event],
        procedure: Procedure,
        transcripts: Mapping[str, tuple[Transcript, ...]],
        afterwards: Sequence[ev.OrderMoved],
    ) -> None:
        self.transcripts = transcripts
        self.afterwards = afterwards
        self.events = events
        self.procedure = procedure
        self.state = st.replay(procedure, events)
        self.ledger = ledger.lines(self.state.history)
        self.ledger_now = ledger.lines((*self.state.history, *afterwards))
        self.effective = in_effect(events, procedure)
        self.numbers = {step.id: n for n, step in enumerate(procedure.steps, 1)}

    def entry(
        self, kind: type[E], event: ev.Base, what: str | None = None, /, **fields: object
    ) -> E:
        """Make an entry from an event: the fields that it shares with it, and those given."""
        shared = {name: getattr(event, name) for name in kind.model_fields if hasattr(event, name)}
        if "ucum" in kind.model_fields:
            shared["ucum"] = units.ucum(shared["unit"])
        digest = event.heard.clip_sha256 if event.heard else None
        made = {
            "number": self.numbers.get(event.step or ""),
            "transcripts": self.transcripts.get(digest or "", ()),
            "what": what or writing.event(event),
        }
        return kind.model_validate(shared | made | fields)

    def _all(self, kind: type[E], of: type[ev.Base]) -> tuple[E, ...]:
        """Make an entry from each event of a kind that is in effect."""
        return tuple(self.entry(kind, event) for event in self.state.of_job(of))

    def record(self, opened: ev.JobOpened, job: int, seal: str | None) -> Record:
        """Put the parts together."""
        closed = self.state.of_job(ev.JobClosed)
        equipment = self.procedure.equipment
        steps = tuple(self._steps())
        questioned = tuple(q for q, _ in self._questioned())
        withdrawn = tuple(self._withdrawn())
        fitted = tuple(self._fitted(steps))
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
            last=self.events[-1].at,
            by=tuple(dict.fromkeys(e.by for e in self.events if e.by)),
            stops=tuple(
                Stop(left=before.at, taken_up=event.at)
                for before, event in pairwise(e for e in self.events if not ledger.from_desk(e))
                if isinstance(event, ev.JobTakenUp)
            ),
            spans=tuple(spans(self.events)),
            summary=self._summary(steps, questioned, withdrawn),
            steps=steps,
            findings=tuple(self._findings(fitted)),
            notes=self._all(Note, ev.NoteRecorded),
            readings=tuple(self._measured(Reading, ev.ReadingRecorded)),
            worked_out=tuple(self._measured(WorkedOut, ev.ValueWorkedOut)),
            parts_chosen=self._all(PartChosen, ev.PartChosen),
            leak_tests=self._all(LeakTest, ev.LeakJudged),
            fluids=self._all(Fluid, ev.FluidMeasured),
            torques=tuple(self._torques()),
            fitted=fitted,
            orders=tuple(self._orders(fitted)),
            afterwards=tuple(self.entry(Afterwards, event) for event in self.afterwards),
            kit=self._all(KitItem, ev.KitItemChecked),
            bags=tuple(self.entry(Bag, e, bag=e.number) for e in self.state.of_job(ev.BagRecorded)),
            answers=tuple(
                self.entry(Answer, e, question=self._question(e))
                for e in self.state.of_job(ev.QuestionAnswered)
            ),
            timers=tuple(self._timers()),
            hazards=tuple(
                self.entry(Affirmed, e, texts=e.hazards) for e in self.state.of_job(ev.HazardsHeard)
            ),
            conditions=tuple(
                self.entry(Affirmed, e, texts=(e.condition,))
                for e in self.state.of_job(ev.ConditionAffirmed)
            ),
            questioned=questioned,
            withdrawn=withdrawn,
        )

    def _step(self, event: ev.Base) -> Step | None:
        number = self.numbers.get(event.step or "")
        return self.procedure.steps[number - 1] if number else None

    def _question(self, event: ev.QuestionAnswered) -> str:
        step = self._step(event)
        return step.question.say if step and step.question else event.question

    def _limits(self, event: ev.ReadingRecorded | ev.ValueWorkedOut) -> Limits | None:
        """Return the limits as the procedure has them; the event has them in words."""
        step = self._step(event)
        if step is None or event.limits is None:
            return None
        known = {r.name: r.limits for r in step.readings} | {d.name: d.limits for d in step.derived}
        return known.get(event.name)

    def _limits_written(self, event: ev.ReadingRecorded | ev.ValueWorkedOut) -> str | None:
        known = self._limits(event)
        return writing.limits(known) if known else event.limits

    def _measured(
        self, kind: type[E], of: type[ev.ReadingRecorded] | type[ev.ValueWorkedOut]
    ) -> Iterator[E]:
        for event in self.state.of_job(of):
            known = self._limits(event) or Limits()
            yield self.entry(
                kind,
                event,
                limits=self._limits_written(event),
                least=figures.in_unit(known.least, event.unit),
                most=figures.in_unit(known.most, event.unit),
            )

    def _torques(self) -> Iterator[Torque]:
        called = self.state.of_job(ev.BoltCalled)
        for event in self.state.of_job(ev.TorqueRecorded):
            tighten = self._tighten(event)
            setting = figures.setting(event, tighten, self.procedure) if tighten else None
            this_pass = [
                bolt.bolt
                for bolt in called
                if (bolt.step, bolt.fastener, bolt.stage)
                == (event.step, event.fastener, event.stage)
            ]
            yield self.entry(
                Torque,
                event,
                asked_ucum=units.ucum(event.asked_unit),
                tolerance=tighten.tolerance if tighten else None,
                setting=setting.number if setting else None,
                setting_unit=setting.unit if setting else None,
                setting_ucum=units.ucum(setting.unit) if setting else None,
                wrench=event.wrench or (setting.wrench if setting else None),
                bolts=self._bolts(event),
                bolts_called=tuple(dict.fromkeys(this_pass)),
            )

    def _tighten(self, event: ev.TorqueRecorded) -> Tighten | None:
        """Return the tightening that a torque was recorded for."""
        step = self._step(event)
        asked = self.state.targets_of(step) if step else ()
        named = (t.tighten for t in asked if t.tighten.fastener == event.fastener)
        return next(named, None)

    def _bolts(self, event: ev.TorqueRecorded) -> int | None:
        step = self._step(event)
        named = [f for f in step.fasteners if f.name == event.fastener] if step else []
        applying = [f for f in named if f.applies(self.state.answers)]
        return next((f.count for f in applying or named), None)

    def _findings(self, fitted: tuple[Fitted, ...]) -> Iterator[Finding]:
        for event in self.state.of_job(ev.FindingRecorded):
            name = self._part(event.part)
            ordered = ledger.total(self._lines_of(name, self.ledger), _STANDING)
            of_part = [one for one in fitted if one.part == name]
            yield self.entry(Finding, event, judgement=judge(event, ordered, of_part))

    def _lines_of(self, part: str, of: Iterable[ledger.Line]) -> list[ledger.Line]:
        """Return the orders of a part, by whatever name it was ordered."""
        return [line for line in of if self._part(line.name) == part]

    def _part(self, name: str) -> str:
        """Return a part's one name, whatever it was called."""
        part = self.procedure.part(name)
        return part.name if part else name

    def _fitted(self, steps: tuple[StepRecord, ...]) -> Iterator[Fitted]:
        for step, record in zip(self.procedure.steps, steps, strict=True):
            if record.done is None:
                continue
            done = self.state.of_step(ev.StepDone, step.id)[-1]
            for fit in step.fit:
                if fit.applies(self.state.answers):
                    part = self.procedure.part(fit.part)
                    yield Fitted(
                        at=record.done,
                        step=step.id,
                        number=record.number,
                        by=done.by,
                        part=self._part(fit.part),
                        part_number=part.number if part else None,
                        count=fit.count,
                        new=fit.new,
                        how=fit.how,
                    )

    def _orders(self, fitted: tuple[Fitted, ...]) -> Iterator[Order]:
        in_place = {one.part for one in fitted}
        for name in dict.fromkeys(self._part(line.name) for line in self.ledger):
            lines, now = self._lines_of(name, self.ledger), self._lines_of(name, self.ledger_now)
            changed = any(self._part(event.name) == name for event in self.afterwards)
            yield Order(
                part=name,
                part_number=lines[-1].order.part_number,
                count=sum(line.order.count for line in lines),
                now=Stand(**_stand(now)) if changed else None,
                installed_unsaid=name in in_place and ledger.total(now, ["received"]) > 0,
                orders=tuple(self.entry(OrderEntry, line.order) for line in lines),
                **_stand(lines),
            )

    def _timers(self) -> Iterator[Timer]:
        rang = {e.started_turn: e.at for e in self.state.of_job(ev.TimerRang)}
        cancelled = {e.started_turn: e.at for e in self.state.of_job(ev.TimerCancelled)}
        for e in self.state.of_job(ev.TimerStarted):
            yield self.entry(Timer, e, rang=rang.get(e.turn), cancelled=cancelled.get(e.turn))

    # Steps.

    def _steps(self) -> Iterator[StepRecord]:
        route = {step.id for step in self.state.route()}
        asked_at = {s.question.name: s.id for s in self.procedure.steps if s.question}
        statuses: dict[str, Status] = {}
        for number, step in enumerate(self.procedure.steps, 1):
            entered = self.state.of_step(ev.StepEntered, step.id)
            done = self.state.of_step(ev.StepDone, step.id)
            skipped = self.state.of_step(ev.StepSkipped, step.id)
            # While its question is open, a step may yet apply; where that question itself does
            # not apply it never will.
            may_apply = all(
                name in self.state.answers or statuses.get(asked_at[name]) != "not applicable"
                for name in step.when
                if name in asked_at
            ) and any(name not in self.state.answers for name in step.when)
            statuses[step.id] = (
                "done"
                if step.id in self.state.done
                else "skipped"
                if step.id in self.state.skipped
                else "not applicable"
                if step.id not in route and not may_apply
                else "started"
                if entered
                else "not reached"
            )
            is_skipped = statuses[step.id] == "skipped"
            yield StepRecord(
                number=number,
                id=step.id,
                stage=self.procedure.stage_of(step.id).name,
                say=step.say,
                status=statuses[step.id],
                entered=entered[0].at if entered else None,
                done=done[-1].at if statuses[step.id] == "done" and done else None,
                skipped=skipped[-1].at if is_skipped else None,
                reason=skipped[-1].reason if is_skipped else None,
                outstanding=skipped[-1].outstanding if is_skipped else (),
                lines=tuple(self._lines(step.id)),
            )

    def _lines(self, step: str) -> Iterator[StepLine]:
        for event, stands in zip(self.events, self.effective, strict=True):
            if event.step == step and not isinstance(event, _NOT_LISTED):
                yield StepLine(
                    at=event.at,
                    kind=event.kind,
                    what=writing.event(event),
                    by=event.by,
                    withdrawn=not stands,
                )

    # What was questioned, and what was taken back.

    def _outcome(self, place: int) -> tuple[int, ev.Event] | None:
        """Return what ended the question at this place among the events, and its place."""
        for number, event in enumerate(self.events[place + 1 :], place + 1):
            if isinstance(event, (*_RECORDED, ev.QuestionDropped, ev.ValueQuestioned)):
                return number, event
        return None

    def _questioned(self) -> Iterator[_Question]:
        """Yield each question with the event that was then recorded."""
        for place, event in enumerate(self.events):
            if not isinstance(event, ev.ValueQuestioned):
                continue
            found = self._outcome(place)
            outcome, recorded, since_withdrawn = "open", None, False
            if found and isinstance(found[1], ev.QuestionDropped):
                outcome = "nothing recorded"
            elif found and isinstance(found[1], ev.ValueQuestioned):
                outcome = "questioned again"
            elif found:
                recorded = found[1]
                outcome = "affirmed" if _same(event.candidate, recorded) else "said anew"
                since_withdrawn = not self.effective[found[0]]
            yield (
                self.entry(
                    Questioned,
                    event,
                    first_heard=event.said,
                    why=event.why,
                    outcome=outcome,
                    recorded=writing.event(recorded) if recorded else None,
                    since_withdrawn=since_withdrawn,
                ),
                recorded,
            )

    def _withdrawn(self) -> Iterator[Withdrawn]:
        for place, event in enumerate(self.events):
            if not isinstance(event, ev.Withdrawn):
                continue
            taken = [e for e in self.events[:place] if e.turn == event.withdrew]
            shown = [e for e in taken if not isinstance(e, (*_NOT_LISTED, ev.Withdrawn))]
            first = (shown or taken)[0]
            yield self.entry(
                Withdrawn,
                first,
                "; ".join(writing.event(e) for e in shown) or event.what,
                withdrawn_at=event.at,
                withdrawn_by=event.by,
                corrected=event.corrected,
                instead=self._instead(place) if event.corrected else None,
            )

    def _instead(self, place: int) -> str | None:
        """Return what was recorded in place of what the withdrawal at this place took back."""
        turn = self.events[place].turn
        for number, event in enumerate(self.events[place + 1 :], place + 1):
            if event.turn != turn:
                return None
            if isinstance(event, _IN_PLACE):
                return writing.event(event)
            if isinstance(event, ev.ValueQuestioned):
                found: tuple[int, ev.Event] | None = (number, event)
                while found and isinstance(found[1], ev.ValueQuestioned):
                    found = self._outcome(found[0])
                recorded = found and not isinstance(found[1], ev.QuestionDropped)
                return writing.event(found[1]) if found and recorded else None
        return None

    # The summary.

    def _summary(
        self,
        steps: tuple[StepRecord, ...],
        questioned: tuple[Questioned, ...],
        withdrawn: tuple[Withdrawn, ...],
    ) -> Summary:
        def how_many(status: Status) -> int:
            return sum(1 for step in steps if step.status == status)

        return Summary(
            complete=self.state.closed
            and all(step.status in ("done", "not applicable") for step in steps),
            applicable=len(steps) - how_many("not applicable"),
            done=how_many("done"),
            skipped=how_many("skipped"),
            started=how_many("started"),
            not_reached=how_many("not reached"),
            not_applicable=how_many("not applicable"),
            outside=sum(1 for event in self.state.history if _is_outside(event)),
            overridden=sum(
                1 for q in questioned if q.outcome == "affirmed" and not q.since_withdrawn
            ),
            to_order=ledger.total(self.ledger, _STANDING),
            to_come=ledger.total(self.ledger, ledger.TO_COME),
            to_come_now=ledger.total(self.ledger_now, ledger.TO_COME),
            stands_out=tuple(self._stands_out(withdrawn)),
        )

    def _stands_out(self, withdrawn: tuple[Withdrawn, ...]) -> Iterator[StandsOut]:
        """Yield what stands out, the gravest kinds first, each in the order of the job."""
        questioned = list(self._questioned())
        yield from self._left_undone()
        yield from self._not_as_asked(questioned)
        yield from self._put_right(questioned)
        for gone in withdrawn:
            kind = "corrected" if gone.corrected else "withdrawn"
            details = [f"Now: {gone.instead}"] if gone.instead else []
            yield _stands_out(gone, kind=kind, details=details)

    def _left_undone(self) -> Iterator[StandsOut]:
        latest = {e.step: e for e in self.state.of_job(ev.StepSkipped)}
        for skip in latest.values():
            if skip.step in self.state.skipped:
                details = [f"Outstanding: {item}" for item in skip.outstanding]
                yield self.entry(StandsOut, skip, kind="skipped", details=details)
        for close in self.state.of_job(ev.JobClosed):
            if close.left:
                left = "job closed with work left"
                yield self.entry(StandsOut, close, left, kind="left undone", details=close.left)

    def _not_as_asked(self, questioned: list[_Question]) -> Iterator[StandsOut]:
        affirmed = {id(e): q for q, e in questioned if e and q.outcome == "affirmed"}
        for event in self.state.history:
            asked = affirmed.get(id(event))
            outside, doubt = _is_outside(event), _doubt(event)
            if not (outside or asked or doubt):
                continue
            details = []
            if isinstance(event, ev.ReadingRecorded | ev.ValueWorkedOut) and event.limits:
                details.append(f"Limits: {self._limits_written(event)}")
            if asked:
                details.append(f"Heard “{asked.first_heard}”, asked about, and affirmed")
            if asked and not outside:
                details.append(asked.why)
            if isinstance(event, _RECORDED) and event.first_heard:
                details.append(f"First heard: “{event.first_heard}”")
            details += [doubt] if doubt else []
            kind = "outside" if outside else "affirmed" if asked else "doubtful"
            yield self.entry(StandsOut, event, kind=kind, details=details)

    def _put_right(self, questioned: list[_Question]) -> Iterator[StandsOut]:
        """Yield what was asked about and not simply affirmed, and slips of the tongue."""
        for asked, _ in questioned:
            if asked.outcome == "affirmed" and not asked.since_withdrawn:
                continue
            came = f"then recorded: {asked.recorded}" if asked.recorded else asked.outcome
            since = " (since withdrawn)" if asked.since_withdrawn else ""
            what = f"heard “{asked.first_heard}”, {came}{since}"
            yield _stands_out(asked, what, kind="questioned", details=[asked.why])
        told = {id(event) for _, event in questioned}
        corrected = {e.turn for e in self.events if isinstance(e, ev.Withdrawn) and e.corrected}
        for event in self.state.history:
            if (
                isinstance(event, _RECORDED)
                and event.first_heard
                and id(event) not in told
                and event.turn not in corrected
            ):
                details = [f"Put right in one breath: first heard “{event.first_heard}”"]
                yield self.entry(StandsOut, event, kind="corrected", details=details)


def _stand(of: Sequence[ledger.Line]) -> dict[str, int]:
    return {state: ledger.total(of, [state]) for state in ledger.STATES}


def _is_outside(event: ev.Event) -> bool:
    return getattr(event, "within", None) is False


def _doubt(event: ev.Event) -> str | None:
    """Write what makes something recorded doubtful, though it is within; None where nothing."""
    match event:
        case ev.ReadingRecorded(too_close=True):
            return "Nearer to the limit than the instrument tells apart"
        case ev.ValueWorkedOut(too_close=True):
            return "Nearer to the limit than its uncertainty"
        case ev.PartChosen(unsure=str(other)):
            return f"It might as well be {other}: measure again"
        case ev.TorqueRecorded():
            return event.warning
        case _:
            return None


def _stands_out(entry: Entry, what: str | None = None, **fields: object) -> StandsOut:
    shared = {name: getattr(entry, name) for name in Entry.model_fields}
    return StandsOut.model_validate(shared | ({"what": what} if what else {}) | fields)


def _same(candidate: ev.Base, recorded: ev.Base) -> bool:
    """Whether what was recorded is what was asked about."""
    moment = {"at", "turn", "heard", "by"}
    return type(candidate) is type(recorded) and (
        candidate.model_dump(exclude=moment) == recorded.model_dump(exclude=moment)
    )
