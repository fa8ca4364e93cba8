"""The conversation's rules, through typed phrases and what is then on disk."""

from decimal import Decimal
from pathlib import Path

import pytest

from assistant.dialogue import events, facts, intents
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import TABLE
from tests.bench_helpers import SMALL, Hands


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


def test_the_table_says_what_every_intent_does_in_every_mode() -> None:
    assert set(TABLE) == set(job_state.Mode)
    for mode, row in TABLE.items():
        assert set(row) == set(intents.ALL), mode


def test_a_warning_is_affirmed_before_the_step_is_told(hands: Hands) -> None:
    opening = " ".join(hands.notes.replies)
    assert "Warning. The spring is under load." in opening
    assert "Take off the end plate" not in opening
    assert "the warning to affirm" in hands.say("next step")
    assert hands.bench.state.step_id == "open"
    assert "Take off the end plate" in hands.say("affirm")
    assert hands.events("hazards heard")


def test_moving_on_with_something_outstanding_says_so_and_stays(hands: Hands) -> None:
    hands.say("affirm")
    said = hands.say("next step")
    assert "bag one" in said and "We stay at step one" in said
    assert not hands.events("step done")
    hands.say("bag one", "next step")
    assert hands.bench.state.step_id == "which"
    assert "the question" in hands.say("next step")
    assert "the question" in hands.say("go to step five")
    assert hands.bench.state.step_id == "which"


