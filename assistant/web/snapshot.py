"""What the display shows of a moment at the bench: pure, made from the state of the job.

Everything here is written for the eye, with figures and unit symbols; the page decides only where
it goes. Times are milliseconds since 1970, UTC, so that a browser can count down.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Any

from assistant.dialogue import (
    clocks,
    events,
    facts,
    kit,
    nonconformities,
    outstanding_work,
    remaining,
)
from assistant.dialogue import state as job_state
from assistant.dialogue.nonconformities import Nonconformity
from assistant.dialogue.state import Mode, State
from assistant.procedure.model import Signal, Tighten
from assistant.report import wording
from assistant.text import plain
from assistant.web.standing import waiting_for_customer

_LONGEST = 1200
"""Characters shown of one text: more is not read at a glance, and what is typed has no bound."""
_MOST = 12
"""Of one list."""


class Status(StrEnum):
    """What the assistant is doing."""

    STARTING = "starting"
    LISTENING = "listening"
    SPEAKING = "speaking"
    STANDING_BY = "standing by"
    CANNOT_HEAR = "cannot hear"
    CANNOT_RECORD = "cannot record"
    CLOSED = "job closed"
    STOPPED = "stopped"


class Cue(StrEnum):
    """What became of a phrase, as the sounds at the bench tell it; the page has a mark for each."""

    RECORDED = "recorded"
    QUESTION = "question"
    REFUSED = "refused"
    TIMER = "timer"
    ALERT = "alert"
    NOT_TAKEN = "not taken"
    NOT_RECORDED = "not recorded"


@dataclass(frozen=True)
class Exchange:
    """One phrase that was heard, and what was answered; `heard` is empty for a timer that rang."""

    heard: str = ""
    reply: str = ""
    cues: tuple[Cue, ...] = ()
    why: str = ""
    """Why it was not taken."""


@dataclass(frozen=True)
class Moment:
    """All that the display needs to know of the bench at one moment."""

    job: int = 0
    by: str | None = None
    state: State | None = None
    """None before the job is opened."""
    cannot_record: str | None = None
    """Why the last attempt to record failed; None if it succeeded."""
    speaking: bool = False
    deaf: bool = False
    """Whether the microphone is gone."""
    exchanges: tuple[Exchange, ...] = ()
    """The latest first."""
    last: bool = False
    """Whether the program ends with it."""


@dataclass(frozen=True)
class _Focus:
    """The one thing that is asked for next, as large as it goes."""

    kind: str
    label: str
    figure: str
    unit: str = ""
    notes: tuple[str, ...] = ()
    due: int | None = None
    """Counted down in place of the figure."""
    choices: tuple[str, ...] = ()
    locker: str = ""
    """Which of the notes is the thread-locker to put on; empty for none."""


@dataclass(frozen=True)
class _Joint:
    """One kind of fastener to tighten in the step."""

    fastener: str
    torque: str
    locker: str
    strong: bool
    """Whether there is thread-locker to put on."""
    notes: tuple[str, ...]
    done: bool


@dataclass(frozen=True)
class _Job:
    number: int
    title: str
    unit: str | None
    by: str | None
    sample: bool


@dataclass(frozen=True)
class _Step:
    number: int
    of: int
    stage: str
    say: str
    note: str
    hazards: tuple[tuple[str, str], ...]
    joints: tuple[_Joint, ...]


@dataclass(frozen=True)
class Snapshot:
    """What the page is given, as JSON."""

    status: Status
    hint: str
    now: int
    job: _Job | None = None
    step: _Step | None = None
    focus: _Focus | None = None
    fails: int = 0
    """How many results of the job fail and were not conceded."""
    failures: tuple[str, ...] = ()
    """Those of them that hold this step, or else all."""
    holds: bool = False
    """Whether they hold this step."""
    outstanding: tuple[str, ...] = ()
    customer: tuple[str, ...] = ()
    """What the customer has still to agree to."""
    timers: tuple[tuple[str, int], ...] = ()
    """Name, and when it is due; the first due first."""
    exchanges: tuple[Exchange, ...] = ()


def take(moment: Moment, now: datetime, *, hint: str = "") -> dict[str, Any]:
    """Return the snapshot of a moment, ready for JSON; no text in it can turn a line round.

    `hint` says how to be heard.
    """
    status = _status(moment)
    hints = {
        Status.CANNOT_HEAR: "the microphone is gone: plug it in again",
        Status.LISTENING: hint,
        Status.STANDING_BY: "say resume",
        Status.CANNOT_RECORD: moment.cannot_record or "",
    }
    made = Snapshot(status, hints.get(status, ""), ms(now), exchanges=moment.exchanges)
    if moment.state is not None and moment.state.step_id is not None:
        made = replace(made, **_of_job(moment, moment.state, now))
    return {name: _shown(value) for name, value in asdict(made).items()}


def _status(moment: Moment) -> Status:
    mode = None if moment.state is None else moment.state.mode
    if mode is Mode.CLOSED:
        return Status.CLOSED
    if moment.last:
        return Status.STOPPED
    if moment.cannot_record is not None:
        return Status.CANNOT_RECORD
    if moment.deaf:
        return Status.CANNOT_HEAR
    if moment.speaking:
        return Status.SPEAKING
    if mode is Mode.STANDING_BY:
        return Status.STANDING_BY
    return Status.LISTENING if moment.exchanges else Status.STARTING


def ms(at: datetime) -> int:
    """Return a time in milliseconds since 1970, UTC."""
    return round(at.timestamp() * 1000)


def _shown(value: Any) -> Any:
    if isinstance(value, str):
        text = plain(value)
        return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"
    if isinstance(value, dict):
        return {name: _shown(one) for name, one in value.items()}
    if isinstance(value, tuple):
        return [_shown(one) for one in value]
    return value


def _of_job(moment: Moment, state: State, now: datetime) -> dict[str, Any]:
    left = outstanding_work.outstanding(state, now)
    failing = nonconformities.still_open(state)
    holding = nonconformities.holding(state, state.step)
    running = sorted(clocks.running_clocks(state), key=lambda clock: clock.due)
    opened = state.of_job(events.JobOpened)[0]
    return {
        "job": _Job(moment.job, opened.title, opened.unit, moment.by, opened.sample),
        "step": _step(state, left),
        "focus": _focus(state, left),
        "fails": len(failing),
        "failures": _few([_failure(each, state) for each in holding or failing]),
        "holds": bool(holding),
        # What fails and the torques stand by themselves, each with what became of it.
        "outstanding": _few(
            [
                wording.outstanding(item)
                for item in remaining.items(left)
                if not isinstance(item, facts.TorqueToRecord | facts.FailureToSettle)
            ]
        ),
        "customer": _few(list(waiting_for_customer(state))),
        "timers": tuple((clock.name, ms(clock.due)) for clock in running),
    }


def _failure(of: Nonconformity, state: State) -> str:
    where = "" if of.step.id == state.step_id else f"step {of.number}: "
    return f"{where}{wording.failure(nonconformities.failed(of))}"


def _few(texts: Sequence[str]) -> tuple[str, ...]:
    if len(texts) <= _MOST:
        return tuple(texts)
    return (*texts[: _MOST - 1], f"and {len(texts) - _MOST + 1} more")


# The step


def _step(state: State, left: Sequence[outstanding_work.Outstanding]) -> _Step:
    step = state.step
    grades = list(Signal)
    of_job = () if state.warned else state.procedure.hazards
    hazards = sorted((*of_job, *step.hazards), key=lambda hazard: grades.index(hazard.signal))
    note = "done" if step.id in state.done else ""
    if step.id in state.skipped:
        note = f"skipped: {wording.reason(state.skipped[step.id])}"
    return _Step(
        state.number,
        len(state.procedure.steps),
        state.procedure.stage_of(step.id).name,
        step.say,
        note,
        tuple((hazard.signal.value, hazard.say) for hazard in hazards),
        tuple(_joint(state, t, left) for t in step.tighten if t.applies(state.answers)),
    )


def _joint(state: State, tighten: Tighten, left: Sequence[outstanding_work.Outstanding]) -> _Joint:
    targets = job_state.targets(tighten)
    to_do = [
        i
        for i in left
        if isinstance(i, outstanding_work.TorqueToRecord) and i.target.tighten is tighten
    ]
    return _Joint(
        f"{state.count_of(tighten.fastener)} × {tighten.fastener}",
        ", then ".join(_amount(target) for target in targets),
        wording.locker(tighten),
        tighten.locker is not None,
        tuple(_joint_notes(tighten)),
        not to_do,
    )


def _amount(target: job_state.Target) -> str:
    around = " once round" if target.around else ""
    return f"{wording.quantity(target.value, target.unit)}{around}"


def _joint_notes(tighten: Tighten) -> Iterator[str]:
    condition = wording.condition_of_threads(tighten)
    if condition:
        yield condition
    if tighten.order is not None:
        yield wording.order(tighten.order)
    if tighten.adapter is not None:
        yield "with an adapter: ask “what setting”"


# What is asked for next


def _focus(state: State, left: Sequence[outstanding_work.Outstanding]) -> _Focus:
    if state.mode is Mode.CLOSED:
        return _Focus("done", "Nothing more is recorded", "Closed")
    if state.pending is not None:
        return _pending(state, state.pending)
    if left:
        return _asked(state, left[0])
    torques = state.of_step(events.TorqueRecorded)
    if torques:
        # A number just said is looked at again.
        last = torques[-1]
        return _Focus(
            "done",
            last.fastener,
            f"{last.value:f}",
            wording.symbol(last.unit),
            ("recorded", "say next step"),
        )
    if state.procedure.unwritten is not None:
        return _unwritten(state)
    return _Focus("done", "Nothing is outstanding", "Next step", notes=("when ready",))


def _unwritten(state: State) -> _Focus:
    """Return what is shown in a job without a procedure where nothing is outstanding."""
    if not state.pieces:
        return _Focus("done", "Safe to work on", "Take down", notes=("say removed, and what",))
    group = state.arrangement.group(state.step.id)
    if group is not None:
        told = f"{len(group.members)} things as one"
        return _Focus("done", "Goes on", told, notes=("say next step when it is on",))
    if state.mode is Mode.TAKING_DOWN:
        piece = state.piece or state.pieces[-1]
        label, way = "Came off", "say removed, and what; or start build up"
    else:
        named = (one for one in state.pieces if one.on == state.step_id)
        piece, label, way = next(named, state.pieces[-1]), "Goes on", "say next step when it is on"
    bag = "no bag" if piece.bag is None else f"bag {piece.bag}"
    how = dict.fromkeys(fit.how for fit in state.step.fit if fit.how)
    return _Focus("done", label, f"{piece.count} × {piece.name}", notes=(bag, *how, way))


def _pending(state: State, pending: job_state.Pending) -> _Focus:
    match pending:
        case events.ValueQuestioned():
            way = "say affirm, or correction" if pending.may_affirm else "say correction"
            came = "Sent" if getattr(pending.candidate, "instrument", None) else "Heard"
            if isinstance(pending.doubt, facts.CountNotSaid):
                came, way = "Scanned", "say affirm, or how many"
            said, unit = _candidate(pending.candidate)
            label = f"{came} for {_about(pending.candidate)}"
            return _Focus("question", label, f"{said}?", unit, (wording.why(pending), way))
        case events.ValueSent():
            label = f"From the {pending.instrument.name}. What is it of?"
            unit = wording.symbol(pending.unit) if pending.unit else ""
            names = (*pending.readings, *pending.fasteners)
            way = "say its name, or disregard"
            return _Focus("question", label, f"{pending.value:f}", unit, (way,), choices=names)
        case events.SkipAsked():
            why = "waiting for part, already done, not fitted, tool not here, or note"
            return _Focus("question", "Skip this step: for what reason?", "Why?", notes=(why,))
        case events.NoteOpened():
            return _Focus("question", "Kept as sound until you pause", "Say your note")
        case events.CloseAsked():
            notes = (*_few(list(map(wording.left, pending.left))), "say affirm or negative")
            return _Focus("question", "The job is not complete", "Close?", notes=notes)
        case events.RevisionOffered():
            label = f"There is a newer text, revision {pending.revision}"
            return _Focus("question", label, "Go on with it?", notes=("say affirm or negative",))
        case events.ConcessionAsked():
            label = f"Concession: {wording.failure(pending.failed)}"
            return _Focus(
                "question", label, "Why?", notes=("say note and the reason, or disregard",)
            )
        case events.ReviewOpened():
            number = state.procedure.number(pending.of)
            notes = ("say the right value, affirm, or disregard",)
            return _Focus("question", f"What was recorded at step {number}", "Right?", notes=notes)
        case events.KitOpened():
            return _kit(state)


def _kit(state: State) -> _Focus:
    """Return the thing of the kit that is looked for, or what is short."""
    item = kit.present_item(state)
    if item is None:
        short = _few([f"{one.count} × {one.name}" for one in kit.short(state)])
        return _Focus("question", "Short in the kit", "Order?", notes=(*short, "say affirm"))
    amount = item.amount
    figure = wording.quantity(amount.value, amount.unit) if amount else f"{item.count} ×"
    notes = ("say affirm, negative, or one missing",)
    return _Focus("question", f"In the kit: {item.name}", figure, notes=notes)


def _candidate(of: events.Recordable) -> tuple[str, str]:
    match of:
        case events.TorqueRecorded() | events.ReadingRecorded():
            return f"{of.value:f}", wording.symbol(of.unit)
        case events.BagRecorded():
            return f"Bag {of.number}", ""
        case events.PartOrdered() | events.OrderMoved():
            return f"{of.count}", ""


def _about(of: events.Recordable) -> str:
    match of:
        case events.TorqueRecorded():
            return of.fastener
        case events.ReadingRecorded():
            return of.name
        case events.BagRecorded():
            return "the bag"
        case events.PartOrdered():
            return f"the order of {of.part}"
        case events.OrderMoved():
            return f"{of.part}, {of.state}"


def _asked(state: State, item: outstanding_work.Outstanding) -> _Focus:
    match item:
        case outstanding_work.GateToPass(step, number):
            notes = (f"say go to step {number}",)
            return _Focus("refused", f"To do first: {step.say}", f"Step {number}", notes=notes)
        case outstanding_work.FailureToSettle(failure, here):
            return _failing(failure, here)
        case outstanding_work.HazardsToHear():
            return _Focus("affirm", "Say affirm when you have heard", "Affirm?")
        case outstanding_work.StepBefore(step, number):
            return _Focus("refused", f"To do first: {step.say}", f"Step {number}")
        case outstanding_work.GroupToEnd():
            return _Focus("refused", "The group is not ended", "Group", notes=("say end group",))
        case outstanding_work.ConditionToAffirm(before):
            notes = ("say affirm or negative",)
            return _Focus("affirm", before.affirm or "", "Affirm?", notes=notes)
        case outstanding_work.QuestionToAnswer(step) if step.question:
            choices = tuple(answer.say for answer in step.question.answers)
            return _Focus("question", step.question.say, "", choices=choices)
        case outstanding_work.PartsLacking():
            label = wording.outstanding(remaining.item(item))
            return _Focus("refused", label, "Part", notes=("say order, or received",))
        case outstanding_work.ReadingToTake(reading):
            limits = reading.limits
            figure = wording.limits(limits) or "?"
            return _Focus("reading", f"Reading: {reading.name}", *_split(figure, reading.unit))
        case outstanding_work.TorqueToRecord(target):
            return _torque(state, target)
        case outstanding_work.BagToRecord(number):
            return _Focus("bag", "What came off goes into", f"Bag {number}")
        case outstanding_work.TimeToPass(purpose, seconds, due, _):
            if due is None:
                length = wording.duration(seconds)
                return _Focus("wait", purpose, length, notes=("not started: say start timer",))
            return _Focus("wait", purpose, "", due=ms(due))
        case outstanding_work.SecondCheckToMake(done_by):
            label = wording.upper_first(wording.outstanding(remaining.item(item)))
            way = "sign on, and say second check" if done_by else "say step done when it is"
            return _Focus("question", label, "Check", notes=(way,))
    raise TypeError(f"nothing to show for {item!r}")


def _failing(of: Nonconformity, here: bool) -> _Focus:
    """Return a result that holds this step, with by how much it fails and the ways out."""
    told = nonconformities.failed(of)
    label = wording.upper_first(wording.failure(told))
    if told.again is not None:
        notes = (f"say go to step {told.again.number}",)
        return _Focus("refused", label, "Failed", notes=notes)
    concession = {
        "anyone": ", or concession",
        "listed": ", or concession by somebody on the list",
        "none": "; it takes no concession",
    }[of.may_concede]
    measured = told.parts is None and of.ref.kind not in ("fitted part", "choice")
    ways = f"say {'retest, or ' if measured else ''}rework and the step{concession}"
    where = () if here else (f"at step {of.number}: say go to step {of.number}",)
    gap = wording.beyond(told)
    notes = (*((gap,) if gap else ()), *where, ways)
    return _Focus("refused", label, "Fails", notes=notes)


def _split(figure: str, unit: str) -> tuple[str, str]:
    """Take the unit off the end of a figure, to be shown smaller."""
    symbol = wording.symbol(unit)
    return figure.removesuffix(f" {symbol}"), symbol


def _torque(state: State, target: job_state.Target) -> _Focus:
    tighten = target.tighten
    turned = target.unit == "°"
    locker = wording.locker(tighten)
    if tighten.locker is not None and tighten.locker.note:
        locker += f", {tighten.locker.note}"
    notes = [*([locker] if locker else []), *_joint_notes(tighten)]
    if target.stages > 1:
        around = ", once round" if target.around else ""
        notes.insert(0, f"pass {target.stage} of {target.stages}{around}")
    label = f"{state.count_of(tighten.fastener)} × {tighten.fastener}"
    return _Focus(
        "torque",
        f"{label}, turn" if turned else label,
        f"{target.value:f}°" if turned else f"{target.value:f}",
        "" if turned else wording.symbol(target.unit),
        tuple(notes),
        locker=locker if tighten.locker else "",
    )
