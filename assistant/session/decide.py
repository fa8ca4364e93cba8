"""What each intent does in each state: the conversation's rules, without any I/O.

`decide(state, intent, now)` gives the events to record and the replies to speak, in that order.
It reads no clock and opens no file. `TABLE` at the end is the whole of it on one page: for each
mode, what each kind of intent does.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import Any, TypeVar

from assistant.errors import AssistantError
from assistant.language import wording as say
from assistant.procedure.model import Limits, Procedure, Step
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import state as st
from assistant.session.state import Mode, State
from assistant.trade import measure, units

E = TypeVar("E", bound=ev.Base)


class Tone(StrEnum):
    """What kind of reply it is, for an earcon or a display beside the words."""

    INFORM = "inform"
    RECORDED = "recorded"
    QUESTION = "question"
    REFUSED = "refused"
    ALERT = "alert"


@dataclass(frozen=True)
class Reply:
    """One thing to say."""

    text: str
    tone: Tone = Tone.INFORM


@dataclass(frozen=True)
class Decision:
    """What follows from an intent."""

    events: tuple[ev.Event, ...] = ()
    replies: tuple[Reply, ...] = ()
    say_again: bool = False
    """Repeat the last replies; the caller has them."""


class Turn:
    """One thing said, while its consequences are worked out: the events so far, the replies."""

    def __init__(self, state: State, now: datetime) -> None:
        self.state = state
        self.now = now
        self.number = state.turn + 1
        self.events: list[ev.Event] = []
        self.replies: list[Reply] = []
        self.again = False

    def record(self, kind: type[E], **fields: Any) -> E:
        """Add an event of the present step, and go on from the state that it leads to."""
        step = fields.pop("step", self.state.step_id)
        event = kind(at=self.now, turn=self.number, step=step, **fields)
        self.add(event)
        return event

    def add(self, event: Any) -> None:
        """Add an event that is ready."""
        self.events.append(event)
        self.state = st.apply(self.state, event)

    def say(self, text: str, tone: Tone = Tone.INFORM) -> None:
        """Add a reply."""
        self.replies.append(Reply(text, tone))

    def outstanding(self) -> tuple[st.Outstanding, ...]:
        """Return what is outstanding at the present step."""
        return st.outstanding(self.state, self.now)

    def decision(self) -> Decision:
        """Return what came of it."""
        return Decision(tuple(self.events), tuple(self.replies), self.again)


Handler = Callable[[Turn, Any], None]


def decide(state: State, intent: it.Intent, now: datetime) -> Decision:
    """Decide what an intent leads to in a state. `now` is local time, with its offset."""
    turn = Turn(state, now)
    TABLE[state.mode][type(intent)](turn, intent)
    return turn.decision()


def open_job(
    procedure: Procedure,
    source: str,
    now: datetime,
    *,
    unit: str | None = None,
    remark: str | None = None,
) -> Decision:
    """Decide what opening a job leads to. `source` is the procedure's text, kept with the job."""
    turn = Turn(st.start(procedure), now)
    turn.record(
        ev.JobOpened,
        procedure=procedure.procedure,
        title=procedure.title,
        revision=procedure.revision,
        sample=procedure.sample,
        source=source,
        unit=unit,
        remark=remark,
    )
    number = say.count(len(procedure.steps))
    turn.say(say.sentence(f"{procedure.title}, {number} steps"))
    if procedure.sample:
        turn.say("This is an invented sample. Do not work from it.", Tone.ALERT)
    turn.say(
        "The maker's current data, local codes and licensed practice come before what I read out."
    )
    for hazard in procedure.hazards:
        turn.say(say.hazard(hazard.signal.value, hazard.say), Tone.ALERT)
    _enter(turn, turn.state.route()[0])
    return turn.decision()


def take_up(state: State, now: datetime, stopped: datetime) -> Decision:
    """Decide what going on with a job leads to; `stopped` is the time of its last event."""
    turn = Turn(state, now)
    turn.record(ev.JobTakenUp)
    ago = say.duration((now - stopped).total_seconds())
    turn.say(say.sentence(f"{state.procedure.title}. Work stopped {ago} ago"))
    if state.procedure.sample:
        turn.say("This is an invented sample. Do not work from it.", Tone.ALERT)
    _where(turn, it.WhereAreWe())
    if turn.state.pending is not None:
        _ask_pending(turn, None)
    return turn.decision()


# Moving


def _enter(turn: Turn, step: Step) -> None:
    turn.record(ev.StepEntered, step=step.id, came_from=turn.state.step_id)
    _present(turn)


def _present(turn: Turn) -> None:
    """Say the step, or what has to be heard and affirmed before it may be said."""
    step = turn.state.step
    heading = f"Step {say.count(turn.state.number)}"
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, st.HazardsToHear):
        turn.say(f"{heading}.")
        _say_hazards(turn)
        turn.say("Affirm that you heard.", Tone.QUESTION)
        return
    if isinstance(first, st.StepBefore):
        turn.say(say.sentence(f"{heading} has to wait: {say.outstanding(first)}"), Tone.REFUSED)
        return
    if isinstance(first, st.ConditionToAffirm):
        turn.say(say.sentence(f"Before {heading.lower()}: {first.before.affirm}"))
        turn.say("Affirm or negative?", Tone.QUESTION)
        return
    turn.say(say.step_heading(turn.state.number, step))
    if step.id in turn.state.done:
        turn.say("This step is done.")
    elif step.id in turn.state.skipped:
        turn.say(say.sentence(f"This step was skipped, {turn.state.skipped[step.id]}"))
    if not any(h.signal.must_be_affirmed for h in step.hazards):
        _say_hazards(turn)
    for sentence in say.briefing(turn.state.procedure, step, turn.state.answers):
        turn.say(sentence)


