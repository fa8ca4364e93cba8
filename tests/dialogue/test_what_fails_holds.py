"""What fails, holds: said at the bench in plain words, and read from what is on disk."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue import events, facts, nonconformities, results
from assistant.procedure.model import Limits, Quantity
from tests.bench_helpers import Hands
from tests.dialogue.rig import COVER, GASKET, HEIGHTS, HOLD, LABEL, RIG, RUN, TOOTH, UNLOCK

NOTHING_LEFT = "Nothing more here"


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", RIG)


def go_to(at: Hands, step: int) -> None:
    """Do everything before a step of the rig, as it should be."""
    work = {
        1: ("next step",),
        2: ("bag one", "next step"),
        3: ("reading 0.3", "next step"),
        4: ("reading 0.61", "reading 0.60", "next step"),
        5: ("next step",),
        6: ("tightened one two", "tightened two four", "next step"),
        7: ("reading 0.3", "reading 0.29", "next step"),
        8: ("next step",),
        9: ("next step",),
    }
    for number in range(at.bench.state.number, step):
        at.say(*work[number])
    assert at.bench.state.number == step


def open_ones(at: Hands) -> list[tuple[str, str]]:
    """Return the kind and name of each result that fails and is not conceded."""
    return [(f.ref.kind, f.ref.name) for f in nonconformities.still_open(at.bench.state)]


def fail_the_leak_test(at: Hands) -> str:
    go_to(at, HOLD)
    return at.say("reading 0.3", "reading 0.2")


# A result of the build-up holds its own step, and all after it in the stage


def test_a_failed_leak_test_holds_its_step_and_says_by_how_much_and_the_ways_out(
    hands: Hands,
) -> None:
    said = fail_the_leak_test(hands)
    assert "The leak test fails by zero point zero eight five bar" in said
    assert "Say retest, rework and the step, or concession." in said
    assert "We stay at step seven" in hands.say("next step")
    assert "We stay at step seven" in hands.say("go to step eight")
    assert hands.bench.state.number == HOLD
    assert not [e for e in hands.events("step done") if getattr(e, "step", None) == "hold"]


def test_skipping_ends_nothing_and_what_comes_after_waits(hands: Hands) -> None:
    fail_the_leak_test(hands)
    said = hands.say("skip step", "told to leave it")
    assert "Step eight has to wait. At step seven, the leak test fails" in said
    # The next stage is free but for what names the step in "before".
    hands.say("skip step", "not needed")
    assert hands.bench.state.number == UNLOCK
    said = hands.say("next step")
    assert "Step ten has to wait" in said
    assert "has to wait" in hands.say("reading 0.1")
    assert not [e for e in hands.events("reading recorded") if getattr(e, "step", "") == "run"]
    assert ("leak test", "final pressure") in open_ones(hands)


def test_a_conceded_leak_test_is_called_so_and_not_by_its_reading(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("concession")
    assert hands.say("note for the trial run").startswith("Conceded by sam, the leak test.")
    assert "The leak test conceded." in hands.say("read back")
    assert hands.say("disregard").startswith("Disregarded: the leak test conceded.")


def test_a_conceded_bolt_is_named_with_its_number(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("bolt one one two", "bolt two nine", "affirm", "concession")
    assert "Conceded by sam, cover bolt, bolt two." in hands.say("note it turns no further")


def test_closing_names_what_fails_and_the_record_keeps_it(hands: Hands) -> None:
    fail_the_leak_test(hands)
    assert "the leak test fails by zero point zero eight five bar" in hands.say("close job")
    hands.stop_and_take_up(days=3)
    assert hands.bench.state.mode == "closing"
    hands.say("affirm")
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed)
    assert isinstance(closed.left[0], facts.Failed), "what fails comes first"
    assert closed.left[0].result.kind == "leak test"
    assert closed.left[0].found == facts.Amount(value=Decimal("0.1"), unit="bar")


# As found: it holds fitting and closing only


def test_as_found_a_worn_tooth_does_not_stop_the_inspection_but_stops_fitting(
    hands: Hands,
) -> None:
    go_to(hands, TOOTH)
    said = hands.say("reading 0.9", "affirm")
    assert "It holds fitting and closing." in said
    assert "Step four" in hands.say("next step")
    hands.say("reading 0.61", "reading 0.60")
    assert "Step five has to wait. At step three, tooth wear fails" in hands.say("next step")
    assert "We stay at step five" in hands.say("next step")
    assert "tooth wear fails" in hands.say("close job")
    hands.say("negative")
    # Found anew within limits, the way is free.
    hands.say("retest", "reading 0.4", "next step", "next step")
    assert hands.bench.state.number == GASKET
    assert "Step six" in hands.say("next step")


# Retest


def test_a_retest_is_a_new_set_and_the_first_stays_in_the_record(hands: Hands) -> None:
    fail_the_leak_test(hands)
    said = hands.say("retest")
    assert "a new set of results, at step seven" in said
    assert "The leak test is open again." in said
    assert hands.say("what failed") == (
        "Step seven: the leak test failed by zero point zero eight five bar, "
        "and is to be retested. Say go to step seven."
    )
    assert "Outstanding" in hands.say("next step")
    hands.stop_and_take_up(days=1)
    said = hands.say("reading 0.3", "reading 0.29")
    assert "Leak test pass" in said
    assert hands.say("what failed") == "Nothing failed."
    assert NOTHING_LEFT in said
    read_back = hands.say("read back")
    assert "Final pressure zero point two nine bar" in read_back
    assert "zero point two bar" not in read_back
    taken = [e.value for e in hands.events("reading recorded") if getattr(e, "step", "") == "hold"]  # type: ignore[attr-defined]
    assert taken == [Decimal("0.3"), Decimal("0.2"), Decimal("0.3"), Decimal("0.29")]
    assert not hands.events("withdrawn")
    (begun,) = hands.events("retest begun")
    assert isinstance(begun, events.RetestBegun)
    assert [one.kind for one in begun.results] == ["leak test"]
    assert begun.steps == ("hold",)
    assert "Step eight" in hands.say("next step")


def test_a_retest_that_is_disregarded_leaves_the_first_set_failing(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("retest")
    said = hands.say("disregard")
    assert "Disregarded: retest of the leak test." in said
    assert "The leak test fails" in said
    assert open_ones(hands) == [("leak test", "final pressure")]
    hands.stop_and_take_up(hours=1)
    assert open_ones(hands) == [("leak test", "final pressure")]


def test_where_nothing_fails_there_is_nothing_to_retest_or_concede(hands: Hands) -> None:
    before = hands.bench.journal.events(1)
    assert hands.say("retest") == "Nothing failed."
    assert hands.say("concession") == "Nothing failed."
    assert hands.bench.journal.events(1) == before


def test_what_is_to_be_retested_is_open_until_the_new_set_is_complete(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("retest")
    assert open_ones(hands) == [("leak test", "final pressure")]
    said = hands.say("close job")
    assert "step seven is open: the leak test failed by zero point zero eight five bar" in said
    hands.say("negative", "reading 0.3")
    hands.stop_and_take_up(days=2)
    assert open_ones(hands) == [("leak test", "final pressure")], "half a set settles nothing"
    # What comes after waits for it, though its own step does not.
    said = hands.say("go to step three", "go to step eight")
    assert "Step eight has to wait. At step seven, the leak test failed" in said
    assert said.endswith("Say go to step seven.")
    assert "go to step seven" in hands.say("next step")
    hands.say("go to step seven", "close job", "affirm")
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed)
    assert isinstance(closed.left[0], facts.Failed)
    assert closed.left[0].again == facts.Again(by="retest", number=HOLD)


def test_a_second_failure_is_told_as_it_stands(hands: Hands) -> None:
    fail_the_leak_test(hands)
    said = hands.say("retest", "reading 0.3", "reading 0.1")
    assert "The leak test fails by zero point one eight five bar" in said
    assert open_ones(hands) == [("leak test", "final pressure")]
    assert "to be retested" not in hands.say("what failed")
    hands.say("retest", "reading 0.3", "reading 0.3")
    assert open_ones(hands) == []


def test_retest_said_twice_begins_no_second_set(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("retest", "reading 0.3")
    before = hands.bench.journal.events(1)
    said = hands.say("retest")
    assert "The leak test failed by zero point zero eight five bar" in said
    assert "Next. Final pressure." in said
    assert hands.bench.journal.events(1) == before
    assert "Leak test pass" in hands.say("reading 0.29")


def test_skipping_the_step_of_a_retest_ends_nothing(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("retest", "skip step", "told to leave it")
    assert open_ones(hands) == [("leak test", "final pressure")]
    assert "to be retested" in hands.say("what failed")
    assert "Step eight has to wait" in hands.say("go to step eight")


def test_what_is_to_be_retested_can_be_conceded_instead(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("retest")
    said = hands.say("concession")
    assert said.startswith("Concession for step seven: the leak test fails by")
    hands.say("note the owner knows")
    assert open_ones(hands) == []
    assert "Conceded by sam" in hands.say("what failed")
    # It is of the old set: what is measured now fails, or not, by itself.
    hands.say("reading 0.3", "reading 0.1")
    assert open_ones(hands) == [("leak test", "final pressure")]


def test_what_was_conceded_and_is_done_again_is_not_open(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("concession", "note the owner knows", "rework step six")
    assert open_ones(hands) == []
    assert "Conceded by sam" in hands.say("what failed")
    hands.say("all tightened one two", "all tightened two four", "next step")
    hands.say("reading 0.3", "reading 0.3")
    assert hands.say("what failed") == "Nothing failed."


def test_a_torque_and_a_bolt_that_failed_are_open_until_the_pass_is_done_again(
    hands: Hands,
) -> None:
    go_to(hands, COVER)
    hands.say("bolt one one two", "bolt two nine", "affirm", "retest")
    failing = [("torque", "cover bolt")]
    assert open_ones(hands) == failing
    said = hands.say("what failed")
    assert "cover bolt, bolt two, had nine newton metres" in said
    assert "to be retested" in said
    hands.say("bolt one one two", "bolt two one two", "bolt three one two")
    assert open_ones(hands) == failing
    hands.stop_and_take_up(days=1)
    hands.say("go to step three", "what failed")
    assert open_ones(hands) == failing
    hands.say("go to step six", "bolt four one two")
    assert open_ones(hands) == []


# Rework


def test_rework_opens_the_step_and_what_comes_after_and_lists_it(hands: Hands) -> None:
    go_to(hands, RUN)
    said = hands.say("rework step six")
    # The later steps of the stage, what names one of them in "before"; and the lock, which was off.
    assert "Rework of step six" in said
    (begun,) = hands.events("rework begun")
    assert isinstance(begun, events.ReworkBegun)
    assert begun.steps == ("lock", "cover", "hold", "label", "unlock")
    assert "one, seven, eight and nine are to be done again" in said
    assert "Step six has to wait for step one" in said
    assert {"open", "tooth", "heights", "gasket"} <= hands.bench.state.done
    assert not {*begun.steps} & hands.bench.state.done
    assert "has to wait" in hands.say("tightened one two")
    hands.say("go to step one", "next step", "go to step six")
    assert "Recorded" in hands.say("tightened one two")


def test_rework_for_a_leak_wants_the_leak_test_again(hands: Hands) -> None:
    fail_the_leak_test(hands)
    assert "After it step seven is to be done again" in hands.say("rework step six")
    assert hands.bench.state.number == COVER
    said = hands.say("what failed")
    assert "the leak test failed by zero point zero eight five bar, and is to be done again" in said
    assert said.endswith("Say go to step six.")
    hands.say("all tightened one two", "all tightened two four")
    assert "Step seven" in hands.say("next step")
    assert hands.say("what failed").endswith("Say go to step seven.")
    assert "Leak test pass" in hands.say("reading 0.3", "reading 0.29")
    assert "Step eight" in hands.say("next step")
    assert len(hands.events("torque recorded")) == 4


def test_rework_leaves_a_skipped_neighbour_skipped_and_what_was_found_before_alone(
    hands: Hands,
) -> None:
    go_to(hands, TOOTH)
    hands.say("reading 0.9", "affirm", "note the owner knows")
    hands.say("concession", "note the owner knows")
    hands.say("next step")
    go_to(hands, HOLD)
    hands.say("skip step", "tool not here", "next step")
    said = hands.say("rework step six")
    assert said.startswith("Rework of step six. After it step eight is to be done again")
    assert hands.bench.state.skipped.keys() == {"hold"}
    assert "tooth" in hands.bench.state.done


def test_rework_of_a_step_that_was_not_done_is_refused(hands: Hands) -> None:
    before = hands.bench.journal.events(1)
    assert "was not done yet" in hands.say("rework step six")
    assert "There are ten steps" in hands.say("rework step thirty")
    assert "Say rework, step, and its number" in hands.say("rework")
    assert hands.bench.journal.events(1) == before


# Concession


def test_a_concession_has_a_reason_and_a_name_and_frees_the_way(hands: Hands) -> None:
    fail_the_leak_test(hands)
    assert "For what reason" in hands.say("concession")
    assert "For what reason" in hands.say("next step"), "it stays asked until it is answered"
    hands.stop_and_take_up(hours=2)
    assert "Conceded by sam" in hands.say("note the owner accepts it")
    (conceded,) = hands.events("conceded")
    assert isinstance(conceded, events.Conceded)
    assert (conceded.by, conceded.reason) == ("sam", "the owner accepts it")
    assert "conceded by sam: the leak test fails" in hands.say("what failed").lower()
    assert "Step eight" in hands.say("next step")


def test_a_concession_that_is_left_changes_nothing(hands: Hands) -> None:
    fail_the_leak_test(hands)
    for way in ("negative", "disregard"):
        hands.say("concession", way)
        assert open_ones(hands) == [("leak test", "final pressure")]
    hands.say("concession", "note", "disregard")
    assert open_ones(hands) == [("leak test", "final pressure")]
    assert not hands.events("conceded")


def test_a_concession_lapses_when_its_result_changes_and_stands_again_with_it(
    hands: Hands,
) -> None:
    fail_the_leak_test(hands)
    hands.say("concession", "note the owner accepts it")
    assert open_ones(hands) == []
    said = hands.say("correction 0.21")
    assert "The leak test fails by zero point zero seven five bar" in said
    assert open_ones(hands) == [("leak test", "final pressure")]
    assert "conceded" not in hands.say("read back")
    hands.say("disregard")
    assert open_ones(hands) == []
    assert "The leak test conceded" in hands.say("read back")


def test_who_may_concede_can_be_listed_and_is_looked_at_when_the_reason_is_given(
    tmp_path: Path,
) -> None:
    hands = Hands(tmp_path / "journal.db", RIG)
    go_to(hands, RUN)
    hands.technicians = ("Ann", "Bo")
    hands.stop_and_take_up()
    hands.say("reading backlash 0.4", "affirm", "reading backlash 0.2")
    assert "not on the list" in hands.say("concession")
    hands.say("this is ann")
    assert "For what reason" in hands.say("concession")
    # Somebody else signs on between question and answer.
    hands.say("this is bo")
    assert "Bo is not on the list" in hands.say("note it is good enough")
    assert open_ones(hands) == [("reading", "backlash")]
    hands.say("this is ann")
    assert "Conceded by Ann" in hands.say("concession", "note it is good enough")
    assert open_ones(hands) == []


def test_some_results_take_no_concession(hands: Hands) -> None:
    go_to(hands, RUN)
    hands.say("reading backlash 0.1", "reading backlash 0.1")
    said = hands.say("reading insulation 0.5", "affirm")
    assert said.count("concession") == 0
    assert "takes no concession" in hands.say("concession")
    assert open_ones(hands) == [("reading", "insulation")]


def test_of_two_failures_the_one_that_may_be_conceded_is_asked_about(tmp_path: Path) -> None:
    text = RIG.replace("most: 0.3 mm}, concession: listed", "most: 0.3 mm}, concession: none")
    text = text.replace("least: 1 mm}, concession: none", "least: 1 mm}")
    hands = Hands(tmp_path / "journal.db", text)
    go_to(hands, RUN)
    hands.say("reading backlash 0.4", "affirm", "reading backlash 0.2")
    hands.say("reading insulation 0.5", "affirm")
    assert "Concession for step ten: insulation fails" in hands.say("concession")


def test_without_a_name_there_is_no_concession(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", RIG)
    hands.bench.keeper.by = None
    fail_the_leak_test(hands)
    assert "A concession needs a name" in hands.say("concession")
    assert hands.bench.state.mode == "working"


# Every bolt


def test_one_tightened_after_a_bolt_was_called_closes_that_bolt_alone(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("next bolt")
    assert "bolt one" in hands.say("tightened one two")
    said = hands.say("next step")
    assert "bolts three, two and four of cover bolt" in said
    assert "We stay" in said
    hands.say("next bolt", "tightened one two", "next bolt", "tightened one two")
    hands.stop_and_take_up(days=1)
    assert "Outstanding: the torque, bolt four of cover bolt" in hands.say("next step")
    assert "pass two of two" in hands.say("bolt four one two")
    assert [e.bolt for e in hands.events("torque recorded")] == [1, 3, 2, 4]  # type: ignore[attr-defined]


def test_the_rest_can_be_said_as_one_and_the_record_says_so(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("bolt two one two", "all tightened one two")
    hands.say("all tightened two four")
    two, rest, second = hands.events("torque recorded")
    assert isinstance(two, events.TorqueRecorded) and isinstance(rest, events.TorqueRecorded)
    assert isinstance(second, events.TorqueRecorded)
    assert (two.bolt, two.as_one) == (2, False)
    assert (rest.bolt, rest.as_one) == (None, True)
    assert (second.bolt, second.as_one) == (None, False), "no bolt of this pass was told alone"
    assert "Step seven" in hands.say("next step")


def test_each_bolt_can_be_corrected_and_fails_alone(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("bolt one one two", "bolt two one two", "bolt three one two", "all tightened one two")
    said = hands.say("correction bolt two nine")
    assert "I heard nine" in said
    assert "bolt two" in hands.say("affirm")
    assert open_ones(hands) == [("torque", "cover bolt")]
    assert "bolt two, has nine newton metres, where one two newton metres is asked" in hands.say(
        "what failed"
    )
    hands.say("disregard")
    assert open_ones(hands) == []


def test_a_bolt_that_does_not_exist_or_is_recorded_is_refused(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("bolt two one two")
    before = hands.bench.journal.events(1)
    assert "Bolt two is recorded" in hands.say("bolt two one two")
    assert "four" in hands.say("bolt nine one two")
    assert hands.bench.journal.events(1) == before


def test_a_step_with_one_pass_of_two_is_outstanding_when_the_work_comes_back(
    hands: Hands,
) -> None:
    go_to(hands, COVER)
    hands.say("tightened one two", "skip step", "tool not here")
    hands.say("reading 0.3", "reading 0.29", "next step")
    assert "Step six skipped, tool not here" in hands.say("what is left")
    hands.stop_and_take_up(days=2)
    hands.say("go to step six")
    assert "Outstanding: the torque, cover bolt, pass two of two" in hands.say("next step")
    assert "step six skipped" in hands.say("close job")
    hands.say("negative", "tightened two four")
    assert "Step seven" in hands.say("next step")
    assert "skipped" not in hands.say("what is left")


# Measure again


def test_a_second_reading_is_asked_about_and_is_judged_by_the_worst(hands: Hands) -> None:
    go_to(hands, TOOTH)
    hands.say("reading 0.7", "affirm")
    assert "Say again for a further reading" in hands.say("reading tooth wear 0.3")
    hands.stop_and_take_up(minutes=5)
    assert "Tooth wear zero point three" in hands.say("again")
    # Good readings beside a bad one do not make it good.
    hands.say("reading tooth wear 0.2", "again")
    assert open_ones(hands) == [("reading", "tooth wear")]
    assert "zero point seven" in hands.say("what failed")
    assert len(hands.events("reading recorded")) == 3


def test_a_number_alone_is_no_further_reading_where_there_are_several(hands: Hands) -> None:
    go_to(hands, HEIGHTS)
    hands.say("reading 0.61", "reading 0.60")
    before = hands.bench.journal.events(1)
    assert "Every reading" in hands.say("reading 0.62")
    assert hands.bench.journal.events(1) == before
    # Where the step has but one, it can be no other.
    go_to(hands, HEIGHTS)
    hands.say("go to step three", "reading 0.3")
    assert "Say again for a further reading" in hands.say("reading 0.31")


def test_the_question_about_a_second_reading_takes_a_correction_or_nothing(hands: Hands) -> None:
    go_to(hands, TOOTH)
    hands.say("reading 0.3", "reading tooth wear 0.4", "negative")
    assert hands.bench.state.results.values()["tooth wear"] == (Decimal("0.3"), "mm")
    # A number alone does not tell which is meant.
    assert "Say again" in hands.say("reading tooth wear 0.4", "0.5")
    assert "Was: tooth wear zero point three" in hands.say("correction 0.5")
    assert hands.bench.state.results.values()["tooth wear"] == (Decimal("0.5"), "mm")
    assert len(hands.bench.state.results.readings["tooth wear"].taken) == 1


def test_a_further_reading_that_cannot_be_is_questioned_like_the_first(hands: Hands) -> None:
    go_to(hands, TOOTH)
    hands.say("reading 0.3", "reading tooth wear 5")
    assert "I would expect" in hands.say("again")
    hands.say("negative")
    assert len(hands.events("reading recorded")) == 1


def test_again_with_nothing_to_repeat_says_how(hands: Hands) -> None:
    go_to(hands, TOOTH)
    assert hands.bench.state.mode == "working"
    before = hands.bench.journal.events(1)
    hands.say("again")
    assert hands.bench.journal.events(1) == before


def test_a_leak_test_is_judged_by_its_worst_final_pressure(hands: Hands) -> None:
    fail_the_leak_test(hands)
    for _ in range(5):
        hands.say("reading final pressure 0.3", "again")
    # The mean would pass, and the least does not.
    assert open_ones(hands) == [("leak test", "final pressure")]
    (verdict,) = hands.bench.state.results.at("hold")
    assert isinstance(verdict, results.LeakVerdict)
    assert verdict.lost == Decimal("0.1")


def test_what_failed_names_the_reading_that_is_furthest_out(hands: Hands) -> None:
    go_to(hands, TOOTH)
    hands.say("reading 0.7", "affirm")
    for further in ("0.9", "0.8"):
        hands.say(f"reading tooth wear {further}", "again", "affirm")
    assert "zero point nine millimetres, by zero point three" in hands.say("what failed")


def test_a_value_is_judged_by_the_worst_of_the_readings_that_it_is_worked_out_from(
    hands: Hands,
) -> None:
    go_to(hands, HEIGHTS)
    hands.say("reading 0.61", "reading 0.60")
    assert open_ones(hands) == []
    # The mean of the first height is 0.78 mm, within 0.8 mm; one of the two is not.
    hands.say("reading first height 0.95", "again")
    assert hands.bench.state.results.values()["highest"] == (Decimal("0.78"), "mm")
    assert ("value", "highest") in open_ones(hands)


@pytest.mark.parametrize(
    ("use", "value"), [("greatest", "0.2"), ("least", "0.1"), ("mean", "0.15")]
)
def test_what_is_worked_on_with_is_the_mean_or_an_end(tmp_path: Path, use: str, value: str) -> None:
    text = RIG.replace("times: 2", f"times: 2, use: {use}")
    hands = Hands(tmp_path / "journal.db", text)
    go_to(hands, RUN)
    hands.say("reading backlash 0.2", "reading backlash 0.1")
    assert hands.bench.state.results.values()["backlash"] == (Decimal(value), "mm")


def test_a_fluid_is_judged_by_its_worst_reading(tmp_path: Path) -> None:
    oil = (
        "- {id: label, say: Fill it., readings: [{name: oil, unit: l}], "
        "fluid: {name: gear oil, capacity: 1.1 l, of: oil}}"
    )
    text = RIG.replace("- {id: label, say: Fit the label.}", oil)
    hands = Hands(tmp_path / "journal.db", text)
    go_to(hands, LABEL)
    hands.say("reading 1.1")
    assert open_ones(hands) == []
    # The two further ones together are right, and each is not.
    hands.say("reading oil 0.6", "again", "reading oil 1.6", "again")
    assert open_ones(hands) == [("fluid", "gear oil")]


def test_what_is_to_be_measured_twice_is_outstanding_after_once(hands: Hands) -> None:
    go_to(hands, RUN)
    hands.say("reading backlash 0.1", "reading insulation 2")
    assert "backlash" in hands.say("next step")
    assert NOTHING_LEFT in hands.say("reading backlash 0.2")
    measured = hands.bench.state.results.readings["backlash"]
    assert measured.complete
    assert measured.value == Decimal("0.15"), "the mean, where the procedure does not say"


# A part that follows from a value


def test_a_part_chosen_from_a_value_that_fails_says_so(hands: Hands) -> None:
    go_to(hands, HEIGHTS)
    said = hands.say("reading 0.85", "reading 0.80")
    assert "Use four notch gasket, but highest fails." in said
    assert open_ones(hands) == [("value", "highest")]
    (chosen,) = hands.events("part chosen")
    assert isinstance(chosen, events.PartChosen)
    assert chosen.failed


def test_a_value_for_which_no_part_is_given_fails(hands: Hands) -> None:
    go_to(hands, HEIGHTS)
    hands.say("reading 1.5", "reading 0.6")
    assert ("choice", "highest") in open_ones(hands)
    said = hands.say("what failed")
    assert "no part is given for highest" in said
    assert "rework step four" not in said
    assert "Rework of step four" in hands.say("rework step four")
    assert ("choice", "highest") in open_ones(hands)
    assert "no part was given for highest" in hands.say("what failed")
    hands.say("reading 0.61", "reading 0.60")
    assert open_ones(hands) == []


# Gates


def test_nothing_goes_on_behind_a_gate_that_was_not_passed(hands: Hands) -> None:
    hands.say("skip step", "do it later")
    assert hands.bench.state.number == 2
    assert "has to wait for step one" in hands.say("bag one")
    assert "step one to do first" in hands.say("next step")
    hands.say("skip step", "do it later")
    # Where a step was skipped, the way forward is free; the gate holds wherever it leads.
    hands.say("go to step two")
    assert "Step six has to wait for step one" in hands.say("go to step six")
    assert "has to wait for step one" in hands.say("tightened one two")
    # Nor is it passed behind the step that would lift it, for that was not done either.
    hands.say("skip step", "do it later", "go to step six")
    assert "Step ten has to wait for step one" in hands.say("go to step ten")
    assert "has to wait for step one" in hands.say("reading backlash 0.1")
    hands.stop_and_take_up(days=1)
    assert "has to wait for step one" in hands.say("reading backlash 0.1")
    for kind in ("bag recorded", "torque recorded", "reading recorded", "step done"):
        assert not hands.events(kind)
    hands.say("go to step one", "next step", "go to step two")
    assert "Recorded" in hands.say("bag one")


def test_what_to_say_is_not_run_together_with_what_is_outstanding_beside_it(hands: Hands) -> None:
    hands.say("skip step", "do it later")
    assert hands.say("next step") == (
        "Outstanding: step one to do first, lock the supply out: say go to step one. "
        "Also bag one. We stay at step two."
    )
    assert hands.say("where are we").endswith("say go to step one. Also bag one.")


def test_a_gate_of_a_stage_holds_that_stage_alone(tmp_path: Path) -> None:
    text = RIG.replace("gate: job", "gate: stage")
    hands = Hands(tmp_path / "journal.db", text)
    hands.say("skip step", "do it later")
    assert "has to wait for step one" in hands.say("bag one")
    for _ in range(3):
        hands.say("skip step", "do it later")
    assert hands.bench.state.number == GASKET
    assert "Step six" in hands.say("next step")


def test_a_step_before_the_gate_does_not_wait_for_it(tmp_path: Path) -> None:
    text = RIG.replace(", gate: job", "").replace("id: tooth\n", "id: tooth\n        gate: job\n")
    hands = Hands(tmp_path / "journal.db", text.replace(", lifts: [lock]", ", lifts: [tooth]"))
    assert "Step two" in hands.say("next step")
    assert "Recorded" in hands.say("bag one")
    hands.say("next step", "skip step", "do it later")
    assert "Step four has to wait for step three" in hands.say("where are we", "go to step four")


def test_going_on_is_free_once_the_step_that_lifts_the_gate_is_done(hands: Hands) -> None:
    go_to(hands, RUN)
    assert "Recorded" in hands.say("reading backlash 0.1")


# Closing


def test_the_last_step_is_done_by_closing_the_job_where_nothing_is_outstanding(
    hands: Hands,
) -> None:
    go_to(hands, RUN)
    hands.say("reading backlash 0.1", "reading backlash 0.1", "reading insulation 2")
    assert "Job closed" in hands.say("close job")
    assert [getattr(e, "step", "") for e in hands.events("step done")][-1] == "run"
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed)
    assert closed.left == ()
    assert hands.say("what failed") == "Nothing failed."


def test_closing_marks_no_other_step_as_done(hands: Hands) -> None:
    assert "Close all the same?" in hands.say("close job")
    assert not hands.events("step done")


def test_what_failed_is_told_of_a_closed_job_too(hands: Hands) -> None:
    fail_the_leak_test(hands)
    hands.say("close job", "affirm")
    assert "The leak test fails" in hands.say("what failed").replace("the leak", "The leak")


@pytest.mark.parametrize(
    ("inches", "out_mm"), [("1", 0.0), ("0.9965", 0.0), ("1.0005", 0.0127), ("0.99", 0.154)]
)
def test_a_value_in_another_unit_is_judged_as_exactly(inches: str, out_mm: float) -> None:
    # 25.4 mm to the inch, exactly (international yard and pound agreement, 1959).
    limits = Limits(least=Quantity(value="25.3", unit="mm"), most=Quantity(value="25.4", unit="mm"))
    out = results.excess(Decimal(inches), "in", limits)
    assert max(0.0, out) == pytest.approx(out_mm, abs=1e-9)
    assert results.within(Decimal(inches), "in", limits) == (out_mm == 0.0)
