"""Extra work that the customer has to agree to: asked at the bench, answered at the parts desk."""

from __future__ import annotations

import threading
from contextlib import closing
from pathlib import Path

import pytest

from assistant.desk import customer as desk
from assistant.dialogue import customer, events, facts
from assistant.dialogue.state import Mode
from assistant.dialogue.withdrawal import what_stands
from assistant.journal.store import Journal
from tests.bench_helpers import Hands


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    found = Hands(tmp_path / "journal.db")
    found.say("affirm")
    return found


def answer(hands: Hands, what: facts.CustomerAnswer, **more: object) -> events.CustomerAnswered:
    """Enter an answer at the desk, with a journal of its own."""
    with closing(Journal(hands.path)) as journal:
        given = {"name": "Mrs Hale", "by": "kim"} | more
        return desk.enter(journal, 1, what, **given)  # type: ignore[arg-type]


def stand(hands: Hands) -> list[tuple[str, bool, str | None]]:
    """Return each question that stands: of what, whether it is open, the answer that counts."""
    return [
        (q.work.condition or "order", q.open, q.answer.answer if q.answer else None)
        for q in customer.questions(hands.bench.state.log)
    ]


def test_what_was_found_last_and_what_it_needs_waits_for_the_desk(hands: Hands) -> None:
    hands.say("circlip cracked", "end plate worn drum side renew")
    assert hands.say("ask customer") == (
        "Ask customer: end plate worn, drum side, renew. Recorded, it waits for the parts desk."
    )
    (asked,) = hands.bench.state.of_job(events.CustomerAsked)
    assert (asked.work.parts.name, asked.work.place, asked.work.needs, asked.step) == (
        "end plate",
        "drum side",
        "renew",
        "open",
    )
    left = "Customer to answer: end plate worn, drum side, renew, at step one."
    assert left in hands.say("what is left")
    assert "Customer to answer: end plate worn, drum side, renew." in hands.say("hand over")
    assert "customer to answer: end plate worn" in hands.say("close job")
    assert "Ask customer: end plate worn" in hands.say("negative", "read back")


