"""Whatever is said, in any order and in any mode, these rules hold.

A machine draws what is said from all intents, with time passing, programs stopping and the parts
desk entering deliveries between; it calls `decide` itself and applies what comes of it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import pytest
from hypothesis import Phase, settings
from hypothesis import strategies as some
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from hypothesis.strategies import DataObject

from assistant.dialogue import events, intents, ledger, outstanding_work
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job, take_up
from assistant.dialogue.state import Mode, State
from assistant.dialogue.turn import Decision, Tone
from assistant.procedure import reading
from assistant.procedure.model import Procedure
from tests.bench_helpers import SMALL
from tests.dialogue import sayings

_ASKED = (
    events.ValueQuestioned,
    events.SkipAsked,
    events.CloseAsked,
    events.NoteOpened,
    events.KitOpened,
    events.QuestionDropped,
)
"""What was asked, and dropped: it records nothing of the work."""

_WORK = (
    events.TorqueRecorded,
    events.ReadingRecorded,
    events.BagRecorded,
    events.PartOrdered,
    events.OrderMoved,
    events.FindingRecorded,
    events.NoteRecorded,
    events.QuestionAnswered,
    events.KitChecked,
)
"""What a technician said that is kept."""

_TELLING = (
    intents.SayAgain,
    intents.ReadBack,
    intents.WhereAreWe,
    intents.WhatIsLeft,
    intents.Help,
    intents.Ask,
    intents.OfSet,
    intents.WhereIs,
    intents.InBag,
    intents.OnOrder,
    intents.PlainWord,
    intents.TimeLeft,
    intents.Speak,
)
"""Intents that only ask to be told something."""

_WAYS_OUT: dict[Mode, tuple[intents.Intent, ...]] = {
    # The first is the way that leads on to a closed job.
    Mode.WORKING: (intents.CloseJob(),),
    Mode.QUESTIONING: (intents.Negative(), intents.Disregard()),
    Mode.SKIPPING: (intents.Negative(), intents.Disregard(), intents.Reason("not fitted")),
    Mode.NOTING: (intents.Disregard(), intents.Note("the paint is old")),
    Mode.CLOSING: (intents.Affirm(), intents.Negative(), intents.Disregard()),
    Mode.CHECKING: (intents.Disregard(),),
    Mode.STANDING_BY: (intents.Resume(),),
    Mode.CLOSED: (),
}
"""What always leads out of a mode, whatever was said before."""

_LONGEST_WAY = 4
"""Phrases from anywhere to a closed job: resume, drop the question, close, all the same."""


@cache
def _procedures() -> dict[str, tuple[Procedure, str]]:
    """Return the small box and the samples by name, each with its text."""
    found = {"small box": (reading.parse(SMALL, "small.yaml"), SMALL)}
    for name in ("pump-rebuild", "winch-gearbox", "cylinder-head"):
        path = reading.find(name)
        found[name] = (reading.read(path), path.read_text(encoding="utf-8"))
    return found


class Conversation(RuleBasedStateMachine):
    """One job, from opening it, at the hands of somebody who may say anything."""

    def __init__(self) -> None:
        super().__init__()
        self.now = datetime(2031, 3, 4, 9, tzinfo=UTC)
        self.record: list[events.Event] = []
        self.state: State
        self.last: intents.Intent = intents.WhereAreWe()
        """What was said last."""

    @initialize(
        name=some.sampled_from(["small box", "pump-rebuild", "winch-gearbox", "cylinder-head"]),
        minute=some.integers(0, 3),
        phrases=some.integers(0, 100),
    )
    def open(self, name: str, minute: int, phrases: int) -> None:
        """Open a job, and go on as far as a good technician comes with so many phrases."""
        procedure, text = _procedures()[name]
        self.now += timedelta(minutes=minute)
        self.state = job_state.start(procedure)
        self._take(open_job(procedure, text, self.now))
        for _ in range(phrases):
            self.say_what_is_due()

    # What happens

    @rule()
    def say_what_is_due(self) -> None:
        """Go on with the work as the procedure has it, waiting where it says so."""
        waits = [
            item.left
            for item in outstanding_work.outstanding(self.state, self.now)[:1]
            if isinstance(item, outstanding_work.TimeToPass) and item.left is not None
        ]
        self.now += timedelta(seconds=sum(waits))
        self._say(sayings.due(self.state, self.now))

    @precondition(lambda self: self.state.mode is Mode.WORKING)
    @rule(data=some.data())
    def be_asked(self, data: DataObject) -> None:
        """Say what the assistant asks back about."""
        self._say(data.draw(sayings.opening(self.state)))

    @precondition(lambda self: self.state.mode not in (Mode.WORKING, Mode.CLOSED))
    @rule(data=some.data())
    def answer(self, data: DataObject) -> None:
        """Answer, if not always the question that was asked."""
        self._say(data.draw(sayings.answer(self.state)))

    @rule(data=some.data())
    def say_anything(self, data: DataObject) -> None:
        """Say something, whether it makes sense or not."""
        self._say(data.draw(sayings.anything(self.state)))

    @rule(data=some.data())
    def correct(self, data: DataObject) -> None:
        """Correct something."""
        self._say(data.draw(sayings.correction(self.state)))

    @rule()
    def say_what_is_due_twice(self) -> None:
        """Say it again, as somebody does who is not sure that it was heard."""
        self.say_what_is_due()
        self._say(self.last)

    @precondition(lambda self: self.state.mode is not Mode.WORKING)
    @rule()
    def affirm_and_disregard(self) -> None:
        """Say yes, and think better of it."""
        self._say(intents.Affirm())
        self._say(intents.Disregard())

    @rule()
    def affirm(self) -> None:
        """Say yes to whatever is asked."""
        self._say(intents.Affirm())

    @rule()
    def disregard(self) -> None:
        """Take the last thing back."""
        self._say(intents.Disregard())

    @rule(seconds=some.sampled_from([1, 60, 3600, 100_000]))
    def wait(self, seconds: int) -> None:
        """Let time pass."""
        self.now += timedelta(seconds=seconds)
        self._say(intents.Tick())

    @precondition(lambda self: self.state.mode is not Mode.CLOSED)
    @rule()
    def stop_and_take_up(self) -> None:
        """Stop the program, and go on with the job another day."""
        stopped = self.now
        self.now += timedelta(days=1)
        self._take(take_up(self.state, self.now, stopped))

    @precondition(
        lambda self: self.state.mode is not Mode.CLOSED and bool(ledger.lines(self.state.history))
    )
    @rule(data=some.data())
    def desk_enters(self, data: DataObject) -> None:
        """Have the parts desk enter that something came, at any moment."""
        line = data.draw(some.sampled_from(ledger.lines(self.state.history)))
        entered = events.OrderMoved(
            at=self.now,
            turn=self.state.turn + 1,
            part=line.order.part,
            plural=line.order.plural,
            countable=line.order.countable,
            count=1,
            state="received",
            at_desk=True,
        )
        self._take(Decision((entered,)))

    # What holds

    def _say(self, intent: intents.Intent) -> None:
        before = self.state
        self.last = intent
        self.now += timedelta(seconds=5)
        decision = decide(before, intent, self.now)
        self._take(decision)
        if before.mode is Mode.CLOSED:
            assert not decision.events
        if isinstance(intent, _TELLING):
            assert not decision.events
        if before.mode is Mode.STANDING_BY and not isinstance(intent, intents.Resume):
            assert all(isinstance(event, events.TimerRang) for event in decision.events)
        self._told_truly(before, decision)
        self._said(intent, before)

    def _said(self, intent: intents.Intent, before: State) -> None:
        """Check more of what came of one thing said; for machines that build on this one."""

    def _take(self, decision: Decision) -> None:
        number = self.state.turn + 1
        for event in decision.events:
            assert event.turn == number and event.at == self.now
            if isinstance(event, events.Withdrawn):
                assert event.withdrew in {earlier.turn for earlier in self.state.history}
                assert event.withdrew < number
            self.state = job_state.apply(self.state, event)
            self.record.append(event)

    def _told_truly(self, before: State, decision: Decision) -> None:
        tones = {reply.tone for reply in decision.replies}
        if Tone.RECORDED in tones:
            assert any(not isinstance(event, _ASKED) for event in decision.events)
        if any(isinstance(event, _WORK) for event in decision.events):
            assert tones & {Tone.RECORDED, Tone.ALERT}
        withdrawn = any(isinstance(event, events.Withdrawn) for event in decision.events)
        refused = Tone.REFUSED in tones and not tones & {Tone.RECORDED, Tone.ALERT}
        dropped = any(isinstance(event, events.QuestionDropped) for event in decision.events)
        if (refused and not withdrawn) or dropped:
            assert _work(self.state) == _work(before)

    @invariant()
    def replay_gives_the_live_state(self) -> None:
        """A job that is taken up is where it was left."""
        technicians = self.state.technicians
        assert job_state.replay(self.state.procedure, self.record, technicians) == self.state

    @invariant()
    def nothing_is_recorded_twice(self) -> None:
        """One value stands for each pass, reading, bag and question of the job."""
        one_each = (
            events.TorqueRecorded,
            events.ReadingRecorded,
            events.BagRecorded,
            events.QuestionAnswered,
        )
        about = Counter(_about(e) for e in self.state.history if isinstance(e, one_each))
        assert all(count == 1 for count in about.values())

    @invariant()
    def no_part_is_lost(self) -> None:
        """What was ordered is in some state, each part in one."""
        for line in ledger.lines(self.state.history):
            assert sum(line.counts.values()) == line.order.count
            assert all(count >= 0 for count in line.counts.values())

    @invariant()
    def there_is_a_way_out(self) -> None:
        """Each way out of a mode leads out of it, and the first ways lead to a closed job."""
        for way in _WAYS_OUT[self.state.mode]:
            assert self._after(self.state, way).mode is not self.state.mode
        state = self.state
        for _ in range(_LONGEST_WAY):
            if state.mode is not Mode.CLOSED:
                state = self._after(state, _WAYS_OUT[state.mode][0])
        assert state.mode is Mode.CLOSED

    def _after(self, state: State, intent: intents.Intent) -> State:
        for event in decide(state, intent, self.now).events:
            state = job_state.apply(state, event)
        return state

    def teardown(self) -> None:
        """Compare the whole job with the plain rule, and with itself when it has been to disk."""
        if not self.record:
            return
        procedure = self.state.procedure
        assert _by_the_plain_rule(procedure, self.record) == self.state
        read = [events.EVENT.validate_json(event.model_dump_json()) for event in self.record]
        assert read == self.record
        assert job_state.replay(procedure, read) == self.state


def _by_the_plain_rule(procedure: Procedure, record: list[events.Event]) -> State:
    """Return the state as the rule for withdrawals says it, at the cost of the square.

    The events of the turn are struck out, the rest is told from the beginning, and what it asks
    at its end is not asked, except by a check of the kit.
    """
    state = job_state.start(procedure)
    kept: list[events.Event] = []
    for event in record:
        if not isinstance(event, events.Withdrawn):
            kept.append(event)
            state = job_state.apply(state, event)
            continue
        kept = [earlier for earlier in kept if earlier.turn != event.withdrew]
        state = job_state.start(procedure)
        for earlier in kept:
            state = job_state.apply(state, earlier)
        checking = isinstance(state.pending, events.KitOpened)
        state = replace(state, turn=event.turn, pending=state.pending if checking else None)
    return state


def _work(state: State) -> tuple[events.Event, ...]:
    return tuple(event for event in state.history if isinstance(event, _WORK))


class Corrections(Conversation):
    """The same, with an eye on what corrections leave behind."""

    def __init__(self) -> None:
        super().__init__()
        self.kept: Counter[tuple[object, ...]] = Counter()
        """What there was a value of when nothing was in question last."""

    def _said(self, intent: intents.Intent, before: State) -> None:
        """A correction that is refused, disregarded or left leaves the old value standing.

        Only what is disregarded while nothing is asked, or gone back to in a check of the kit, is
        taken back for nothing in its place.
        """
        if self.state.mode is Mode.QUESTIONING:
            return
        now = Counter(_about(event) for event in _work(self.state))
        disregarded = before.mode is Mode.WORKING and isinstance(intent, intents.Disregard)
        back = before.mode is Mode.CHECKING and isinstance(intent, intents.Previous)
        if not disregarded and not back:
            lost = self.kept - now
            if lost:
                raise OldValueLost(f"nothing stands in place of: {list(lost)}")
        self.kept = now


class OldValueLost(AssertionError):
    """A correction took a value away and put none in its place."""


def _about(event: events.Event) -> tuple[object, ...]:
    """Return what a record is about, but for its value."""
    match event:
        case events.TorqueRecorded():
            return (event.kind, event.step, event.fastener, event.stage)
        case events.ReadingRecorded():
            return (event.kind, event.step, event.name)
        case events.QuestionAnswered():
            return (event.kind, event.question)
        case _:
            return (event.kind, event.step)


def _run(machine: type[Conversation], examples: int, steps: int) -> None:
    limits = settings(max_examples=examples, stateful_step_count=steps)
    run_state_machine_as_test(machine, settings=limits)


def test_every_intent_can_be_said_and_every_mode_has_ways_out() -> None:
    assert set(sayings.SAYINGS) == set(intents.ALL)
    assert set(_WAYS_OUT) == set(Mode)


def test_whatever_is_said_the_rules_hold() -> None:
    _run(Conversation, 70, 40)


@pytest.mark.slow
def test_whatever_is_said_for_a_long_time_the_rules_hold() -> None:
    _run(Conversation, 400, 60)


@pytest.mark.xfail(
    strict=True,
    raises=OldValueLost,
    reason="a correction withdraws the old value before it is known whether the new one is taken",
)
def test_a_correction_that_comes_to_nothing_leaves_the_old_value_standing() -> None:
    # Always the same examples, or one day none of them would find it. Not made shorter, since
    # nobody reads what is expected; take both lines out with the mark.
    limits = settings(max_examples=100, derandomize=True, database=None, phases=[Phase.generate])
    run_state_machine_as_test(Corrections, settings=limits)
