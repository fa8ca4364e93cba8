"""A second check by another person, where the procedure asks for one."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.dialogue import events, facts
from assistant.dialogue import state as job_state
from tests.bench_helpers import SMALL, Hands

CHECKED = SMALL.replace(
    "        say: Measure bore and shaft.", "        say: Measure it.\n        second_check: true"
).replace(
    "        say: Take out the key.", "        say: Take out the key.\n        second_check: true"
)
"""The small box with second checks: of what is measured, and of the key, which records nothing."""


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    """A bench of Ann and Bob, at the step that is measured, with Ann signed on."""
    found = Hands(tmp_path / "journal.db", CHECKED)
    found.technicians = ("Ann", "Bob", "Cy")
    found.stop_and_take_up()
    found.say("this is ann", "affirm", "bag one", "next step", "splined shaft")
    assert "needs a second check" in found.say("next step")
    return found


def measured(hands: Hands) -> None:
    hands.say("reading bore 25.01", "reading shaft 24.98")


def done(hands: Hands) -> bool:
    return "measure" in hands.bench.state.done


def test_the_step_is_done_when_somebody_else_has_checked_it(hands: Hands) -> None:
    hands.say("reading bore 25.01")
    told = hands.say("reading shaft 24.98")
    assert (
        "Next, the second check by somebody other than Ann, once they have signed on: say" in told
    )
    assert "Outstanding: the second check" in hands.say("next step")
    assert not done(hands)
    hands.say("this is bob")
    assert hands.say("second check").startswith(
        "Second check by Bob, of the work of Ann. Recorded. Nothing more here."
    )
    hands.say("next step")
    assert done(hands)
    (check,) = hands.bench.state.of_job(events.SecondChecked)
    assert (check.by, check.done_by, check.step) == ("Bob", ("Ann",), "measure")
    assert "Second check by Bob, of the work of Ann" in hands.say("go back", "read back")


def test_the_same_person_is_refused_with_the_way_out(hands: Hands) -> None:
    measured(hands)
    told = hands.say("second check")
    assert "Ann did this step, so somebody else has to check it" in told
    assert "say this is, and their name, then second check" in told
    # Under the same name written otherwise too.
    hands.say("this is bob")
    hands.bench.keeper.by = "ANN "
    hands.say("note seen")
    assert "somebody else has to check it" in hands.say("second check")
    assert not hands.events("second check")


def test_who_did_some_of_it_cannot_check_it(hands: Hands) -> None:
    hands.say("reading bore 25.01", "this is bob", "reading shaft 24.98")
    assert "Bob did this step" in hands.say("second check")
    assert "of the work of Ann and Bob" in hands.say("this is cy", "second check")


def test_it_comes_after_all_that_the_step_asks_for(hands: Hands) -> None:
    hands.say("reading bore 25.01", "this is bob")
    told = hands.say("second check")
    assert "Outstanding: the reading of shaft" in told and not hands.events("second check")


def test_a_step_that_asks_for_none_and_a_check_that_is_made(hands: Hands) -> None:
    measured(hands)
    hands.say("this is bob", "second check")
    assert "The second check is made, by Bob" in hands.say("second check")
    assert "asks for no second check" in hands.say("go to step one", "second check")


def test_a_correction_voids_the_check_and_taking_it_back_restores_it(hands: Hands) -> None:
    measured(hands)
    hands.say("this is bob", "second check")
    told = hands.say("correction shaft 24.97")
    assert "Step four needs its second check again." in told
    assert "Outstanding: the second check by somebody other than Ann and Bob" in hands.say(
        "next step"
    )
    assert "Bob did this step" in hands.say("second check")
    hands.say("disregard")
    hands.say("next step")
    assert done(hands), "what Bob checked stands again"


def test_a_correction_from_another_step_days_later_opens_the_step_again(hands: Hands) -> None:
    measured(hands)
    hands.say("this is bob", "second check", "next step")
    hands.stop_and_take_up(days=3)
    hands.say("this is ann", "correction step four", "affirm")
    told = hands.say("24.97")
    assert "Step four needs its second check again." in told
    assert not done(hands)
    assert "Step four of strip-down not done" in hands.say("what is left").replace(
        ", four half done", ""
    )
    hands.say("go to step four", "this is bob", "second check", "next step")
    assert done(hands)


def test_disregard_takes_the_check_back(hands: Hands) -> None:
    measured(hands)
    hands.say("this is bob", "second check")
    assert "Disregarded: second check by Bob" in hands.say("disregard")
    assert "Outstanding: the second check" in hands.say("next step")


def test_rework_and_retest_ask_for_it_anew(hands: Hands) -> None:
    measured(hands)
    hands.say("this is bob", "second check", "next step", "rework step four")
    hands.say("reading bore 25.01", "reading shaft 24.98")
    told = hands.say("next step")
    assert "by somebody other than Bob" in told, "Ann's work was of the set before"
    assert "of the work of Bob" in hands.say("this is ann", "second check")


def test_nobody_was_signed_on(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", CHECKED, open_job=False)
    hands.technicians = ("Ann", "Bob")
    hands.bench.keeper.by = None
    hands.bench.technicians = hands.technicians
    hands.bench.open(hands.procedure, CHECKED)
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    measured(hands)
    assert "nobody can tell who else may check it" in hands.say("second check")
    hands.say("this is ann")
    assert "Sign on, and say rework step four" in hands.say("second check")
    hands.say("rework step four")
    measured(hands)
    assert "of the work of Ann" in hands.say("this is bob", "second check")


def test_without_names_by_voice_the_job_is_taken_up_by_somebody_else(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", CHECKED)
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    measured(hands)
    assert "have it taken up under their name" in hands.say("second check")
    hands.bench.keeper.by = "kim"
    hands.bench.take_up(1)
    assert "Second check by kim, of the work of sam" in hands.say("second check")


def test_where_nothing_is_recorded_somebody_says_first_that_it_is_done(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", CHECKED)
    hands.technicians = ("Ann", "Bob")
    hands.stop_and_take_up()
    hands.say("this is ann", "affirm", "bag one", "next step", "keyed shaft", "next step")
    hands.say("this is bob")
    assert "Whoever did it says step done" in hands.say("second check")
    hands.say("this is ann")
    assert "second check" in hands.say("step done")
    assert "Ann did this step" in hands.say("step done", "second check")
    hands.stop_and_take_up(days=2)
    hands.say("this is bob", "step done")
    assert "of the work of Ann" in hands.say("second check"), "asking again claims nothing"
    hands.say("next step")
    assert "key" in hands.bench.state.done
    assert len(hands.events("ready for check")) == 1


def test_a_claim_by_mistake_is_taken_back(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", CHECKED)
    hands.technicians = ("Ann", "Bob")
    hands.stop_and_take_up()
    hands.say("this is bob", "affirm", "bag one", "next step", "keyed shaft", "next step")
    hands.say("step done", "disregard", "this is ann", "step done")
    assert "of the work of Ann" in hands.say("this is bob", "second check")


def test_a_step_skipped_without_its_check_says_so(hands: Hands) -> None:
    measured(hands)
    hands.say("skip step", "already done")
    (skip,) = hands.bench.state.of_job(events.StepSkipped)
    assert skip.outstanding == (facts.SecondCheckToMake(done_by=("Ann",)),)
    assert "the second check" in hands.say("go to step four", "where are we")


def test_it_is_told_at_hand_over_and_replayed_as_it_was(hands: Hands) -> None:
    measured(hands)
    assert "second check by somebody other than Ann" in hands.say("hand over")
    hands.say("this is bob", "second check", "next step", "correction step four", "affirm", "24.97")
    state = hands.bench.state
    again = job_state.replay(hands.procedure, hands.bench.journal.events(1), hands.technicians)
    assert again.done == state.done