def _say_hazards(turn: Turn) -> None:
    for hazard in turn.state.step.hazards:
        turn.say(say.hazard(hazard.signal.value, hazard.say), Tone.ALERT)


def _say_outstanding(turn: Turn, items: tuple[st.Outstanding, ...]) -> None:
    words = say.listing(say.outstanding(item).rstrip(".") for item in items)
    turn.say(say.sentence(f"Outstanding: {words}"), Tone.REFUSED)
    turn.say(f"We stay at step {say.count(turn.state.number)}.", Tone.REFUSED)


def _next(turn: Turn, intent: it.Next) -> None:
    step = turn.state.step
    if step.id not in turn.state.skipped or turn.state.of_step(ev.StepDone):
        items = turn.outstanding()
        if items and step.id not in turn.state.done:
            _say_outstanding(turn, items)
            return
        if step.id not in turn.state.done:
            turn.record(ev.StepDone)
    _onward(turn)


def _onward(turn: Turn) -> None:
    here = turn.state.procedure.index(turn.state.step.id)
    for step in turn.state.route():
        if turn.state.procedure.index(step.id) > here:
            before = turn.state.procedure.stage_of(turn.state.step.id)
            stage = turn.state.procedure.stage_of(step.id)
            if stage is not before:
                turn.say(say.sentence(stage.name))
            _enter(turn, step)
            return
    turn.say("That was the last step.")
    left = _left(turn.state)
    if left:
        turn.say(say.sentence(f"Still open: {say.listing(left)}"))
    turn.say("Say close job to close it.")


def _previous(turn: Turn, intent: it.Previous) -> None:
    here = turn.state.procedure.index(turn.state.step.id)
    earlier = [s for s in turn.state.route() if turn.state.procedure.index(s.id) < here]
    if not earlier:
        turn.say("This is the first step.", Tone.REFUSED)
        return
    _enter(turn, earlier[-1])


def _go_to(turn: Turn, intent: it.GoTo) -> None:
    steps = turn.state.procedure.steps
    if not 1 <= intent.number <= len(steps):
        turn.say(f"There are {say.count(len(steps))} steps.", Tone.REFUSED)
        return
    step = steps[intent.number - 1]
    if step.id not in {s.id for s in turn.state.route()}:
        turn.say(
            f"Step {say.count(intent.number)} does not apply to this machine, "
            "or a question before it is still open.",
            Tone.REFUSED,
        )
        return
    here = turn.state.procedure.index(turn.state.step.id)
    forward = intent.number - 1 > here
    settled = turn.state.done | turn.state.skipped.keys()
    items = turn.outstanding()
    if forward and items and turn.state.step.id not in settled:
        _say_outstanding(turn, items)
        return
    missed = [
        s
        for s in turn.state.route()
        if here <= turn.state.procedure.index(s.id) < intent.number - 1 and s.id not in settled
    ]
    if forward and missed:
        steps_left = say.several(len(missed), "step")
        turn.say(say.sentence(f"{steps_left} before it {_is(len(missed))} not done"))
    _enter(turn, step)


def _is(number: int) -> str:
    return "is" if number == 1 else "are"


def _skip(turn: Turn, intent: it.Skip) -> None:
    if turn.state.step.id in turn.state.done:
        turn.say("This step is done already. Say next step.", Tone.REFUSED)
        return
    turn.record(ev.SkipAsked)
    _ask_reason(turn, intent)


def _ask_reason(turn: Turn, intent: it.Intent) -> None:
    turn.say(
        f"Skip step {say.count(turn.state.number)}. For what reason? "
        "Say waiting for part, already done, not fitted, tool not here, "
        "or note and your own words.",
        Tone.QUESTION,
    )


def _reason(turn: Turn, intent: it.Reason) -> None:
    _skip_for(turn, intent.text)


def _skip_for(turn: Turn, reason: str) -> None:
    words = tuple(say.outstanding(item) for item in turn.outstanding())
    turn.record(ev.StepSkipped, reason=reason, outstanding=words)
    turn.say(
        say.sentence(f"Step {say.count(turn.state.number)} skipped, {reason}. It is in the record"),
        Tone.RECORDED,
    )
    _onward(turn)


# Hearing


def _say_again(turn: Turn, intent: it.SayAgain) -> None:
    turn.again = True


_RECORDS = (
    ev.TorqueRecorded,
    ev.ReadingRecorded,
    ev.ValueWorkedOut,
    ev.PartChosen,
    ev.BagRecorded,
    ev.PartOrdered,
    ev.FindingRecorded,
    ev.NoteRecorded,
    ev.QuestionAnswered,
)


def _read_back(turn: Turn, intent: it.ReadBack) -> None:
    records = [e for e in turn.state.history if isinstance(e, _RECORDS)]
    here = [e for e in records if e.step == turn.state.step_id]
    if not here:
        turn.say(f"Nothing is recorded at step {say.count(turn.state.number)}.")
        return
    turn.say(f"Recorded at step {say.count(turn.state.number)}:")
    for event in here:
        turn.say(say.sentence(say.event(event)))


def _where(turn: Turn, intent: it.WhereAreWe) -> None:
    procedure = turn.state.procedure
    stage = procedure.stage_of(turn.state.step.id)
    turn.say(
        f"Step {say.count(turn.state.number)} of {say.count(len(procedure.steps))}, "
        f"{stage.name.lower()}. {say.sentence(turn.state.step.say)}"
    )
    if turn.state.step.id in turn.state.done:
        turn.say("This step is done.")
        return
    items = turn.outstanding()
    if items:
        words = say.listing(say.outstanding(item).rstrip(".") for item in items)
        turn.say(say.sentence(f"Outstanding: {words}"))
    else:
        turn.say("Nothing is outstanding here.")