def test_an_answer_leads_to_its_step_and_leaves_out_the_others(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    assert hands.bench.state.step_id == "measure"
    assert "does not apply" in hands.say("go to step three")


def test_the_other_answer_goes_through_the_step_for_it(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step")
    assert "Keep the key" in hands.say("keyed shaft")
    hands.say("next step")
    assert hands.bench.state.step_id == "key"


def test_a_torque_that_does_not_fit_is_questioned_in_these_words(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven")
    said = hands.say("tightened four zero")
    assert said == (
        "I heard four zero. The step says one four newton metres. Affirm, or say correction."
    )
    assert len(hands.events("torque recorded")) == 1
    hands.say("correction one four")
    recorded = hands.events("torque recorded")[-1]
    assert isinstance(recorded, events.TorqueRecorded)
    assert (recorded.value, recorded.within) == (Decimal(14), True)
    assert recorded.first_heard == facts.SaidValue(value=Decimal(40))


def test_a_value_that_is_affirmed_is_recorded_and_stands_out(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened nine", "affirm")
    recorded = hands.events("torque recorded")[-1]
    assert isinstance(recorded, events.TorqueRecorded)
    assert (recorded.value, recorded.asked, recorded.within) == (Decimal(9), Decimal(7), False)


def test_a_value_of_the_wrong_kind_cannot_be_affirmed(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm")
    assert "seven newton metres" in hands.say("tightened seven millimetres")
    hands.say("affirm")
    assert not hands.events("torque recorded")
    assert "Nothing recorded" in hands.say("negative")
    assert hands.bench.state.mode is job_state.Mode.WORKING


def test_nothing_else_answers_an_open_question(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened four zero")
    assert "I heard four zero" in hands.say("next step")
    assert hands.bench.state.step_id == "close"
    assert "long bolt" in hands.say("what torque").lower()
    assert hands.bench.state.mode is job_state.Mode.QUESTIONING


def test_a_torque_in_another_unit_is_converted(hands: Hands) -> None:
    hands.at_close()
    # 14 N·m is 10.33 lbf·ft, by 1 lbf·ft = 1.355 818 N·m (NIST SP 811, appendix B.8).
    assert "one zero point three foot pounds" in hands.say("what torque in foot pounds")
    hands.say("affirm", "tightened seven", "tightened one zero point three foot pounds")
    recorded = hands.events("torque recorded")[-1]
    assert isinstance(recorded, events.TorqueRecorded)
    assert (recorded.value, recorded.unit, recorded.within) == (Decimal("10.3"), "lbf·ft", True)


def test_passes_and_angle_come_in_order(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven", "tightened fourteen", "turned nine zero degrees")
    assert "next step" in hands.say("tightened one zero")
    stages = [
        (e.fastener, e.stage, str(e.value))
        for e in hands.events("torque recorded")
        if isinstance(e, events.TorqueRecorded)
    ]
    assert stages == [
        ("long bolt", 1, "7"),
        ("long bolt", 2, "14"),
        ("long bolt", 3, "90"),
        ("short bolt", 1, "10"),
    ]


def test_a_named_fastener_is_the_one_recorded(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened short bolt one zero")
    recorded = hands.events("torque recorded")[-1]
    assert isinstance(recorded, events.TorqueRecorded)
    assert recorded.fastener == "short bolt"


def test_readings_are_judged_worked_out_and_choose_a_part(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    assert "limits" in hands.say("reading 25.10")
    assert not hands.events("reading recorded")
    hands.say("correction two five point zero one")
    said = hands.say("reading shaft two four point nine eight")
    assert "zero point zero three millimetres" in said
    assert "circlip" in said
    first = hands.events("reading recorded")[0]
    assert isinstance(first, events.ReadingRecorded)
    assert first.value == Decimal("25.01")
    assert first.first_heard == facts.SaidValue(value=Decimal("25.10"))


def test_an_implausible_reading_is_asked_about(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    assert "I would expect" in hands.say("reading two point five")


def test_correction_of_a_reading_works_out_the_value_again(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading 25.01", "reading 24.98")
    said = hands.say("correction reading 24.97")
    assert "Clearance is now zero point zero four millimetres" in said
    # What was told first is kept as evidence; what counts is what follows now.
    told = [e.value for e in hands.events("value worked out")]
    assert told == [Decimal("0.03"), Decimal("0.04")]
    assert hands.bench.state.results.values()["clearance"] == (Decimal("0.04"), "mm")
    read_back = hands.say("read back")
    assert "zero point zero four" in read_back
    assert "zero point zero three" not in read_back


def test_skipping_takes_a_reason_and_stays_in_the_record(hands: Hands) -> None:
    assert "For what reason" in hands.say("skip step")
    assert hands.bench.state.step_id == "open"
    assert "For what reason" in hands.say("next step")
    hands.say("waiting for part")
    skipped = hands.events("step skipped")[0]
    assert isinstance(skipped, events.StepSkipped)
    assert skipped.reason == facts.SkipReason(code="part not here")
    assert skipped.outstanding
    assert "step one skipped" in hands.say("what is left").lower()


def test_a_reason_in_ones_own_words(hands: Hands) -> None:
    hands.say("skip step", "the puller is lent out until Friday")
    skipped = hands.events("step skipped")[0]
    assert isinstance(skipped, events.StepSkipped)
    assert skipped.reason == facts.SkipReason(note="the puller is lent out until Friday")


def test_skip_can_be_taken_back(hands: Hands) -> None:
    hands.say("skip step", "disregard")
    assert hands.bench.state.mode is job_state.Mode.WORKING
    hands.say("skip step", "not needed", "disregard")
    assert hands.bench.state.step_id == "open"
    assert not hands.bench.state.skipped


def test_disregard_withdraws_the_last_thing_and_keeps_the_event(hands: Hands) -> None:
    hands.say("affirm", "order two drain plugs", "circlip missing drum side")
    assert "circlip missing" in hands.say("disregard")
    assert "two drain plugs" in hands.say("disregard")
    assert not [e for e in hands.bench.state.history if isinstance(e, events.PartOrdered)]
    assert len(hands.events("withdrawn")) == 2
    assert len(hands.events("part ordered")) == 1


def test_disregard_after_next_step_goes_back(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step")
    assert "Back at step one" in hands.say("disregard")
    assert "open" not in hands.bench.state.done


def test_disregard_with_nothing_to_withdraw(hands: Hands) -> None:
    assert "nothing to disregard" in hands.say("disregard")


def test_a_slip_corrected_in_one_breath(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened one seven correction seven")
    recorded = hands.events("torque recorded")[-1]
    assert isinstance(recorded, events.TorqueRecorded)
    assert (recorded.value, recorded.first_heard) == (
        Decimal(7),
        facts.SaidValue(value=Decimal(17)),
    )


def test_an_order_of_far_too_many_is_asked_about(hands: Hands) -> None:
    assert "The assembly holds one drain plug" in hands.say("order twenty drain plugs")
    hands.say("order two drain plugs")
    ordered = hands.events("part ordered")
    assert len(ordered) == 1
    assert isinstance(ordered[0], events.PartOrdered)
    assert (ordered[0].count, ordered[0].part_number) == (2, "TB-1")


def test_the_wrong_bag_is_asked_about_and_the_right_one_is_known_at_build_up(hands: Hands) -> None:
    hands.say("affirm")
    assert "The step says bag one" in hands.say("bag seven")
    hands.say("correction one", "next step", "splined shaft", "next step")
    hands.say("reading 25.01", "reading 24.98", "next step", "affirm")
    assert "is right" in hands.say("bag one")
    assert "takes bag one" in hands.say("bag two")


def test_notes_are_kept_as_typed(hands: Hands) -> None:
    hands.say("note the gasket was glued in")
    assert hands.say("note") == "Go ahead."
    hands.say("somebody used the wrong sealant")
    texts = [e.text for e in hands.events("note") if isinstance(e, events.NoteRecorded)]
    assert texts == ["the gasket was glued in", "somebody used the wrong sealant"]


def test_a_wait_has_to_pass(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven", "tightened fourteen", "turned ninety degrees")
    hands.say("tightened one zero", "next step")
    assert "start timer" in hands.say("next step")
    hands.say("start timer")
    assert "We stay" in hands.say("next step")
    assert "nine minutes" in hands.say("time left")
    assert "The cure is up" in hands.wait(minutes=11)
    assert "last step" in hands.say("next step")
    assert "Job closed" in hands.say("close job")
    assert "closed" in hands.say("next step")


def test_a_shorter_timer_does_not_stand_for_the_wait(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven", "tightened fourteen", "turned ninety degrees")
    hands.say("tightened one zero", "next step", "start timer five minutes")
    hands.wait(minutes=6)
    assert "cure" in hands.say("next step")


def test_standing_by_only_resume_is_answered(hands: Hands) -> None:
    hands.say("stand by")
    assert hands.say("affirm") == ""
    assert not hands.events("hazards heard")
    assert "Listening" in hands.say("resume")


def test_closing_with_something_left_is_asked_about(hands: Hands) -> None:
    assert "Not complete" in hands.say("close job")
    hands.say("negative")
    assert not hands.events("job closed")
    hands.say("close job", "affirm")
    closed = hands.events("job closed")[0]
    assert isinstance(closed, events.JobClosed)
    assert closed.left


def test_nothing_understood_nothing_done(hands: Hands) -> None:
    before = hands.bench.journal.events(hands.bench.job)
    assert hands.say("did you see the match last night") == ""
    assert hands.say("   ") == ""
    assert hands.bench.journal.events(hands.bench.job) == before
    assert hands.notes.refused == ["did you see the match last night"]


def test_say_again_repeats_and_read_back_tells_what_is_kept(hands: Hands) -> None:
    said = hands.say("affirm")
    assert hands.say("say again") == said
    hands.say("order two drain plugs")
    assert "two drain plugs" in hands.say("read back")


def test_a_job_is_taken_up_where_it_was_left(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven", "tightened four zero")
    before = hands.bench.state
    said = hands.stop_and_take_up(days=3, hours=2)
    assert "three days and two hours ago" in said
    assert "I heard four zero" in said
    assert hands.bench.state.step_id == before.step_id
    assert hands.bench.state.answers == before.answers
    hands.say("correction one four")
    assert "turn nine zero degrees" in hands.say("where are we")


def test_the_same_events_give_the_same_state(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven", "disregard", "tightened seven", "previous step")
    told = job_state.replay(hands.procedure, hands.bench.journal.events(hands.bench.job))
    assert told == hands.bench.state


def test_who_when_and_the_words_are_kept(hands: Hands) -> None:
    hands.say("Order 2 drain plugs.")
    ordered = hands.events("part ordered")[0]
    assert isinstance(ordered, events.PartOrdered)
    assert ordered.by == "sam"
    assert ordered.at.isoformat() == "2031-03-04T11:00:10+02:00"
    assert ordered.heard is not None
    assert (ordered.heard.words, ordered.heard.recogniser) == ("Order 2 drain plugs.", "typed")


def test_the_gravest_hazard_is_spoken_first(tmp_path: Path) -> None:
    two = "[{signal: caution, say: Hot.}, {signal: danger, say: High voltage.}]"
    text = SMALL.replace("[{signal: warning, say: The spring is under load.}]", two)
    said = " ".join(Hands(tmp_path / "other.db", text).notes.replies)
    assert "Danger. High voltage. Caution. Hot." in said


def test_a_correction_that_names_something_corrects_that_and_nothing_else(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.01", "reading shaft 24.98")
    hands.say("correction reading bore 25.00")
    taken = {e.name: str(e.value) for e in hands.bench.state.of_step(events.ReadingRecorded)}
    assert taken == {"bore": "25.00", "shaft": "24.98"}


def test_a_correction_of_a_fastener_that_is_not_recorded_changes_nothing(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened seven")
    assert "nothing at this step to correct" in hands.say(
        "correction tightened short bolt one zero"
    )
    (recorded,) = hands.bench.state.of_step(events.TorqueRecorded)
    assert (recorded.fastener, recorded.value) == ("long bolt", Decimal(7))


def test_a_question_about_one_fastener_is_not_answered_with_another(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm", "tightened four zero")
    assert "I heard four zero" in hands.say("tightened short bolt seven")
    assert not hands.events("torque recorded")


def test_of_many_passes_only_the_next_is_spoken_out(hands: Hands) -> None:
    hands.at_close()
    hands.say("affirm")
    assert hands.say("next step").startswith(
        "Outstanding: the torque, long bolt, pass one of three, seven newton metres with two "
        "more passes after it and the torque, short bolt, one zero newton metres."
    )


def test_previous_step_goes_back_by_one_and_stays_at_the_first(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step", "keyed shaft", "next step", "next step")
    assert hands.bench.state.step_id == "measure"
    hands.say("previous step")
    assert hands.bench.state.step_id == "key"
    hands.say("previous step", "previous step")
    assert hands.bench.state.step_id == "open"
    assert "This is the first step" in hands.say("previous step")
    assert hands.bench.state.step_id == "open"


@pytest.mark.parametrize(
    ("said", "taken"), [("14.7", True), ("14.71", False), ("13.3", True), ("13.29", False)]
)
def test_a_torque_at_its_tolerance_is_taken_and_beyond_it_is_asked_about(
    hands: Hands, said: str, taken: bool
) -> None:
    # Five percent of 14 N·m either way.
    hands.at_close()
    hands.say("affirm", "tightened seven", f"tightened {said}")
    assert bool(len(hands.events("torque recorded")) == 2) is taken
    assert (hands.bench.state.mode == "questioning") is not taken


def test_what_is_not_affirmed_is_said_again_or_to_be_seen_to(hands: Hands) -> None:
    assert "The spring is under load." in hands.say("negative")
    assert not hands.events("hazards heard")
    hands.at_close()
    assert "box clean" in hands.say("where are we")
    assert "See to it first" in hands.say("negative")
    assert not hands.events("condition affirmed")
    hands.say("affirm")
    assert len(hands.events("condition affirmed")) == 1
    assert "I asked nothing" in hands.say("negative")
