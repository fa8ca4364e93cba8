"""Whatever is said, in any order and in any mode, these rules hold.

A machine draws what is said from all intents, with time passing, programs stopping and the parts
desk entering deliveries between; it calls `decide` itself and applies what comes of it.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import get_args

import pytest
from hypothesis import settings
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

from assistant.dialogue import (
    events,
    facts,
    intents,
    ledger,
    nonconformities,
    outstanding_work,
    reopened,
    results,
)
from assistant.dialogue import state as job_state
from assistant.dialogue.command import AT_WORK
from assistant.dialogue.decide import decide, open_job, take_up
from assistant.dialogue.state import Mode, State, Target
from assistant.dialogue.turn import Decision, Tone
from assistant.procedure import kit_list, lexicon, reading, unwritten
from assistant.procedure.model import Procedure
from tests.bench_helpers import SMALL
from tests.dialogue import sayings
from tests.dialogue.rig import CHECKED_TWICE, RIG

_ASKED = (
    events.ValueQuestioned,
    events.SkipAsked,
    events.CloseAsked,
    events.NoteOpened,
    events.KitOpened,
    events.ConcessionAsked,
    events.ReviewOpened,
    events.RevisionOffered,
    events.ValueSent,
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
    events.PictureTaken,
    events.QuestionAnswered,
    events.KitChecked,
    events.Conceded,
    events.PieceRemoved,
    events.PieceChanged,
    events.TorqueSet,
    events.LockerApplied,
    events.GroupBegun,
    events.GroupEnded,
    events.BuildOrderSaid,
)
"""What a technician said that is kept."""

_PARTS_FITTED = ("fitted part", "condemned part")

_TELLING = (
    intents.SayAgain,
    intents.ReadBack,
    intents.WhereAreWe,
    intents.WhatIsLeft,
    intents.WhatFailed,
    intents.HandOver,
    intents.AskLastTime,
    intents.WhoIsHere,
    intents.Help,
    intents.Ask,
    intents.OfSet,
    intents.WhereIs,
    intents.InBag,
    intents.OnOrder,
    intents.LastOff,
    intents.StillOff,
    intents.HowManyOff,
    intents.PlayNote,
    intents.PlainWord,
    intents.TimeLeft,
    intents.Speak,
)
"""Intents that only ask to be told something."""

_WAYS_OUT: dict[Mode, tuple[intents.Intent, ...]] = {
    # The first is the way that leads on to a closed job.
    **dict.fromkeys(AT_WORK, (intents.CloseJob(),)),
    Mode.QUESTIONING: (intents.Negative(), intents.Disregard()),
    Mode.SKIPPING: (intents.Negative(), intents.Disregard(), intents.Reason("not fitted")),
    Mode.NOTING: (intents.Disregard(), intents.Note("the paint is old")),
    Mode.CLOSING: (intents.Affirm(), intents.Negative(), intents.Disregard()),
    Mode.CHECKING: (intents.Disregard(),),
    Mode.CONCEDING: (intents.Negative(), intents.Disregard()),
    Mode.REVIEWING: (intents.Negative(), intents.Disregard()),
    Mode.REVISING: (intents.Affirm(), intents.Negative(), intents.Disregard()),
    Mode.PLACING: (intents.Negative(), intents.Disregard()),
    Mode.STANDING_BY: (intents.Resume(),),
    Mode.CLOSED: (),
}
"""What always leads out of a mode, whatever was said before."""

_LONGEST_WAY = 4
"""Phrases from anywhere to a closed job: resume, drop the question, close, all the same."""


@cache
def _procedures() -> dict[str, tuple[Procedure, str]]:
    """Return the small box, the rigs and the samples by name, each with its text."""
    found = {
        "small box": (reading.parse(SMALL, "small.yaml"), SMALL),
        "rig": (reading.parse(RIG, "rig.yaml"), RIG),
        "rig checked twice": (reading.parse(CHECKED_TWICE, "rig.yaml"), CHECKED_TWICE),
    }
    for name in ("pump-rebuild", "winch-gearbox", "cylinder-head"):
        path = reading.find(name)
        found[name] = (reading.read(path), path.read_text(encoding="utf-8"))
    kit = [
        kit_list.KitLine("K-1", "gasket", "gaskets", 1, "Gasket", 2),
        kit_list.KitLine("K-2", "oil seal", "oil seals", 3, "Seal, oil", 3),
    ]
    found["unwritten"] = unwritten.begin("Test drive", lexicon.read("gearbox"), kit)
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
        self.by: str | None = None
        """Who signed on last."""
        self.work_before: dict[int, tuple[events.Event, ...]] = {}
        """What was kept when each turn began."""

    @initialize(
        # The rig most often, for there everything can fail.
        name=some.sampled_from(
            [
                *("rig", "rig", "unwritten", "small box"),
                *("pump-rebuild", "winch-gearbox", "cylinder-head"),
            ]
        ),
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

    @precondition(lambda self: self.state.mode in AT_WORK)
    @rule(data=some.data())
    def be_asked(self, data: DataObject) -> None:
        """Say what the assistant asks back about."""
        self._say(data.draw(sayings.opening(self.state)))

    @precondition(lambda self: self.state.mode not in (*AT_WORK, Mode.CLOSED))
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

    @precondition(lambda self: self.state.mode in AT_WORK)
    @rule(data=some.data())
    def fail(self, data: DataObject) -> None:
        """Have a result that does not meet its requirement, and stand by it."""
        said = data.draw(sayings.failing(self.state))
        if said is not None:
            self._say(said)
            self._say(intents.Affirm())

    @rule(data=some.data())
    def settle(self, data: DataObject) -> None:
        """End what fails, or try to."""
        self._say(data.draw(sayings.settling(self.state)))

    @precondition(lambda self: self.state.mode in AT_WORK)
    @rule(data=some.data(), further=some.integers(0, 2))
    def go_through(self, data: DataObject, further: int) -> None:
        """Go through what was recorded at some step, and put something right there."""
        self._say(data.draw(sayings.SAYINGS[intents.Review](self.state)))
        for _ in range(further):
            self._say(intents.Affirm())
        if self.state.mode is Mode.REVIEWING:
            asked = self.state.pending
            assert isinstance(asked, events.ReviewOpened)
            self._say(data.draw(sayings.near(self.state, asked)))
            self._say(intents.Affirm())

    @precondition(lambda self: bool(self.state.targets()))
    @rule(data=some.data(), bolts=some.integers(1, 4))
    def tighten_bolt_by_bolt(self, data: DataObject, bolts: int) -> None:
        """Have some bolts called, and tighten them, or not."""
        for _ in range(bolts):
            self._say(intents.NextBolt())
            left = outstanding_work.outstanding(self.state, self.now)
            targets = [o.target for o in left if isinstance(o, outstanding_work.TorqueToRecord)]
            if targets and data.draw(some.booleans()):
                self._say(intents.Tightened(targets[0].value, targets[0].unit))

    @precondition(lambda self: self.state.mode in AT_WORK)
    @rule(data=some.data(), affirm=some.booleans())
    def correct_and_disregard(self, data: DataObject, affirm: bool) -> None:
        """Correct something, and think better of it: everything is as it was."""
        before = self.state
        self._say(data.draw(sayings.correction(before)))
        if affirm and self.state.mode is Mode.QUESTIONING:
            self._say(intents.Affirm())
        done = self.state
        corrected = any(
            isinstance(event, events.Withdrawn) and event.turn == done.turn
            for event in done.log[len(before.log) :]
        )
        if corrected or done.mode not in AT_WORK:
            self._say(intents.Disregard())
        if corrected or done.mode is Mode.QUESTIONING:
            assert _work(self.state) == _work(before)
            assert self.state.results == before.results
            assert nonconformities.find(self.state) == nonconformities.find(before)

    @rule()
    def say_what_is_due_twice(self) -> None:
        """Say it again, as somebody does who is not sure that it was heard."""
        self.say_what_is_due()
        self._say(self.last)

    @precondition(lambda self: self.state.mode not in AT_WORK)
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

    def _take(self, decision: Decision) -> None:
        number = self.state.turn + 1
        before = self.state
        self.work_before[number] = _work(before)
        signed_on = [e.name for e in decision.events if isinstance(e, events.SignedOn)]
        self.by = signed_on[-1] if signed_on else self.by
        for decided in decision.events:
            event = decided.model_copy(update={"by": self.by})
            self._holds_what_fails(event)
            assert event.turn == number and event.at == self.now
            if isinstance(event, events.Withdrawn):
                assert event.withdrew in {earlier.turn for earlier in self.state.history}
                assert event.withdrew < number
            self.state = job_state.apply(self.state, event)
            self.record.append(event)
        self._keeps_what_stands(before, decision)

    def _holds_what_fails(self, event: events.Event) -> None:
        """Check what is about to be recorded against what fails, before it is."""
        still_open = nonconformities.still_open(self.state)
        match event:
            case events.StepDone(step=step):
                # A part that was the wrong one is not until the step that fits it is done again.
                of_step = [f for f in still_open if f.step.id == step and f.taken == "as left"]
                fitted = [f for f in of_step if f.again and f.ref.kind in _PARTS_FITTED]
                assert of_step == fitted
                after = nonconformities.still_open(job_state.apply(self.state, event))
                assert not [f for f in after if f.step.id == step and f.taken == "as left"]
                assert not any(f.taken == "as found" for f in still_open) or not self.state.step.fit
                assert all(_each_bolt(self.state, target) for target in self.state.targets())
            case events.JobClosed(left=left):
                named = [one.result for one in left if isinstance(one, facts.Failed)]
                assert sorted(named, key=repr) == sorted((f.ref for f in still_open), key=repr)
            case events.RetestBegun() | events.ReworkBegun():
                # To begin something anew ends nothing: it is open until there is a new result.
                after = nonconformities.still_open(job_state.apply(self.state, event))
                kept = {reopened.thing(f.ref) for f in after}
                gone = [f for f in still_open if reopened.thing(f.ref) not in kept]
                assert not [f for f in gone if not nonconformities.to_be_fitted(f)]
            case events.Conceded(failed=failed, by=by):
                (one,) = [f for f in still_open if f.ref == failed.result]
                assert by is not None and one.may_concede != "none"
                assert one.may_concede == "anyone" or by in self.state.procedure.concessions_by

    def _keeps_what_stands(self, before: State, decision: Decision) -> None:
        """Check that nothing is lost but what was taken back, and that a gate keeps all out."""
        if not any(isinstance(event, events.Withdrawn) for event in decision.events):
            assert self.state.history[: len(before.history)] == before.history
            assert not [
                e for e in decision.events if isinstance(e, _BEHIND_A_GATE) and _gated(before, e)
            ]
            return
        lost = Counter(map(_about, _work(before))) - Counter(map(_about, _work(self.state)))
        for event in decision.events:
            if isinstance(event, events.Withdrawn) and event.place is None:
                kept = tuple(e for e in _work(self.state) if e.turn < event.withdrew)
                assert kept == self.work_before[event.withdrew]
            elif isinstance(event, events.Withdrawn):
                assert not lost, "a correction leaves something in the place of what it corrects"

    def _told_truly(self, before: State, decision: Decision) -> None:
        tones = {reply.tone for reply in decision.replies}
        if Tone.RECORDED in tones:
            assert any(not isinstance(event, _ASKED) for event in decision.events)
        if any(isinstance(event, _WORK) for event in decision.events):
            assert tones & {Tone.RECORDED, Tone.ALERT}
        refused = Tone.REFUSED in tones and not tones & {Tone.RECORDED, Tone.ALERT}
        dropped = any(isinstance(event, events.QuestionDropped) for event in decision.events)
        if refused or dropped or self.state.mode is Mode.QUESTIONING:
            assert _work(self.state) == _work(before)
            assert self.state.results == before.results

    @invariant()
    def replay_gives_the_live_state(self) -> None:
        """A job that is taken up is where it was left."""
        technicians = self.state.technicians
        assert job_state.replay(self.state.procedure, self.record, technicians) == self.state

    @invariant()
    def nothing_is_recorded_twice(self) -> None:
        """One value stands in a set for each bolt of a pass, bag and question of the job."""
        one_each = (events.TorqueRecorded, events.BagRecorded, events.QuestionAnswered)
        about = Counter(map(_about, self.state.current(one_each)))
        assert all(count == 1 for count in about.values())

    @invariant()
    def what_was_told_last_is_what_follows(self) -> None:
        """Of each result, the evidence that was told last is what the readings give now."""
        told = {
            _of_what(event): event
            for event in self.state.history
            if isinstance(event, get_args(results.Evidence))
        }
        for followed in self.state.results.followed:
            now = results.as_event(followed, self.now, 0)
            if now is not None:
                last = told[_of_what(now)]
                alike = {"at": last.at, "turn": last.turn, "by": last.by}
                assert now.model_copy(update=alike) == last

    @invariant()
    def a_concession_is_of_what_stands(self) -> None:
        """Nothing that a conceded result was made from is newer than the concession."""
        for failure in nonconformities.find(self.state):
            if failure.conceded is not None:
                made_of = [e.turn for e in self.state.history if e.turn in failure.ref.turns]
                assert set(made_of) == set(failure.ref.turns)
                assert max(made_of, default=0) < failure.conceded.turn

    @invariant()
    def what_is_open_again_is_not_settled(self) -> None:
        """A step is done, skipped, or neither; never both."""
        assert not self.state.done & self.state.skipped.keys()

    @invariant()
    def no_part_is_lost(self) -> None:
        """What was ordered is in some state, each part in one."""
        for line in ledger.lines(self.state.history):
            assert sum(line.counts.values()) == line.order.count
            assert all(count >= 0 for count in line.counts.values())

    @invariant()
    def it_can_be_handed_over_in_half_a_minute(self) -> None:
        """Handing over says whether anything fails, records nothing, and is short."""
        decision = decide(self.state, intents.HandOver(), self.now)
        told = " ".join(reply.text for reply in decision.replies)
        assert not decision.events
        if self.state.mode is Mode.STANDING_BY:
            assert not told
            return
        assert 0 < len(told.split()) <= 75
        failing = bool(nonconformities.still_open(self.state))
        assert failing == ("Open: " in told or " fail" in told)

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
        worked_out = {
            each.derived.name: float(each.value)
            for each in self.state.results.followed
            if isinstance(each, results.WorkedOut)
        }
        for name, value in _worked_out_plainly(self.state).items():
            assert worked_out[name] == pytest.approx(value, abs=1e-4)


def _by_the_plain_rule(procedure: Procedure, record: list[events.Event]) -> State:
    """Return the state as the rule for withdrawals says it, at the cost of the square.

    An event stands unless a later withdrawal names it, or its whole turn, and stands itself. What
    stands is told from the beginning; a withdrawal ends what is asked, but for a check of the kit.
    """
    stands = [True] * len(record)
    for later in range(len(record) - 1, -1, -1):
        event = record[later]
        if stands[later] and isinstance(event, events.Withdrawn):
            of_turn = [i for i, one in enumerate(record) if one.turn == event.withdrew]
            for place in of_turn if event.place is None else [of_turn[event.place]]:
                stands[place] = False
    state = job_state.start(procedure)
    for event, standing in zip(record, stands, strict=True):
        if standing and not isinstance(event, events.Withdrawn):
            state = job_state.apply(state, event)
        elif standing and not isinstance(state.pending, events.KitOpened):
            state = replace(state, pending=None)
    return replace(state, turn=max(e.turn for e in record), log=tuple(record))


def _worked_out_plainly(state: State) -> dict[str, float]:
    """Return each worked-out value of the job, by Python's own arithmetic on its formula.

    Only of those whose readings have all been taken, once each, in the unit of the value.
    """
    opened = {
        step: place
        for place, event in enumerate(state.history)
        if isinstance(event, events.RetestBegun | events.ReworkBegun)
        for step in event.steps
    }
    taken: dict[str, list[events.ReadingRecorded]] = {}
    for place, event in enumerate(state.history):
        if isinstance(event, events.ReadingRecorded) and place > opened.get(event.step or "", -1):
            taken.setdefault(event.name.replace(" ", "_"), []).append(event)
    found = {}
    for step in state.route():
        for derived in step.derived:
            names = set(re.findall(r"[a-z_]+", derived.formula)) - {"max", "min"}
            units = {e.unit for name in names for e in taken.get(name, [])}
            once = all(len(taken.get(name, [])) == 1 for name in names)
            if once and units == {derived.unit} and derived.applies(state.answers):
                values = {name: float(taken[name][0].value) for name in names}
                found[derived.name] = eval(derived.formula, {"max": max, "min": min}, values)
    return found


def _each_bolt(state: State, target: Target) -> bool:
    """Whether a pass whose bolts were told or called one by one has each, or was said as one."""
    kinds = (events.BoltCalled, events.TorqueRecorded)
    of_pass = [
        e
        for e in state.current(kinds)
        if e.step == state.step_id
        and e.fastener == target.tighten.fastener
        and e.stage == target.stage
    ]
    torques = [e.bolt for e in of_pass if isinstance(e, events.TorqueRecorded)]
    one_by_one = any(e.bolt is not None for e in of_pass)
    all_of_them = set(range(1, state.count_of(target.tighten.fastener) + 1))
    return None in torques or (one_by_one and set(torques) == all_of_them)


_BEHIND_A_GATE = (
    events.TorqueRecorded,
    events.ReadingRecorded,
    events.BagRecorded,
    events.QuestionAnswered,
    events.HazardsHeard,
    events.ConditionAffirmed,
    events.StepDone,
)


def _gated(state: State, event: events.Event) -> bool:
    """Whether the rig's lock should have kept this out, and was not put on."""
    order = [step.id for step in state.procedure.steps]
    if "lock" not in order or event.step in ("lock", "unlock", None):
        return False
    return "lock" not in state.done and "unlock" not in state.done


