"""Several processes, clocks that jump, and files of other versions."""

import multiprocessing
import re
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal import schema, verification
from assistant.journal.store import Journal
from assistant.report import log, page, record
from tests.bench_helpers import Hands
from tests.report.whole_job import Page

_PROCESSES = multiprocessing.get_context("spawn")


def _work(path: Path, notes: int) -> None:
    hands = Hands(path)
    for number in range(notes):
        assert "Note kept" in hands.say(f"note {number}")


def test_two_processes_on_one_new_journal(tmp_path: Path) -> None:
    """Each begins with making the file, if it is the first, and has a job of its own."""
    path = tmp_path / "journal.db"
    workers = [_PROCESSES.Process(target=_work, args=(path, 40)) for _ in range(3)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    assert [worker.exitcode for worker in workers] == [0, 0, 0]
    journal = Journal(path)
    assert journal.numbers() == [1, 2, 3]
    for job in journal.numbers():
        notes = [e for e in journal.events(job) if isinstance(e, events.NoteRecorded)]
        assert [note.text for note in notes] == [str(n) for n in range(40)]
        assert verification.job(journal, job).fault is None
    assert list(journal.strays()) == []


def test_one_job_in_two_places_goes_on_in_the_one_that_took_it_up(tmp_path: Path) -> None:
    here = Hands(tmp_path / "journal.db")
    there = Hands(tmp_path / "journal.db", open_job=False)
    there.bench.take_up(1)
    said: list[str] = []
    here.notes.on_saying = said.append
    with pytest.raises(AssistantError, match="Stop here, and resume it there or here"):
        here.say("order two drain plugs")
    # Nobody at the bench looks at the screen.
    assert said and "gone on somewhere else" in said[-1]
    assert "Recorded" in there.say("order one drain plug")
    here.bench.take_up(1)
    assert "Recorded" in here.say("order two circlips")
    orders = [e.count for e in here.events("part ordered") if isinstance(e, events.PartOrdered)]
    assert orders == [1, 2]
    assert verification.job(here.bench.journal, 1).fault is None


def test_a_journal_that_is_held_is_said_and_waited_for(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.bench.journal._db.execute("PRAGMA busy_timeout = 50")
    with closing(sqlite3.connect(tmp_path / "journal.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert hands.say("order two drain plugs") == (
            "I cannot record: another program holds the journal. "
            "Nothing was kept; say it again in a moment."
        )
        other.execute("ROLLBACK")
    assert "Recorded" in hands.say("order two drain plugs")
    assert len(hands.events("part ordered")) == 1


def test_a_clock_that_jumps_back_changes_no_order_and_no_duration_is_negative(
    tmp_path: Path,
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "start timer ten minutes", "order one drain plug")
    hands.now -= timedelta(hours=3)
    hands.say("order two circlips")
    left = hands.say("time left")
    told = hands.stop_and_take_up(hours=-5)
    hands.say("note after all that", "bag one", "next step")
    journal = hands.bench.journal
    history = journal.events(1)
    assert [e.at for e in history] != sorted(e.at for e in history)
    orders = [e.count for e in history if isinstance(e, events.PartOrdered)]
    assert orders == [1, 2]
    assert verification.job(journal, 1).fault is None
    # A timer rings late then, never early.
    assert "three hours" in left
    assert "Work stopped just now" in told
    procedure = procedure_of(history, 1)
    shown = Page(page.html(record.build(history, procedure, 1), {})).text
    lines = list(log.lines(history, procedure))
    assert len(lines) == len(history)
    for text in (left, told, shown, *lines):
        assert "minus" not in text and not re.search(r"(^|\s)[-−]\d", text)
    assert re.search(r"stopped 2031-03-04 \d\d:\d\d 2031-03-04 \d\d:\d\d 0 s", shown)
    # Resumed from the file, it is where it was.
    again = Hands(tmp_path / "journal.db", open_job=False)
    again.now = hands.now
    again.bench.take_up(1)
    assert again.bench.state.step_id == hands.bench.state.step_id


def test_a_change_to_and_from_daylight_saving(tmp_path: Path) -> None:
    """02:30 comes twice in the night: the events keep their order and their own offset."""
    zone = ZoneInfo("Europe/Berlin")
    hands = Hands(tmp_path / "journal.db")
    # At 01:00 UTC on 26 October 2031 the clock goes from 03:00 back to 02:00.
    begun = datetime(2031, 10, 26, 0, 30, tzinfo=UTC)
    hands.set_clock(lambda: hands.now.astimezone(zone))
    hands.now = begun
    hands.say("affirm", "start timer ninety minutes", "order one drain plug")
    hands.now = begun + timedelta(hours=1)
    hands.say("order two circlips")
    left = hands.say("time left")
    orders = [e for e in hands.events("part ordered") if isinstance(e, events.PartOrdered)]
    assert [(e.count, e.at.hour, f"{e.at:%z}") for e in orders] == [
        (1, 2, "+0200"),
        (2, 2, "+0100"),
    ]
    # The same hour on the wall, one hour apart; ninety minutes less an hour and some seconds.
    assert orders[0].at.replace(tzinfo=None) > orders[1].at.replace(tzinfo=None) - timedelta(
        minutes=1
    )
    assert "three zero minutes" in left or "thirty minutes" in left or "nine minutes" in left
    hands.now = begun
    told = hands.stop_and_take_up(hours=2)
    assert "Work stopped" in told
    shown = page.html(
        record.build(hands.bench.journal.events(1), hands.procedure, 1, seal=None), {}
    )
    assert "UTC+01:00 and UTC+02:00" in shown


# Files of other versions


@pytest.mark.parametrize("version", [schema.VERSION + 1, 99, -3])
def test_a_journal_of_another_version_is_left_alone(tmp_path: Path, version: int) -> None:
    path = tmp_path / "journal.db"
    Hands(path).bench.journal.close()
    with closing(sqlite3.connect(path)) as db:
        db.execute(f"PRAGMA user_version = {version}")
    before = _content(path)
    with pytest.raises(AssistantError, match=f"version {version}, and this assistant reads"):
        Journal(path)
    assert _content(path) == before
    assert not list(tmp_path.glob("*backup*"))


def _content(path: Path) -> str:
    with closing(sqlite3.connect(path)) as db:
        return sha256("\n".join(db.iterdump()).encode()).hexdigest()
