"""Questions about the whole procedure, plain words, damage words, units: typed at a bench."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.dialogue import events, intents, understanding
from assistant.dialogue import state as job_state
from assistant.procedure import reading
from tests.bench_helpers import SMALL, Hands

PROCEDURE = reading.parse(SMALL, "small.yaml")


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


# Torques of any step


def test_the_torque_of_a_bolt_of_another_step_is_told_with_its_step(hands: Hands) -> None:
    before = hands.bench.journal.events(hands.bench.job)
    assert hands.say("what torque long bolt") == (
        "Step five. Long bolt, seven, then one four newton metres, then turn nine zero degrees."
    )
    assert hands.say("which torque, short bolt") == "Step five. Short bolt, one zero newton metres."
    assert hands.say("what torque") == "Step one has no torque."
    assert hands.bench.journal.events(hands.bench.job) == before, "a question records nothing"


def test_a_bolt_without_a_torque_is_told_as_that(hands: Hands) -> None:
    assert hands.say("what torque plate bolt") == (
        "The procedure has no torque for the plate bolt. Ask for the maker's."
    )


VARIANTS = SMALL.replace(
    "- {fastener: short bolt, torque: 10 N·m}",
    "- {fastener: short bolt, torque: 10 N·m, when: {shaft: keyed shaft}}\n"
    "          - {fastener: short bolt, torque: 12 N·m, when: {shaft: splined shaft}}",
)


def test_a_torque_that_depends_on_an_open_question_is_told_for_each_answer(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", VARIANTS)
    assert hands.say("what torque short bolt") == (
        "Step five, for keyed shaft. Short bolt, one zero newton metres. "
        "Step five, for splined shaft. Short bolt, one two newton metres."
    )
    hands.say("affirm", "bag one", "next step", "splined shaft")
    assert hands.say("what torque short bolt") == "Step five. Short bolt, one two newton metres."


def test_a_question_is_answered_while_a_value_is_in_question(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened 40")
    assert hands.say("what torque short bolt") == "Step five. Short bolt, one zero newton metres."
    assert "Recorded" in hands.say("correction 7")


def test_bolts_of_other_steps_are_heard_in_questions_only() -> None:
    state = job_state.at_step(PROCEDURE, "open")
    said = ("tightened", "long", "bolt", "one", "four")
    assert understanding.understand(said, state) is None
    asked = understanding.understand(("what", "torque", "long", "bolt"), state)
    assert asked == intents.Ask(intents.Topic.TORQUE, fastener="long bolt")


def test_why(tmp_path: Path) -> None:
    text = SMALL.replace("say: Take off", "why: The bearing is behind it.\n        say: Take off")
    hands = Hands(tmp_path / "journal.db", text)
    assert hands.say("why") == "The bearing is behind it."
    assert hands.say("affirm", "bag one", "next step", "tell me why") == (
        "Step two has no reason given. Say more detail."
    )


# Parts


def test_what_is_in_a_bag_and_where_its_things_are(hands: Hands) -> None:
    assert hands.say("what is in bag one") == "No bag one is recorded."
    assert hands.say("where is the end plate") == (
        "Still in place: the end plate comes off at step one."
    )
    hands.say("affirm", "bag one", "next step")
    assert hands.say("what is in bag one") == "In bag one: one end plate and four plate bolts."
    hands.stop_and_take_up(days=3)
    assert hands.say("where are the plate bolts") == "In bag one: four plate bolts."
    hands.say("disregard", "disregard")
    assert hands.say("what is in bag one") == "No bag one is recorded.", "it was taken back"


def test_a_bag_that_was_opened_is_told_as_that(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened long bolt 7", "tightened 14", "turned 90 degrees")
    hands.say("tightened short bolt 10", "next step")
    assert hands.say("what is in bag one") == (
        "Bag one was opened at step five. It held one end plate and four plate bolts."
    )


def test_what_is_on_order(hands: Hands) -> None:
    assert hands.say("what is on order") == "Nothing is on order."
    hands.say("order two circlips", "order drain plug")
    assert hands.say("what is on order") == "Still to come: two circlips and one drain plug."
    hands.say("circlip received one")
    assert hands.say("what is on order") == "Still to come: one circlip and one drain plug."
    assert hands.say("where are the circlips") == (
        "Circlip on order: one asked for and one received."
    )
    hands.say("drain plug cancelled", "disregard", "disregard")
    assert hands.say("what is on order") == "Still to come: two circlips and one drain plug."


# Plain words


@pytest.mark.parametrize(
    ("word", "told"),
    [
        ("yes", "Say affirm."),
        ("no", "Say negative."),
        ("help", "Say what words to hear what can be said."),
        ("Undo.", "Say disregard to take back the last thing, or correction and the right value."),
    ],
)
def test_a_plain_word_is_answered_with_the_one_to_say(hands: Hands, word: str, told: str) -> None:
    before = hands.bench.journal.events(hands.bench.job)
    assert hands.say(word) == told
    assert hands.say("affirm", "skip step", word) == told, "it is no reason"
    assert hands.say("negative", "order nine circlips", word) == told
    assert hands.say("negative", "close job", word) == told
    kinds = {event.kind for event in hands.bench.journal.events(hands.bench.job)[len(before) :]}
    assert not kinds & {"part ordered", "step skipped", "job closed"}


def test_a_plain_word_can_be_a_note(hands: Hands) -> None:
    hands.say("note", "no")
    (note,) = hands.events("note")
    assert isinstance(note, events.NoteRecorded)
    assert note.text == "no"


# Damage


@pytest.mark.parametrize(
    ("said", "part", "condition"),
    [
        ("plate bolt thread stripped", "plate bolt", "thread stripped"),
        ("plate bolts too short", "plate bolt", "too short"),
        ("plate bolt wrong length", "plate bolt", "wrong length"),
        ("circlip reused", "circlip", "reused"),
        ("drain plug needs a thread insert", "drain plug", "needs a thread insert"),
        ("drain plug fitted wrong", "drain plug", "fitted wrong"),
    ],
)
def test_damage_as_technicians_say_it(hands: Hands, said: str, part: str, condition: str) -> None:
    assert "Recorded" in hands.say(said)
    (found,) = hands.events("finding")
    assert isinstance(found, events.FindingRecorded)
    assert (found.part, found.condition) == (part, condition)
    hands.say("disregard")
    assert not hands.bench.session.state.of_job(events.FindingRecorded)


def test_a_bolt_of_another_step_is_no_part_to_find_wanting_here(hands: Hands) -> None:
    hands.say("long bolt too short")
    assert hands.notes.refused == ["long bolt too short"]


# Units


def test_a_reading_in_another_unit_is_said_back_in_both(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    assert hands.say("reading shaft 5 thou").startswith(
        "Shaft five thou, zero point one two seven millimetres. Recorded."
    )
    assert hands.say("reading bore 2 inches").startswith(
        "I heard two inches, five zero point eight millimetres. I would expect"
    )
    hands.say("negative")
    assert hands.say("reading bore 25 millimetres").startswith(
        "Bore two five millimetres. Recorded."
    )
    inch = "zero point nine eight four inches, two four point nine nine three six millimetres"
    assert f"Shaft {inch}. Recorded." in hands.say("correction shaft 0.984 inches")
    assert f"Shaft {inch}." in hands.say("read back"), "days later too"


def test_a_torque_in_another_unit_is_said_back_in_both(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm")
    assert hands.say("tightened long bolt 2 foot pounds") == (
        "I heard two foot pounds, two point seven one newton metres. "
        "The step says seven newton metres. Affirm, or say correction."
    )
    assert "five point two foot pounds, seven point zero five newton metres. Recorded" in hands.say(
        "correction 5.2 foot pounds"
    )


ADAPTER = SMALL.replace(
    "- {fastener: short bolt, torque: 10 N·m}",
    "- {fastener: short bolt, torque: 10 N·m, adapter: 50 mm, wrench: small wrench}",
).replace(
    "places:",
    "wrenches:\n"
    "  - {name: small wrench, least: 5 N·m, most: 25 N·m, graduation: 0.5 N·m, length: 250 mm}\n"
    "places:",
)


def test_with_an_adapter_what_counts_is_told_at_the_nut(tmp_path: Path) -> None:
    # 10 N·m at the nut is 10 · 250 / 300 = 8.33 N·m at the drive; 8.5 N·m is 10.2 N·m at the nut.
    hands = Hands(tmp_path / "journal.db", ADAPTER)
    hands.at_close()
    hands.say("affirm", "tightened long bolt 7", "tightened 14", "turned 90 degrees")
    assert "for one zero point two newton metres at the nut" in hands.say("what setting")
    assert hands.say("what setting").endswith("set eight point five newton metres.")
    assert hands.say("tightened 8.5").startswith(
        "I heard eight point five. The step says one zero newton metres at the nut."
    )
    assert hands.say("correction 10").startswith(
        "Short bolt tightened one zero newton metres at the nut. Recorded."
    )


def test_what_events_keep_of_units(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading shaft 984 thou", "reading bore 25.01")
    shaft, bore = (
        e for e in hands.events("reading recorded") if isinstance(e, events.ReadingRecorded)
    )
    assert (shaft.unit, shaft.asked_unit) == ("thou", "mm")
    assert (bore.unit, bore.asked_unit) == ("mm", None)


def test_what_words_tells_what_fits_and_more_words_the_rest(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    always = (
        "At any time: say again, what is left, note, or disregard. For the rest, say more words."
    )
    assert hands.say("what words") == f"Here, say affirm or bag one. {always}"
    hands.say("affirm")
    assert hands.say("what words") == f"Here, say bag one. {always}"
    hands.say("bag one")
    assert hands.say("what words") == f"Here, say next step. {always}"
    hands.say("next step")
    told = hands.say("what words")
    assert told.startswith("Here, say ") and "splined shaft" in told
    rest = hands.say("more words")
    assert "order two drain plugs" in rest and len(rest.split()) > 60
    before = hands.bench.state
    hands.say("what words", "more words")
    assert hands.bench.state == before
