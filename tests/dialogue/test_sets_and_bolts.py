"""Readings taken more than once, as found and as left; every bolt of a pass; typed at a bench."""

from __future__ import annotations

from pathlib import Path
from typing import TypeVar

import pytest

from assistant.dialogue import clocks, events
from tests.bench_helpers import SMALL, Hands

E = TypeVar("E", bound=events.Base)

FOUR = SMALL.replace("name: long bolt, count: 2", "name: long bolt, count: 4")
STAR = FOUR.replace("torque: 14 N·m\n", "torque: 14 N·m\n            order: star\n")


def standing(hands: Hands, kind: type[E]) -> tuple[E, ...]:
    """Return the events of a kind that stand."""
    found: tuple[E, ...] = hands.bench.session.state.of_job(kind)
    return found


@pytest.fixture
def measuring(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    return hands


@pytest.fixture
def tightening(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db", STAR)
    hands.at_close()
    hands.say("affirm")
    return hands


# Readings taken more than once


def test_a_second_reading_is_asked_about_and_again_keeps_both(measuring: Hands) -> None:
    measuring.say("reading bore 25.00")
    assert measuring.say("reading bore 25.04") == (
        "I heard two five point zero four. Bore is recorded as two five point zero zero "
        "millimetres. Say again for a further reading, or correction and the value."
    )
    measuring.say("again")
    measuring.say("reading bore 25.02", "again")
    assert [str(e.value) for e in standing(measuring, events.ReadingRecorded)] == [
        "25.00",
        "25.04",
        "25.02",
    ]
    assert measuring.say("what mean") == (
        "Bore, three readings, mean two five point zero two millimetres."
    )
    assert measuring.say("what greatest bore").endswith("two five point zero four millimetres.")
    assert measuring.say("what least").endswith("least two five millimetres.")


def test_a_correction_says_which_of_several_it_is(measuring: Hands) -> None:
    measuring.say("reading bore 25.00", "reading bore 25.04", "again", "reading shaft 24.98")
    told = measuring.say("correction bore 25.03")
    assert told.startswith(
        "Correction of reading two of two. Was: bore two five point zero four millimetres."
    )
    bores = [e for e in standing(measuring, events.ReadingRecorded) if e.name == "bore"]
    assert [str(e.value) for e in bores] == ["25.00", "25.03"]
    measuring.say("disregard")
    bores = [e for e in standing(measuring, events.ReadingRecorded) if e.name == "bore"]
    assert [str(e.value) for e in bores] == ["25.00", "25.04"], "the old value stands again"


def test_a_correction_by_name_is_of_that_reading_or_of_none(measuring: Hands) -> None:
    measuring.say("reading bore 25.00", "reading shaft 24.98")
    measuring.say("correction bore 25.01")
    values = {e.name: str(e.value) for e in standing(measuring, events.ReadingRecorded)}
    assert values == {"bore": "25.01", "shaft": "24.98"}


def test_a_reading_that_was_not_taken_cannot_be_corrected(measuring: Hands) -> None:
    measuring.say("reading bore 25.00")
    assert "nothing at this step to correct" in measuring.say("correction shaft 24.97")
    assert [e.name for e in standing(measuring, events.ReadingRecorded)] == ["bore"]


def test_a_correction_that_is_refused_leaves_the_set_as_it_was(measuring: Hands) -> None:
    measuring.say("reading bore 25.00", "reading bore 25.04", "again")
    assert "I would expect" in measuring.say("correction bore 2.5")
    assert measuring.say("what greatest bore").endswith("two five point zero four millimetres.")
    measuring.say("negative")
    assert len(standing(measuring, events.ReadingRecorded)) == 2


def test_the_set_is_there_days_later_and_asked_in_the_unit_of_the_procedure(
    measuring: Hands,
) -> None:
    measuring.say("reading shaft 1 inch", "reading shaft 25.2", "again")
    measuring.stop_and_take_up(days=4)
    assert measuring.say("what mean shaft") == (
        "Shaft, two readings, mean two five point three millimetres."
    )


def test_what_was_not_measured_has_no_mean(measuring: Hands) -> None:
    assert measuring.say("what mean bore") == (
        "Bore was not measured yet. Say reading bore, and the value."
    )
    assert measuring.say("previous step", "what mean") == "Step two has no reading."


# As found, as left


def test_as_found_and_as_left_are_two_results(measuring: Hands) -> None:
    measuring.say("reading as found bore 25.10")
    assert measuring.say("affirm").startswith("Bore as found two five point one zero millimetres,")
    assert "Bore fails" in " ".join(measuring.notes.replies)
    assert "Recorded" in measuring.say("reading as left bore 25.00"), "no question: another set"
    assert measuring.say("what failed") == "Nothing failed."
    taken = [(e.taken, str(e.value)) for e in standing(measuring, events.ReadingRecorded)]
    assert taken == [("as found", "25.10"), ("as left", "25.00")]
    measuring.say("disregard")
    assert "Step four: bore fails" in measuring.say("what failed"), "found, and not settled"


def test_again_keeps_that_a_reading_was_said_to_be_as_found(measuring: Hands) -> None:
    measuring.say("reading as found bore 25.01", "reading as found bore 25.02", "again")
    bores = standing(measuring, events.ReadingRecorded)
    assert [(str(e.value), e.taken) for e in bores] == [
        ("25.01", "as found"),
        ("25.02", "as found"),
    ]


def test_a_correction_is_of_the_set_that_was_spoken_of(measuring: Hands) -> None:
    measuring.say("reading as found bore 25.01", "reading bore 25.00")
    assert "recorded as two five point zero one" in measuring.say("reading as found bore 25.02")
    assert "Was: bore as found two five point zero one" in measuring.say("correction 25.03")
    bores = standing(measuring, events.ReadingRecorded)
    assert {(str(e.value), e.taken) for e in bores} == {("25.03", "as found"), ("25.00", None)}


def test_as_found_holds_fitting_and_not_the_inspection(tmp_path: Path) -> None:
    fitting = SMALL.replace("from_bag: 1", "from_bag: 1\n        fit: [{part: end plate}]")
    hands = Hands(tmp_path / "journal.db", fitting)
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading as found bore 25.10", "affirm", "reading shaft 25.08")
    assert hands.say("next step").startswith("Build-up. Step five has to wait. At step four, bore")
    hands.say("go to step four", "reading as left bore 25.04")
    assert "Before step five: Is the box clean?" in hands.say("next step")


def test_a_correction_of_what_was_as_found_stays_as_found(measuring: Hands) -> None:
    measuring.say("reading as found bore 25.02", "correction bore 25.03")
    (bore,) = standing(measuring, events.ReadingRecorded)
    assert (bore.taken, str(bore.value)) == ("as found", "25.03")


def test_a_torque_as_found_is_not_yet_the_pass(tightening: Hands) -> None:
    tightening.say("tightened as found short bolt 3")
    assert "It holds fitting and closing." in tightening.say("affirm")
    assert "Step five: short bolt has three newton metres" in tightening.say("what failed")
    assert "short bolt, one zero newton metres" in tightening.say("next step")
    tightening.say("tightened short bolt 10")
    assert tightening.say("what failed") == "Nothing failed."
    told = [(e.taken, str(e.value)) for e in standing(tightening, events.TorqueRecorded)]
    assert told == [("as found", "3"), (None, "10")]


def test_a_finding_can_be_as_found_or_as_left(measuring: Hands) -> None:
    assert measuring.say("circlip worn as found") == "Circlip worn, as found. Recorded."
    assert measuring.say("correction circlip sound as left").endswith(
        "Circlip sound, as left. Recorded."
    )
    (finding,) = standing(measuring, events.FindingRecorded)
    assert finding.taken == "as left"


# Every bolt


def test_a_pass_that_is_called_is_done_when_each_bolt_is(tightening: Hands) -> None:
    assert tightening.say("next bolt") == (
        "Long bolt, pass one of three, seven newton metres. Bolt one."
    )
    assert tightening.say("tightened 7").endswith(
        "Next, bolt three, long bolt, pass one of three, seven newton metres."
    )
    assert tightening.say("next bolt") == "Bolt three."
    assert "The last of pass one" not in tightening.say("tightened 7", "next bolt")
    assert "The last of pass one" in tightening.say("tightened 7", "next bolt")
    assert tightening.say("tightened 7").endswith(
        "Next, long bolt, pass two of three, one four newton metres."
    )
    done = [(e.stage, e.bolt) for e in standing(tightening, events.TorqueRecorded)]
    assert done == [(1, 1), (1, 3), (1, 2), (1, 4)]


def test_bolts_by_their_number_in_any_order(tightening: Hands) -> None:
    tightening.say("bolt four tightened 7")
    assert "bolts one, three and two of long bolt" in tightening.say("next step")
    assert tightening.say("bolt four tightened 7").startswith("Bolt four is recorded.")
    assert tightening.say("bolt nine tightened 7").startswith("There are four bolts.")
    tightening.say("bolt one 7", "bolt two 7", "bolt three 7")
    assert tightening.say("tightened 14").startswith(
        "Long bolt, pass two of three, tightened one four newton metres."
    ), "the next pass may be said as one"


def test_one_bolt_out_of_tolerance_is_a_nonconformity_of_that_bolt(tightening: Hands) -> None:
    tightening.say("bolt one 7", "bolt three 7", "bolt two 9")
    assert "where seven newton metres was asked. Recorded" in tightening.say("affirm")
    tightening.stop_and_take_up(days=1)
    assert "bolt two" in tightening.say("what failed")
    tightening.say("bolt four 7", "tightened 14", "turned 90 degrees", "tightened short bolt 10")
    assert "bolt two" in tightening.say("next step"), "it holds its step"
    assert tightening.say("correction bolt two tightened 7").startswith(
        "Correction. Was: long bolt, pass one of three, bolt two, tightened nine newton metres"
    )
    assert tightening.say("what failed") == "Nothing failed."
    assert tightening.say("next step").startswith("Step six.")


def test_angles_bolt_by_bolt_and_the_rest_as_one(tightening: Hands) -> None:
    tightening.say("tightened 7", "tightened 14")
    assert tightening.say("bolt one turned 90 degrees").startswith(
        "Long bolt, pass three of three, bolt one, turned nine zero degrees. Recorded."
    )
    assert tightening.say("all turned 90 degrees").endswith(
        "Next, short bolt, one zero newton metres."
    )
    assert [e.bolt for e in standing(tightening, events.TorqueRecorded)] == [None, None, 1, None]


def test_a_half_done_pass_is_outstanding_when_the_work_comes_back(tightening: Hands) -> None:
    tightening.say("next bolt", "tightened 7", "previous step")
    told = tightening.say("next step")
    assert "Half done, outstanding: the torque, bolts three, two and four of long bolt" in told
    assert "Steps five and six of build-up not done, five half done." in tightening.say(
        "what is left"
    )
    assert "steps five and six of build-up not done, five half done" in tightening.say("close job")
    tightening.say("negative", "disregard", "disregard", "disregard")
    assert "half done" not in tightening.say("what is left"), "it was taken back"


LOOSEN = SMALL.replace(
    "        bag: 1\n      - id: which",
    "        loosen: [{fastener: plate bolt, order: star}]\n        bag: 1\n      - id: which",
)


def test_bolts_to_loosen_are_called_too(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", LOOSEN)
    assert "Affirm that you heard" in hands.say("next bolt")
    assert hands.say("affirm", "next bolt") == "Plate bolt, to loosen. Bolt four."
    assert [hands.say("next bolt") for _ in range(4)] == [
        "Bolt two.",
        "Bolt three.",
        "Bolt one.",
        "That was every bolt to loosen.",
    ]
    assert not standing(hands, events.TorqueRecorded)


SINCE = SMALL.replace(
    "wait: {purpose: cure, time: 10 min}", "wait: {purpose: cure, time: 10 min, since: close}"
)


def test_a_wait_begins_with_the_last_bolt(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", SINCE)
    hands.at_close()
    hands.say("affirm", "tightened 7", "tightened 14", "turned 90 degrees", "bolt one 10")
    hands.wait(minutes=30)
    assert "up" not in hands.say("time left"), "one bolt is to be done yet"
    hands.say("bolt two 10", "next step")
    assert "nine minutes" in hands.say("time left")
    assert hands.wait(minutes=11) != ""
    assert hands.say("next step").startswith("That was the last step.")


def tighten_and_cure(tmp_path: Path) -> Hands:
    """Tighten the joint wrongly, as a good one is misheard, and go on to its cure."""
    hands = Hands(tmp_path / "journal.db", SINCE)
    hands.at_close()
    hands.say("affirm", "tightened 7", "tightened 14", "turned 90 degrees")
    hands.say("tightened 9", "affirm")
    return hands


def cure_left(hands: Hands) -> float:
    """Return how long the cure has to go yet, in minutes."""
    (clock,) = clocks.running_clocks(hands.bench.state)
    return (clock.due - hands.now).total_seconds() / 60


def test_a_correction_of_what_was_said_starts_no_clock_anew(tmp_path: Path) -> None:
    hands = tighten_and_cure(tmp_path)
    hands.wait(minutes=4)
    before = cure_left(hands)
    # Put right, questioned and affirmed, and put right again, on another day's program.
    hands.say("correction 12", "affirm")
    assert cure_left(hands) == pytest.approx(before - 20 / 60)
    hands.stop_and_take_up(seconds=10)
    hands.say("correction 10")
    assert cure_left(hands) == pytest.approx(before - 40 / 60)
    hands.say("disregard", "disregard")
    assert cure_left(hands) == pytest.approx(before - 60 / 60)
    hands.say("correction 10", "next step")
    assert "The cure is up" in hands.wait(minutes=6)
    assert hands.wait(minutes=60) == "", "it rings once"


def test_a_correction_after_the_time_is_up_waits_for_nothing(tmp_path: Path) -> None:
    hands = tighten_and_cure(tmp_path)
    hands.wait(minutes=11)
    hands.say("correction 10", "next step")
    assert hands.wait(minutes=30) == ""
    assert hands.say("next step").startswith("That was the last step.")


@pytest.mark.parametrize("word", ["retest", "rework step five"])
def test_what_is_tightened_again_starts_its_clock_anew(tmp_path: Path, word: str) -> None:
    hands = tighten_and_cure(tmp_path)
    hands.wait(minutes=4)
    hands.say(word, "affirm")
    assert not clocks.running_clocks(hands.bench.state)
    hands.say("affirm", "tightened 7", "tightened 14", "turned 90 degrees", "tightened 10")
    assert cure_left(hands) == pytest.approx(10)
