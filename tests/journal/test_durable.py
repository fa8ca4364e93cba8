"""Power that goes, disks that fail: what was spoken is kept, and what cannot be kept is said."""

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import closing, suppress
from itertools import count
from pathlib import Path

import pytest

from assistant.bench.conversation import Conversation
from assistant.errors import AssistantError
from assistant.journal import schema, verification
from assistant.journal.store import CannotRecord, Journal
from tests.bench_helpers import SMALL, Hands
from tests.journal import faults, scripted
from tests.journal.scripted import SCRIPT


@pytest.fixture
def disk() -> Iterator[faults.Disk]:
    try:
        made = faults.disk()
    except faults.NotPossible as error:
        pytest.skip(f"NO FAULT INJECTION HERE: {error}")
    with made.in_place():
        yield made


def _hands(path: Path) -> Hands:
    hands = Hands(path)
    hands.set_clock(scripted.Clock())
    # Written back often, so that this is met with too.
    hands.bench.journal._db.execute("PRAGMA wal_autocheckpoint = 12")
    return hands


def _kept(path: Path) -> list[dict[str, object]]:
    """Return what another process would find in the file, which has to verify."""
    with closing(Journal(path)) as journal:
        assert verification.job(journal, 1).fault is None
        return scripted.told(journal.events(1))


@pytest.fixture(scope="module")
def in_one_go(tmp_path_factory: pytest.TempPathFactory) -> Conversation:
    bench = _hands(tmp_path_factory.mktemp("one") / "journal.db").bench
    for number in range(len(SCRIPT)):
        scripted.say(bench, number)
    assert bench.over
    return bench


@pytest.mark.parametrize(
    ("code", "why"),
    [
        (faults.FULL, "I cannot record: the disk is full. Nothing was kept; say it again when"),
        (faults.READONLY, "I cannot record: the journal may only be read. Nothing was kept;"),
        (faults.WRITE_FAILED, "I cannot record: the disk does not work. Nothing was kept; say"),
    ],
)
def test_a_fault_at_any_write_or_sync_is_said_and_nothing_moves(
    disk: faults.Disk, tmp_path: Path, in_one_go: Conversation, code: int, why: str
) -> None:
    path = tmp_path / "journal.db"
    hands = _hands(path)
    bench = hands.bench
    refused = met = 0
    for number in range(len(SCRIPT)):
        for call in count(1):
            before, known, kept = bench.state, bench.keeper.known, _kept(path)
            hands.notes.replies.clear()
            disk.fail_from(call, code)
            scripted.say(bench, number)
            failed = disk.failed
            disk.mend()
            (reply,) = hands.notes.replies
            if reply.startswith("I cannot record"):
                assert failed and reply.startswith(why)
                assert (bench.state, bench.keeper.known) == (before, known)
                assert _kept(path) == kept
                refused += 1
                continue
            # Kept in spite of it: the fault came when it was on disk already, or not at all.
            assert len(_kept(path)) > len(kept)
            met += failed
            break
    assert bench.over
    assert scripted.alike(bench.state) == scripted.alike(in_one_go.state)
    assert _kept(path) == scripted.told(in_one_go.journal.events(1))
    assert refused > 5 * len(SCRIPT)
    assert met, "no fault while the log was written back"
    bench.journal.close()


def test_what_was_refused_does_not_come_back_when_it_is_killed_then(
    disk: faults.Disk, tmp_path: Path
) -> None:
    path = tmp_path / "journal.db"
    hands = _hands(path)
    for call in count(1):
        before = hands.bench.keeper.known
        disk.fail_from(call, faults.WRITE_FAILED, once=True)
        reply = hands.say("order two drain plugs")
        failed = disk.failed
        disk.mend()
        folder = tmp_path / str(call)
        folder.mkdir()
        for name in ("journal.db", "journal.db-wal"):
            shutil.copy(tmp_path / name, folder)
        with closing(Journal(folder / "journal.db")) as journal:
            refused = reply.startswith("I cannot record")
            assert len(journal.events(1)) == before + (not refused)
        if not failed:
            break
    assert call > 5
    hands.bench.journal.close()


def test_questions_are_answered_while_nothing_can_be_recorded(
    disk: faults.Disk, tmp_path: Path
) -> None:
    hands = _hands(tmp_path / "journal.db")
    hands.at_close()
    disk.fail_from(1, faults.FULL)
    assert "the disk is full" in hands.say("affirm")
    assert "one four newton metres" in hands.say("what torque")
    assert "the disk is full" in hands.say("affirm")
    # What is repeated is the answer, not the refusal.
    assert "one four newton metres" in hands.say("say again")
    disk.mend()
    hands.say("affirm")
    assert "Recorded" in hands.say("tightened seven")
    hands.bench.journal.close()


