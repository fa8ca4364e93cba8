"""`assistant photo`: a picture from a file, put into a job and taken back."""

from __future__ import annotations

import io
import logging
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from PIL import Image
from starlette.testclient import TestClient

from assistant.audio import devices as sound
from assistant.cli import devices
from assistant.cli import main as cli
from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of
from assistant.dialogue.withdrawal import what_stands
from assistant.imaging import camera
from assistant.journal import verification
from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from assistant.report import page, record
from assistant.web import board, guard
from tests import snapshots
from tests.bench_helpers import SMALL, Hands
from tests.journal.postgres import postgres, shop_url

__all__ = ["postgres", "shop_url"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal with an open job, a closed one, and one in which nothing was said."""
    for phrases in (
        ("affirm", "circlip missing upper", "drain plug worn", "bag one", "next step"),
        ("affirm", "circlip missing", "close job", "affirm"),
        (),
    ):
        hands = Hands(tmp_path / "journal.db")
        hands.say(*phrases)
        hands.bench.journal.close()
    snapshots.file(tmp_path / "race.jpg")
    return tmp_path / "journal.db"


@pytest.fixture
def photo(path: Path, capsys: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture):
    def run(*arguments: object) -> tuple[int, str]:
        caplog.clear()
        with caplog.at_level(logging.INFO):
            code = cli.main(["photo", *map(str, arguments), "--journal", str(path)])
        return code, capsys.readouterr().out + caplog.text

    return run


def number_of(path: Path, condition: str, job: int = 1) -> int:
    return next(
        n
        for n, e in enumerate(Journal(path).events(job), 1)
        if isinstance(e, events.FindingRecorded) and e.condition == condition
    )


def pictures(path: Path, job: int = 1) -> list[events.PictureTaken]:
    journal = Journal(path)
    assert verification.job(journal, job).fault is None
    return [e for e in what_stands(journal.events(job)) if isinstance(e, events.PictureTaken)]


def test_it_goes_with_what_was_said_last(path: Path, photo) -> None:
    code, told = photo(1, path.parent / "race.jpg", "--by", "kim")
    number = next(n for n, e in enumerate(Journal(path).events(1), 1) if e.kind == "bag recorded")
    assert (code, told.startswith(f"Job 1: photo kept with event {number}, bag 1")) == (0, True)
    (made,) = pictures(path)
    assert (made.by, made.at_desk, made.step, made.width) == ("kim", True, None, 48)
    assert Journal(path).picture(1, made.sha256) is not None


def test_or_with_the_event_that_is_given(path: Path, photo) -> None:
    number = number_of(path, "missing")
    code, told = photo(1, path.parent / "race.jpg", "--event", number)
    assert code == 0 and f"with event {number}, circlip missing, upper." in told
    code, told = photo(1, path.parent / "race.jpg", "--event", number)
    assert code == 2 and f"Event {number} of job 1 has that photo already." in told
    snapshots.file(path.parent / "other.png", "blue")
    assert photo(1, path.parent / "other.png", "--event", number)[0] == 0
    assert len(pictures(path)) == 2


def test_without_a_file_what_it_can_go_with_is_listed(path: Path, photo) -> None:
    photo(1, path.parent / "race.jpg")
    code, told = photo(1)
    lines = told.splitlines()
    assert code == 0 and len(lines) == 4
    assert lines[0].split()[0] == str(number_of(path, "missing"))
    assert lines[0].endswith("circlip missing, upper")
    assert lines[-1].endswith("photo of bag 1")
    assert "nothing yet that a photo can go with" in photo(3)[1]


@pytest.mark.parametrize("event", [0, -1, 1, 2, 999])
def test_what_takes_no_photo_is_refused(path: Path, photo, event: int) -> None:
    code, told = photo(1, path.parent / "race.jpg", "--event", event)
    assert code == 2 and "assistant photo 1" in told
    assert pictures(path) == []


def test_what_was_withdrawn_takes_no_photo(path: Path, photo) -> None:
    hands = Hands(path, open_job=False)
    hands.bench.take_up(1)
    hands.say("order a circlip", "disregard")
    order = next(n for n, e in enumerate(Journal(path).events(1), 1) if e.kind == "part ordered")
    code, told = photo(1, path.parent / "race.jpg", "--event", order)
    assert code == 2 and "was withdrawn or corrected" in told


def test_where_nothing_was_said_there_is_nothing_for_it_to_go_with(path: Path, photo) -> None:
    code, told = photo(3, path.parent / "race.jpg")
    assert code == 2 and "no finding, note or part yet" in told


def test_a_photo_is_withdrawn_and_nothing_is_removed(path: Path, photo) -> None:
    photo(1, path.parent / "race.jpg")
    (made,) = pictures(path)
    number = len(Journal(path).events(1))
    assert photo(1, "--withdraw", number) == (
        0,
        f"Job 1: the photo of event {number} is withdrawn.\n",
    )
    assert pictures(path) == []
    assert Journal(path).picture(1, made.sha256) is not None
    code, told = photo(1, "--withdraw", number)
    assert code == 2 and "was withdrawn" in told
    code, told = photo(1, "--withdraw", number_of(path, "worn"))
    assert code == 2 and "is not a photo" in told
    # The same picture may be put in anew.
    assert photo(1, path.parent / "race.jpg")[0] == 0
    assert len(pictures(path)) == 1


def test_one_taken_at_the_bench_is_withdrawn_too(path: Path, photo) -> None:
    hands = Hands(path, open_job=False)
    hands.with_camera(snapshots.Still("blue"))
    hands.bench.take_up(1)
    hands.say("circlip bent", "photo")
    number = len(Journal(path).events(1))
    assert photo(1, "--withdraw", number)[0] == 0
    assert pictures(path) == []
    hands.wait(seconds=1)
    assert hands.say("photo") == "Photo kept, with circlip bent."


def test_a_closed_job_keeps_it_beside_its_sealed_record(path: Path, photo) -> None:
    journal = Journal(path)
    before, seal = journal.events(2), journal.seal(2)
    number = number_of(path, "missing", 2)
    code, told = photo(2, path.parent / "race.jpg", "--by", "kim")
    assert code == 0 and f"with event {number}, circlip missing." in told
    code, told = photo(2, path.parent / "race.jpg", "--event", number)
    assert code == 2 and "has that photo already" in told
    assert (journal.events(2), journal.seal(2)) == (before, seal)
    assert verification.job(journal, 2).fault is None
    (shown,) = later(path)
    assert (shown.of, shown.after_closing, shown.of_stands, shown.by) == (
        "circlip missing",
        True,
        True,
        "kim",
    )
    assert photo(2)[1].splitlines()[-1].endswith("photo of circlip missing, put in after closing")


def later(path: Path) -> list[record.Photo]:
    with closing(Journal(path)) as journal:
        history = journal.events(2)
        made = record.kept(journal, 2, history, procedure_of(history, 2))
        text = page.html(made, {}, photos=dict(journal.pictures(2)))
        assert ("not part of the sealed record" in text) is bool(made.photos)
        assert all(finding.photos == () for finding in made.findings)
        return list(made.photos)


def test_one_put_in_after_closing_is_taken_back_and_put_in_anew(path: Path, photo) -> None:
    photo(2, path.parent / "race.jpg")
    (number,) = (int(photo(2)[1].splitlines()[-1].split()[0]),)
    assert photo(2, "--withdraw", number, "--by", "kim")[0] == 0
    assert later(path) == []
    assert verification.job(Journal(path), 2).fault is None, "the picture itself is kept"
    code, told = photo(2, "--withdraw", number)
    assert code == 2 and f"no photo {number} in job 2" in told
    assert photo(2, path.parent / "race.jpg")[0] == 0
    assert len(later(path)) == 1
    for stranger in (0, -3, number + 20):
        assert photo(2, "--withdraw", stranger)[0] == 2


def test_one_of_the_sealed_record_stays(path: Path, photo) -> None:
    photo(1, path.parent / "race.jpg")
    number = len(Journal(path).events(1))
    hands = Hands(path, open_job=False)
    hands.bench.take_up(1)
    hands.say("close job", "affirm")
    code, told = photo(1, "--withdraw", number)
    assert code == 2 and "part of its record and stays" in told
    assert len(pictures(path)) == 1


def test_what_is_said_of_it_in_the_log_and_on_the_board(path: Path, photo, capsys) -> None:
    photo(2, path.parent / "race.jpg", "--by", "kim")
    assert cli.main(["log", "2", "--journal", str(path)]) == 0
    assert "photo put in of circlip missing" in capsys.readouterr().out.split("After closing")[1]
    pages = TestClient(
        guard.Guard(board.app(lambda: Journal(path)), guard.access(8620, None)),
        base_url="http://127.0.0.1:8620",
    )
    assert "Photo put in of circlip missing" in pages.get("/?view=closed").text
    (one,) = later(path)
    address = f"/jobs/2/photos/{one.sha256}.jpg"
    assert address in pages.get("/jobs/2").text and pages.get(address).status_code == 200


@pytest.mark.parametrize(
    ("sql", "told"),
    [
        ("UPDATE picture SET jpeg = x'00' WHERE job = 2", "put in after closing was altered"),
        ("DELETE FROM picture WHERE job = 2", "put in after closing is missing"),
        ("DELETE FROM addition WHERE job = 2", "a picture is there that no event names"),
    ],
)
def test_verify_covers_it(path: Path, photo, sql: str, told: str) -> None:
    photo(2, path.parent / "race.jpg")
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        for table in ("picture", "addition"):
            for rule in ("fixed", "kept"):
                db.execute(f"DROP TRIGGER {table}_{rule}")
        db.execute(sql)
    fault = verification.job(Journal(path), 2).fault
    assert fault is not None and told in fault.text
    assert verification.job(Journal(path), 1).fault is None


def test_it_goes_wherever_the_job_goes(
    path: Path, tmp_path: Path, photo, shop_url: str, capsys
) -> None:
    there, empty, full = tmp_path / "there.db", tmp_path / "0.zip", tmp_path / "1.zip"

    def run(*words: object) -> None:
        assert cli.main([*map(str, words)]) == 0

    run("export", 2, "-o", empty, "--journal", path)
    run("publish", "--to", shop_url, "--journal", path)
    photo(2, path.parent / "race.jpg", "--by", "kim")
    run("export", 2, "-o", full, "--journal", path)
    for file in (empty, full, full):
        run("import", file, "--journal", there)
    journal = Journal(there)
    assert [one.by for one in journal.additions(1)] == ["kim"]
    assert verification.job(journal, 1).fault is None
    for _ in range(2):
        run("publish", "--to", shop_url, "--journal", path)
    shop = Shop(shop_url)
    assert [one.by for one in shop.additions(2)] == ["kim"]
    assert verification.job(shop, 2).fault is None and len(list(shop.pictures(2))) == 1


def test_a_file_that_is_no_picture_is_named(path: Path, photo) -> None:
    bad = path.parent / "notes.txt"
    bad.write_text("no picture")
    code, told = photo(1, bad)
    assert code == 2 and "notes.txt is not a picture that can be kept" in told
    assert photo(1, path.parent / "none.jpg")[0] == 2
    assert photo(99, path.parent / "race.jpg")[0] == 2
    assert photo(1, path.parent / "race.jpg", "--withdraw", 3)[0] == 2
    assert photo(1, "--event", 3)[0] == 2
    assert pictures(path) == []


def test_typed_work_with_a_file_for_a_camera(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    procedure = tmp_path / "small.yaml"
    procedure.write_text(SMALL)
    lines = "affirm\ncirclip missing\nphoto\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(lines))
    still, journal = snapshots.file(tmp_path / "c.png"), tmp_path / "journal.db"
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    run = ["run", str(procedure), "--typed", "--journal", str(journal)]
    assert cli.main([*run, "--camera", str(still)]) == 0
    assert "Photo kept, with circlip missing." in capsys.readouterr().out
    assert len(pictures(journal)) == 1
    # It is remembered, until it is said that there is none.
    for option, told in (((), "Photo kept"), (("--camera", "none"), "There is no camera.")):
        monkeypatch.setattr("sys.stdin", io.StringIO(lines))
        assert cli.main([*run, *option]) == 0
        assert told in capsys.readouterr().out
    assert cli.main([*run, "--camera", "no such thing"]) == 2


def test_devices_shows_the_camera_and_tries_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setattr(sound, "listed", lambda kind: [])
    monkeypatch.setattr(devices, "_check", lambda args: 0)
    assert cli.main(["devices"]) == 0
    assert "There is no camera." in capsys.readouterr().out
    there = [camera.Device("/dev/video0", "Bench Cam")]
    monkeypatch.setattr(camera, "listed", lambda: there)
    assert cli.main(["devices"]) == 0
    told = capsys.readouterr().out
    assert "  /dev/video0   (Bench Cam)" in told and "Choose one with --camera" in told
    assert cli.main(["devices", "--camera", "bench"]) == 0
    assert "* /dev/video0   (Bench Cam)" in capsys.readouterr().out
    good = snapshots.file(tmp_path / "c.png")
    assert cli.main(["devices", "--check", "--camera", str(good)]) == 0
    assert "The camera: a picture of 48 × 32." in capsys.readouterr().out
    black = tmp_path / "d.png"
    Image.new("RGB", (8, 8)).save(black)
    assert cli.main(["devices", "--check", "--camera", str(black)]) == 1
    assert "It is black. Take off the lens cap" in capsys.readouterr().out
    (tmp_path / "bad.png").write_bytes(b"no picture")
    assert cli.main(["devices", "--check", "--camera", str(tmp_path / "bad.png")]) == 1
    assert "gives no picture" in capsys.readouterr().out
