"""The parts desk: the list of orders, what is entered there, and where it is kept."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from assistant.cli import main as cli
from assistant.desk import moves
from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal import verification
from assistant.journal.publication import publish
from assistant.journal.server import Server
from assistant.journal.store import Journal
from tests.bench_helpers import SMALL, Hands
from tests.journal.postgres import postgres, shop_url

__all__ = ["postgres", "shop_url"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal with an open job and a closed one, both with orders."""
    for phrases in (
        ("order two drain plugs", "order a circlip", "disregard", "order two circlips"),
        ("order a drain plug", "close job", "affirm"),
    ):
        hands = Hands(tmp_path / "journal.db")
        hands.say("affirm", *phrases)
        hands.bench.journal.close()
    return tmp_path / "journal.db"


def enter(
    path: Path, job: int, part: str, state: events.OrderState, count: int | None = None
) -> None:
    with closing(Journal(path)) as journal:
        moves.enter(journal, job, part, state, count, "kim")


def listed(
    path: Path, *options: str, capsys: pytest.CaptureFixture[str]
) -> list[dict[str, object]]:
    assert cli.main(["orders", "--json", *options, "--journal", str(path)]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_the_orders_of_all_jobs(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["orders", "--journal", str(path)]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "    1  2031-03-04 11:00  2 drain plugs (TB-1): asked  (Small box, at open, by sam)",
        "    1  2031-03-04 11:00  2 circlips (TB-2): asked  (Small box, at open, by sam)",
        "    2  2031-03-04 11:00  1 drain plug (TB-1): asked  "
        "(Small box, at open, by sam, job closed)",
    ]
    rows = listed(path, "--job", "2", capsys=capsys)
    assert [(r["job"], r["part"], r["count"], r["asked"], r["closed"]) for r in rows] == [
        (2, "drain plug", 1, 1, "yes")
    ]
    assert cli.main(["orders", "--csv", "--journal", str(path)]) == 0
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [(r["part"], r["count"], r["by"], r["step"]) for r in table] == [
        ("drain plug", "2", "sam", "open"),
        ("circlip", "2", "sam", "open"),
        ("drain plug", "1", "sam", "open"),
    ]


def test_what_the_desk_enters_is_in_the_open_job_and_verifies(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    entered = ["orders", "1", "Drain Plug", "received", "--count", "1", "--by", "kim"]
    assert cli.main([*entered, "--journal", str(path)]) == 0
    assert capsys.readouterr().out == "Job 1: 1 drain plug received.\n"
    enter(path, 1, "TB-2", "ordered")
    rows = listed(path, "--open", "--job", "1", capsys=capsys)
    assert [(r["part"], r["asked"], r["ordered"], r["received"]) for r in rows] == [
        ("drain plug", 1, 0, 1),
        ("circlip", 0, 2, 0),
    ]
    with closing(Journal(path)) as journal:
        assert verification.job(journal, 1).fault is None
        last = journal.events(1)[-1]
        assert isinstance(last, events.OrderMoved)
        assert (last.by, last.at_desk, last.step) == ("kim", True, None)
    # The technician finds it so when the job is taken up, and it stands in the log.
    hands = Hands(path, open_job=False)
    hands.now += timedelta(days=3)
    hands.bench.take_up(1)
    # What the desk entered meanwhile was no work.
    assert "Work stopped two days and" in " ".join(hands.notes.replies)
    assert hands.say("drain plug installed") == "One drain plug fitted. Recorded."
    hands.bench.journal.close()
    assert cli.main(["log", "1", "--journal", str(path)]) == 0
    assert "2 circlips ordered" in capsys.readouterr().out


def test_what_arrives_after_closing_stands_beside_the_sealed_record(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(Journal(path)) as journal:
        seal, before = journal.seal(2), journal.events(2)
    enter(path, 2, "drain plug", "received")
    assert [r["job"] for r in listed(path, "--open", capsys=capsys)] == [1, 1]
    (row,) = listed(path, "--job", "2", capsys=capsys)
    assert (row["asked"], row["received"]) == (0, 1)
    with closing(Journal(path)) as journal:
        assert (journal.seal(2), journal.events(2)) == (seal, before)
        assert verification.job(journal, 2).fault is None
        assert list(journal.strays()) == []
        event = events.OrderMoved(
            at=before[-1].at, turn=9, part="circlip", count=1, state="received"
        )
        with pytest.raises(AssistantError, match="open"):
            journal.add(1, event)
    with closing(sqlite3.connect(path)) as db:
        for change in ("UPDATE addition SET body = ''", "DELETE FROM addition"):
            with pytest.raises(sqlite3.IntegrityError, match="never"):
                db.execute(change)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("1 circlip fitted", "Enter received first"),
        ("1 circlip received --count 3", "2 can be entered as received"),
        ("1 circlip received --count 0", "2 can be entered as received"),
        ("1 bolt received", "It has orders of: drain plug, circlip"),
        ("1 circlip lost", "one of asked, ordered, received, fitted, cancelled"),
        ("1 circlip", "Give a job, a part"),
        ("x circlip received", "Give a job, a part"),
        ("7 circlip received", "no job 7"),
        ("1 circlip received --open", "for the list"),
        ("--count 2", "go with a job"),
        ("--job 7", "no job 7"),
    ],
)
def test_what_cannot_be_entered_is_told_in_one_sentence(
    path: Path, words: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["orders", *words.split(), "--journal", str(path)]) == 2
    assert told in capsys.readouterr().err
    assert [r["asked"] for r in listed(path, capsys=capsys)] == [2, 2, 1]


def test_no_formula_and_no_control_character_leaves_by_the_list(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hands = Hands(tmp_path / "journal.db", open_job=False)
    hands.bench.open(hands.procedure, SMALL, unit="=1+1\x1b[2J")
    hands.say("affirm", "order a circlip")
    hands.bench.journal.close()
    for form in ((), ("--csv",), ("--json",)):
        assert cli.main(["orders", *form, "--journal", str(hands.path)]) == 0
        told = capsys.readouterr().out
        assert "\x1b" not in told and "1+1" in told
        assert form != ("--csv",) or ",'=1+1" in told


def test_what_was_entered_wrongly_is_put_right(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    enter(path, 1, "circlip", "received")
    enter(path, 1, "circlip", "asked", 1)
    rows = listed(path, "--job", "1", capsys=capsys)
    assert (rows[1]["asked"], rows[1]["received"]) == (1, 1)


def test_a_job_that_cannot_be_read_does_not_hide_the_others(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with sqlite3.connect(path) as db:
        db.execute("DROP TRIGGER event_fixed")
        db.execute(
            'UPDATE event SET body = replace(body, \'"count":2\', \'"count":"x"\') WHERE job = 1'
        )
    assert cli.main(["orders", "--json", "--journal", str(path)]) == 1
    told = capsys.readouterr()
    assert [json.loads(line)["job"] for line in told.out.splitlines()] == [2]
    assert "Job 1 cannot be read" in told.err


def test_the_shop_has_the_orders_of_its_benches(
    path: Path, shop_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    enter(path, 1, "circlip", "received")
    enter(path, 2, "drain plug", "received")
    with closing(Journal(path)) as journal:
        publish(journal, Server(shop_url))
    assert cli.main(["orders", "--json", "--open", "--journal", shop_url]) == 0
    rows = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [(r["part"], r["asked"], r["closed"]) for r in rows] == [("drain plug", 2, "no")]
    assert cli.main(["orders", "1", "circlip", "fitted", "--journal", shop_url]) == 2
    assert "enter it there" in capsys.readouterr().err


def test_the_lists_take_the_indexes(path: Path, shop_url: str) -> None:
    import sqlalchemy as sa

    from assistant.journal.shop import OF_ORDERS

    with closing(Journal(path)) as journal:
        publish(journal, Server(shop_url))
        asked: list[str] = []
        journal._db.set_trace_callback(asked.append)
        assert [summary.job for summary in journal.jobs(ordered=True)] == [2, 1]
        list(journal.orders())
        assert [summary.job for summary in journal.jobs(closed=False)] == [1]
        journal._db.set_trace_callback(None)
        indexes = {asked[0]: "event_of_orders", asked[1]: "event_of_orders", asked[-1]: "head_open"}
        for sql, index in indexes.items():
            plan = str(journal._db.execute(f"EXPLAIN QUERY PLAN {sql}").fetchall())
            assert f"INDEX {index}" in plan
    with Server(shop_url).transaction() as db:
        # So few rows are read as they stand, unless that is forbidden.
        db.execute(sa.text("SET LOCAL enable_seqscan = off"))
        rows = db.execute(sa.text(f"EXPLAIN SELECT body FROM event WHERE {OF_ORDERS}"))
        assert "event_of_orders" in str(rows.all())


def test_desk_and_bench_give_way_to_one_another(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands = Hands(path, open_job=False)
    hands.bench.take_up(1)
    with closing(Journal(path)) as journal:
        read = journal.events

        def events(job: int) -> tuple[events.Event, ...]:
            found = read(job)
            monkeypatch.undo()
            hands.say("note the desk has read so far")
            return found

        monkeypatch.setattr(journal, "events", events)
        moves.enter(journal, 1, "circlip", "received")
    assert len(hands.events("note")) == len(hands.events("order moved")) == 1

    def clock() -> datetime:
        hands.set_clock(lambda: hands.now)
        enter(path, 1, "drain plug", "received")
        return hands.now

    hands.set_clock(clock)
    said = hands.say("order one circlip")
    assert said.endswith("Nothing was kept. Say it again.")
    assert "From the parts desk: two drain plugs received." in said
    assert "Recorded" in hands.say("order one circlip")
    assert verification.job(hands.bench.journal, 1).fault is None