def _what_is_left(turn: Turn, intent: it.WhatIsLeft) -> None:
    left = _left(turn.state)
    if not left:
        turn.say("Nothing is left. Say close job.")
        return
    for words in left:
        turn.say(say.sentence(words))


def _left(state: State) -> list[str]:
    """Word what keeps the job from being complete."""
    words = []
    undone = {s.id for s in state.route()} - state.done - state.skipped.keys()
    for stage in state.procedure.stages:
        number = sum(1 for s in stage.steps if s.id in undone)
        if number:
            words.append(f"{say.several(number, 'step')} of {stage.name.lower()} not done")
    for step_id, reason in state.skipped.items():
        number = state.procedure.index(step_id) + 1
        words.append(f"step {say.count(number)} skipped, {reason}")
    return words


def _help(turn: Turn, intent: it.Help) -> None:
    turn.say(_HELP[turn.state.mode])


_HELP = {
    Mode.WORKING: "Say next step, previous step, skip step, say again, read back, where are we, "
    "what is left. Ask what torque, what thread locker, what tool, what parts, which bag, "
    "what size. Tell me tightened one four, reading two four point nine, bag three, "
    "order two drain plugs, a part and its condition, or note. "
    "To mend: correction, or disregard.",
    Mode.QUESTIONING: "Say affirm, negative, or correction and the value.",
    Mode.SKIPPING: "Say a reason, such as waiting for part, already done or not fitted; "
    "note and your own words; or disregard.",
    Mode.NOTING: "Say your note; it ends when you pause.",
    Mode.CLOSING: "Say affirm or negative.",
    Mode.STANDING_BY: "Say resume.",
    Mode.CLOSED: "The job is closed.",
}


# Asking


def _ask(turn: Turn, intent: it.Ask) -> None:
    step, answers = turn.state.step, turn.state.answers
    tightens = [t for t in step.tighten if t.applies(answers)]
    fasteners = [f for f in step.fasteners if f.applies(answers)]
    fits = [f for f in step.fit if f.applies(answers)]
    removes = [r for r in step.remove if r.applies(answers)]
    procedure = turn.state.procedure
    said: list[str] = []
    match intent.topic:
        case it.Topic.TORQUE:
            said = [f"{t.fastener}, {_torque_in(t, intent.unit)}" for t in tightens]
            missing = "no torque"
        case it.Topic.LOCKER:
            said = [f"{t.fastener}, {say.locker(t)}" for t in tightens]
            missing = "no thread locker"
        case it.Topic.TOOL:
            said = list(step.tools)
            missing = "no special tool"
        case it.Topic.PARTS:
            said = [say.fit(procedure, f) for f in fits]
            for remove in removes:
                away = ", to be thrown away" if remove.discard else ""
                said.append(f"{say.parts(procedure, remove.part, remove.count)}, to come off{away}")
            missing = "no parts"
        case it.Topic.BAG:
            if step.bag:
                said.append(f"into bag {say.count(step.bag)}")
            if step.from_bag:
                said.append(f"from bag {say.count(step.from_bag)}")
            missing = "no bag"
        case it.Topic.COUNT:
            said = [say.number_of_fasteners(f) for f in fasteners]
            said += [say.parts(procedure, f.part, f.count) for f in (*fits, *removes)]
            missing = "nothing to count"
        case it.Topic.HAZARD:
            said = [say.hazard(h.signal.value, h.say) for h in step.hazards]
            missing = "no caution of its own. The usual care applies"
        case it.Topic.SIZE:
            said = [say.fastener(f) for f in fasteners]
            missing = "no fastener"
        case it.Topic.LIMITS:
            said = [f"{r.name}, {say.limits(r.limits)}" for r in turn.state.readings()]
            missing = "no reading"
        case it.Topic.ORDER:
            said = [f"{t.fastener}, {say.order(t)}" for t in tightens]
            missing = "no order"
        case it.Topic.HOW:
            said = [f"{f.part}, {f.how}" for f in fits if f.how]
            missing = "nothing about which way round"
        case it.Topic.DETAIL:
            said = [step.detail] if step.detail else []
            missing = "no more detail"
    if not said:
        turn.say(f"Step {say.count(turn.state.number)} has {missing}.")
    for words in said:
        turn.say(say.sentence(words))


def _torque_in(tighten: Any, unit: str | None) -> str:
    if unit is None or unit == tighten.torque.unit:
        return say.passes(tighten)
    torque = tighten.torque
    value = units.convert(float(torque.value), torque.unit, unit)
    # Three figures: as fine as a wrench's scale is read, and no finer than it is worth.
    places = 0 if value >= 100 else 1
    rounded = Decimal(f"{value:.{places}f}")
    return f"{say.quantity(rounded, unit)}, which is {say.amount(torque)}"


# Recording


def _refuse_before_hazards(turn: Turn) -> bool:
    """Refuse to record work on a step whose hazards and conditions were not affirmed."""
    items = turn.outstanding()
    if turn.state.step.id in turn.state.done or not items:
        return False
    if isinstance(items[0], st.HazardsToHear | st.StepBefore | st.ConditionToAffirm):
        turn.say("First things first.", Tone.REFUSED)
        _present(turn)
        return True
    return False


