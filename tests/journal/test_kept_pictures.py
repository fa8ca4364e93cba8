"""Pictures in the journal: named in the chain, verified, carried along, never half there."""

from __future__ import annotations

import os
import sqlite3
import zipfile
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest

from assistant.cli import main as cli
from assistant.desk import photos
from assistant.dialogue import events, facts
from assistant.errors import AssistantError
from assistant.imaging.pictures import kept
from assistant.journal import schema, verification
from assistant.journal.archive import Archive
from assistant.journal.publication import Outcome, publish
from assistant.journal.server import Server
from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from tests import snapshots
from tests.bench_helpers import Hands
from tests.journal.postgres import postgres, shop_url
from tests.journal.test_verification import _tamper

__all__ = ["postgres", "shop_url"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal with a closed job of two photos, and an open one of one."""
    for colours, last in ((("red", "blue"), ("close job", "affirm")), (("red",), ())):
        hands = Hands(tmp_path / "journal.db")
        hands.with_camera(snapshots.Still(*colours))
        hands.say("affirm", "circlip missing", *("photo" for _ in colours), *last)
        hands.bench.journal.close()
    return tmp_path / "journal.db"


def verify(path: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    cli.main(["verify", "--journal", str(path)])
    return capsys.readouterr().out.splitlines()


def test_a_good_one_is_said_to_be_good(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    first, second = verify(path, capsys)
    assert ", 2 photos, sealed" in first and "good" in first
    assert ", 1 photo, open" in second and "good" in second


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        ("UPDATE picture SET jpeg = x'ffd8' WHERE number = 2", "picture of event 6 was altered"),
        ("DELETE FROM picture WHERE number = 1", "picture of event 5 is missing"),
        (
            "INSERT INTO picture (job, sha256, jpeg) VALUES (1, 'ab', x'ff')",
            "a picture is there that no event names",
        ),
        ("UPDATE picture SET sha256 = 'ab' WHERE number = 1", "picture of event 5 was altered"),
        (
            "UPDATE event SET body = replace(body, '\"width\":48', '\"width\":49') "
            "WHERE job = 1 AND place = 5",
            "event 5 was altered",
        ),
    ],
)
def test_a_changed_or_missing_picture_is_found(
    path: Path, statement: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    _tamper(path, statement)
    first, second = verify(path, capsys)
    assert "FAULT" in first and told in first
    assert "good" in second


def test_the_file_itself_refuses_to_change_or_remove_one(path: Path) -> None:
    for statement in ("UPDATE picture SET jpeg = x'00'", "DELETE FROM picture"):
        with closing(sqlite3.connect(path)) as db, pytest.raises(sqlite3.Error, match="never"):
            db.execute(statement)


def test_an_event_without_its_picture_is_refused(path: Path) -> None:
    journal = Journal(path)
    history = journal.events(2)
    event = events.PictureTaken(
        at=history[-1].at,
        turn=99,
        of=facts.EventRef(turn=2, place=0),
        sha256="ab" * 32,
        width=1,
        height=1,
    )
    for given in (None, b"another"):
        with pytest.raises(AssistantError, match="was not given"):
            journal.append(2, len(history), [event], picture=given)
    assert journal.events(2) == history
    assert len(list(journal.pictures(2))) == 1


def test_killed_between_picture_and_event_neither_is_there(path: Path) -> None:
    before = Journal(path).events(2)
    child = os.fork()
    if child == 0:
        # The picture has gone to SQLite by then, and its event has not.
        schema.insert = lambda *about: os._exit(9)
        photos.enter(Journal(path), 2, kept(snapshots.image("green")))
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    journal = Journal(path)
    assert journal.events(2) == before
    assert len(list(journal.pictures(2))) == 1
    assert verification.job(journal, 2).fault is None
    photos.enter(journal, 2, kept(snapshots.image("green")))
    assert len(list(journal.pictures(2))) == 2


def test_an_archive_carries_them_and_they_are_taken_in_elsewhere(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, there = tmp_path / "job.zip", tmp_path / "there.db"
    assert cli.main(["export", "1", "-o", str(out), "--journal", str(path)]) == 0
    with zipfile.ZipFile(out) as opened:
        names = [name for name in opened.namelist() if name.startswith("pictures/")]
        for name in names:
            assert name == f"pictures/{sha256(opened.read(name)).hexdigest()}.jpg"
        assert opened.read("report.html").count(b"data:image/jpeg;base64,") == 2
    assert len(names) == 2
    assert cli.main(["import", str(out), "--journal", str(there)]) == 0
    assert "2 photos" in verify(there, capsys)[-1]
    assert sorted(Journal(there).pictures(1)) == sorted(Journal(path).pictures(1))


@pytest.mark.parametrize("change", ["altered", "missing", "stray", "another name"])
def test_an_archive_with_a_wrong_picture_is_not_taken_in(
    path: Path, tmp_path: Path, change: str
) -> None:
    out, wrong = tmp_path / "job.zip", tmp_path / "wrong.zip"
    cli.main(["export", "1", "-o", str(out), "--journal", str(path)])
    with zipfile.ZipFile(out) as opened, zipfile.ZipFile(wrong, "w") as made:
        first = next(name for name in opened.namelist() if name.startswith("pictures/"))
        for name in opened.namelist():
            if name != first or change not in ("altered", "missing"):
                made.writestr(name, opened.read(name))
            elif change == "altered":
                made.writestr(name, b"\xff\xd8")
        if change == "stray":
            made.writestr(f"pictures/{'ab' * 32}.jpg", b"\xff\xd8")
        if change == "another name":
            made.writestr("pictures/../x.jpg", b"\xff\xd8")
    journal = Journal(tmp_path / "there.db")
    with pytest.raises(AssistantError), Archive(wrong) as archive:
        archive.take_in(journal)
    assert journal.numbers() == []


def test_the_shop_gets_them_with_their_events(path: Path, shop_url: str) -> None:
    journal = Journal(path)
    outcome = publish(journal, Server(shop_url), most_bytes=500)
    assert outcome.pictures == 3
    shop = Shop(shop_url)
    for number in (1, 2):
        there = shop.number_of(journal.identity(number).uid)
        assert there is not None
        assert sorted(shop.pictures(there)) == sorted(journal.pictures(number))
        assert verification.job(shop, there).fault is None
        assert shop.picture(there, "ab") is None
    photos.enter(journal, 2, kept(snapshots.image("green")))
    again = publish(journal, Server(shop_url))
    assert again == Outcome(looked_at=2, jobs=1, events=1, pictures=1)
    shop.close()


def test_the_shops_database_refuses_an_event_without_its_picture(path: Path, shop_url: str) -> None:
    _tamper(path, "DELETE FROM picture WHERE job = 1")
    outcome = publish(Journal(path), Server(shop_url))
    assert [refusal.job for refusal in outcome.refused] == [1]
    assert "picture of event" in outcome.refused[0].why and "missing" in outcome.refused[0].why
    server = Server(shop_url)
    import sqlalchemy as sa

    with server.transaction() as db:
        assert db.execute(sa.text("SELECT count(*) FROM picture")).scalar() == 1
    server.close()
