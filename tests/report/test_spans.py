"""How a job's time is told from its events."""

from datetime import timedelta
from pathlib import Path

from assistant.desk import moves
from assistant.report import charts, document, lists, page
from assistant.report.spans import at_work, by_person, spans
from tests.bench_helpers import Hands
from tests.report.test_record import _built
from tests.report.whole_job import PROCEDURE, Page


def _kinds(hands: Hands) -> list[tuple[str, float]]:
    found = spans(hands.bench.journal.events(hands.bench.job))
    return [(span.kind, (span.ended - span.begun).total_seconds()) for span in found]


def test_pauses_stops_and_silence_are_told_apart(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm", "bag one", "stand by")
    hands.now += timedelta(minutes=90)
    hands.say("resume", "next step")
    hands.now += timedelta(hours=2)
    hands.say("splined shaft")
    hands.stop_and_take_up(days=2)
    hands.say("next step")
    assert _kinds(hands) == [
        ("at work", 30),
        ("standing by", 5410),
        ("at work", 10),
        ("quiet", 7210),
        ("stopped", 2 * 86400),
        ("at work", 10),
    ]
    assert at_work(_built(hands).spans) == 50


def test_a_clock_that_was_set_back_makes_no_time(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm", "bag one")
    hands.now -= timedelta(hours=1)
    hands.say("next step", "splined shaft")
    assert _kinds(hands) == [("at work", 20), ("at work", 10)]
    hands.stop_and_take_up(hours=-1)
    assert _kinds(hands)[-1] == ("stopped", 0)


def test_what_the_parts_desk_enters_is_no_work(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm", "order circlip")
    before = _kinds(hands)
    moves.enter(hands.bench.journal, 1, "circlip", "ordered", None, "desk")
    assert _kinds(hands) == before == [("at work", 20)]


def test_stops_are_the_same_as_in_the_record(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm")
    hands.stop_and_take_up(hours=20)
    hands.say("bag one")
    built = _built(hands)
    stopped = [(span.begun, span.ended) for span in built.spans if span.kind == "stopped"]
    assert stopped == [(stop.left, stop.taken_up) for stop in built.stops]


def test_the_time_line_has_each_day_and_each_mark_once(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm", "circlip missing", "order circlip")
    for _ in range(13):
        hands.stop_and_take_up(days=1)
        hands.say("drain plug worn")
    first, second = charts.time_line(_built(hands))
    told = (first.told + " " + second.told).split(". ")
    assert len(told) == 14
    assert told[0].startswith("2031-03-04: at work 30 s; 1 finding or note, 1 order")
    assert first.height < 900


def test_a_job_without_time_has_no_time_line(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    assert not charts.time_line(_built(hands))


def _people(hands: Hands) -> dict[str | None, tuple[float, float, float]]:
    found = by_person(hands.bench.journal.events(hands.bench.job))
    return {one.by: (one.at_work, one.quiet, one.standing_by) for one in found}


def _two_people(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.technicians = ("Ann", "Bo")
    hands.stop_and_take_up(hours=1)
    return hands


def test_time_is_of_whoever_is_signed_on(tmp_path: Path) -> None:
    hands = _two_people(tmp_path)
    hands.say("affirm", "this is ann", "bag one", "stand by")
    hands.now += timedelta(minutes=90)
    hands.say("resume", "next step", "this is bo", "splined shaft")
    hands.now += timedelta(hours=2)
    hands.say("next step")
    # What goes before a sign-on is the other's, and the stop before them is nobody's.
    assert _people(hands) == {
        "sam": (20, 0, 0),
        "Ann": (40, 0, 5410),
        "Bo": (10, 7210, 0),
    }


def test_after_a_stop_nobody_is_assumed_to_be_there(tmp_path: Path) -> None:
    hands = _two_people(tmp_path)
    hands.say("this is ann", "affirm")
    # Without a name of its own the program knows nobody until somebody signs on.
    hands.stop_and_take_up(days=2)
    hands.bench.keeper.by = None
    hands.say("bag one", "next step", "this is bo", "splined shaft")
    found = _people(hands)
    assert found["Ann"] == (10, 0, 0)
    assert found[None] == (20, 0, 0)
    assert found["Bo"] == (10, 0, 0)
    assert "nobody signed on" in Page(page.html(_built(hands), {})).text


def test_the_parts_desk_books_no_time_and_a_clock_set_back_none(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm", "order circlip")
    moves.enter(hands.bench.journal, 1, "circlip", "ordered", None, "desk")
    hands.now -= timedelta(hours=1)
    hands.say("bag one", "next step")
    assert _people(hands) == {"sam": (30, 0, 0)}


def test_what_is_withdrawn_was_time_all_the_same(tmp_path: Path) -> None:
    hands = _two_people(tmp_path)
    hands.say("this is ann", "affirm", "bag one", "disregard")
    assert _people(hands)["Ann"] == (30, 0, 0)


def test_people_come_to_the_time_of_the_job_and_stand_in_every_report(tmp_path: Path) -> None:
    hands = _two_people(tmp_path)
    hands.say("this is ann", "affirm", "bag one", "bo here", "next step", "splined shaft")
    built = _built(hands)
    assert sum(one.at_work for one in built.time_by_person) == at_work(built.spans)
    text = Page(page.html(built, {})).text
    assert "Time by person" in text and "together" in text
    rows = document._data(built)["people"]["rows"]
    assert len(rows) == len(built.time_by_person) + 1
    assert document.pdf(built).startswith(b"%PDF")
    assert "Ann,30.0,0.0,0.0" in lists.csv(built, "time-by-person")


def test_one_person_needs_no_sum_and_no_time_no_table(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    assert "Time by person" not in Page(page.html(_built(hands), {})).text
    hands.say("affirm")
    text = Page(page.html(_built(hands), {})).text
    assert "Time by person" in text and "together" not in text