def _tightened(turn: Turn, intent: it.Tightened, first: str | None = None) -> None:
    if _refuse_before_hazards(turn):
        return
    targets = turn.state.targets()
    if not targets:
        turn.say(
            f"Step {say.count(turn.state.number)} asks for no torque. Nothing recorded.",
            Tone.REFUSED,
        )
        return
    open_ones = [i.target for i in turn.outstanding() if isinstance(i, st.TorqueToRecord)]
    if intent.fastener:
        open_ones = [t for t in open_ones if t.tighten.fastener == intent.fastener]
    if not open_ones:
        turn.say(
            "Every torque asked for here is recorded. To change the last, say correction.",
            Tone.REFUSED,
        )
        return
    target = open_ones[0]
    unit = intent.unit or target.unit
    if intent.slip is not None:
        first = say.quantity(intent.slip, intent.unit)
    kind_fits = units.same_dimension(unit, target.unit)
    within = kind_fits and _near(intent.value, unit, target)
    event = ev.TorqueRecorded(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        fastener=target.tighten.fastener,
        stage=target.stage,
        stages=target.stages,
        value=intent.value,
        unit=unit,
        asked=target.value,
        asked_unit=target.unit,
        within=within,
        first_heard=first,
    )
    if within:
        turn.add(event)
        turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)
        _say_what_next(turn)
        return
    _question(
        turn,
        event,
        say.quantity(intent.value, intent.unit),
        f"The step says {say.quantity(target.value, target.unit)}.",
        kind_fits,
    )


def _near(value: Decimal, unit: str, target: st.Target) -> bool:
    asked = float(target.value)
    converted = units.convert(float(value), unit, target.unit)
    # A hair's breadth for the rounding of a conversion, so that the tolerance itself is within.
    return abs(converted - asked) <= asked * float(target.tighten.tolerance) / 100 + 1e-9


def _question(turn: Turn, candidate: Any, said: str, why: str, may_affirm: bool = True) -> None:
    turn.record(ev.ValueQuestioned, candidate=candidate, said=said, why=why, may_affirm=may_affirm)
    _ask_pending(turn, None)


def _say_what_next(turn: Turn) -> None:
    items = turn.outstanding()
    if not items:
        turn.say("Nothing more here. Say next step when ready.")
        return
    item = items[0]
    if isinstance(item, st.TorqueToRecord):
        turn.say(say.sentence(f"Next, {say.target(item.target)}"))
    else:
        turn.say(say.sentence(f"Next, {say.outstanding(item)}"))


def _reading(turn: Turn, intent: it.Reading, first: str | None = None) -> None:
    if _refuse_before_hazards(turn):
        return
    readings = turn.state.readings()
    if not readings:
        turn.say(
            f"Step {say.count(turn.state.number)} asks for no reading. Say note to keep it.",
            Tone.REFUSED,
        )
        return
    open_ones = [i.reading for i in turn.outstanding() if isinstance(i, st.ReadingToTake)]
    if intent.name:
        open_ones = [r for r in open_ones if r.name == intent.name]
    if not open_ones:
        turn.say(
            "Every reading asked for here is recorded. To change the last, say correction.",
            Tone.REFUSED,
        )
        return
    reading = open_ones[0]
    unit = intent.unit or reading.unit
    if intent.slip is not None:
        first = say.quantity(intent.slip, intent.unit)
    kind_fits = units.same_dimension(unit, reading.unit)
    limited = reading.limits.least or reading.limits.most
    within = _within(intent.value, unit, reading.limits) if kind_fits and limited else None
    plausible = kind_fits and _within(intent.value, unit, reading.plausible)
    event = ev.ReadingRecorded(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        name=reading.name,
        value=intent.value,
        unit=unit,
        limits=say.limits(reading.limits) if limited else None,
        within=within,
        first_heard=first,
    )
    said = say.quantity(intent.value, intent.unit)
    if not kind_fits:
        _question(turn, event, said, f"The step asks for {_plural(reading.unit)}.", False)
    elif not plausible:
        _question(
            turn, event, said, f"I would expect {say.limits(reading.plausible)} for {reading.name}."
        )
    elif within is False:
        _question(
            turn, event, said, f"The limits of {reading.name} are {say.limits(reading.limits)}."
        )
    else:
        turn.add(event)
        _after_reading(turn, event)


def _plural(unit: str) -> str:
    return say.quantity(Decimal(2), unit).removeprefix("two ")


def _within(value: Decimal, unit: str, limits: Limits) -> bool:
    for limit, sign in ((limits.least, 1), (limits.most, -1)):
        if limit is None:
            continue
        if unit == limit.unit:
            beyond = (value - limit.value) * sign < 0
        else:
            converted = units.convert(float(value), unit, limit.unit)
            beyond = (converted - float(limit.value)) * sign < -1e-9
        if beyond:
            return False
    return True


def _after_reading(turn: Turn, event: ev.ReadingRecorded) -> None:
    turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)
    _work_out(turn)
    _say_what_next(turn)


def _work_out(turn: Turn) -> None:
    """Record the values and the choice that now follow from the readings."""
    step = turn.state.step
    for derived in step.derived:
        known = turn.state.values()
        names = [name.replace("_", " ") for name in measure.names_in(derived.formula)]
        if derived.name in known or not derived.applies(turn.state.answers):
            continue
        if any(name not in known for name in names if not _is_unit(name)):
            continue
        try:
            result = measure.evaluate(
                derived.formula,
                {
                    name: units.quantity(float(known[name][0]), known[name][1])
                    for name in names
                    if name in known
                },
            )
            number = units.express(result, derived.unit)
        except AssistantError as error:
            turn.say(f"{derived.name} cannot be worked out: {error}", Tone.REFUSED)
            continue
        value = Decimal(f"{number:.4f}").normalize() + 0
        limited = derived.limits.least or derived.limits.most
        within = _within(value, derived.unit, derived.limits) if limited else None
        worked = turn.record(
            ev.ValueWorkedOut,
            name=derived.name,
            value=value,
            unit=derived.unit,
            limits=say.limits(derived.limits) if limited else None,
            within=within,
        )
        turn.say(say.sentence(say.event(worked)), Tone.ALERT if within is False else Tone.INFORM)
    known = turn.state.values()
    if step.choice and step.choice.of in known and not turn.state.of_step(ev.PartChosen):
        value, unit = known[step.choice.of]
        for row in step.choice.rows:
            over = row.over is None or not _within(value, unit, Limits(most=row.over))
            if over and _within(value, unit, Limits(most=row.up_to)):
                chosen = turn.record(
                    ev.PartChosen,
                    part=row.part,
                    by_value=f"{step.choice.of} {value} {unit}",
                    note=row.note,
                )
                turn.say(say.sentence(say.event(chosen)))
                return
        turn.say(
            say.sentence(f"No part is given for {step.choice.of} {say.quantity(value, unit)}"),
            Tone.ALERT,
        )


