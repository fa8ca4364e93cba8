"""What instruments and scanners send, decided on: as said, asked about, refused; never unasked."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.audio.cue import Cue
from assistant.bench.shift import Shift
from assistant.dialogue import events
from assistant.dialogue.instrument import Instrument
from assistant.dialogue.state import Mode
from assistant.journal import verification
from assistant.procedure import kit_list, lexicon, unwritten
from assistant.procedure.reading import Loaded
from tests.bench_helpers import SMALL
from tests.dialogue.workshop import MICROMETER, WRENCH, Workshop

OVERDUE = Instrument(name="dial gauge", calibrated_until=date(2031, 3, 3))

AGAIN = SMALL.replace(
    "plausible: {least: 20 mm, most: 30 mm}}\n          - {name: shaft, unit: mm}",
    "plausible: {least: 20 mm, most: 30 mm}}\n          - {name: shaft, unit: mm}\n"
    "          - {name: free play, unit: N·m}\n"
    "        fasteners: [{name: lid bolt, count: 2, thread: M6}]\n"
    "        tighten: [{fastener: lid bolt, torque: 6 N·m}]",
)
"""The step that measures also tightens, and one of its readings is a torque."""


@pytest.fixture
def hands(tmp_path: Path) -> Workshop:
    hands = Workshop(tmp_path / "journal.db")
    hands.at_measure()
    return hands


def test_at_a_step_that_waits_for_it_a_value_is_taken_as_said(hands: Workshop) -> None:
    said = hands.send("25.01", "mm")
    assert said.startswith(
        "Bore two five point zero one millimetres, from the micrometer. Recorded."
    )
    assert said.endswith("Next. Shaft.")
    (event,) = hands.events("reading recorded")
    assert isinstance(event, events.ReadingRecorded)
    assert event.instrument == MICROMETER
    assert event.heard is not None and event.heard.recogniser == "instrument"
    hands.send("24.98")
    assert hands.measured() == [
        ("bore", Decimal("25.01"), "micrometer"),
        ("shaft", Decimal("24.98"), "micrometer"),
    ]
    assert "from the micrometer" in hands.say("read back")
    hands.stop_and_take_up(days=3)
    assert hands.measured()[0][2] == "micrometer"
    assert verification.job(hands.bench.journal, hands.bench.job).fault is None


def test_its_unit_is_converted_and_one_of_another_kind_is_questioned(hands: Workshop) -> None:
    said = hands.send("0.9847", "in")
    assert "inches" in said and "Recorded." in said
    assert hands.bench.state.results.readings
    said = hands.send("14", "N·m", WRENCH)
    assert said == (
        "The torque wrench sent one four newton metres. The step asks for millimetres. "
        "Say correction."
    )
    assert len(hands.measured()) == 1
    assert "Recorded." in hands.send("24.98", "mm")
    assert hands.measured()[1] == ("shaft", Decimal("24.98"), "micrometer")


def test_a_value_that_does_not_fit_is_questioned_and_measured_again(hands: Workshop) -> None:
    said = hands.send("25.20", "mm")
    assert said.startswith("The micrometer sent two five point two zero millimetres.")
    assert said.endswith("Affirm, or say correction.")
    assert hands.measured() == [] and hands.mode is Mode.QUESTIONING
    assert "Recorded." in hands.send("25.02", "mm")
    (event,) = hands.events("reading recorded")
    assert isinstance(event, events.ReadingRecorded) and event.first_heard is not None
    assert (event.first_heard.value, event.value) == (Decimal("25.20"), Decimal("25.02"))


def test_questioned_it_can_be_affirmed_dropped_or_said(hands: Workshop) -> None:
    hands.send("25.20", "mm")
    assert hands.say("negative").startswith("Nothing recorded.")
    hands.send("25.20", "mm")
    hands.say("correction two five point zero one")
    assert hands.measured() == [("bore", Decimal("25.01"), None)], "by mouth, so by no instrument"
    hands.say("disregard")
    hands.send("25.20", "mm")
    hands.say("affirm")
    assert hands.measured() == [("bore", Decimal("25.20"), "micrometer")]


def test_it_is_corrected_and_withdrawn_like_any_other(hands: Workshop) -> None:
    hands.send("25.01", "mm")
    said = hands.say("correction bore two five point zero two")
    assert "Was: bore two five point zero one millimetres, from the micrometer." in said
    assert hands.measured() == [("bore", Decimal("25.02"), None)]
    assert "stands again" in hands.say("disregard")
    assert hands.measured() == [("bore", Decimal("25.01"), "micrometer")]
    hands.say("disregard")
    assert hands.measured() == []


def test_sent_once_more_it_is_asked_whether_it_is_a_further_one(hands: Workshop) -> None:
    hands.send("25.01", "mm")
    hands.send("24.98", "mm")
    said = hands.send("24.97", "mm")
    assert said == (
        "Two four point nine seven millimetres from the micrometer. Which reading: bore or "
        "shaft? Or say disregard."
    )
    assert hands.mode is Mode.PLACING and len(hands.measured()) == 2
    said = hands.say("shaft")
    assert "Say again for a further reading" in said
    hands.say("again")
    assert hands.measured()[2] == ("shaft", Decimal("24.97"), "micrometer")


def test_asked_which_it_goes_with_what_is_named(hands: Workshop) -> None:
    hands.send("25.01", "mm")
    hands.send("24.98", "mm")
    hands.send("24.97", "mm")
    assert "Which reading" in hands.say("affirm")
    assert hands.say("next step") == "", "only an answer is listened for"
    assert "Which reading" in hands.stop_and_take_up(days=2)
    said = hands.send("24.96", "mm")
    assert "nine six" in said and "Which reading" in said, "the later value is the one asked about"
    assert hands.say("disregard").startswith("Nothing recorded.")
    assert hands.mode is Mode.WORKING and len(hands.measured()) == 2
    assert "shaft" in hands.say("disregard"), "the question left nothing to take back"


def test_a_reading_and_a_torque_that_both_fit_are_told_apart(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db", AGAIN)
    hands.at_measure()
    assert "Recorded." in hands.send("25.01", "mm")
    said = hands.send("6", "N·m", WRENCH)
    assert said == (
        "Six newton metres from the torque wrench. What is it of: free play or lid bolt? "
        "Or say disregard."
    )
    assert "Recorded." in hands.say("lid bolt")
    (torque,) = hands.events("torque recorded")
    assert isinstance(torque, events.TorqueRecorded) and torque.instrument == WRENCH
    assert "Recorded." in hands.send("2", "N·m", WRENCH)
    assert hands.measured()[-1] == ("free play", Decimal(2), "torque wrench")


def test_torques_are_taken_pass_by_pass_and_an_angle_too(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db")
    hands.at_close()
    assert "Not yet" in hands.send("7", "N·m", WRENCH), "the condition was not affirmed"
    assert hands.events("torque recorded") == []
    hands.say("affirm")
    for value, unit in (("7.1", "N·m"), ("10.3", "lbf·ft"), ("90", "°")):
        assert "Recorded." in hands.send(value, unit, WRENCH)
    said = hands.send("20", "N·m", WRENCH)
    assert said == (
        "The torque wrench sent two zero newton metres. The step says one zero newton metres. "
        "Affirm, or say correction."
    )
    assert "Recorded." in hands.send("10", None, WRENCH)
    assert "Every torque asked for here is recorded." in hands.send("10", "N·m", WRENCH)
    assert len(hands.events("torque recorded")) == 4


def test_at_a_step_that_asks_for_none_it_is_refused_and_the_way_out_told(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db")
    hands.say("affirm")
    assert hands.send("12.05", "mm") == (
        "One two point zero five millimetres from the micrometer. Step one asks for no reading "
        "and no torque. Nothing recorded. Go to its step and send it again, or say note to keep it."
    )
    assert hands.measured() == [] and hands.mode is Mode.WORKING


def test_where_the_calibration_has_run_out_it_is_said_and_recorded(hands: Workshop) -> None:
    said = hands.send("25.01", "mm", OVERDUE)
    assert "from the dial gauge, out of calibration since three march two zero three one" in said
    (event,) = hands.events("reading recorded")
    assert isinstance(event, events.ReadingRecorded) and event.overdue
    last_day = OVERDUE.model_copy(update={"calibrated_until": date(2031, 3, 4)})
    assert "out of calibration" not in hands.send("24.98", "mm", last_day)


@pytest.mark.parametrize(
    ("asking", "answer"),
    [
        ("skip step", "negative"),
        ("close job", "negative"),
        ("note", "disregard"),
        ("kit check", "disregard"),
    ],
)
def test_while_something_else_is_asked_nothing_is_taken(
    hands: Workshop, asking: str, answer: str
) -> None:
    hands.say(asking)
    mode = hands.mode
    said = hands.send("25.01", "mm")
    assert said.startswith("Nothing is taken from the micrometer now. First: ")
    assert hands.mode is mode and hands.measured() == []
    if asking != "kit check":
        assert hands.scan("TB-1").startswith("Nothing is taken of what you scanned. First: ")
    assert hands.scan(1).startswith("Nothing is taken of what you scanned. First: ")
    hands.say(answer)
    assert "Recorded." in hands.send("25.01", "mm")


def test_a_bag_in_question_is_no_place_for_a_measured_value(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db")
    hands.say("affirm", "bag two")
    assert hands.send("1").startswith("Nothing is taken from the micrometer now.")
    assert hands.events("bag recorded") == []
    assert hands.scan(1).startswith("Bag one. Recorded.")


def test_standing_by_it_says_that_nothing_is_taken(hands: Workshop) -> None:
    hands.say("stand by")
    assert "Say resume, and send it again." in hands.send("25.01", "mm")
    assert hands.scan(1).startswith("Standing by.")
    assert hands.scan("TB-1").startswith("Standing by.")
    assert hands.measured() == []
    hands.say("resume")
    assert "Recorded." in hands.send("25.01", "mm")


def test_gone_through_a_value_is_put_right_by_measuring_again(hands: Workshop) -> None:
    hands.send("25.01", "mm")
    hands.say("reading shaft 24.98", "correction step four")
    said = hands.send("25.02", "mm")
    assert "Was: bore" in said
    assert ("bore", Decimal("25.02"), "micrometer") in hands.measured()
    hands.say("disregard")
    hands.say("correction step one")
    assert hands.send("3").startswith("Nothing is taken from the micrometer now.")


def test_a_closed_job_takes_nothing(hands: Workshop) -> None:
    hands.say("close job", "affirm")
    before = hands.bench.journal.events(1)
    assert "closed" in hands.send("25.01", "mm")
    assert "closed" in hands.scan("TB-1")
    assert hands.bench.journal.events(1) == before


def test_between_jobs_nothing_is_taken_and_the_way_on_is_told(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db", open_job=False)
    hands.bench.shift = Shift(
        hands.bench.journal, {"small box": Loaded(hands.procedure, SMALL, ())}
    )
    hands.bench.come_in()
    assert hands.send("25.01", "mm") == "Say new job."
    assert hands.scan(1) == "Say new job." and hands.scan("TB-1") == "Say new job."


def test_without_a_procedure_a_torque_waits_until_it_was_set(tmp_path: Path) -> None:
    hands = unwritten_job(tmp_path)
    assert "set torque" in hands.send("25", "N·m", WRENCH).lower()
    hands.say("removed six long bolts", "bag one", "start build up")
    assert "set torque" in hands.send("25", "N·m", WRENCH).lower()
    hands.say("set torque long bolts two five")
    assert "from the torque wrench. Recorded." in hands.send("25", "N·m", WRENCH)
    (torque,) = hands.events("torque recorded")
    assert isinstance(torque, events.TorqueRecorded) and torque.instrument == WRENCH


# Scanners


def unwritten_job(tmp_path: Path) -> Workshop:
    kit = (kit_list.KitLine("K-1", "gasket", "gaskets", 1, "Gasket", 2),)
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"), kit)
    hands = Workshop(tmp_path / "journal.db", text)
    hands.say("affirm")
    return hands


def test_without_a_procedure_a_tag_is_the_bag_of_what_came_off_last(tmp_path: Path) -> None:
    hands = unwritten_job(tmp_path)
    assert "bag" in hands.scan(1).lower() and hands.events("bag recorded") == []
    hands.say("removed six long bolts")
    assert hands.scan(1).startswith("Long bolts in bag one.")
    assert hands.scan(1).startswith("In bag one: six long bolts")
    hands.say("kit check")
    hands.scan("k-1")
    (checked,) = hands.events("kit item")
    assert isinstance(checked, events.KitItemChecked) and checked.short == 0
    hands.say("order gasket")
    assert hands.scan("K-1") == "One gasket received. Recorded."


def test_the_tag_of_the_bag_that_is_waited_for_is_the_bag_said(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db")
    assert "Not yet" in hands.scan(1)
    hands.say("affirm")
    assert hands.scan(1, ours=False) == "That tag is of another job. Nothing recorded."
    assert "The step says bag one" in hands.scan(2)
    assert "The step says bag one" in hands.scan(3)
    assert hands.scan(1).startswith("Bag one. Recorded.")
    assert hands.notes.cues[-1] is Cue.RECORDED
    assert hands.scan(1) == "In bag one: one end plate and four plate bolts."
    assert len(hands.events("bag recorded")) == 1
    hands.say("disregard")
    assert hands.scan(1).startswith("Bag one. Recorded.")


def test_a_tag_scanned_where_a_bag_is_opened_says_whether_it_is_the_one(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db")
    hands.at_close()
    before = hands.bench.journal.events(1)
    assert hands.scan(1).startswith("Bag one is right")
    assert "This step takes bag one." in hands.scan(2)
    assert hands.bench.journal.events(1) == before


def test_a_part_number_receives_what_is_on_order(hands: Workshop) -> None:
    assert hands.scan("TB-1") == "Drain plug, none of it is on order. Nothing recorded."
    hands.say("order drain plug")
    assert hands.scan(" tb-1 ") == "One drain plug received. Recorded."
    assert hands.scan("TB-1") == "Drain plug, none of it is on order. Nothing recorded."
    hands.say("disregard")
    assert hands.scan("TB-1") == "One drain plug received. Recorded."
    assert "No part of this job has that number" in hands.scan("TB-9")
    assert len(hands.events("order moved")) == 2


@pytest.mark.parametrize(("answer", "count"), [("affirm", 2), ("1", 1), ("negative", 0)])
def test_where_several_are_to_come_it_is_asked_how_many(
    hands: Workshop, answer: str, count: int
) -> None:
    hands.say("order two circlips")
    assert (
        hands.scan("TB-2")
        == "Scanned: two circlips received. All of them? Affirm, or say how many."
    )
    assert hands.events("order moved") == []
    hands.say(answer)
    moved = hands.bench.state.of_job(events.OrderMoved)
    assert sum(event.count for event in moved) == count
    assert all(event.first_heard is None for event in moved)


def test_part_numbers_check_the_kit_in_any_order(hands: Workshop) -> None:
    hands.say("kit check")
    assert hands.scan("TB-9").startswith("That number is not in this kit.")
    first = hands.scan("TB-2")
    assert first.startswith("Two circlips, I ask for all of them in their turn.")
    hands.scan("TB-1")
    checked = hands.bench.state.of_job(events.KitItemChecked)
    assert [(e.name, e.short) for e in checked] == [("drain plug", 0)]
    assert hands.scan("TB-1").startswith("Drain plug is checked already.")
    assert hands.scan("TB-2") == "Circlip, two.", "a label does not say that all are in the bag"
    hands.say("one missing", "affirm")
    checked = hands.bench.state.of_job(events.KitItemChecked)
    assert [(e.name, e.short) for e in checked][:2] == [("drain plug", 0), ("circlip", 1)]
