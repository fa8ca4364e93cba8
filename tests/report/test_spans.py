"""How a job's time is told from its events."""

from datetime import timedelta
from pathlib import Path

from assistant.desk import moves
from assistant.report import charts
from assistant.report.spans import at_work, spans
from tests.bench_helpers import Hands
from tests.report.test_record import _built
from tests.report.whole_job import PROCEDURE


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
