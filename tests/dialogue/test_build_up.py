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