def _of_what(event: events.Event) -> tuple[object, ...]:
    match event:
        case events.ValueWorkedOut():
            return (event.kind, event.step, event.name)
        case events.PartChosen():
            return (event.kind, event.step, event.chosen_by)
        case events.FluidMeasured():
            return (event.kind, event.step, event.fluid)
        case _:
            return (event.kind, event.step)


def _work(state: State) -> tuple[events.Event, ...]:
    return tuple(event for event in state.history if isinstance(event, _WORK))


def _about(event: events.Event) -> tuple[object, ...]:
    """Return what a record is about, but for its value."""
    match event:
        case events.TorqueRecorded():
            return (event.kind, event.step, event.fastener, event.stage, event.bolt)
        case events.ReadingRecorded():
            return (event.kind, event.step, event.name)
        case events.QuestionAnswered():
            return (event.kind, event.question)
        case _:
            return (event.kind, event.step)


def _run(examples: int, steps: int) -> None:
    limits = settings(max_examples=examples, stateful_step_count=steps)
    run_state_machine_as_test(Conversation, settings=limits)


def test_every_intent_can_be_said_and_every_mode_has_ways_out() -> None:
    assert set(sayings.SAYINGS) == set(intents.ALL)
    assert set(_WAYS_OUT) == set(Mode)


def test_whatever_is_said_the_rules_hold() -> None:
    _run(12, 30)


@pytest.mark.slow
def test_whatever_is_said_for_a_long_time_the_rules_hold() -> None:
    _run(80, 50)
