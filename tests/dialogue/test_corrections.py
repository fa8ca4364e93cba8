"""Corrections and withdrawals: the old value stands until the new one is recorded with it."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue import events, ledger, nonconformities
from assistant.procedure import reading
from tests.bench_helpers import Hands
from tests.dialogue.rig import COVER, GASKET, HEIGHTS, HOLD, RIG, TOOTH
from tests.dialogue.test_what_fails_holds import go_to, open_ones


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", RIG)


def torques(at: Hands) -> list[Decimal]:
    """Return the torques that stand, in order."""
    return [e.value for e in at.bench.state.of_job(events.TorqueRecorded)]


def chosen(at: Hands) -> str | None:
    """Return the gasket that the heights call for now."""
    found = at.bench.state.results.chosen_by("highest")
    return found.part if found else None


def correct_the_first_height(at: Hands, value: str) -> str:
    """Correct it from wherever the work is, and leave the rest of step four as it is: the height is
    the first thing recorded there.
    """
    said = at.say("correction step four", value)
    at.say("negative")
    return said


# What comes to nothing changes nothing


@pytest.mark.parametrize("way", ["negative", "disregard"])
def test_a_correction_that_is_refused_leaves_the_old_value(hands: Hands, way: str) -> None:
    go_to(hands, COVER)
    hands.say("tightened one two")
    assert "I heard four zero" in hands.say("correction four zero")
    assert torques(hands) == [Decimal(12)]
    assert "Nothing changed" in hands.say(way)
    assert torques(hands) == [Decimal(12)]
    assert not hands.events("withdrawn")
    assert "one two newton metres" in hands.say("read back")


def test_a_correction_that_nobody_answers_leaves_the_old_value_days_later_too(
    hands: Hands,
) -> None:
    go_to(hands, COVER)
    hands.say("tightened one two", "correction four zero")
    said = hands.stop_and_take_up(days=3)
    assert "I heard four zero" in said
    assert torques(hands) == [Decimal(12)]
    hands.say("negative")
    assert torques(hands) == [Decimal(12)]
    assert "pass two of two" in hands.say("next step")


def test_a_correction_that_is_affirmed_after_a_stop_replaces_what_was_meant(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("tightened one two", "tightened two four", "correction step six", "nine")
    hands.say("stand by", "resume")
    hands.stop_and_take_up(days=3)
    assert torques(hands) == [Decimal(12), Decimal(24)]
    said = hands.say("affirm")
    assert "Was: cover bolt, pass one of two, tightened one two newton metres" in said
    assert sorted(torques(hands)) == [Decimal(9), Decimal(24)]
    assert open_ones(hands) == [("torque", "cover bolt")]
    before = hands.bench.state
    hands.stop_and_take_up(days=1)
    assert hands.bench.state.results == before.results
    assert sorted(torques(hands)) == [Decimal(9), Decimal(24)]


def test_a_correction_of_another_kind_is_refused_and_changes_nothing(hands: Hands) -> None:
    go_to(hands, TOOTH)
    hands.say("reading 0.3")
    before = hands.bench.journal.events(1)
    hands.say("correction tightened one four")
    assert hands.bench.journal.events(1) == before
    assert "asks for" in hands.say("correction 3 newton metres")
    hands.say("negative")
    assert hands.bench.state.results.values()["tooth wear"] == (Decimal("0.3"), "mm")


def test_a_correction_may_be_said_right_in_answer_to_its_question(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("tightened one two", "correction four zero")
    said = hands.say("one two point one")
    assert "Was: cover bolt, pass one of two, tightened one two newton metres" in said
    assert torques(hands) == [Decimal("12.1")]
    (withdrawn,) = hands.events("withdrawn")
    assert isinstance(withdrawn, events.Withdrawn)
    assert withdrawn.corrected


# In one turn, and taken back as one


def test_disregarding_a_correction_brings_the_old_value_back(hands: Hands) -> None:
    go_to(hands, HEIGHTS)
    hands.say("reading 0.61", "reading 0.60")
    said = hands.say("correction first height 0.71")
    assert "Highest is now zero point seven one millimetres" in said
    said = hands.say("disregard")
    assert "First height zero point six one millimetres stands again." in said
    assert "Highest is now zero point six one millimetres" in said
    assert "Use two notch gasket, not three notch gasket." in said
    assert chosen(hands) == "two notch gasket"
    # Again goes further back, and does not bring the correction back.
    assert "Disregarded: second height" in hands.say("disregard")
    assert chosen(hands) is None
    assert "Disregarded: first height" in hands.say("disregard")
    assert not hands.bench.state.results.readings.keys() & {"first height", "second height"}


def test_a_correction_of_a_correction_is_taken_back_step_by_step(hands: Hands) -> None:
    go_to(hands, TOOTH)
    hands.say("reading 0.3", "correction 0.4", "correction 0.5")
    values = []
    for _ in range(2):
        hands.say("disregard")
        hands.stop_and_take_up(hours=1)
        values.append(hands.bench.state.results.values()["tooth wear"][0])
    assert values == [Decimal("0.4"), Decimal("0.3")]
    hands.say("disregard")
    assert "tooth wear" not in hands.bench.state.results.readings


def test_a_correction_takes_back_the_one_thing_and_not_what_was_said_with_it(
    tmp_path: Path,
) -> None:
    hands = Hands(tmp_path / "journal.db")
    # The box has two circlips; the kit check orders what is missing in one turn.
    hands.say("affirm", "kit check", "negative", "negative", "negative", "affirm")
    ordered = [line.order.part for line in ledger.lines(hands.bench.state.history)]
    assert ordered == ["drain plug", "circlip", "end plate"]
    hands.say("correction order one circlip")
    lines = {line.name: line.order.count for line in ledger.lines(hands.bench.state.history)}
    assert lines.keys() == {"drain plug", "circlip", "end plate"}
    assert lines["circlip"] == 1
    assert hands.bench.state.of_job(events.KitChecked)
    hands.say("disregard")
    lines = {line.name: line.order.count for line in ledger.lines(hands.bench.state.history)}
    assert lines["circlip"] == 2


@pytest.mark.parametrize(
    ("first", "then", "count"),
    [
        ("two circlips missing", "correction one circlip missing", 1),
        ("circlip missing", "correction two circlips missing", 2),
        ("two circlips missing", "correction circlip missing", 1),
        # A fastener that is on no list of parts.
        ("three plate bolts missing", "correction two plate bolts missing", 2),
        ("two plate bolts missing", "correction one plate bolt missing", 1),
        ("plate bolt missing", "correction two plate bolts missing upper", 2),
    ],
)
def test_how_many_were_found_is_corrected(
    tmp_path: Path, first: str, then: str, count: int
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", first)
    assert hands.say(then).startswith("Correction. Was: ")
    (found,) = hands.bench.state.of_job(events.FindingRecorded)
    assert (found.count, found.condition) == (count, "missing")
    hands.stop_and_take_up(days=1)
    hands.say("disregard")
    (found,) = hands.bench.state.of_job(events.FindingRecorded)
    assert found.count != count, "what was said first stands again"


def test_a_finding_that_was_corrected_moves_so_many_parts(tmp_path: Path) -> None:
    text = reading.load(reading.find("pump-rebuild")).text
    hands = Hands(tmp_path / "pump.db", text)
    key = hands.bench.state.names.key("casing bolt")
    hands.say("two casing bolts missing")
    assert hands.bench.state.holdings.held(key, "missing") == 2
    assert "Was: two casing bolts missing" in hands.say("correction one casing bolt missing")
    assert hands.bench.state.holdings.held(key, "missing") == 1


def test_a_finding_takes_the_place_of_no_reading_that_is_gone_through(hands: Hands) -> None:
    go_to(hands, GASKET)
    before = hands.bench.state.history
    said = hands.say("correction step four", "correction one cover missing")
    assert "Step four: first height" in said
    hands.say("negative")
    assert not [e for e in hands.bench.state.of_job(events.FindingRecorded) if e not in before]


def test_a_misheard_part_is_corrected_in_the_last_order(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("order two circlips", "correction order one drain plug")
    (order,) = hands.bench.state.of_job(events.PartOrdered)
    assert (order.part, order.count) == ("drain plug", 1)
    hands.say("disregard")
    (order,) = hands.bench.state.of_job(events.PartOrdered)
    assert (order.part, order.count) == ("circlip", 2)


# From any step


def test_a_correction_from_another_step_says_which_it_is_about(hands: Hands) -> None:
    go_to(hands, HOLD)
    said = hands.say("correction step six")
    assert "Step six: cover bolt, pass one of two, tightened one two" in said
    assert "pass two of two" in hands.say("affirm")
    said = hands.say("2 4 point 5")
    assert "Correction at step six. Was: cover bolt, pass two of two" in said
    assert "Next. Start pressure" in said, "what is due is told of the step that the work is at"
    assert torques(hands) == [Decimal(12), Decimal("24.5")]
    assert hands.bench.state.number == HOLD
    corrected = hands.events("torque recorded")[-1]
    assert getattr(corrected, "step", None) == "cover"


def test_a_value_that_is_refused_while_going_through_leaves_the_rest_to_go_through(
    hands: Hands,
) -> None:
    go_to(hands, HOLD)
    assert "I heard four zero" in hands.say("correction step six", "4 0")
    said = hands.say("negative")
    assert "Nothing changed" in said
    assert "Step six: cover bolt, pass one of two, tightened one two" in said
    assert "pass two of two" in hands.say("affirm")
    hands.say("2 4 point 5")
    assert torques(hands) == [Decimal(12), Decimal("24.5")]


def test_going_through_a_step_changes_nothing_by_itself(hands: Hands) -> None:
    go_to(hands, HOLD)
    history = hands.bench.state.of_job(events.TorqueRecorded)
    assert "That was all" in hands.say("correction step six", "affirm", "affirm")
    assert "Nothing changed" in hands.say("correction step six", "negative")
    assert hands.bench.state.of_job(events.TorqueRecorded) == history
    assert "nothing is recorded at step five" in hands.say("correction step five").lower()
    assert "There are ten steps" in hands.say("correction step twelve")
    assert hands.bench.state.mode == "working"


@pytest.mark.parametrize(
    "said", ["0.71", "correction 0.71", "reading 0.71", "correction reading first height 0.71"]
)
def test_going_through_a_step_takes_a_number_or_the_whole(hands: Hands, said: str) -> None:
    go_to(hands, GASKET)
    assert "Was: first height" in correct_the_first_height(hands, said)
    assert chosen(hands) == "three notch gasket"


def test_going_through_a_step_takes_nothing_about_another_thing(hands: Hands) -> None:
    go_to(hands, GASKET)
    before = hands.bench.state.results
    for said in ("reading second height 0.71", "tightened 0.71", "correction tightened 0.71"):
        assert "Step four: first height" in hands.say("correction step four", said)
    assert "I heard five" in hands.say("5")
    assert "Nothing changed" in hands.say("disregard")
    assert hands.bench.state.results == before


def test_after_a_correction_the_rest_of_the_step_is_gone_through(hands: Hands) -> None:
    go_to(hands, HOLD)
    said = hands.say("correction step six", "one three")
    assert "I heard one three" in said
    said = hands.say("affirm")
    assert "Was: cover bolt, pass one of two, tightened one two newton metres" in said
    assert "Next" not in said, "what is due is told once the step was gone through"
    assert said.endswith(
        "Step six: cover bolt, pass two of two, tightened two four newton metres. "
        "Say the right value; affirm to go on; or disregard."
    )
    hands.stop_and_take_up(days=1)
    # What was put right is not asked about again.
    said = hands.say("2 4 point 5")
    assert "Was: cover bolt, pass two of two" in said
    assert "At step six, cover bolt has one three" in said, "what holds step seven now"
    assert hands.bench.state.mode == "working"
    assert torques(hands) == [Decimal(13), Decimal("24.5")]


@pytest.mark.parametrize("way", ["negative", "disregard"])
def test_the_rest_of_a_step_is_left_as_it_is_and_what_was_put_right_can_be_taken_back(
    hands: Hands, way: str
) -> None:
    go_to(hands, GASKET)
    said = hands.say("correction step four", "0.71", way)
    assert said.startswith("The rest stands as it is.")
    assert chosen(hands) == "three notch gasket"
    hands.say("disregard")
    assert chosen(hands) == "two notch gasket"
    # What is put right keeps its place: the first height is the first again.
    hands.say("correction step four", "0.71", "negative")
    assert "first height zero point seven one" in hands.say("correction step four")
    assert "second height zero point six" in hands.say("affirm")
    assert "That was all" in hands.say("affirm")


def test_a_value_that_was_questioned_and_said_again_goes_on_too(hands: Hands) -> None:
    go_to(hands, GASKET)
    assert "I heard five" in hands.say("correction step four", "5")
    assert "Step four: second height" in hands.say("0.71")
    hands.say("0.62", "next step")
    assert hands.bench.state.number == COVER
    heights = [e.value for e in hands.bench.state.of_job(events.ReadingRecorded)][1:3]
    assert heights == [Decimal("0.71"), Decimal("0.62")]


def test_a_torque_corrected_at_a_done_step_fails_and_holds_what_comes_after(hands: Hands) -> None:
    go_to(hands, HOLD)
    hands.say("correction step six", "nine", "affirm", "negative")
    assert "cover" in hands.bench.state.done
    assert open_ones(hands) == [("torque", "cover bolt")]
    assert "has to wait" in hands.say("reading 0.3")
    # What is held can still be put right.
    assert "pass one of two" in hands.say("correction step six")
    assert "Was: cover bolt, pass one of two, tightened nine" in hands.say("one two")
    assert open_ones(hands) == []
    hands.say("negative")
    assert "Recorded" in hands.say("reading 0.3")


def test_a_reading_at_a_held_step_can_be_corrected(hands: Hands) -> None:
    go_to(hands, HOLD)
    hands.say("reading 0.3", "correction step six", "nine", "affirm", "negative")
    # Step seven is held by step six; what was misheard there is put right all the same.
    assert "Was: start pressure zero point three bar" in hands.say("correction 0.31")
    assert hands.bench.state.results.values()["start pressure"] == (Decimal("0.31"), "bar")


# What follows is worked out from what stands


def test_a_corrected_height_changes_the_gasket_and_says_so(hands: Hands) -> None:
    go_to(hands, GASKET)
    said = correct_the_first_height(hands, "0.71")
    assert "Highest is now zero point seven one millimetres." in said
    assert "Use three notch gasket, not two notch gasket." in said
    assert "Fit one three notch gasket" in hands.say("what parts") + hands.say("go to step five")
    assert "Step six" in hands.say("next step")
    (done,) = [e for e in hands.events("step done") if getattr(e, "step", "") == "gasket"]
    assert isinstance(done, events.StepDone)
    assert [parts.name for parts in done.fitted] == ["three notch gasket"]


def test_where_the_wrong_part_is_fitted_already_it_is_a_nonconformity(hands: Hands) -> None:
    go_to(hands, COVER)
    said = correct_the_first_height(hands, "0.71")
    assert "Two notch gasket is fitted, and three notch gasket is the one to fit." in said
    assert "Say rework and the step, or concession." in said
    assert open_ones(hands) == [("fitted part", "two notch gasket")]
    assert "has to wait" in hands.say("tightened one two")
    assert "two notch gasket is fitted" in hands.say("close job").lower()
    hands.say("negative")
    hands.stop_and_take_up(days=4)
    assert "Fit one three notch gasket" in hands.say("rework step five")
    hands.say("next step")
    assert open_ones(hands) == []
    fitted = [e.fitted[0].name for e in hands.events("step done") if getattr(e, "fitted", ())]  # type: ignore[attr-defined]
    assert fitted == ["two notch gasket", "three notch gasket"]


def test_a_wrong_part_is_told_while_the_value_that_calls_for_it_is_taken_anew(
    hands: Hands,
) -> None:
    go_to(hands, COVER)
    correct_the_first_height(hands, "0.9")
    failing = [("value", "highest"), ("fitted part", "two notch gasket")]
    assert open_ones(hands) == failing
    hands.say("go to step four", "retest")
    assert open_ones(hands) == failing
    said = hands.say("what failed")
    assert "Step four: highest failed, zero point nine millimetres" in said
    assert "Step five: two notch gasket was fitted" in said
    hands.say("reading 0.71", "reading 0.60")
    assert open_ones(hands) == [("fitted part", "two notch gasket")]
    assert "three notch gasket is the one to fit" in hands.say("what failed")


def test_a_wrong_part_is_open_until_the_step_that_fits_it_is_done_again(hands: Hands) -> None:
    go_to(hands, COVER)
    correct_the_first_height(hands, "0.71")
    hands.say("rework step five")
    assert open_ones(hands) == [("fitted part", "two notch gasket")]
    assert "Two notch gasket was fitted" in hands.say("what failed").replace("two", "Two")
    assert "Step six" in hands.say("next step")
    assert open_ones(hands) == []


def test_a_concession_of_a_wrong_part_lapses_when_another_is_wanted(hands: Hands) -> None:
    go_to(hands, COVER)
    correct_the_first_height(hands, "0.71")
    hands.say("concession", "note only for the trial run")
    assert open_ones(hands) == []
    correct_the_first_height(hands, "0.78")
    assert open_ones(hands) == [("fitted part", "two notch gasket")]
    assert "four notch gasket is the one to fit" in hands.say("what failed")


def test_a_correction_that_makes_it_right_again_ends_the_failure(hands: Hands) -> None:
    go_to(hands, COVER)
    correct_the_first_height(hands, "0.71")
    assert open_ones(hands)
    correct_the_first_height(hands, "0.62")
    assert chosen(hands) == "two notch gasket"
    assert open_ones(hands) == []
    assert nonconformities.find(hands.bench.state) == ()


def test_a_reading_of_an_earlier_set_is_past_correcting(hands: Hands) -> None:
    go_to(hands, HOLD)
    hands.say("reading 0.3", "reading 0.2", "retest")
    before = hands.bench.journal.events(1)
    assert "Nothing" in hands.say("correction 0.29") or "nothing" in hands.say("correction 0.29")
    assert "nothing is recorded at step seven" in hands.say("correction step seven").lower()
    assert hands.bench.journal.events(1) == before


def test_an_order_made_at_a_step_that_is_done_again_can_still_be_corrected(hands: Hands) -> None:
    go_to(hands, HOLD)
    hands.say("order two covers", "reading 0.3", "reading 0.2", "retest")
    hands.say("correction order one cover")
    (line,) = ledger.lines(hands.bench.state.history)
    assert line.order.count == 1
    assert "order one cover" in hands.say("read back").lower()


def test_what_the_parts_desk_enters_in_between_is_kept(hands: Hands) -> None:
    go_to(hands, COVER)
    hands.say("order two covers", "tightened one two", "correction four zero")
    entered = events.OrderMoved(
        at=hands.now,
        turn=hands.bench.state.turn + 1,
        part="cover",
        count=1,
        state="received",
        at_desk=True,
    )
    hands.bench.journal.append(hands.bench.job, hands.bench.keeper.known, [entered])
    assert "From the parts desk" in hands.wait(seconds=1)
    hands.stop_and_take_up(hours=1)
    assert hands.bench.state.mode == "questioning", "an entry answers no question"
    hands.say("affirm")
    assert torques(hands) == [Decimal(40)]
    hands.say("disregard")
    assert torques(hands) == [Decimal(12)]
    (line,) = ledger.lines(hands.bench.state.history)
    assert line.counts["received"] == 1