def _is_unit(name: str) -> bool:
    try:
        units.canonical(name)
    except AssistantError:
        return False
    return True


def _bag(turn: Turn, intent: it.Bag, first: str | None = None) -> None:
    step = turn.state.step
    if step.bag is None and step.from_bag is None:
        turn.say(f"Step {say.count(turn.state.number)} has no bag.", Tone.REFUSED)
        return
    if step.bag is None:
        right = intent.number == step.from_bag
        held = _held(turn.state, intent.number)
        turn.say(
            f"Bag {say.count(intent.number)} is {'right' if right else 'not the one'}"
            + (f": {held}." if held else ".")
            + ("" if right else f" This step takes bag {say.count(step.from_bag or 0)}."),
            Tone.INFORM if right else Tone.ALERT,
        )
        return
    taken = {e.number: e.step for e in turn.state.of_job(ev.BagRecorded) if e.step != step.id}
    if turn.state.of_step(ev.BagRecorded):
        turn.say("The bag is recorded. To change it, say correction.", Tone.REFUSED)
        return
    fits = intent.number == step.bag
    things = [
        say.parts(turn.state.procedure, r.part, r.count) for r in step.remove if not r.discard
    ]
    things += [say.number_of_fasteners(f) for f in step.fasteners]
    event = ev.BagRecorded(
        at=turn.now,
        turn=turn.number,
        step=step.id,
        number=intent.number,
        asked=step.bag,
        within=fits,
        contents=say.listing(things) or None,
        first_heard=first,
    )
    if fits:
        turn.add(event)
        turn.say(f"Bag {say.count(intent.number)}. Recorded.", Tone.RECORDED)
        _say_what_next(turn)
        return
    used = f" Bag {say.count(intent.number)} is in use." if intent.number in taken else ""
    _question(
        turn,
        event,
        f"bag {say.count(intent.number)}",
        f"The step says bag {say.count(step.bag)}.{used}",
    )


def _held(state: State, number: int) -> str:
    for event in state.of_job(ev.BagRecorded):
        if event.number == number and event.contents:
            return event.contents
    return ""


def _order(turn: Turn, intent: it.Order, first: str | None = None) -> None:
    part = turn.state.procedure.part(intent.part)
    if part is None:
        turn.say(
            f"{intent.part} is not in this procedure's list of parts. Say note to keep it.",
            Tone.REFUSED,
        )
        return
    event = ev.PartOrdered(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        part=part.name if intent.count == 1 else part.plural_name,
        count=intent.count,
        part_number=part.number,
        first_heard=first,
    )
    # A box of sealing washers is ordinary; twenty gear wheels are a misheard two.
    if intent.count > max(2 * part.count, 4):
        holds = say.several(part.count, part.name, part.plural_name)
        _question(
            turn,
            event,
            f"{say.count(intent.count)} {part.plural_name}",
            f"The assembly holds {holds}.",
        )
        return
    turn.add(event)
    turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)


def _chosen(turn: Turn, intent: it.Chosen) -> None:
    question = turn.state.step.question
    if question is None:
        turn.say(f"Step {say.count(turn.state.number)} asks nothing.", Tone.REFUSED)
        return
    if _refuse_before_hazards(turn):
        return
    for answer in question.answers:
        if intent.answer == answer.say or intent.answer in answer.also:
            break
    else:
        turn.say(say.question(turn.state.step), Tone.QUESTION)
        return
    if question.name in turn.state.answers:
        given = turn.state.answers[question.name]
        turn.say(
            f"Answered already: {given}. To change it, say correction {answer.say}.", Tone.REFUSED
        )
        return
    turn.record(ev.QuestionAnswered, question=question.name, answer=answer.say)
    said = answer.then or ""
    if not said.lower().startswith(answer.say):
        said = f"{say.sentence(answer.say)} {said}"
    turn.say(f"{say.sentence(said)} Recorded.", Tone.RECORDED)
    _say_what_next(turn)


def _affirm(turn: Turn, intent: it.Affirm) -> None:
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, st.HazardsToHear):
        turn.record(
            ev.HazardsHeard,
            hazards=tuple(f"{h.signal.value}: {h.say}" for h in first.hazards),
        )
        _present(turn)
    elif isinstance(first, st.ConditionToAffirm):
        turn.record(ev.ConditionAffirmed, condition=first.before.affirm)
        _present(turn)
    else:
        turn.say("There is nothing to affirm.", Tone.REFUSED)


def _negative(turn: Turn, intent: it.Negative) -> None:
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, st.HazardsToHear):
        _present(turn)
    elif isinstance(first, st.ConditionToAffirm):
        turn.say(
            f"Then see to it first. We stay at step {say.count(turn.state.number)}.", Tone.REFUSED
        )
    else:
        turn.say("I asked nothing. To take back the last thing, say disregard.", Tone.REFUSED)


