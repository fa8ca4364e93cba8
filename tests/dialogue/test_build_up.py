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
