"""The journal file: durable, append only, one job in one place."""

import sqlite3
from pathlib import Path

import pytest

from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from assistant.recognition.utterance import Verdict
from tests.bench_helpers import Hands, flac


def test_what_is_said_is_on_disk_before_it_is_spoken(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    seen: list[bool] = []

    def look(text: str) -> None:
        # Another connection sees only what was committed.
        other = Journal(tmp_path / "journal.db")
        seen.append(any(isinstance(e, events.PartOrdered) for e in other.events(hands.bench.job)))
        other.close()

    hands.notes.on_saying = look
    hands.say("order two drain plugs")
    assert seen == [True]


def test_commits_are_synced(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "journal.db")
    assert journal._db.execute("PRAGMA synchronous").fetchone() == (2,)  # 2 is FULL
    assert journal._db.execute("PRAGMA journal_mode").fetchone() == ("wal",)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE event SET body = '{}'",
        "DELETE FROM event",
        "UPDATE clip SET flac = x'00'",
        "DELETE FROM clip",
    ],
)
def test_nothing_can_be_changed_or_removed(tmp_path: Path, sql: str) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.hear("circlip missing", sound=b"a sound.")
    with (
        sqlite3.connect(tmp_path / "journal.db") as db,
        pytest.raises(sqlite3.Error, match="never"),
    ):
        db.execute(sql)


def test_a_finding_keeps_its_clip_and_other_phrases_do_not(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.hear("circlip missing upper", sound=b"the sound of it.")
    found = hands.events("finding")[0]
    assert isinstance(found, events.FindingRecorded)
    assert found.heard is not None
    assert found.heard.clip is not None
    assert hands.bench.journal.clip(found.heard.clip) == flac(b"the sound of it.")
    hands.hear("where are we", sound=b"no")
    hands.hear("affirm", sound=b"no")
    with pytest.raises(AssistantError, match="no clip 2"):
        hands.bench.journal.clip(2)


def test_what_was_not_accepted_does_nothing(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    before = hands.bench.journal.events(1)
    hands.hear("circlip missing", Verdict.REJECTED, confidence=0.1)
    assert hands.bench.journal.events(1) == before


def test_one_job_in_two_places_stops_the_second(tmp_path: Path) -> None:
    here = Hands(tmp_path / "journal.db")
    there = Hands(tmp_path / "journal.db", open_job=False)
    there.bench.take_up(1)
    with pytest.raises(AssistantError, match="gone on somewhere else"):
        here.say("order two drain plugs")
    assert not here.events("part ordered")


def test_jobs_are_listed_latest_first(tmp_path: Path) -> None:
    Hands(tmp_path / "journal.db")
    hands = Hands(tmp_path / "journal.db")
    hands.say("close job", "affirm")
    jobs = hands.bench.journal.jobs()
    assert [(j.job, j.closed, j.title) for j in jobs] == [
        (2, True, "Small box"),
        (1, False, "Small box"),
    ]


def test_errors_name_the_file(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match=r"no job 7 in .*journal\.db. There are none"):
        Journal(tmp_path / "journal.db").events(7)
    (tmp_path / "notes.txt").write_text("this is no database, whatever its length may be")
    with pytest.raises(AssistantError, match=r"notes\.txt"):
        Journal(tmp_path / "notes.txt")
    other = sqlite3.connect(tmp_path / "other.db")
    other.execute("CREATE TABLE t (x)")
    other.commit()
    with pytest.raises(AssistantError, match="not a journal"):
        Journal(tmp_path / "other.db")
    newer = sqlite3.connect(tmp_path / "newer.db")
    newer.execute("PRAGMA user_version = 99")
    newer.commit()
    with pytest.raises(AssistantError, match="laid out in version 99"):
        Journal(tmp_path / "newer.db")


def test_a_closed_job_is_not_taken_up(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("close job", "affirm")
    with pytest.raises(AssistantError, match="closed"):
        hands.bench.take_up(1)