def test_a_timer_is_announced_once_and_recorded_when_it_can_be(
    disk: faults.Disk, tmp_path: Path
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("start timer ten minutes")
    disk.fail_from(1, faults.FULL)
    said = hands.wait(minutes=10)
    assert said.startswith("Time. The timer is up.") and "I cannot record: the disk" in said
    assert hands.wait(seconds=1) == ""
    assert not hands.events("timer rang")
    disk.mend()
    assert hands.wait(seconds=1) == ""
    assert len(hands.events("timer rang")) == 1
    assert hands.wait(seconds=1) == ""
    hands.bench.journal.close()


def test_a_fault_while_a_job_is_opened_or_taken_up_stops_at_once(
    disk: faults.Disk, tmp_path: Path
) -> None:
    path = tmp_path / "journal.db"
    Journal(path).close()
    hands = Hands(path, open_job=False)
    disk.fail_from(1, faults.FULL)
    with pytest.raises(CannotRecord, match="the disk is full"):
        hands.bench.open(hands.procedure, SMALL)
    assert not hands.notes.replies
    disk.mend()
    hands.bench.open(hands.procedure, SMALL)
    disk.fail_from(1, faults.WRITE_FAILED)
    with pytest.raises(CannotRecord):
        hands.bench.take_up(1)
    disk.mend()
    hands.bench.take_up(1)
    assert [e.kind for e in hands.bench.journal.events(1)].count("job taken up") == 1
    hands.bench.journal.close()


@pytest.mark.parametrize("code", [faults.FULL, faults.WRITE_FAILED])
def test_a_fault_while_the_file_is_made_leaves_nothing_half_made(
    disk: faults.Disk, tmp_path: Path, code: int
) -> None:
    for call in count(1):
        path = tmp_path / str(call) / "journal.db"
        disk.fail_from(call, code)
        with suppress(AssistantError):
            Journal(path).close()
        failed = disk.failed
        disk.mend()
        with closing(Journal(path)) as journal:
            assert journal.jobs() == ()
        if not failed:
            break
    assert call > 10


@pytest.mark.parametrize("synced", [True, False])
def test_what_was_spoken_is_there_after_the_power_went(
    disk: faults.Disk, tmp_path: Path, synced: bool
) -> None:
    """All that was not synced is lost each time it speaks. Without syncs, events would be too."""
    hands = _hands(tmp_path / "journal.db")
    if not synced:
        hands.bench.journal._db.execute("PRAGMA synchronous = NORMAL")
    lost = []

    def power_goes(text: str) -> None:
        folder = tmp_path / f"after-{hands.bench.keeper.known}"
        folder.mkdir(exist_ok=True)
        for path, content in disk.after_power_loss.items():
            # The index of the log is made anew from the log.
            if path.parent == tmp_path and not path.name.endswith("-shm"):
                (folder / path.name).write_bytes(content)
        with closing(Journal(folder / "journal.db")) as journal:
            there = len(journal.events(1))
            # Older, perhaps, but whole.
            assert verification.job(journal, 1).fault is None
        if there != hands.bench.keeper.known:
            lost.append(text)

    hands.notes.on_saying = power_goes
    for number in range(len(SCRIPT)):
        scripted.say(hands.bench, number)
    assert hands.bench.over
    assert bool(lost) != synced
    hands.bench.journal.close()


def test_the_settings_are_those_that_survive(tmp_path: Path) -> None:
    db = Journal(tmp_path / "journal.db")._db
    expected = {"journal_mode": "wal", "synchronous": 2, "fullfsync": 1, "checkpoint_fullfsync": 1}
    for name, value in expected.items():
        assert db.execute(f"PRAGMA {name}").fetchone() == (value,)


def test_a_new_file_and_folder_are_synced_into_the_folders_above(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[Path] = []
    monkeypatch.setattr(schema, "sync_folder", lambda folder: synced.append(folder))
    Journal(tmp_path / "a" / "b" / "journal.db").close()
    assert set(synced) >= {tmp_path, tmp_path / "a", tmp_path / "a" / "b"}


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own, of 2 MB."""
    folder = tmp_path / "small"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    if os.name != "posix" or shutil.which("mount") is None or subprocess.call(mount):
        pytest.skip("NO DISK OF ITS OWN HERE: mounting one needs root")
    yield folder
    subprocess.check_call(["umount", str(folder)])


def test_a_disk_that_is_really_full(small_disk: Path) -> None:
    hands = Hands(small_disk / "journal.db")
    hands.say("affirm", "order two drain plugs")
    filler = small_disk / "filler"
    with suppress(OSError), filler.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(512))
    before = hands.bench.state
    told = ""
    for _ in range(40):  # There may be room left in the log.
        before = hands.bench.state
        told = hands.say("note all is well")
        if "Note kept" not in told:
            break
    assert told == (
        "I cannot record: the disk is full. Nothing was kept; say it again when there is room."
    )
    assert hands.bench.state == before
    notes = len(hands.events("note"))
    filler.unlink()
    assert "Note kept" in hands.say("note all is well")
    assert len(hands.events("note")) == notes + 1
    hands.bench.journal.close()


def test_a_journal_on_a_medium_that_can_only_be_read_is_read(small_disk: Path) -> None:
    path = small_disk / "journal.db"
    hands = Hands(path)
    hands.say("affirm", "order two drain plugs")
    hands.bench.journal.close()
    subprocess.check_call(["mount", "-o", "remount,ro", str(small_disk)])
    with closing(Journal(path)) as journal:
        assert verification.job(journal, 1).fault is None
        assert [hit.kind for hit in journal.search("drain plugs")] == ["part ordered"]
        hands.bench.keeper.journal = journal
        assert hands.say("order one drain plug") == (
            "I cannot record: the journal may only be read. "
            "Nothing was kept; say it again when it may be written."
        )
    with pytest.raises(AssistantError, match="Cannot open the journal"):
        Journal(small_disk / "none.db")
