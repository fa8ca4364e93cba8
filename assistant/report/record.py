"""The job record for people: what was done, found, measured and tightened, from the journal.

`build` is pure: the same events and procedure give the same record. What is in effect is what the
session's own replay says; what was withdrawn is kept in a list of its own, and shown as such.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import pairwise
from typing import TypeVar

from assistant.errors import AssistantError
from assistant.journal.store import Transcript
from assistant.procedure.model import Procedure, Step
from assistant.report import writing
from assistant.report.model import (
    Affirmed,
    Answer,
    Bag,
    Entry,
    Finding,
    Fluid,
    LeakTest,
    Note,
    Order,
    OrderEntry,
    PartChosen,
    Questioned,
    Reading,
    Record,
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
from assistant.session import events as ev
from assistant.session import ledger
from assistant.session import state as st

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
) -> Record:
    """Return the record of a job from all its events, in order, and the procedure as worked from.

    `seal` is the hash that the journal sealed the job with, where it is closed; `transcripts` are
    those of its clips, by the SHA-256 of the clip.

    Raises AssistantError where the events do not start with the job's opening, or do not fit
    together.
    """
    if not events or not isinstance(events[0], ev.JobOpened):
        raise AssistantError(f"Job {job} does not start with its opening; it is damaged.")
    with made_by_a_session():
        return _Builder(events, procedure, transcripts or {}).record(events[0], job, seal)


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
    ) -> None:
        self.transcripts = transcripts
        self.events = events
        self.procedure = procedure
        self.state = st.replay(procedure, events)
        self.effective = in_effect(events, procedure)
        self.numbers = {step.id: n for n, step in enumerate(procedure.steps, 1)}

    def entry(
        self, kind: type[E], event: ev.Base, what: str | None = None, /, **fields: object
    ) -> E:
        """Make an entry from an event: the fields that it shares with it, and those given."""
        shared = {name: getattr(event, name) for name in kind.model_fields if hasattr(event, name)}
        if isinstance(event, ev.ReadingRecorded | ev.ValueWorkedOut) and "limits" in shared:
            shared["limits"] = self._limits(event)
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
            summary=self._summary(steps, withdrawn),
            steps=steps,
            findings=self._all(Finding, ev.FindingRecorded),
            notes=self._all(Note, ev.NoteRecorded),
            readings=self._all(Reading, ev.ReadingRecorded),
            worked_out=self._all(WorkedOut, ev.ValueWorkedOut),
            parts_chosen=self._all(PartChosen, ev.PartChosen),
            leak_tests=self._all(LeakTest, ev.LeakJudged),
            fluids=self._all(Fluid, ev.FluidMeasured),
            torques=self._all(Torque, ev.TorqueRecorded),
            orders=tuple(self._orders()),
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

    def _limits(self, event: ev.ReadingRecorded | ev.ValueWorkedOut) -> str | None:
        """Write the limits in figures, as the procedure has them; the event has them in words."""
        step = self._step(event)
        if step is None or event.limits is None:
            return event.limits
        known = {r.name: r.limits for r in step.readings} | {d.name: d.limits for d in step.derived}
        return writing.limits(known[event.name]) if event.name in known else event.limits

    def _orders(self) -> Iterator[Order]:
        by_part: dict[str, list[ev.PartOrdered]] = {}
        for event in self.state.of_job(ev.PartOrdered):
            part = self.procedure.part(event.part)
            by_part.setdefault(part.name if part else event.part, []).append(event)
        for name, orders in by_part.items():
            yield Order(
                part=name,
                part_number=orders[-1].part_number,
                count=sum(e.count for e in orders),
                orders=tuple(self.entry(OrderEntry, e) for e in orders),
            )

    def _timers(self) -> Iterator[Timer]:
        rang = {e.started_turn: e.at for e in self.state.of_job(ev.TimerRang)}
        for e in self.state.of_job(ev.TimerStarted):
            yield self.entry(Timer, e, rang=rang.get(e.turn))

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

    def _summary(self, steps: tuple[StepRecord, ...], withdrawn: tuple[Withdrawn, ...]) -> Summary:
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
                details.append(f"Limits: {self._limits(event)}")
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
