"""What earlier jobs on a unit, or by a procedure, found and left, told at the bench."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from assistant.desk import customer as desk
from assistant.dialogue import facts
from assistant.dialogue.earlier import EarlierJob, LastTime
from assistant.dialogue.wording import brief, last_time
from assistant.journal import earlier
from assistant.procedure import reading
from tests.bench_helpers import SMALL, Hands

NOW = datetime(2031, 3, 4, tzinfo=UTC)
_OTHER = SMALL.replace("procedure: small-box", "procedure: large-box")


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", open_job=False)


def _begin(hands: Hands, unit: str | None, text: str = SMALL) -> int:
    """Begin a job on a unit at the same bench, a month after the one before."""
    hands.now += timedelta(days=31)
    hands.bench.open(reading.parse(text, "small.yaml"), text, unit=unit)
    return hands.bench.job


def _close(hands: Hands) -> None:
    hands.say("close job", "affirm")
    assert hands.bench.state.closed


def test_the_first_job_has_none_before_it(hands: Hands) -> None:
    _begin(hands, "4471")
    assert hands.say("last time") == (
        "No earlier job on this unit, or by this procedure, is kept here."
    )
    _close(hands)


def test_what_was_found_measured_fitted_and_left(hands: Hands) -> None:
    _begin(hands, "serial 4471")
    hands.say("affirm", "circlip worn drum side renew", "end plate scored", "disregard")
    hands.say("order drain plug", "order circlip", "circlip received", "circlip installed one")
    hands.say("bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.15", "affirm", "reading shaft 24.98")
    hands.say("skip step", "waiting for part")
    _close(hands)
    _begin(hands, "SERIAL-4471")
    before = hands.bench.journal.events(2)
    told = hands.say("last time")
    assert told.startswith("Job one of four april two zero three one, on this unit.")
    assert "Found: circlip worn, drum side, renew." in told
    assert "end plate" not in told, "it was taken back"
    assert "Fitted new: one circlip." in told
    assert "Left failing: bore two five point one five millimetres and clearance zero" in told
    assert "not done and" in told and "skipped" in told
    assert "Never received: one drain plug." in told
    assert len(told.split()) <= brief.MOST_WORDS
    assert hands.bench.journal.events(2) == before, "it records nothing"
    assert hands.say("say again") == told


def test_what_was_put_right_later_is_told_as_measured_at_first(hands: Hands) -> None:
    _begin(hands, "A1")
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.15", "affirm", "retest", "reading bore 25.01")
    _close(hands)
    _begin(hands, "A1")
    told = hands.say("last time")
    assert "Out of limits at first: bore two five point one five millimetres." in told
    assert "bore fails" not in told


def test_a_corrected_reading_is_not_told(hands: Hands) -> None:
    _begin(hands, "A1")
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.15", "affirm", "correction bore 25.01")
    _close(hands)
    _begin(hands, "A1")
    told = hands.say("last time")
    assert "Nothing was found wrong." in told and "bore" not in told


def test_failing_the_unit_another_by_the_procedure_is_told_and_said_to_be_so(hands: Hands) -> None:
    _begin(hands, "A1", _OTHER)
    hands.say("affirm", "end plate worn")
    _close(hands)
    _begin(hands, "A2", SMALL)
    assert "No earlier job on this unit, or by this procedure" in hands.say("last time")
    _close(hands)
    _begin(hands, "A3", _OTHER)
    told = hands.say("last time")
    assert "Job one of " in told
    assert "by this procedure; no earlier job on this unit." in told
    assert "Found: end plate worn." in told
    _close(hands)
    _begin(hands, None, _OTHER)
    told = hands.say("last time")
    assert "Job three of " in told and "this job names no unit." in told
    assert "Before it, job one: found end plate worn." in told


def test_several_jobs_the_latest_in_full_the_others_short(hands: Hands) -> None:
    for number in range(6):
        _begin(hands, "A1")
        hands.say("affirm", "circlip worn", "end plate scored", "drain plug missing")
        if number % 2:
            hands.say("circlip broken", "drain plug cracked", "order two circlips", "affirm")
        _close(hands)
    _begin(hands, "A1")
    told = hands.say("last time")
    assert told.startswith("Job six of ")
    assert "Before it, job five" in told and "Before it, job four" in told
    assert "And three jobs before that." in told
    assert len(told.split()) <= brief.MOST_WORDS


def test_a_job_set_aside_is_told_as_open_and_a_later_job_is_no_earlier_one(hands: Hands) -> None:
    _begin(hands, "A1")
    hands.say("affirm", "end plate worn")
    _begin(hands, "A1")
    assert "on this unit, still open." in hands.say("last time")
    hands.bench.take_up(1)
    assert "No earlier job" in hands.say("last time")


def test_it_is_told_while_an_answer_is_waited_for_and_when_closed(hands: Hands) -> None:
    _begin(hands, "A1")
    _close(hands)
    _begin(hands, "A1")
    hands.say("affirm", "bag two")
    assert "Job one of" in hands.say("last time")
    assert "Bag one. Recorded" in hands.say("correction bag one")
    _close(hands)
    assert "Job one of" in hands.say("last time")


def test_a_damaged_job_is_told_as_such(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    _begin(hands, "A1")
    _close(hands)
    _begin(hands, "A1")
    journal = hands.bench.journal
    read = journal.events

    def damaged(job: int, after: int = 0) -> object:
        if job == 1:
            raise journal.unknown(job)
        return read(job, after)

    monkeypatch.setattr(journal, "events", damaged)
    assert "on this unit, cannot be read." in hands.say("last time")


def test_what_the_desk_entered_after_closing_counts(hands: Hands) -> None:
    from assistant.desk import moves

    _begin(hands, "A1")
    hands.say("affirm", "order drain plug")
    _close(hands)
    moves.enter(hands.bench.journal, 1, "drain plug", "received", None, "kim")
    _begin(hands, "A1")
    assert "Never received" not in hands.say("last time")


def test_a_unit_is_compared_without_capitals_and_punctuation(hands: Hands) -> None:
    for unit in ("Serial 4471", "serial-4471", "4471", None, ""):
        _begin(hands, unit)
        _close(hands)
    assert [one.job for one in earlier.on_unit(hands.bench.journal, 2)] == [1]
    assert earlier.on_unit(hands.bench.journal, 3) == ()
    assert earlier.on_unit(hands.bench.journal, 5) == (), "no unit is not a unit"


def test_what_the_customer_never_answered_is_told_until_the_desk_has_entered_it(
    hands: Hands,
) -> None:
    _begin(hands, "A1")
    hands.say("affirm", "end plate worn renew", "ask customer")
    _close(hands)
    _begin(hands, "A1")
    assert "customer to answer: end plate worn, renew, at step one" in hands.say("last time")
    desk.enter(hands.bench.journal, 1, "declines", name="Mrs Hale")
    assert "customer" not in hands.say("last time")


def test_where_that_is_all_that_was_left_there_is_something_to_say() -> None:
    work = facts.ExtraWork(parts=facts.Parts(name="end plate", count=1), condition="worn")
    job = EarlierJob(1, NOW, left=(facts.CustomerToAnswer(work=work),) * 40)
    told = " ".join(last_time.told(LastTime(jobs=(job,))))
    assert "Forty questions to the customer not answered." in told