def test_the_answer_is_told_at_the_bench_with_a_name_and_stops_nobody(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer", "bag two")
    answer(hands, "agrees", note="their order 77")
    told = hands.wait(seconds=5)
    assert told == "From the parts desk: customer agrees, says Mrs Hale: end plate worn, renew."
    assert hands.bench.state.mode is Mode.QUESTIONING, "the question about the bag is still open"
    assert hands.bench.state.technician == "sam"
    hands.say("disregard")
    assert "customer" not in hands.say("what is left").lower()
    assert "to answer" not in hands.say("hand over")
    assert stand(hands) == [("worn", False, "agrees")]


def test_nothing_found_yet_is_refused_with_the_way_out(hands: Hands) -> None:
    told = hands.say("ask customer")
    assert "Nothing was found yet" in told and "then ask customer" in told
    hands.say("circlip cracked", "disregard")
    assert "Nothing was found yet" in hands.say("ask customer")
    assert not hands.bench.state.of_job(events.CustomerAsked)


def test_asking_twice_is_refused_and_says_what_came_of_it(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer")
    assert "The customer has not answered yet" in hands.say("ask customer")
    answer(hands, "declines")
    hands.wait(seconds=5)
    assert "The customer declines, says Mrs Hale" in hands.say("ask customer")
    assert len(hands.bench.state.of_job(events.CustomerAsked)) == 1


def test_what_it_needs_is_asked_for_and_put_right_with_the_finding(hands: Hands) -> None:
    hands.say("end plate worn")
    assert "What it needs was not said" in hands.say("ask customer")
    hands.say("correction end plate worn repair")
    assert stand(hands) == [("worn", True, None)]
    assert "end plate worn, repair" in hands.say("what is left")


def test_an_answer_to_what_was_corrected_since_is_none(hands: Hands) -> None:
    hands.say("end plate worn repair", "ask customer")
    answer(hands, "agrees")
    hands.wait(seconds=5)
    hands.say("correction end plate cracked renew")
    assert stand(hands) == [("cracked", True, None)]
    assert "Customer to answer: end plate cracked, renew" in hands.say("what is left")
    # Taking the correction back brings back what the customer agreed to.
    hands.say("disregard")
    assert stand(hands) == [("worn", False, "agrees")]
    hands.say("correction end plate cracked renew")
    answer(hands, "declines")
    hands.wait(seconds=5)
    assert stand(hands) == [("cracked", False, "declines")]


def test_disregard_takes_the_question_back_and_not_the_desks_answer(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer")
    answer(hands, "agrees")
    hands.wait(seconds=5)
    assert "Disregarded: ask customer" in hands.say("disregard")
    assert stand(hands) == []
    hands.say("ask customer")
    assert stand(hands) == [("worn", True, None)], "the answer was to the question before"


def test_a_finding_that_is_taken_back_leaves_nothing_to_agree_to(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer", "order circlip")
    hands.say("disregard", "disregard", "disregard")
    assert stand(hands) == []
    assert "customer" not in hands.say("what is left").lower()


def test_a_record_in_which_the_finding_alone_was_taken_back(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer")
    log = list(hands.bench.journal.events(1))
    finding = next(e for e in log if isinstance(e, events.FindingRecorded))
    log.append(events.Withdrawn(at=hands.now, turn=99, withdrew=finding.turn))
    (question,) = customer.questions(log)
    assert question.about is None and not question.open
    assert question.work.condition == "worn", "it tells what was asked"


def test_said_days_later_at_another_step_it_says_where_that_was(hands: Hands) -> None:
    hands.say("end plate worn renew", "bag one", "next step")
    hands.stop_and_take_up(days=3)
    assert "renew, at step one. Recorded" in hands.say("ask customer")
    (asked,) = hands.bench.state.of_job(events.CustomerAsked)
    assert asked.step == "which"
    assert "renew, at step one" in hands.say("what is left")


def test_an_answer_that_came_while_nobody_was_there(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer")
    answer(hands, "agrees")
    told = hands.stop_and_take_up(days=3)
    assert "From the parts desk: customer agrees, says Mrs Hale: end plate worn, renew." in told
    assert "Work stopped three days" in told, "what the desk entered was no work"
    assert stand(hands) == [("worn", False, "agrees")]
    assert "Mrs Hale" not in hands.stop_and_take_up(days=1), "it was told"


def test_an_order_can_be_asked_about_and_a_part_that_was_declined_is_told(hands: Hands) -> None:
    hands.say("order two circlips")
    assert "Ask customer: to order two circlips." in hands.say("ask customer")
    hands.say("end plate worn renew", "ask customer")
    told = hands.say("order end plate")
    assert "Take care, the customer has not agreed yet: end plate worn, renew." in told
    (number,) = [
        n
        for n, e in enumerate(hands.bench.journal.events(1), 1)
        if isinstance(e, events.CustomerAsked) and e.work.condition
    ]
    answer(hands, "declines", number=number)
    hands.wait(seconds=5)
    told = hands.say("order end plate", "affirm")
    assert "the customer declines, says Mrs Hale: end plate worn, renew." in told
    answer(hands, "agrees", number=number)
    hands.wait(seconds=5)
    assert "customer" not in hands.say("order three end plates", "affirm").lower()
    # The finding is meant, though an order of the same part came after it.
    hands.say("disregard")
    assert "was asked already: end plate worn" in hands.say("ask customer")


def test_a_retest_or_rework_of_the_step_leaves_the_question(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer", "rework step one")
    assert stand(hands) == [("worn", True, None)]
    assert "customer to answer" in hands.say("what is left").lower()


def test_a_job_that_is_closed_while_it_waits_is_answered_beside_its_record(hands: Hands) -> None:
    hands.say("end plate worn renew", "ask customer", "close job", "affirm")
    history = hands.bench.journal.events(1)
    (closed,) = (e for e in history if isinstance(e, events.JobClosed))
    assert [e for e in closed.left if isinstance(e, facts.CustomerToAnswer)]
    answer(hands, "agrees")
    journal = hands.bench.journal
    assert journal.events(1) == history
    (question,) = customer.questions(history, journal.additions(1))
    assert question.answer is not None and question.answer.name == "Mrs Hale"


def test_the_bench_and_the_desk_at_the_same_time(hands: Hands) -> None:
    """What is entered while the bench records is entered after that."""
    hands.say("end plate worn renew", "ask customer")
    gone: list[BaseException] = []

    def enter() -> None:
        try:
            for each in ("agrees", "waiting", "declines", "waiting", "agrees"):
                answer(hands, each)  # type: ignore[arg-type]
        except BaseException as error:
            gone.append(error)

    desk_hand = threading.Thread(target=enter)
    desk_hand.start()
    for _ in range(5):
        hands.wait(seconds=1)
        hands.say("circlip cracked")
    desk_hand.join()
    assert not gone
    hands.wait(seconds=1)
    assert ("worn", False, "agrees") in stand(hands)
    assert len(what_stands(hands.bench.journal.events(1))) == len(hands.bench.journal.events(1))
