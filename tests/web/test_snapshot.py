"""What the display is given of a moment: figures for the eye, made from the state of the job."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from assistant.desk import customer as desk
from assistant.procedure import lexicon, unwritten
from assistant.web import snapshot
from assistant.web.snapshot import Cue, Exchange, Moment
from tests.bench_helpers import SMALL, Hands
from tests.dialogue.workshop import Workshop
from tests.report.whole_job import FAILING


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


def shown(hands: Hands, **changed: Any) -> dict[str, Any]:
    moment = Moment(hands.bench.job, "sam", hands.bench.state, exchanges=(Exchange("affirm"),))
    taken = snapshot.take(replace(moment, **changed), hands.now)
    return dict(json.loads(json.dumps(taken)))


def test_before_the_job_is_opened_there_is_only_the_status(hands: Hands) -> None:
    made = shown(hands, state=None, exchanges=())
    assert (made["status"], made["step"], made["focus"]) == ("starting", None, None)


def test_hazards_come_before_everything(hands: Hands) -> None:
    made = shown(hands)
    assert made["step"]["hazards"] == [["warning", "The spring is under load."]]
    assert (made["step"]["number"], made["step"]["of"], made["step"]["stage"]) == (
        1,
        6,
        "Strip-down",
    )
    assert made["focus"]["kind"] == "affirm"
    assert made["outstanding"] == ["warning to affirm", "bag 1"]
    assert made["job"] == {
        "number": 1, "title": "Small box", "unit": None, "by": "sam", "sample": True,
    }  # fmt: skip
    hands.say("affirm")
    assert shown(hands)["focus"]["figure"] == "Bag 1"


def test_the_next_torque_is_what_is_large(hands: Hands) -> None:
    hands.at_close()
    assert shown(hands)["focus"]["label"] == "Is the box clean?"
    hands.say("affirm")
    made = shown(hands)
    focus = made["focus"]
    assert (focus["kind"], focus["figure"], focus["unit"]) == ("torque", "7", "N·m")
    assert focus["label"] == "2 × long bolt"
    assert focus["notes"] == ["pass 1 of 3", "thread-locker, medium strength", "threads dry"]
    assert focus["locker"] == "thread-locker, medium strength"
    assert [(j["torque"], j["locker"], j["done"]) for j in made["step"]["joints"]] == [
        ("7 N·m, then 14 N·m, then 90°", "thread-locker, medium strength", False),
        ("10 N·m", "no thread-locker", False),
    ]
    hands.say("tightened seven", "tightened one four")
    focus = shown(hands)["focus"]
    assert (focus["label"], focus["figure"], focus["unit"]) == ("2 × long bolt, turn", "90°", "")
    hands.say("turned nine zero degrees")
    assert [joint["done"] for joint in shown(hands)["step"]["joints"]] == [True, False]
    hands.say("tightened one zero")
    focus = shown(hands)["focus"]
    assert (focus["kind"], focus["figure"], focus["notes"][0]) == ("done", "10", "recorded")


def test_a_value_that_does_not_fit_is_shown_as_heard(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven", "tightened four zero")
    focus = shown(hands)["focus"]
    assert (focus["kind"], focus["label"], focus["figure"]) == (
        "question",
        "Heard for long bolt",
        "40?",
    )
    assert focus["notes"] == ["the step says 14 N·m", "say affirm, or correction"]


def test_what_instruments_and_scanners_send_is_shown_as_that(tmp_path: Path) -> None:
    hands = Workshop(tmp_path / "journal.db")
    hands.at_measure()
    hands.send("25.2", "mm")
    assert shown(hands)["focus"]["label"] == "Sent for bore"
    hands.say("affirm")
    hands.send("24.98", "mm")
    hands.send("24.97", "mm")
    focus = shown(hands)["focus"]
    assert (focus["label"], focus["figure"]) == ("From the micrometer. What is it of?", "24.97")
    assert focus["choices"] == ["bore", "shaft"]
    hands.say("disregard", "order two circlips")
    hands.scan("TB-2")
    focus = shown(hands)["focus"]
    assert (focus["label"], focus["figure"]) == ("Scanned for circlip, received", "2?")
    assert focus["notes"][-1] == "say affirm, or how many"


def test_what_else_is_asked(hands: Hands) -> None:
    hands.say("affirm", "bag seven")
    assert shown(hands)["focus"]["figure"] == "Bag 7?"
    hands.say("correction bag one", "next step")
    assert shown(hands)["focus"]["choices"] == ["keyed shaft", "splined shaft"]
    hands.say("splined shaft", "next step")
    focus = shown(hands)["focus"]
    assert (focus["figure"], focus["unit"]) == ("24.95–25.05", "mm")
    hands.say("skip step")
    assert shown(hands)["focus"]["figure"] == "Why?"
    hands.say("note")
    assert shown(hands)["focus"]["figure"] == "Say your note"
    hands.say("disregard", "disregard", "close job")
    assert shown(hands)["focus"]["figure"] == "Close?"
    hands.say("affirm")
    assert shown(hands)["focus"]["figure"] == "Closed"


def test_what_the_customer_has_to_answer_is_shown_at_every_step(hands: Hands) -> None:
    hands.say("affirm", "end plate worn renew", "ask customer", "bag one", "next step")
    assert shown(hands)["customer"] == ["end plate worn, renew, at step 1"]
    desk.enter(hands.bench.journal, 1, "agrees", name="Mrs Hale")
    hands.wait(seconds=5)
    assert shown(hands)["customer"] == []


def test_the_kit_is_shown_thing_by_thing(hands: Hands) -> None:
    hands.say("affirm", "kit check")
    focus = shown(hands)["focus"]
    assert (focus["label"], focus["figure"]) == ("In the kit: drain plug", "1 ×")
    hands.say("negative", "affirm", "affirm")
    focus = shown(hands)["focus"]
    assert (focus["figure"], focus["notes"]) == ("Order?", ["1 × drain plug", "say affirm"])


def test_timers_are_told_by_when_they_are_due(hands: Hands) -> None:
    for minutes in ("ten", "two", "five"):
        hands.say(f"start timer {minutes} minutes")
    made = shown(hands)
    left = [round((due - made["now"]) / 1000) for _, due in made["timers"]]
    assert left == [120 - 10, 300, 600 - 20]
    hands.at_close()
    hands.say("skip step", "not fitted")
    assert shown(hands)["focus"]["notes"] == ["not started: say start timer"]
    hands.say("start timer")
    focus = shown(hands)["focus"]
    assert (focus["figure"], focus["due"]) == ("", shown(hands)["now"] + 600_000)


def test_what_was_said_is_bounded_and_turns_no_line_round(hands: Hands) -> None:
    said = "a\u202eb\x1b[2J\x00 " + "x" * 5000
    made = shown(hands, exchanges=(Exchange(said, said, (Cue.NOT_TAKEN,), said),))
    (one,) = made["exchanges"]
    assert one["cues"] == ["not taken"]
    for text in (one["heard"], one["reply"], one["why"]):
        assert text.startswith("ab[2J xxx") and len(text) <= 1201


def test_a_long_list_says_how_many_more() -> None:
    few = snapshot._few([str(number) for number in range(30)])
    assert len(few) == 12 and few[-1] == "and 19 more"


def test_what_fails_is_shown_with_how_many_are_open_and_the_ways_out(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "failing.db", FAILING)
    hands.say("affirm", "reading found backlash 0.62", "affirm")
    hands.say("reading bore 25.01", "reading bore 25.03", "reading bore 24.99")
    made = shown(hands)
    # As found it holds no inspection.
    assert (made["fails"], made["holds"]) == (1, False)
    assert made["failures"] == ["found backlash 0.62 mm, at most 0.30 mm"]
    hands.say("next step")
    made = shown(hands)
    assert (made["fails"], made["holds"]) == (1, True)
    assert made["failures"] == ["step 1: found backlash 0.62 mm, at most 0.30 mm"]
    focus = made["focus"]
    assert (focus["kind"], focus["figure"]) == ("refused", "Fails")
    assert focus["notes"] == [
        "0.32 mm too much",
        "at step 1: say go to step 1",
        "say retest, or rework and the step, or concession",
    ]
    assert not any("backlash" in item for item in made["outstanding"])
    hands.say("concession")
    assert shown(hands)["focus"]["figure"] == "Why?"
    hands.say("note the gears are renewed")
    assert (shown(hands)["fails"], shown(hands)["failures"]) == (0, [])


def test_what_is_to_be_retested_is_shown_as_open(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "failing.db", FAILING)
    hands.say("affirm", "reading found backlash 0.62", "affirm", "retest")
    made = shown(hands)
    assert (made["fails"], made["holds"]) == (1, False)
    assert made["failures"] == ["found backlash 0.62 mm, at most 0.30 mm, to be retested"]
    hands.say("skip step", "tool not here")
    hands.say("reading bore 25.01", "reading bore 25.03", "reading bore 24.99", "next step")
    made = shown(hands)
    assert (made["fails"], made["holds"]) == (1, True)
    assert made["failures"] == ["step 1: found backlash 0.62 mm, at most 0.30 mm, to be retested"]
    assert (made["focus"]["figure"], made["focus"]["notes"]) == ("Failed", ["say go to step 1"])


def test_a_gate_is_shown_with_the_way_to_it(tmp_path: Path) -> None:
    gated = SMALL.replace("      - id: which\n", "      - id: which\n        gate: job\n", 1)
    hands = Hands(tmp_path / "gated.db", gated)
    hands.say("affirm", "bag one", "next step", "skip step", "tool not here")
    focus = shown(hands)["focus"]
    assert (focus["kind"], focus["figure"]) == ("refused", "Step 2")
    assert focus["notes"] == ["say go to step 2"]


def test_a_job_without_a_procedure_shows_what_came_off_and_what_goes_on(tmp_path: Path) -> None:
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"))
    hands = Hands(tmp_path / "unwritten.db", text)
    hands.say("affirm")
    assert shown(hands)["focus"]["label"] == "Safe to work on"
    hands.say("removed six long bolts", "bag one", "thread locker found")
    focus = shown(hands)["focus"]
    assert (focus["label"], focus["figure"], focus["notes"][0]) == (
        "Came off",
        "6 × long bolt",
        "bag 1",
    )
    hands.say("removed end cover", "set torque long bolts two five", "start build up")
    focus = shown(hands)["focus"]
    assert (focus["label"], focus["figure"], focus["notes"][0]) == (
        "Goes on",
        "1 × end cover",
        "no bag",
    )
    hands.say("next step")
    focus = shown(hands)["focus"]
    # Nobody said that there is no thread-locker, or that the threads are dry.
    assert (focus["figure"], focus["unit"], focus["notes"]) == ("25", "N·m", [])