def _finding(turn: Turn, intent: it.Finding) -> None:
    event = turn.record(
        ev.FindingRecorded, part=intent.part, condition=intent.condition, place=intent.place
    )
    turn.say(say.sentence(f"{say.event(event)}. Recorded"), Tone.RECORDED)


def _note(turn: Turn, intent: it.Note) -> None:
    if intent.text is None and not intent.clipped:
        turn.record(ev.NoteOpened)
        turn.say("Go ahead.", Tone.QUESTION)
        return
    turn.record(ev.NoteRecorded, text=intent.text)
    turn.say("Note kept.", Tone.RECORDED)


# Mending

_WITHDRAWABLE = (
    *_RECORDS,
    ev.StepEntered,
    ev.StepDone,
    ev.StepSkipped,
    ev.HazardsHeard,
    ev.ConditionAffirmed,
    ev.TimerStarted,
)


def _disregard(turn: Turn, intent: it.Disregard) -> None:
    opening = {e.turn for e in turn.state.history if isinstance(e, ev.JobOpened)}
    last = next(
        (
            e.turn
            for e in reversed(turn.state.history)
            if isinstance(e, _WITHDRAWABLE) and e.turn not in opening
        ),
        None,
    )
    if last is None:
        turn.say("There is nothing to disregard.", Tone.REFUSED)
        return
    was = turn.state.step_id
    what = _withdraw(turn, last)
    turn.say(say.sentence(f"Disregarded: {what}"), Tone.RECORDED)
    if turn.state.step_id != was:
        turn.say(f"Back at step {say.count(turn.state.number)}.")
    else:
        _say_what_next(turn)


def _withdraw(turn: Turn, number: int, corrected: bool = False) -> str:
    events = [e for e in turn.state.history if e.turn == number and isinstance(e, _WITHDRAWABLE)]
    moves = [e for e in events if isinstance(e, ev.StepEntered)]
    shown = [e for e in events if isinstance(e, (*_RECORDS, ev.StepSkipped))]
    if shown:
        what = say.event(shown[0])
    elif moves:
        index = turn.state.procedure.index(moves[0].step or "")
        what = f"going to step {say.count(index + 1)}"
    else:
        what = say.event(events[0])
    turn.record(ev.Withdrawn, withdrew=number, what=what, corrected=corrected)
    return what


_CORRECTABLE: dict[type[it.Intent], type[ev.Base]] = {
    it.Tightened: ev.TorqueRecorded,
    it.Reading: ev.ReadingRecorded,
    it.Bag: ev.BagRecorded,
    it.Order: ev.PartOrdered,
    it.Finding: ev.FindingRecorded,
    it.Chosen: ev.QuestionAnswered,
}


def _correct(turn: Turn, intent: it.Correction) -> None:
    instead = intent.instead
    kinds: tuple[type[ev.Base], ...]
    if isinstance(instead, it.Value):
        kinds = (ev.TorqueRecorded, ev.ReadingRecorded, ev.BagRecorded, ev.PartOrdered)
    else:
        kinds = (_CORRECTABLE[type(instead)],)
    wrong = next(
        (
            e
            for e in reversed(turn.state.history)
            if isinstance(e, kinds) and e.step == turn.state.step_id
        ),
        None,
    )
    if wrong is None:
        turn.say("There is nothing at this step to correct.", Tone.REFUSED)
        return
    first = _said(wrong)
    if isinstance(instead, it.Value):
        meant = _as_intent(wrong, instead)
        if meant is None:
            turn.say("Say correction, and the whole of it.", Tone.REFUSED)
            return
        instead = meant
    what = _withdraw(turn, wrong.turn, corrected=True)
    turn.say(say.sentence(f"Correction. Was: {what}"))
    match instead:
        case it.Tightened():
            # The pass that is corrected, not the next one that is open.
            assert isinstance(wrong, ev.TorqueRecorded)
            named = it.Tightened(instead.value, instead.unit, wrong.fastener, instead.slip)
            _tightened(turn, named, first)
        case it.Reading():
            assert isinstance(wrong, ev.ReadingRecorded)
            _reading(turn, it.Reading(instead.value, instead.unit, wrong.name, instead.slip), first)
        case it.Bag():
            _bag(turn, instead, first)
        case it.Order():
            _order(turn, instead, first)
        case it.Finding():
            _finding(turn, instead)
        case it.Chosen():
            _chosen(turn, instead)


def _said(event: ev.Base) -> str | None:
    """Word the value of a record, to be kept beside what replaces it."""
    match event:
        case ev.TorqueRecorded() | ev.ReadingRecorded():
            return say.quantity(event.value, event.unit)
        case ev.BagRecorded():
            return f"bag {say.count(event.number)}"
        case ev.PartOrdered():
            return f"{say.count(event.count)} {event.part}"
        case _:
            return None


def _as_intent(event: Any, value: it.Value) -> it.Intent | None:
    """Read a bare number as the same kind of thing as the event."""
    whole = value.value == value.value.to_integral_value() and value.unit is None
    match event:
        case ev.TorqueRecorded():
            return it.Tightened(value.value, value.unit, event.fastener)
        case ev.ReadingRecorded():
            return it.Reading(value.value, value.unit, event.name)
        case ev.BagRecorded() if whole:
            return it.Bag(int(value.value))
        case ev.PartOrdered() if whole and value.value > 0:
            return it.Order(event.part, int(value.value))
        case _:
            return None


# A value that did not fit


