"""Tampering with the file itself, past its own triggers, and what `verify` says of it."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from assistant.cli import main as cli
from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal import verification
from assistant.journal.store import Journal
from assistant.report import page, record
from assistant.report.wording import grouped
from tests.bench_helpers import Hands


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A journal with an open job, a closed one with clips, and another open one."""
    path = tmp_path / "journal.db"
    Hands(path).say("affirm", "bag one")
    hands = Hands(path)
    for words, clip in (("circlip missing upper", b"one."), ("drain plug worn", b"two")):
        hands.hear(words, sound=clip)
    hands.say("affirm", "bag one", "close job", "affirm")
    Hands(path).say("note all is well")
    return path


def _tamper(path: Path, *statements: str) -> None:
    """Change the file as somebody would who knows SQLite: without its rules."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        names = db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for (name,) in names:
            db.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert db.execute(statement).rowcount, statement


def _verify(path: Path, *arguments: str) -> int:
    return cli.main(["verify", *arguments, "--journal", str(path)])


def test_a_good_journal_is_said_to_be_good(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _verify(shop) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(",")[0] for line in lines] == [f"Job {n}: good" for n in (1, 2, 3)]
    assert "2 clips, sealed " in lines[1] and lines[0].endswith("open")


ALTERED = """UPDATE event SET body = replace(body, '"number":1', '"number":2')
             WHERE job = 2 AND body LIKE '%"bag recorded"%'"""
SHIFT = "UPDATE event SET place = place + 1000 WHERE job = 2 AND place > 4"
BACK = "UPDATE event SET place = place - {} WHERE job = 2 AND place > 1000"


@pytest.mark.parametrize(
    ("statements", "expected"),
    [
        ([ALTERED], "Job 2: FAULT (altered): event 6"),
        (["DELETE FROM event WHERE job = 2 AND place = 5"], "FAULT (missing): event 5"),
        (
            ["DELETE FROM event WHERE job = 2 AND place = 4", SHIFT, BACK.format(1001)],
            "FAULT (missing): event 4",
        ),
        (
            [
                "UPDATE event SET place = 99 WHERE job = 2 AND place = 4",
                "UPDATE event SET place = 4 WHERE job = 2 AND place = 5",
                "UPDATE event SET place = 5 WHERE job = 2 AND place = 99",
            ],
            "FAULT (reordered): the events from 4 on",
        ),
        (
            [
                SHIFT,
                BACK.format(999),
                "INSERT INTO event SELECT 2, 5, previous, hash, body FROM event "
                "WHERE job = 2 AND place = 3",
            ],
            "FAULT (inserted): event 5",
        ),
        (["DELETE FROM event WHERE job = 3 AND place = 3"], "Job 3: FAULT (missing): event 3"),
        (["DELETE FROM event WHERE job = 3"], "Job 3: FAULT (missing): there are no events"),
        (["UPDATE clip SET flac = x'00' WHERE number = 2"], "FAULT (altered): the clip of event 4"),
        (
            ["UPDATE clip SET flac = x'00', sha256 = 'ab' WHERE number = 1"],
            "FAULT (altered): the clip of event 3",
        ),
        (["DELETE FROM clip WHERE number = 1"], "FAULT (missing): the clip of event 3"),
        (
            ["INSERT INTO clip (job, sha256, flac) VALUES (1, 'ab', x'00')"],
            "Job 1: FAULT (inserted): a clip",
        ),
        (["UPDATE job SET title = 'Other' WHERE number = 2"], "Job 2: FAULT (altered): what is"),
        (["UPDATE job SET uid = 'x' WHERE number = 2"], "Job 2: FAULT (altered): event 1"),
        (["DELETE FROM head WHERE job = 2"], "Job 2: FAULT (missing): what is noted of its last"),
        (["UPDATE head SET hash = 'ab' WHERE job = 2"], "Job 2: FAULT (altered): event"),
        (["DELETE FROM job WHERE number = 2"], "FAULT: job 2 is missing"),
        (["DELETE FROM job WHERE number = 3"], "FAULT: job 3 is missing"),
        (["UPDATE event SET job = 9 WHERE job = 3"], "FAULT: there is something of job 9"),
        (
            [
                "INSERT INTO job SELECT 4, 'other', bench, opened, title, unit FROM job "
                "WHERE number = 3",
                "INSERT INTO event SELECT 4, place, previous, hash, body FROM event WHERE job = 3",
            ],
            "Job 4: FAULT (altered): event 1",
        ),
    ],
)
def test_tampering_is_found(
    shop: Path, capsys: pytest.CaptureFixture[str], statements: list[str], expected: str
) -> None:
    _tamper(shop, *statements)
    assert _verify(shop) == 1
    out = capsys.readouterr().out
    assert expected in out
    # What was not touched is still good.
    assert "Job 1: good" in out or expected.startswith("Job 1")


def test_an_event_after_the_closing_is_refused_and_would_be_found(shop: Path) -> None:
    journal = Journal(shop)
    head = journal.head(2)
    assert head is not None and head.closed
    late = events.Resumed(at=journal.events(2)[-1].at, turn=99)
    with pytest.raises(AssistantError, match="closed and sealed"):
        journal.append(2, head.place, [late])
    insert = "INSERT INTO event SELECT 2, place + 1, hash, hash, body FROM event WHERE {}"
    last = f"job = 2 AND place = {head.place}"
    with closing(sqlite3.connect(shop)) as db, pytest.raises(sqlite3.Error, match="closed job"):
        db.execute(insert.format(last))
    found = verification.check(
        journal.identity(2),
        [*journal.links(2), *_follow(journal, head.place, head.hash, late)],
        journal.sounds(2),
        journal.pictures(2),
        head,
    )
    assert found.fault is not None
    assert (found.fault.kind, found.fault.place) == ("inserted", head.place + 1)


def _follow(journal: Journal, place: int, previous: str, event: events.Event) -> list[object]:
    from assistant.journal import chain

    body = chain.canonical(event.model_dump(mode="json"))
    return list(chain.links(journal.identity(2).uid, place + 1, previous, [body]))


def test_the_closing_ends_a_turn(shop: Path) -> None:
    journal = Journal(shop)
    at = journal.events(1)[-1].at
    close, more = events.JobClosed(at=at, turn=9), events.Resumed(at=at, turn=9)
    with pytest.raises(AssistantError, match="closing"):
        journal.append(1, len(journal.events(1)), [close, more])


def test_the_seal_on_the_report_is_held_against_the_journal(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    journal = Journal(shop)
    seal = journal.seal(2)
    assert seal is not None and journal.seal(1) is None
    hands = Hands(shop, open_job=False)
    history = journal.events(2)
    built = record.build(history, hands.procedure, 2, seal=seal)
    assert grouped(seal) in page.html(built, {})
    assert built.model_dump(mode="json")["seal"] == seal
    assert cli.main(["log", "2", "--journal", str(shop)]) == 0
    assert capsys.readouterr().out.splitlines()[-1] == f"Sealed: {grouped(seal)}"

    assert _verify(shop, "2", "--seal", grouped(seal)) == 0
    assert _verify(shop, "2", "--seal", seal[:16]) == 0
    assert _verify(shop, "2", "--seal", "ab" * 32) == 1
    assert "another seal" in capsys.readouterr().out
    assert _verify(shop, "1", "--seal", seal) == 1
    assert "it is open" in capsys.readouterr().out
    assert _verify(shop, "2", "--seal", seal[:8]) == 2
    assert _verify(shop, "--seal", seal) == 2


def test_a_chain_made_anew_is_found_by_the_seal_alone(shop: Path) -> None:
    """What a chain cannot show without a hash kept elsewhere, as `verify --help` says."""
    from assistant.journal import chain

    journal = Journal(shop)
    seal, uid = journal.seal(2), journal.identity(2).uid
    bodies = [link.body.replace("upper", "lower") for link in journal.links(2)]
    forged = list(chain.links(uid, 1, chain.START, bodies))
    journal.close()
    _tamper(shop, "DELETE FROM event WHERE job = 2")
    with closing(sqlite3.connect(shop)) as db, db:
        rows = [(2, link.place, link.previous, link.hash, link.body) for link in forged]
        db.executemany("INSERT INTO event VALUES (?, ?, ?, ?, ?)", rows)
        db.execute("UPDATE head SET hash = ? WHERE job = 2", (forged[-1].hash,))
    assert _verify(shop, "2") == 0
    assert _verify(shop, "2", "--seal", str(seal)) == 1


def test_a_damaged_job_is_told_by_name(shop: Path) -> None:
    _tamper(shop, "UPDATE event SET body = 'x' WHERE job = 2 AND place = 2")
    with pytest.raises(AssistantError, match="assistant verify 2"):
        Journal(shop).events(2)


def test_a_missing_clip_does_not_stop_the_report(shop: Path) -> None:
    _tamper(shop, "DELETE FROM clip WHERE number = 1")
    journal = Journal(shop)
    assert set(journal.clips(journal.events(2))) == {2}
