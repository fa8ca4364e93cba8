"""Handing a job over: where it stands, short, and true to what stands now.

The machine in `test_machine` checks it in whatever state anything that is said leads to.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue import facts, intents, outstanding_work
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job
from assistant.dialogue.state import Mode, State
from assistant.dialogue.wording import brief, handing_over
from assistant.procedure import reading
from tests.bench_helpers import Hands
from tests.dialogue import sayings

_SAMPLES = ("pump-rebuild", "winch-gearbox", "cylinder-head")


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


def test_a_job_that_has_just_begun(hands: Hands) -> None:
    before = hands.bench.journal.events(1)
    told = hands.say("hand over")
    assert told.startswith("Step one of six, strip-down.")
    assert "the warning to affirm" in told
    assert told.endswith("Four steps after it to go."), "the key only for one of the shafts"
    assert hands.bench.journal.events(1) == before, "it records nothing"


def test_what_fails_is_named_and_gone_when_it_is_corrected(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.15", "affirm")
    told = hands.say("hand over")
    assert "Open: step four, bore fails, two five point one five millimetres" in told
    assert "the reading of shaft" in told
    hands.say("correction bore 25.01")
    assert "Open:" not in hands.say("hand over")
    hands.say("disregard")
    assert "Open: step four, bore fails" in hands.say("hand over"), "the old value stands again"


def test_what_is_conceded_is_open_no_more(hands: Hands) -> None:
    hands.technicians = ("Ann",)
    hands.stop_and_take_up()
    hands.say("this is ann", "affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.15", "affirm", "concession", "note agreed with the customer")
    assert "fails" not in hands.say("hand over")


def test_steps_left_before_and_skipped_and_half_done(hands: Hands) -> None:
    hands.say("affirm", "skip step", "waiting for part", "splined shaft")
    hands.say("go to step four", "reading bore 25.01")
    told = hands.say("hand over")
    assert "Step four of six, strip-down." in told
    assert "Step two before it is not done" in told
    assert "Skipped: step one, part not here." in told
    hands.say("go to step two")
    assert "Step four is half done." in hands.say("hand over")


def test_timers_and_parts_that_are_waited_for(hands: Hands) -> None:
    hands.say(
        "affirm", "start drain timer ten minutes", "order drain plug", "start hold timer one minute"
    )
    hands.say("end plate worn repair")
    told = hands.say("hand over")
    assert "Running: hold, forty seconds left and drain, " in told
    assert "Still to come: one drain plug." in told
    assert "Away for repair: one end plate." in told
    hands.say("cancel hold timer", "drain plug received", "end plate received")
    told = hands.say("hand over")
    assert "hold" not in told and "to come" not in told and "repair" not in told


def test_days_later_a_timer_that_ran_out_is_told_as_such(hands: Hands) -> None:
    hands.say("affirm", "start drain timer ten minutes")
    hands.now += timedelta(days=2)
    # It is said before the clock has ticked.
    state = hands.bench.state
    told = " ".join(r.text for r in decide(state, intents.HandOver(), hands.now).replies)
    assert "Running: drain is up." in told


def test_it_is_told_while_an_answer_is_waited_for_and_the_question_stays(hands: Hands) -> None:
    hands.say("affirm", "bag two")
    assert "A value is in question." in hands.say("hand over")
    assert hands.bench.state.mode is Mode.QUESTIONING
    assert "Bag one. Recorded" in hands.say("correction bag one")
    hands.say("close job")
    assert "Closing was asked and not affirmed." in hands.say("hand over")
    hands.say("affirm")
    told = hands.say("hand over")
    assert told == ("The job is closed, at step one of six, strip-down. Five steps are not done.")


def test_standing_by_it_is_not_answered(hands: Hands) -> None:
    hands.say("stand by")
    assert hands.say("hand over") == ""


def test_when_all_is_done_it_says_what_to_do(hands: Hands) -> None:
    for _ in range(60):
        if not _left(hands.bench.state, hands.now):
            break
        _say(hands, sayings.due(hands.bench.state, hands.now))
        hands.wait(minutes=11)
    assert "Every step is done: say close job." in hands.say("hand over")


def _left(state: State, now: datetime) -> bool:
    last = state.step.id == state.route()[-1].id
    return not (last and state.step.id in state.done)


def _say(hands: Hands, intent: intents.Intent) -> None:
    decision = hands.bench.session.decide(intent)
    stored, _ = hands.bench.keeper.keep(decision.events)
    hands.bench.session.go_on(stored)  # type: ignore[union-attr]


@pytest.mark.parametrize("name", _SAMPLES)
@pytest.mark.parametrize("minute", [0, 1])
def test_a_sample_job_in_odd_states_is_handed_over_in_half_a_minute(name: str, minute: int) -> None:
    path = reading.find(name)
    procedure = reading.read(path)
    now = datetime(2031, 3, 4, 9, minute, tzinfo=UTC)
    state = job_state.start(procedure)
    opened = open_job(procedure, path.read_text(encoding="utf-8"), now)
    for event in opened.events:
        state = job_state.apply(state, event)
    longest = 0

    def say(intent: intents.Intent) -> None:
        nonlocal state, longest, now
        now += timedelta(seconds=7)
        for event in decide(state, intent, now).events:
            state = job_state.apply(state, event)
        told = decide(state, intents.HandOver(), now)
        words = " ".join(reply.text for reply in told.replies).split()
        assert 0 < len(words) <= brief.MOST_WORDS
        longest = max(longest, len(words))

    parts = list(procedure.parts)
    for number, step in enumerate(procedure.steps, 1):
        say(intents.GoTo(number))
        say(intents.Affirm())
        say(intents.Affirm())
        if number % 4 == 1:
            say(intents.Skip())
            say(intents.Reason("waiting for part"))
        if number % 3 == 0:
            part = parts[number % len(parts)]
            say(intents.Finding(part.name, "worn", disposition="renew"))
            say(intents.Order(parts[(number + 1) % len(parts)].name))
            say(intents.StartTimer(600 * number, f"drain {number}"))
        for reading_ in step.readings:
            say(intents.Reading(Decimal(1), name=reading_.name))
            say(intents.Affirm())
        for tighten in step.tighten:
            say(intents.Tightened(tighten.torque.value * 2, tighten.torque.unit, all=True))
            say(intents.Affirm())
    say(intents.KitCheck())
    for _ in range(4):
        say(intents.Missing(1))
    say(intents.Disregard())
    say(intents.CloseJob())
    assert longest > 50, "the states are odd enough to need the room"
    say(intents.Affirm())
    assert state.mode is Mode.CLOSED


def test_a_name_as_long_as_a_procedure_may_have_is_left_out_rather_than_the_topic() -> None:
    long_name = " ".join(["long"] * 60)
    parts = facts.Parts(name=long_name, count=2)
    failed = facts.Failed(
        result=facts.ResultRef(kind="condemned part", step="a", name=long_name),
        number=3,
        parts=parts,
    )
    standing = handing_over.Standing(
        number=499,
        of=500,
        stage=long_name,
        failed=(failed,) * 5,
        asked="conceding",
        left_here=(facts.ReadingToTake(name=long_name),) * 4,
        not_done=(*range(1, 499, 2), 500),
        half_done=(500,),
        skipped=tuple(
            facts.SkippedStep(step="b", number=n, reason=facts.SkipReason(note=long_name))
            for n in range(2, 400, 2)
        ),
        timers=(facts.TimerRunning(name=long_name, left=90),) * 9,
        to_come=(parts,) * 5,
        away=(parts,),
        short=(parts,),
    )
    told = handing_over.told(standing)
    assert sum(len(one.split()) for one in told) <= brief.MOST_WORDS
    text = " ".join(told)
    for topic in ("fail", "not done", "skipped", "timers", "to come", "away", "short", "to go"):
        assert topic in text.lower(), topic


def test_what_is_outstanding_here_is_told_as_the_step_has_it(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened 7")
    told = hands.say("hand over")
    items = outstanding_work.outstanding(hands.bench.state, hands.now)
    assert items and "Outstanding: the torque, long bolt" in told