def _ask_pending(turn: Turn, intent: it.Intent | None) -> None:
    """Ask again what the session waits for."""
    match turn.state.pending:
        case ev.ValueQuestioned() as asked:
            way = "Affirm, or say correction." if asked.may_affirm else "Say correction."
            turn.say(f"I heard {asked.said}. {asked.why} {way}", Tone.QUESTION)
        case ev.SkipAsked():
            _ask_reason(turn, it.Skip())
        case ev.NoteOpened():
            turn.say("Say your note.", Tone.QUESTION)
        case ev.CloseAsked() as asked:
            turn.say(
                say.sentence(f"Not complete: {say.listing(asked.left)}. Close all the same?"),
                Tone.QUESTION,
            )


def _affirm_value(turn: Turn, intent: it.Affirm) -> None:
    asked = turn.state.pending
    assert isinstance(asked, ev.ValueQuestioned)
    if not asked.may_affirm:
        turn.say("That cannot be right.", Tone.REFUSED)
        _ask_pending(turn, None)
        return
    event = asked.candidate.model_copy(update={"at": turn.now, "turn": turn.number})
    turn.add(event)
    if isinstance(event, ev.ReadingRecorded):
        _after_reading(turn, event)
        return
    turn.say(say.sentence(f"{say.event(event)}. Recorded as you affirm"), Tone.RECORDED)
    _say_what_next(turn)


def _drop_value(turn: Turn, intent: it.Intent) -> None:
    asked = turn.state.pending
    assert isinstance(asked, ev.ValueQuestioned)
    turn.record(ev.QuestionDropped, what=asked.said)
    turn.say("Nothing recorded. Say it again when ready.")


def _restate(turn: Turn, intent: it.Intent) -> None:
    """Take what was said in answer to a questioned value in its place."""
    asked = turn.state.pending
    assert isinstance(asked, ev.ValueQuestioned)
    instead = intent.instead if isinstance(intent, it.Correction) else intent
    if isinstance(instead, it.Value):
        meant = _as_intent(asked.candidate, instead)
        if meant is None:
            turn.say("I need a whole number.", Tone.REFUSED)
            _ask_pending(turn, None)
            return
        instead = meant
    if _CORRECTABLE.get(type(instead)) is not type(asked.candidate):
        turn.say("That is another kind of thing.", Tone.REFUSED)
        _ask_pending(turn, None)
        return
    first = asked.candidate.first_heard or asked.said
    candidate = asked.candidate
    match instead:
        case it.Tightened() if isinstance(candidate, ev.TorqueRecorded):
            named = it.Tightened(instead.value, instead.unit, candidate.fastener)
            _tightened(turn, named, first)
        case it.Reading() if isinstance(candidate, ev.ReadingRecorded):
            _reading(turn, it.Reading(instead.value, instead.unit, candidate.name), first)
        case it.Bag():
            _bag(turn, instead, first)
        case it.Order():
            _order(turn, instead, first)


# Skipping, noting, closing


def _drop_skip(turn: Turn, intent: it.Intent) -> None:
    turn.record(ev.QuestionDropped, what="skipping the step")
    turn.say(f"Not skipped. We stay at step {say.count(turn.state.number)}.")


def _note_as_reason(turn: Turn, intent: it.Note) -> None:
    if intent.text is None and not intent.clipped:
        turn.record(ev.NoteOpened, as_reason=True)
        turn.say("Go ahead.", Tone.QUESTION)
        return
    _skip_for(turn, intent.text or "as spoken in the clip")


def _take_note(turn: Turn, intent: it.Note) -> None:
    opened = turn.state.pending
    assert isinstance(opened, ev.NoteOpened)
    if intent.text is None and not intent.clipped:
        _ask_pending(turn, None)
    elif opened.as_reason:
        _skip_for(turn, intent.text or "as spoken in the clip")
    else:
        _note(turn, intent)


def _drop_note(turn: Turn, intent: it.Disregard) -> None:
    turn.record(ev.QuestionDropped, what="the note")
    turn.say("No note kept.")


def _close(turn: Turn, intent: it.CloseJob) -> None:
    here = turn.state.step.id
    settled = turn.state.done | turn.state.skipped.keys()
    if here not in settled and not turn.outstanding() and turn.state.route()[-1].id == here:
        turn.record(ev.StepDone)
    left = _left(turn.state)
    if left:
        turn.record(ev.CloseAsked, left=tuple(left))
        _ask_pending(turn, None)
        return
    _say_closed(turn, ())


def _say_closed(turn: Turn, left: tuple[str, ...]) -> None:
    turn.record(ev.JobClosed, left=left)
    orders = turn.state.of_job(ev.PartOrdered)
    if orders:
        turn.say(say.sentence(f"On order: {say.listing(say.event(e)[6:] for e in orders)}"))
    turn.say("Job closed.", Tone.RECORDED)


def _close_all_the_same(turn: Turn, intent: it.Affirm) -> None:
    asked = turn.state.pending
    assert isinstance(asked, ev.CloseAsked)
    _say_closed(turn, asked.left)


def _stay_open(turn: Turn, intent: it.Intent) -> None:
    turn.record(ev.QuestionDropped, what="closing the job")
    turn.say("The job stays open.")


# Time


def _start_timer(turn: Turn, intent: it.StartTimer) -> None:
    wait = next((i for i in turn.outstanding() if isinstance(i, st.TimeToPass)), None)
    for_wait = wait is not None and wait.due is None
    if intent.seconds is None:
        if wait is None:
            turn.say("For how long? Say start timer ten minutes.", Tone.QUESTION)
            return
        if wait.due is not None:
            _time_left(turn, it.TimeLeft())
            return
        seconds = wait.seconds
    else:
        seconds = intent.seconds
        # A shorter timer is a timer, and does not stand for the time that the step asks for.
        for_wait = for_wait and wait is not None and seconds >= wait.seconds
    name = wait.purpose if wait is not None and for_wait else "timer"
    event = turn.record(ev.TimerStarted, name=name, seconds=seconds, for_wait=for_wait)
    due = turn.now + timedelta(seconds=seconds)
    turn.say(
        say.sentence(f"{name}, {say.duration(event.seconds)}, started. Due at {_clock(due)}"),
        Tone.RECORDED,
    )


