"""Several timers at once: named, numbered, cancelled, told, and announced once each."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.dialogue import clocks, events, intents, timers
from assistant.dialogue import decide as session
from assistant.dialogue import state as job_state
from assistant.procedure import reading
from tests.bench_helpers import SMALL, ZONE, Hands


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm")
    return hands


def test_several_are_told_the_shortest_first(hands: Hands) -> None:
    hands.say("start cure timer twenty minutes", "start timer ten minutes")
    hands.say("start drain timer five minutes")
    said = hands.say("time left")
    assert said == (
        "Drain, four minutes and fifty seconds left. Timer, nine minutes and forty seconds left. "
        "Cure, nineteen minutes and thirty seconds left."
    )
    assert hands.say("time left cure") == "Cure, nineteen minutes and twenty seconds left."
    assert hands.say("time left soak") == "No soak timer is running."


def test_each_is_announced_when_it_is_due_and_once(hands: Hands) -> None:
    hands.say("start cure timer twenty minutes", "start drain timer five minutes")
    assert hands.wait(minutes=5) == "Time. The drain is up."
    assert hands.wait(minutes=5) == ""
    assert hands.wait(minutes=10) == "Time. The cure is up."
    assert hands.say("time left") == "No timer is running."


def test_a_second_of_a_name_is_numbered(hands: Hands) -> None:
    hands.say("start cure timer twenty minutes")
    said = hands.say("start cure timer ten minutes")
    assert said.startswith("Cure two, ten minutes, started beside cure. Due at")
    assert "Cure two, nine minutes" in hands.say("time left cure two")
    assert "are running" in hands.say("cancel cure timer")
    assert hands.say("cancel cure timer one") == "Cure cancelled."
    assert [clock.name for clock in clocks.running_clocks(hands.bench.state)] == ["cure two"]
    assert hands.say("cancel cure timer") == "Cure two cancelled."
    assert hands.say("start cure timer ten minutes").startswith("Cure, ten minutes, started. Due")


def test_a_cancelled_timer_is_not_announced_and_disregard_lets_it_run_on(hands: Hands) -> None:
    hands.say("start timer ten minutes", "start drain timer five minutes")
    assert hands.say("cancel timer") == "Timer cancelled."
    assert "No such timer. Running: drain." in hands.say("cancel timer two")
    hands.say("disregard")
    assert hands.wait(minutes=10) == "Time. The drain is up. Time. The timer is up."


def test_the_wait_of_a_step_has_its_name_and_is_started_anew_after_a_cancel(
    hands: Hands,
) -> None:
    hands.say("go to step six", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading 25.01", "reading 24.98", "next step", "affirm", "tightened seven")
    hands.say("tightened fourteen", "turned 90 degrees", "tightened ten", "next step")
    hands.say("start drain timer ten minutes")
    assert "not started" in hands.say("next step")
    hands.say("start cure timer")
    assert hands.say("cancel cure timer") == "Cure cancelled."
    assert "not started" in hands.say("next step")
    hands.say("start timer")
    hands.wait(minutes=10)
    assert hands.say("next step") == "That was the last step. Say close job to close it."


def test_a_timer_without_a_length_asks_for_it(hands: Hands) -> None:
    assert hands.say("start drain timer") == "For how long? Say start drain timer ten minutes."


def test_there_is_an_end_to_how_many_run(hands: Hands) -> None:
    for _ in range(timers.MOST_AT_ONCE):
        hands.say("start soak timer one hour")
    assert "Cancel one first" in hands.say("start soak timer one hour")
    assert len(clocks.running_clocks(hands.bench.state)) == timers.MOST_AT_ONCE
    assert hands.say("cancel soak timer nine") == "Soak nine cancelled."


def test_what_became_due_while_it_was_off_is_said_when_it_is_taken_up(hands: Hands) -> None:
    hands.say("start drain timer five minutes", "start cure timer three hours")
    said = hands.stop_and_take_up(hours=1)
    assert "Time. The drain was up fifty five minutes and ten seconds ago." in said
    assert "cure" not in said
    assert hands.wait(seconds=1) == ""
    assert hands.wait(hours=2) == "Time. The cure is up."


def test_closing_tells_of_the_timers_that_run(hands: Hands) -> None:
    hands.say("start drain timer five minutes")
    assert "drain, four minutes and fifty seconds left. Close all the same?" in hands.say(
        "close job"
    )


def test_it_is_not_announced_over_a_value_in_question(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "start drain timer one minute", "tightened seven")
    hands.now += timedelta(seconds=35)
    assert hands.say("tightened four zero") == (
        "I heard four zero. The step says one four newton metres. Affirm, or say correction."
    )
    assert hands.wait(seconds=10) == ""
    said = hands.say("correction one four")
    assert said.startswith("Long bolt, pass two of three, tightened one four newton metres.")
    assert hands.wait(seconds=4) == ""
    assert hands.wait(seconds=timers.BREATH_S - 4) == "Time. The drain is up."


def test_it_waits_no_longer_than_its_bound_and_asks_again_then(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven", "start drain timer one minute")
    hands.wait(seconds=50)
    hands.say("tightened four zero")
    assert hands.wait(seconds=timers.MOST_HELD_S - 1) == ""
    said = hands.wait(seconds=1)
    assert said.startswith("Time. The drain is up. I heard four zero.")


def test_it_waits_while_somebody_speaks(hands: Hands) -> None:
    hands.say("start drain timer one minute")
    hands.now += timedelta(seconds=60)
    assert not hands.bench.tick(speaking=True)
    assert hands.bench.tick()
    hands.say("start drain timer one minute")
    hands.now += timedelta(seconds=60 + timers.MOST_HELD_S)
    assert hands.bench.tick(speaking=True)


def test_a_number_is_answered_before_what_is_due(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "start drain timer five seconds")
    assert hands.say("tightened seven").startswith("Long bolt, pass one of three, tightened seven")
    assert hands.wait(seconds=timers.BREATH_S) == "Time. The drain is up."


PROCEDURE = reading.parse(SMALL, "small.yaml")
START = datetime(2031, 3, 4, 9, tzinfo=ZONE)
NAMES = some.sampled_from([None, "cure", "drain", "hold"])
ACTIONS = some.one_of(
    some.builds(intents.StartTimer, some.integers(1, 100), NAMES),
    some.builds(intents.CancelTimer, NAMES, some.none() | some.integers(1, 3)),
    some.builds(intents.Tick, some.booleans()),
    some.builds(intents.TimeLeft, NAMES),
    some.just(intents.Disregard()),
    some.just("restart"),
)


@given(some.lists(some.tuples(ACTIONS, some.integers(0, 60)), max_size=40))
def test_no_announcement_is_lost_or_doubled(script: list[tuple[intents.Intent | str, int]]) -> None:
    """Any order of starting, cancelling, taking back, waiting and restarting, with any names."""
    now = START
    history = list(session.open_job(PROCEDURE, SMALL, now).events)
    state = job_state.replay(PROCEDURE, history)
    # At the end all of them are due.
    for action, seconds in [*script, (intents.Tick(), 3600)]:
        now += timedelta(seconds=seconds)
        if action == "restart":
            state = job_state.replay(PROCEDURE, history)
            decision = session.take_up(state, now, history[-1].at)
        else:
            assert isinstance(action, intents.Intent)
            decision = session.decide(state, action, now)
        rung = [e for e in decision.events if isinstance(e, events.TimerRang)]
        told = [r for r in decision.replies if r.text.startswith("Time.")]
        assert len(told) == len(rung)
        history += decision.events
        for event in decision.events:
            state = job_state.apply(state, event)
        names = [clock.name for clock in clocks.running_clocks(state)]
        assert len(names) == len(set(names))
        if rung or isinstance(action, intents.Tick):
            late = timedelta(seconds=timers.MOST_HELD_S)
            assert all(clock.due + late > now for clock in clocks.running_clocks(state))
    assert not clocks.running_clocks(state)
    # What was taken back is not in the history of the state; all else ended in one way, once.
    started = {e.turn for e in state.of_job(events.TimerStarted)}
    rang = Counter(e.started_turn for e in state.of_job(events.TimerRang))
    cancelled = Counter(e.started_turn for e in state.of_job(events.TimerCancelled))
    assert started <= set(rang) | set(cancelled)
    assert max((rang + cancelled).values(), default=1) == 1
