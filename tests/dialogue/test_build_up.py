"""The build-up of a job without a procedure: what is left, what goes on together, in what order."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.dialogue import events
from assistant.procedure import kit_list, lexicon, unwritten
from tests.bench_helpers import Hands


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    kit = (kit_list.KitLine("K-1", "gasket", "gaskets", 1, "Gasket", 2),)
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"), kit)
    return Hands(tmp_path / "journal.db", text)


@pytest.fixture
def down(hands: Hands) -> Hands:
    """Return a bench with a bolt, a cover and a dowel off, in this order."""
    hands.say("affirm", "removed four long bolts", "bag one", "removed end cover")
    hands.say("removed two dowels", "bag two")
    return hands


# Not yet


def test_what_is_left_for_later_comes_again_when_the_rest_is_on(down: Hands) -> None:
    down.say("start build up")
    said = down.say("not yet")
    assert said.startswith("Step five skipped, to be done later.")
    assert "Step six. Fit the end cover." in said
    assert "Step seven. Fit four long bolts." in down.say("next step")
    assert down.say("what is left") == (
        "Step seven of build-up not done. Step five skipped, to be done later."
    )
    said = down.say("next step")
    assert "Step five. Fit two dowels. This step was skipped, to be done later." in said
    assert down.say("next step").startswith("All that came off is on again.")
    down.say("close job", "affirm")
    (closed,) = down.events("job closed")
    assert isinstance(closed, events.JobClosed)
    assert [one.kind for one in closed.left] == ["parts left over"]


def test_left_again_and_again_it_goes_round_and_is_named_at_closing(down: Hands) -> None:
    down.say("start build up", "not yet", "not yet")
    assert "Step five. Fit two dowels." in down.say("next step")
    assert "Step six. Fit the end cover." in down.say("not yet")
    assert "Step five. Fit two dowels." in down.say("not yet")
    assert "Step six. Fit the end cover." in down.say("next step")
    said = down.say("not yet")
    assert "Step six skipped, to be done later." in said and "Say close job" in said
    said = down.say("close job")
    assert "step six skipped, to be done later" in said and "one end cover left over" in said


def test_not_yet_is_refused_where_nothing_goes_on(down: Hands) -> None:
    assert "The build up has not begun" in down.say("not yet")
    down.say("start build up", "next step", "go to step five")
    assert "This step is done already" in down.say("not yet")
    down.say("go to step three")
    assert "Nothing goes on at this step" in down.say("not yet")
    assert down.events("step skipped") == []
    assert "Step six. Fit the end cover." in down.say("next step")


def test_not_yet_taken_back_leaves_nothing_behind(down: Hands) -> None:
    down.say("start build up", "not yet")
    assert down.say("disregard").startswith("Disregarded: step skipped, to be done later.")
    assert "Fit the end cover" in down.say("next step")
    assert down.say("what is left") == "Steps six and seven of build-up not done."


def test_what_was_left_is_chased_days_later(down: Hands) -> None:
    down.say("start build up", "not yet")
    down.stop_and_take_up(days=3)
    down.say("next step")
    assert "Step five. Fit two dowels." in down.say("next step")
    down.stop_and_take_up(days=3)
    assert "All that came off" in down.say("next step")


def test_installed_by_name_it_is_not_asked_for_again(down: Hands) -> None:
    down.say("start build up", "not yet")
    assert down.say("installed dowels").startswith("Dowels on. Step six.")
    down.say("next step")
    assert "All that came off" in down.say("next step")


def test_skipped_for_another_reason_it_is_named_and_not_gone_to(down: Hands) -> None:
    down.say("start build up", "skip step", "not needed", "next step")
    said = down.say("next step")
    assert "step five skipped, not needed" in said and "Say close job" in said
    down.say("go to step six", "go to step five", "skip step")
    assert down.say("do it later").startswith("Step five skipped, to be done later.")


def test_skipped_out_of_turn_the_next_is_what_is_not_on_yet(down: Hands) -> None:
    down.say("start build up", "installed end cover", "skip step")
    assert "Step seven. Fit four long bolts." in down.say("not needed")


# How many came off


def test_a_bare_correction_is_of_the_number_that_was_said_last(hands: Hands) -> None:
    hands.say("affirm", "removed five long bolts")
    assert hands.say("correction six") == "Six long bolts, not five."
    assert hands.say("correction 12") == "Twelve long bolts, not six."
    hands.say("bag one")
    assert "Long bolts in bag two." in hands.say("correction two")
    assert hands.say("what is still off") == "Twelve long bolts, bag two."
    hands.say("make that seven")
    assert hands.say("correction eight") == "Eight long bolts, not seven."
    hands.say("disregard", "disregard", "disregard", "disregard")
    assert hands.say("what is still off") == "Twelve long bolts, no bag."
    hands.say("disregard", "disregard")
    assert hands.say("what is still off") == "Five long bolts, no bag."


def test_a_correction_that_is_no_number_of_things_names_the_way(hands: Hands) -> None:
    hands.say("affirm", "removed five long bolts")
    for said in ("correction two millimetres", "correction zero point five"):
        assert "say make that" in hands.say(said)
    assert "Say removed" in hands.say("correction zero")
    assert "say make that" in hands.say("correction bag two")
    assert hands.events("piece changed") == []
    hands.say("removed end cover", "go to step one")
    assert "nothing at this step to correct" in hands.say("correction six")


def test_four_of_six_means_that_two_are_missing(hands: Hands) -> None:
    hands.say("affirm", "removed four long bolts")
    assert hands.say("four of six") == "Four of six long bolts, two missing."
    hands.say("bag one")
    assert hands.say("how many long bolts") == (
        "Four of six long bolts came off, bag one, two missing."
    )
    assert hands.say("what came off last") == (
        "Last off: four long bolts, bag one, and two missing."
    )
    assert hands.say("what is in bag one") == "In bag one: four long bolts."
    said = hands.say("start build up")
    assert "two long bolts that are missing" in said
    assert "We stay at step three" in hands.say("next step")
    hands.say("order two long bolts", "long bolts received")
    assert "All that came off is on again" in hands.say("next step")
    hands.say("close job", "affirm")
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed)
    assert [one.place for one in closed.left] == ["in the kit"]  # type: ignore[union-attr]


def test_four_of_six_is_the_same_after_all_six_were_said(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "four of six")
    other = hands.bench.state.holdings
    hands.say("disregard", "disregard", "removed six long bolts", "two long bolts missing")
    assert hands.bench.state.holdings.counts == other.counts


def test_four_of_six_is_counted_once_and_put_right_by_name(hands: Hands) -> None:
    hands.say("affirm", "removed four long bolts", "four of six")
    assert hands.say("four of six") == "Four of six long bolts, two missing."
    assert len(hands.events("finding")) == 1
    for said in ("five of six", "six of six", "correction five"):
        assert "Say correction, and how many are missing" in hands.say(said)
    hands.say("correction one long bolt missing")
    assert hands.say("how many long bolts") == "Five of six long bolts came off, one missing."
    hands.say("disregard", "disregard")
    assert hands.say("how many long bolts") == "Four long bolts came off."
    assert hands.bench.state.nonconformities == ()


def test_so_many_of_so_many_that_cannot_be_is_refused(hands: Hands) -> None:
    hands.say("affirm")
    assert "Nothing has come off yet" in hands.say("four of six")
    hands.say("removed four long bolts")
    assert "as in four of six" in hands.say("six of four")
    assert hands.say("four of four") == "Four of four long bolts, none missing."
    hands.say("removed end cover", "start build up")
    assert "Go to what came off first" in hands.say("four of six")
    assert hands.events("finding") == hands.events("piece changed") == []


# What is put together and goes on as one


def test_what_comes_off_as_a_group_is_put_together_and_goes_on_as_one(hands: Hands) -> None:
    hands.say("affirm", "removed end cover")
    assert hands.say("start group") == (
        "Group started. What comes off now goes on as one. Say end group when it is complete."
    )
    hands.say("removed shaft", "removed two bearings")
    said = hands.say("end group")
    assert said == "Group ended. Shaft and two bearings go on as one."
    hands.say("removed two dowels", "start build up", "next step")
    assert "Step eight. Fit the shaft." in hands.say("next step")
    said = hands.say("next step")
    assert said == "Step nine. Fit as one the shaft and two bearings."
    assert hands.say("what is still off") == (
        "End cover, no bag. Put together: shaft and two bearings."
    )
    assert hands.say("next step") == "Step ten. Fit the end cover."
    assert hands.say("what is still off") == "End cover, no bag."
    assert "All that came off" in hands.say("next step")


def test_what_is_put_together_in_the_build_up_goes_on_as_one(down: Hands) -> None:
    down.say("start build up", "start group", "next step")
    assert "Fit four long bolts." in down.say("next step")
    said = down.say("end group")
    assert said.startswith("Group ended. End cover and two dowels go on as one. Step seven.")
    assert "Fit as one the end cover and two dowels." in said
    assert "Step eight. Fit four long bolts." in down.say("next step")
    assert "All that came off" in down.say("next step")


def test_a_group_that_is_not_on_is_named_at_closing(down: Hands) -> None:
    down.say("start build up", "start group", "next step", "next step", "end group", "not yet")
    assert "Fit as one" in down.say("next step")
    down.say("not yet")
    assert "step seven skipped, to be done later" in down.say("close job")


def test_a_group_that_is_not_ended_is_told_and_closing_names_it(down: Hands) -> None:
    down.say("start build up", "start group", "next step", "next step", "next step")
    said = down.stop_and_take_up(days=3)
    assert "A group is open. Say end group" in said
    assert "A group is open" in down.say("next step")
    assert "A group is open" in down.say("start group")
    down.say("go to step five", "go to step eight")
    assert "the group to end: say end group" in down.say("next step")
    down.say("close job")
    (asked,) = down.events("close asked")
    assert isinstance(asked, events.CloseAsked)
    assert asked.left[0].kind == "steps not done"
    down.say("negative", "end group", "next step")
    assert "Nothing is off" in down.say("what is still off")


def test_the_build_up_does_not_begin_within_a_group(down: Hands) -> None:
    down.say("start group", "removed gasket")
    assert "A group is open" in down.say("start build up")
    said = down.say("end group")
    assert said == "Group ended with gasket alone in it. That is no group."
    assert "Step six. Fit the gasket." in down.say("start build up")


def test_a_group_is_taken_back_like_anything_else(hands: Hands) -> None:
    hands.say("affirm")
    assert "No group is open" in hands.say("end group")
    hands.say("start group", "removed shaft", "removed bearing", "end group")
    assert hands.say("disregard").startswith("Disregarded: group ended, one shaft")
    assert "A group is open" in hands.say("start group")
    hands.say("disregard")
    assert hands.say("end group") == "Group ended with shaft alone in it. That is no group."
    hands.say("disregard", "disregard", "disregard")
    assert "No group is open" in hands.say("end group")
    assert hands.say("what is still off") == "Nothing is off."


def test_a_thing_of_a_group_done_again_takes_the_group_off_again(down: Hands) -> None:
    down.say("start build up", "start group", "next step", "next step", "end group", "next step")
    said = down.say("rework step five")
    assert "After it steps six and seven are to be done again." in said
    assert down.say("what is left") == "Steps five to eight of build-up not done."
    down.say("next step", "next step")
    assert "Fit four long bolts" in down.say("next step")


def test_a_part_of_a_group_that_is_left_off_does_not_hold_it(hands: Hands) -> None:
    hands.say("affirm", "start group", "removed shaft", "removed two bearings", "end group")
    hands.say("start build up")
    assert "step four to do first" in hands.say("go to step six", "next step")
    hands.say("go to step four", "skip step", "not needed")
    assert "Step six. Fit as one" in hands.say("next step")
    assert "step four skipped, not needed" in hands.say("next step")


# What goes on before what


def test_what_is_said_to_go_on_first_does(down: Hands) -> None:
    assert down.say("before the end cover, the long bolts") == "Four long bolts before end cover."
    down.say("start build up")
    assert "Step six. Fit four long bolts." in down.say("next step")
    assert "Step seven. Fit the end cover." in down.say("next step")


def test_in_the_build_up_it_is_the_next_to_go_on(down: Hands) -> None:
    down.say("start build up", "next step")
    said = down.say("before the end cover, the long bolts")
    assert said.startswith("Four long bolts before end cover. Step six. Fit four long bolts.")
    assert "Step seven. Fit the end cover." in down.say("next step")
    assert "Long bolts: on already." in down.say("before the end cover, the long bolts")
    assert "Dowels: on already." in down.say("before the dowels the end cover")


def test_what_comes_off_later_does_not_undo_what_was_said(down: Hands) -> None:
    down.say("before the end cover, the long bolts", "removed gasket")
    said = down.say("start build up")
    assert "Fit the gasket." in said
    assert "Fit two dowels." in down.say("next step")
    assert "Fit four long bolts." in down.say("next step")


def test_an_order_is_taken_back_and_put_right(down: Hands) -> None:
    down.say("start build up", "before the dowels the long bolts")
    assert down.say("where are we").startswith("Step five of seven, build-up. Fit four")
    said = down.say("correction before the dowels the end cover")
    assert "Was: four long bolts before two dowels." in said
    assert "Step five. Fit the end cover." in said
    assert "Step six. Fit two dowels." in down.say("next step")
    down.say("disregard")
    said = down.say("disregard")
    assert "Four long bolts before two dowels stands again. Back at step five." in said
    said = down.say("disregard")
    assert said.startswith("Disregarded: four long bolts before two dowels.")
    assert "Fit the end cover" in down.say("next step")


def test_an_order_that_cannot_be_is_refused(down: Hands) -> None:
    assert "already" in down.say("before the end cover the dowels")
    assert "is the same thing" in down.say("before the dowels the dowels")
    assert down.say("before the gasket the dowels") == ""
    assert "nothing at this step" not in down.say("correction before the end cover the long bolts")
    assert down.events("build order said") == []


def test_a_group_is_moved_as_one(hands: Hands) -> None:
    hands.say("affirm", "start group", "removed shaft", "removed bearing", "end group")
    hands.say("removed end cover", "before the end cover the shaft", "start build up")
    assert "Fit the shaft." in hands.say("next step")
    assert "Fit as one" in hands.say("next step")
    hands.say("before the shaft the end cover")
    assert "Fit the end cover" in hands.say("where are we")
    hands.say("next step", "next step")
    assert "All that came off" in hands.say("next step")


# A usual torque


def test_a_usual_torque_is_told_as_no_more_than_that_and_never_set(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts")
    assert "say the size" in hands.say("what torque")
    hands.say("size m eight by fifty five")
    said = hands.say("what torque")
    # Shigley, bolted joints: 0.75 of the proof load, nut factor 0.2.
    assert "not the maker's: marked eight point eight, two five newton metres" in said
    assert said.endswith("Say set torque, and the value in the manual, before it is used.")
    assert "marked eight point eight, one eight foot pounds" in hands.say(
        "what torque in foot pounds"
    )
    before = hands.bench.journal.events(1)
    assert hands.say("what torque long bolt") == said
    assert hands.bench.journal.events(1) == before
    hands.say("start build up")
    assert hands.say("what torque") == said
    assert "No torque is set here" in hands.say("tightened two five")
    hands.say("set torque two four")
    assert hands.say("what torque") == "Long bolt, two four newton metres."
    hands.say("disregard")
    assert hands.say("what torque") == said


def test_of_a_thread_that_no_table_has_nothing_is_usual(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "size m nine")
    assert "marked" not in hands.say("what torque")
    hands.say("removed end cover")
    assert "No torque is set here." in hands.say("what torque")


# Thread-locker


def test_thread_locker_is_recorded_with_what_goes_on(down: Hands) -> None:
    assert "say thread locker found" in down.say("thread locker medium")
    down.say("set torque long bolts two five", "start build up", "next step", "next step")
    said = down.say("thread locker medium")
    assert said == "Long bolts, thread locker, medium strength."
    assert "is recorded. To change it, say correction" in down.say("thread locker high")
    assert down.say("what thread locker") == "Long bolts, thread locker, medium strength."
    assert "Was: long bolts, thread locker, medium strength." in (
        down.say("correction thread locker high strength")
    )
    assert "high strength" in down.say("read back")
    assert "medium strength stands again" in down.say("disregard")
    down.say("disregard")
    assert down.say("what thread locker") == "Thread locker not stated."
    down.say("thread locker low", "tightened two five", "next step")
    said = down.stop_and_take_up(days=3)
    assert "low strength" in down.say("read back")


def test_thread_locker_is_of_something_that_goes_on(down: Hands) -> None:
    down.say("start build up", "go to step two")
    assert "Nothing goes on at this step" in down.say("thread locker medium")
    down.say("start group", "go to step five", "next step", "next step", "end group")
    assert "Nothing goes on at this step" in down.say("thread locker medium")
    assert down.events("thread-locker applied") == []


def test_thread_locker_of_rework_is_said_anew(down: Hands) -> None:
    down.say("start build up", "thread locker medium", "next step", "rework step five")
    assert down.say("thread locker high") == "Dowels, thread locker, high strength."