def _clock(at: datetime) -> str:
    minutes = f"{say.digits(at.minute)}" if at.minute > 9 else f"zero {say.digits(at.minute)}"
    hours = say.digits(at.hour) if at.hour > 9 else f"zero {say.digits(at.hour)}"
    return f"{hours} {minutes}"


def _time_left(turn: Turn, intent: it.TimeLeft) -> None:
    running = st.running_timers(turn.state)
    if not running:
        turn.say("No timer is running.")
    for event, due in running:
        left = (due - turn.now).total_seconds()
        turn.say(
            say.sentence(
                f"{event.name}, {say.duration(left)} left" if left > 0 else f"{event.name} is up"
            )
        )


def _tick(turn: Turn, intent: it.Tick) -> None:
    for event, due in st.running_timers(turn.state):
        if due <= turn.now:
            turn.record(ev.TimerRang, name=event.name, started_turn=event.turn, step=event.step)
            turn.say(say.sentence(f"Time. The {event.name} is up"), Tone.ALERT)


# Attention


def _stand_by(turn: Turn, intent: it.StandBy) -> None:
    turn.record(ev.StoodBy)
    turn.say("Standing by. Say resume.")


def _resume(turn: Turn, intent: it.Resume) -> None:
    turn.record(ev.Resumed)
    turn.say("Listening.")
    if turn.state.pending is not None:
        _ask_pending(turn, None)
    else:
        _where(turn, it.WhereAreWe())


def _listening(turn: Turn, intent: it.Intent) -> None:
    turn.say("I am listening.")


def _silence(turn: Turn, intent: it.Intent) -> None:
    """Do nothing and say nothing."""


def _closed(turn: Turn, intent: it.Intent) -> None:
    turn.say("This job is closed.", Tone.REFUSED)


def _bare_value(turn: Turn, intent: it.Value) -> None:
    turn.say("Say tightened or reading before the number.", Tone.REFUSED)


def _not_asked(turn: Turn, intent: it.Intent) -> None:
    turn.say("I asked for no reason. Say skip step to skip it.", Tone.REFUSED)


_WORKING: dict[type[it.Intent], Handler] = {
    it.Next: _next,
    it.Previous: _previous,
    it.Skip: _skip,
    it.Reason: _not_asked,
    it.GoTo: _go_to,
    it.SayAgain: _say_again,
    it.ReadBack: _read_back,
    it.WhereAreWe: _where,
    it.WhatIsLeft: _what_is_left,
    it.Help: _help,
    it.Ask: _ask,
    it.Tightened: _tightened,
    it.Reading: _reading,
    it.Bag: _bag,
    it.Order: _order,
    it.Affirm: _affirm,
    it.Negative: _negative,
    it.Chosen: _chosen,
    it.Finding: _finding,
    it.Note: _note,
    it.Value: _bare_value,
    it.Correction: _correct,
    it.Disregard: _disregard,
    it.StartTimer: _start_timer,
    it.TimeLeft: _time_left,
    it.Tick: _tick,
    it.StandBy: _stand_by,
    it.Resume: _listening,
    it.CloseJob: _close,
}

# What changes nothing is answered in any mode in which the assistant waits for an answer.
_ANSWERED_ALWAYS: dict[type[it.Intent], Handler] = {
    kind: _WORKING[kind]
    for kind in (
        it.SayAgain,
        it.ReadBack,
        it.WhereAreWe,
        it.WhatIsLeft,
        it.Help,
        it.Ask,
        it.TimeLeft,
        it.Tick,
        it.StandBy,
        it.Resume,
    )
}


def _waiting(own: dict[type[it.Intent], Handler]) -> dict[type[it.Intent], Handler]:
    """Return a mode in which an answer is waited for: anything else asks for it again."""
    return {**dict.fromkeys(it.ALL, _ask_pending), **_ANSWERED_ALWAYS, **own}


TABLE: dict[Mode, dict[type[it.Intent], Handler]] = {
    Mode.WORKING: _WORKING,
    Mode.QUESTIONING: _waiting(
        {
            it.Affirm: _affirm_value,
            it.Negative: _drop_value,
            it.Disregard: _drop_value,
            it.Correction: _restate,
            it.Value: _restate,
            it.Tightened: _restate,
            it.Reading: _restate,
            it.Bag: _restate,
            it.Order: _restate,
        }
    ),
    Mode.SKIPPING: _waiting(
        {
            it.Reason: _reason,
            it.Note: _note_as_reason,
            it.Negative: _drop_skip,
            it.Disregard: _drop_skip,
        }
    ),
    Mode.NOTING: _waiting({it.Note: _take_note, it.Disregard: _drop_note}),
    Mode.CLOSING: _waiting(
        {
            it.Affirm: _close_all_the_same,
            it.Negative: _stay_open,
            it.Disregard: _stay_open,
        }
    ),
    Mode.STANDING_BY: {
        **dict.fromkeys(it.ALL, _silence),
        it.Resume: _resume,
        it.Tick: _tick,
    },
    Mode.CLOSED: {
        **dict.fromkeys(it.ALL, _closed),
        it.SayAgain: _say_again,
        it.WhatIsLeft: _what_is_left,
        it.Tick: _silence,
    },
}
"""For each mode, what each kind of intent does."""
