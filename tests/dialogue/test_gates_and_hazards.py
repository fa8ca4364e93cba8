"""Gates that cannot be got round, steps left half done, hazards of the whole procedure; typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.dialogue import events
from tests.bench_helpers import SMALL, Hands

WARNED = SMALL.replace(
    "parts:\n",
    "affirm: caution\n"
    "hazards:\n"
    "  - {signal: caution, say: Wear gloves.}\n"
    "  - {signal: danger, say: The motor can start by itself.}\n"
    "  - {signal: notice, say: Two people are needed.}\n"
    "parts:\n",
    1,
)
GATED = SMALL.replace("- id: open\n", "- id: open\n        gate: job\n", 1)


@pytest.fixture
def warned(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", WARNED)


def heard(hands: Hands) -> list[tuple[str | None, list[str], str | None]]:
    """Return the affirmed hazards that stand: their step, signal words and who affirmed them."""
    return [
        (e.step, [hazard.signal for hazard in e.hazards], e.by)
        for e in hands.bench.session.state.of_job(events.HazardsHeard)
    ]


# Hazards of the whole procedure


def test_the_first_affirm_covers_the_procedure_and_its_first_step(warned: Hands) -> None:
    opened = " ".join(warned.notes.replies)
    danger = opened.index("Danger. The motor can start by itself.")
    assert danger < opened.index("Caution. Wear gloves.") < opened.index("Warning. The spring")
    assert "Notice. Two people are needed." in opened
    assert opened.endswith("Affirm that you heard.")
    assert warned.say("affirm").startswith("Step one. Take off the end plate.")
    assert heard(warned) == [
        (None, ["danger", "caution"], "sam"),
        ("open", ["warning"], "sam"),
    ]


def test_until_they_are_affirmed_nothing_goes_on(warned: Hands) -> None:
    assert warned.say("next step").startswith(
        "Outstanding: the danger, caution and warning to affirm and bag one."
    )
    assert "The motor can start by itself" in warned.say("negative"), "they are said again"
    assert heard(warned) == []
    assert warned.say("go to step two").endswith("We stay at step one.")


def test_they_are_said_again_days_later_until_they_are_affirmed(warned: Hands) -> None:
    told = warned.stop_and_take_up(days=2)
    assert "Danger. The motor can start by itself." in told
    assert told.endswith("Affirm that you heard.")
    warned.say("affirm")
    told = warned.stop_and_take_up(days=2)
    assert "The motor can start by itself" not in told


def test_taking_the_affirmation_back_leaves_them_outstanding(warned: Hands) -> None:
    warned.say("affirm")
    assert warned.say("disregard").endswith("Next, the danger and caution to affirm.")
    assert heard(warned) == []
    assert "The motor can start by itself" in warned.say("next step", "where are we", "negative")
    warned.say("affirm")
    assert len(heard(warned)) == 2


def test_they_are_affirmed_once_for_all_steps(warned: Hands) -> None:
    warned.say("affirm", "bag one", "next step", "splined shaft")
    assert warned.say("next step").startswith("Step four. Measure bore and shaft.")
    assert [step for step, _, _ in heard(warned)] == [None, "open"]


def test_a_step_without_hazards_asks_for_those_of_the_procedure(tmp_path: Path) -> None:
    text = WARNED.replace(
        "        hazards: [{signal: warning, say: The spring is under load.}]\n", ""
    )
    hands = Hands(tmp_path / "journal.db", text)
    assert " ".join(hands.notes.replies).endswith("Caution. Wear gloves. Affirm that you heard.")
    hands.say("affirm")
    assert heard(hands) == [(None, ["danger", "caution"], "sam")]


def test_cautions_are_told_and_not_asked_about_where_the_shop_wants_no_more(
    tmp_path: Path,
) -> None:
    hands = Hands(tmp_path / "journal.db", WARNED.replace("affirm: caution\n", ""))
    opened = " ".join(hands.notes.replies)
    assert opened.index("Caution. Wear gloves.") < opened.index("Danger. The motor can start")
    assert opened.endswith("Warning. The spring is under load. Affirm that you heard.")
    hands.say("affirm")
    assert heard(hands) == [(None, ["danger"], "sam"), ("open", ["warning"], "sam")]


def test_a_step_with_a_caution_alone_is_read_with_it(tmp_path: Path) -> None:
    text = SMALL.replace("signal: warning, say: The spring", "signal: caution, say: The spring")
    hands = Hands(tmp_path / "journal.db", text)
    opened = " ".join(hands.notes.replies)
    assert "Caution. The spring is under load." in opened
    assert "Affirm" not in opened
    assert hands.say("bag one", "next step").startswith("Step two")
    assert "Caution. The spring is under load." in hands.say("go to step one", "what hazards")


# Gates


def test_going_round_a_gate_is_no_way_round_it(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", GATED)
    told = hands.say("skip step", "waiting for part")
    assert told.endswith(
        "Step two has to wait for step one, take off the end plate. Say go to step one."
    )
    assert hands.say("splined shaft").startswith("Not yet.")
    first = "Outstanding: step one to do first, take off the end plate: say go to step one"
    assert hands.say("next step").startswith(first)
    assert hands.say("go to step five").startswith(first)
    assert hands.say("skip step", "not needed").startswith("Step two skipped, not needed.")
    assert hands.say("reading bore 25.00").startswith("Not yet. Step four has to wait")
    hands.say("go to step one", "affirm", "bag one", "next step", "splined shaft")
    assert hands.say("go to step four", "reading bore 25.00").startswith("Bore two five point")


def test_a_gate_is_closed_again_when_what_passed_it_is_taken_back(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", GATED)
    hands.say("affirm", "bag one", "next step", "disregard")
    told = hands.say("go to step four")
    assert told.startswith("Steps one and two before it are not done. Step four has to wait")
    hands.stop_and_take_up(days=1)
    assert hands.say("reading bore 25.00").startswith("Not yet. Step four has to wait")


def test_a_step_that_has_to_wait_says_how_to_get_to_the_other(tmp_path: Path) -> None:
    text = SMALL.replace("[{affirm: Is the box clean?}]", "[{step: measure}]")
    hands = Hands(tmp_path / "journal.db", text)
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("skip step", "tool not here")
    assert "step four to do first, measure bore and shaft: say go to step four" in hands.say(
        "where are we"
    )
    assert hands.say("tightened 7").startswith("Not yet. Step five has to wait: step four")
    assert hands.say("go to step four").startswith("Step four. Measure bore and shaft. This step")


# Steps left


def test_a_skipped_step_is_outstanding_when_the_work_comes_back_to_it(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "skip step", "waiting for part")
    assert hands.say("what is left").endswith("Step one skipped, part not here.")
    told = hands.say("previous step", "next step")
    assert told.startswith("Outstanding: bag one. We stay at step one. It was skipped.")
    hands.say("bag one", "next step")
    assert "skipped" not in hands.say("what is left")


def test_steps_passed_over_are_named(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "bag one", "next step", "splined shaft", "previous step")
    assert hands.say("go to step five").startswith("Steps two and four before it are not done.")
    hands.say("affirm")
    assert hands.say("what is left") == (
        "Steps two and four of strip-down not done, two half done. "
        "Steps five and six of build-up not done."
    )
