"""One job as one file: out, elsewhere in, and nothing in that is not what it says."""

import json
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.cli import main as cli
from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal import archive, chain, verification
from assistant.journal.store import Journal
from tests.bench_helpers import SMALL, Hands
from tests.journal import scripted
from tests.journal.test_verification import _tamper

Files = dict[str, bytes]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a journal of two jobs, the second whole and with clips, and its archive."""
    folder = tmp_path_factory.mktemp("made")
    Hands(folder / "journal.db")
    bench = Hands(folder / "journal.db").bench
    for number in range(len(scripted.SCRIPT)):
        scripted.say(bench, number)
    assert bench.over
    assert _run("export", 2, "-o", folder / "job.zip", "--journal", folder / "journal.db") == 0
    return folder


def _run(*arguments: object) -> int:
    return cli.main([str(argument) for argument in arguments])


def _files(path: Path) -> Files:
    with zipfile.ZipFile(path) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def _zipped(path: Path, files: Files) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as opened:
        for name, data in files.items():
            opened.writestr(name, data)
    return path


def test_an_archive_can_be_read_without_this_program(made: Path) -> None:
    files = _files(made / "job.zip")
    journal = Journal(made / "journal.db")
    assert sum(name.startswith("clips/") for name in files) == 3
    rows = [json.loads(line) for line in files["events.jsonl"].splitlines()]
    previous = chain.START
    for place, (row, link) in enumerate(zip(rows, journal.links(2), strict=True), 1):
        assert set(row) == {"place", "previous", "hash", "event"}
        assert (row["place"], row["previous"]) == (place, previous)
        assert chain.canonical(row["event"]) == link.body
        previous = row["hash"]
    assert files["procedure.yaml"].decode() == SMALL
    assert b"<html" in files["report.html"]
    manifest = json.loads(files["manifest.json"])
    assert manifest["last"] == previous == journal.seal(2)
    assert manifest["job"]["uid"] == journal.identity(2).uid


def test_it_is_taken_in_on_another_machine_and_is_the_same_job(
    made: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "there.db"
    for _ in range(3):
        Hands(there).say("note mine", "affirm")
    heard = scripted.clip(99)
    other = Hands(there)
    other.hear("circlip missing upper", sound=heard)
    assert _run("verify", made / "job.zip") == 0
    assert "good, 42 events, 3 clips, sealed" in capsys.readouterr().out
    assert _run("import", made / "job.zip", "--journal", there) == 0
    assert "Job 5: Small box, 42 events" in capsys.readouterr().out

    here, taken = Journal(made / "journal.db"), Journal(there)
    assert taken.identity(5) == here.identity(2)
    assert list(taken.links(5)) == list(here.links(2))
    assert taken.seal(5) == here.seal(2)
    assert verification.job(taken, 5).fault is None
    # Its clips have other numbers here, and are the same sounds at the same events.
    before, after = here.events(2), taken.events(5)
    for ours, theirs in zip(before, after, strict=True):
        if ours.heard and ours.heard.clip:
            assert theirs.heard and theirs.heard.clip and theirs.heard.clip != ours.heard.clip
            assert taken.clip(theirs.heard.clip) == here.clip(ours.heard.clip)
    assert set(taken.clips(after).values()) == set(here.clips(before).values())
    assert scripted.told(before) != scripted.told(after)  # By the numbers of the clips alone.
    assert [job.job for job in taken.jobs(search="splined OR box drain plug worn")] == []
    assert [job.job for job in taken.jobs(search="box drain plug worn")] == [5]

    # Again: nothing changes.
    assert _run("import", made / "job.zip", "--journal", there) == 0
    assert "It is here already, as job 5." in capsys.readouterr().out
    assert taken.numbers() == [1, 2, 3, 4, 5]
    assert _run("verify", "--journal", there) == 0

    # Out from there, it is the same but for the report, which names the job's number.
    assert _run("export", 5, "-o", tmp_path / "again.zip", "--journal", there) == 0
    first, again = _files(made / "job.zip"), _files(tmp_path / "again.zip")
    assert first["events.jsonl"] == again["events.jsonl"]
    assert set(first) == set(again)


def _heard(words: str) -> events.Heard:
    return events.Heard(words=words, confidence=0.9, recogniser="test")


def test_a_job_that_went_on_meanwhile_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hands = Hands(tmp_path / "journal.db")
    assert _run("export", 1, "-o", tmp_path / "1.zip", "--journal", hands.path) == 0
    assert _run("import", tmp_path / "1.zip", "--journal", tmp_path / "there.db") == 0
    hands.say("affirm")
    assert _run("export", 1, "-o", tmp_path / "2.zip", "--journal", hands.path) == 0
    assert _run("import", tmp_path / "2.zip", "--journal", tmp_path / "there.db") == 1
    assert "with 2 events, and the archive has 3" in capsys.readouterr().err


def test_a_job_that_does_not_verify_is_not_exported(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.bench.journal.close()
    _tamper(hands.path, "UPDATE head SET hash = 'ab'")
    with pytest.raises(AssistantError, match="No archive was made"):
        archive.write(Journal(hands.path), 1, tmp_path / "job.zip", "")
    assert not list(tmp_path.glob("*.zip*"))


def _lines(files: Files, change: Callable[[list[bytes]], list[bytes]]) -> Files:
    return files | {"events.jsonl": b"\n".join(change(files["events.jsonl"].splitlines()))}


def _clip_name(files: Files) -> str:
    return next(name for name in files if name.startswith("clips/"))


def _manifest(files: Files, /, **changes: object) -> Files:
    manifest = json.loads(files["manifest.json"]) | changes
    return files | {"manifest.json": json.dumps(manifest).encode()}


def _job(files: Files, /, **changes: object) -> Files:
    return _manifest(files, job=json.loads(files["manifest.json"])["job"] | changes)


def _without(files: Files, name: str) -> Files:
    return {key: data for key, data in files.items() if key != name}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (
            lambda f: _lines(
                f, lambda rows: [r.replace(b"drain plug", b"drain cock") for r in rows]
            ),
            "event 1 was altered",
        ),
        (lambda f: _lines(f, lambda rows: rows[:4] + rows[5:]), "event 5 is missing"),
        (lambda f: _lines(f, lambda rows: rows[:-1]), "event 42 and all that followed are missing"),
        (
            lambda f: _lines(f, lambda rows: [*rows[:4], rows[5], rows[4], *rows[6:]]),
            "the events from 5 on are not in their order",
        ),
        (lambda f: _lines(f, lambda rows: rows[:5] + rows[4:]), "there is a second event 5"),
        (lambda f: f | {_clip_name(f): b"other"}, "the clip of event 4 was altered"),
        (lambda f: _without(f, _clip_name(f)), "the clip of event 4 is missing"),
        (lambda f: f | {f"clips/{'ab' * 32}.flac": b"more"}, "a clip is there that no event names"),
        (lambda f: f | {"report.html": b"<p>All is well"}, "report.html is not as it was put in"),
        (lambda f: _without(f, "report.html"), "report.html is missing"),
        (lambda f: f | {"procedure.yaml": b"x: 1"}, "procedure.yaml is not as it was put in"),
        (lambda f: _job(f, title="Another"), "what is noted of the job"),
        (lambda f: _job(f, uid="6fa459ea-ee8a-4ca4-894e-db77e160355e"), "event 1 was altered"),
        (lambda f: _manifest(f, last="ab" * 32), "is not the one that was noted as the last"),
    ],
)
def test_what_was_tampered_with_is_not_taken_in(
    made: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    change: Callable[[Files], Files],
    expected: str,
) -> None:
    path = _zipped(tmp_path / "job.zip", change(_files(made / "job.zip")))
    assert _run("verify", path) == 1
    assert expected in capsys.readouterr().out
    assert _run("import", path, "--journal", tmp_path / "there.db") == 2
    assert expected in capsys.readouterr().err
    assert Journal(tmp_path / "there.db").jobs() == ()


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda f: f | {"../../evil": b"x"}, "a file in it that no such archive has, '../../evil'"),
        (lambda f: f | {"/etc/passwd": b"x"}, "that no such archive has"),
        (lambda f: f | {"clips/../../x.flac": b"x"}, "that no such archive has"),
        (lambda f: f | {"clips/\x1b[2J.flac": b"x"}, "that no such archive has"),
        (lambda f: _without(f, "manifest.json"), "no manifest.json"),
        (lambda f: _without(f, "events.jsonl"), "no events.jsonl"),
        (lambda f: _manifest(f, version=99), "another format or version"),
        (lambda f: _manifest(f, job=None), "which job it is"),
        (lambda f: _job(f, uid='x","place":1'), "which job it is"),
        (lambda f: _job(f, more=1), "which job it is"),
        (lambda f: _manifest(f, files=3), "lacks something"),
        (lambda f: f | {"manifest.json": b"[" * 100_000}, "is no JSON"),
        (lambda f: f | {"manifest.json": bytes(5 << 20)}, "manifest.json in it is too large"),
        (lambda f: f | {"events.jsonl": b"{}"}, "lacks something"),
        (lambda f: f | {"events.jsonl": b"[1]"}, "no JSON object"),
        (lambda f: f | {"events.jsonl": b"\xff\xfe"}, "is no JSON"),
        (lambda f: f | {"events.jsonl": b'{"event":' + b"9" * 9000 + b"}"}, "is no JSON"),
        (
            lambda f: (
                f | {"events.jsonl": b'{"event":{"a":1e999},"place":1,"previous":"","hash":""}'}
            ),
            "lacks something",
        ),
        (
            lambda f: f | {"events.jsonl": b'{"event":{},"place":true,"previous":"","hash":""}'},
            "of another kind",
        ),
    ],
)
def test_what_is_no_archive_is_refused(
    made: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    change: Callable[[Files], Files],
    expected: str,
) -> None:
    path = _zipped(tmp_path / "job.zip", change(_files(made / "job.zip")))
    for command in (["verify", path], ["import", path, "--journal", tmp_path / "there.db"]):
        assert _run(*command) == 2
        told = capsys.readouterr().err
        assert expected in told and "\x1b" not in told
    assert not list(tmp_path.glob("**/evil"))


def test_a_zip_bomb_is_refused_before_it_is_unpacked(made: Path, tmp_path: Path) -> None:
    files = _files(made / "job.zip")
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as opened:
        for name, data in files.items():
            opened.writestr(name, data)
        with opened.open(f"clips/{'ab' * 32}.flac", "w") as file:
            for _ in range(20):
                file.write(bytes(1 << 20))
    with archive.Archive(bomb) as read, pytest.raises(AssistantError, match="is too large"):
        read.verify()
    # One that lies about its size is cut off by what is read of it.
    data = bomb.read_bytes()
    size = (20 << 20).to_bytes(4, "little")
    assert data.count(size) >= 1
    bomb.write_bytes(data.replace(size, (1000).to_bytes(4, "little")))
    with archive.Archive(bomb) as read, pytest.raises(AssistantError):
        read.verify()


@pytest.mark.parametrize("content", [b"", b"no archive", b"PK\x05\x06" + bytes(18)])
def test_other_files_are_refused(
    tmp_path: Path, content: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "x.zip"
    path.write_bytes(content)
    assert _run("verify", path) == 2
    assert "is not an archive of a job" in capsys.readouterr().err
    assert _run("import", tmp_path / "none.zip", "--journal", tmp_path / "j.db") == 2
    assert "Cannot read" in capsys.readouterr().err


def test_a_damaged_archive_is_told_and_not_taken_in(made: Path, tmp_path: Path) -> None:
    whole = (made / "job.zip").read_bytes()
    journal = Journal(tmp_path / "there.db")
    path = tmp_path / "job.zip"
    for at in range(0, len(whole), 97):
        path.write_bytes(whole[:at] + bytes([whole[at] ^ 0x55]) + whole[at + 1 :])
        try:
            with archive.Archive(path) as read:
                taken = read.take_in(journal)
        except AssistantError:
            assert journal.jobs() == ()
            continue
        # A byte that says nothing of the job, such as a date: then it is the job.
        assert taken is not None and verification.job(journal, taken).fault is None
        journal.close()
        journal.path.unlink()
        journal = Journal(tmp_path / "there.db")


def test_an_archive_that_cannot_be_written_is_told(made: Path, tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="Cannot write"):
        archive.write(Journal(made / "journal.db"), 2, tmp_path / "no" / "job.zip", "")
