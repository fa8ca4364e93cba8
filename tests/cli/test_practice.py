"""Practice: the whole conversation, and nothing of it is left."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant.dialogue.wording import job as wording
from tests.bench_helpers import SMALL, Hands, Notes, bench


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A home whose every file can be counted, with a procedure beside it."""
    (tmp_path / "small.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "home" / "tmp").mkdir(parents=True)
    return tmp_path


def environment(home: Path) -> dict[str, str]:
    names = ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "LOCALAPPDATA")
    own = dict.fromkeys(names, str(home / "home")) | {"TMPDIR": str(home / "home" / "tmp")}
    return os.environ | own


def command(home: Path, *more: str) -> list[str]:
    small = str(home / "small.yaml")
    return [sys.executable, "-m", "assistant", "run", small, "--typed", "--practice", *more]


def practised(home: Path, typed: str, *more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command(home, *more),
        input=typed,
        capture_output=True,
        text=True,
        timeout=120,
        env=environment(home),
    )


def left(home: Path) -> list[Path]:
    return [path for path in (home / "home").rglob("*") if path.is_file()]


@pytest.mark.parametrize("last", ["close job\naffirm\n", "set job aside\n"])
def test_it_is_said_at_the_start_and_at_the_end_and_nothing_is_left(home: Path, last: str) -> None:
    done = practised(home, f"affirm\nbag one\nspeak slower\norder two circlips\n{last}")
    assert done.returncode == 0
    said = " ".join(done.stdout.split())
    assert said.startswith(f"assistant: {wording.PRACTICE} Small box")
    assert "Bag one. Recorded." in said
    assert said.endswith(wording.PRACTICE_OVER)
    assert "resume" not in done.stderr
    assert not left(home)


def test_where_the_lines_end_it_is_told_too(home: Path) -> None:
    done = practised(home, "affirm\n")
    assert done.returncode == 0 and wording.PRACTICE_OVER in done.stderr
    assert not left(home)


@pytest.fixture
def begun(home: Path) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        command(home),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(home),
    )
    assert process.stdout is not None
    process.stdout.readline()
    yield process
    process.kill()


@pytest.mark.parametrize(
    ("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143), (signal.SIGHUP, 129)]
)
def test_nothing_is_left_however_it_is_stopped(
    begun: subprocess.Popen[str], home: Path, number: int, status: int
) -> None:
    assert left(home)
    time.sleep(0.2)  # until it waits for a line
    begun.send_signal(number)
    _, told = begun.communicate(timeout=60)
    assert begun.returncode == status
    assert wording.PRACTICE_OVER in told and "What was recorded is kept" not in told
    assert not left(home)


@pytest.mark.parametrize("more", [("--journal", "shop.db"), ("--follows", "3")])
def test_what_needs_a_record_is_refused(home: Path, more: tuple[str, str]) -> None:
    done = practised(home, "", *more)
    assert done.returncode == 2
    assert more[0] in done.stderr and "Leave out one of the two." in done.stderr
    assert not left(home) and not Path("shop.db").exists()


def test_a_bench_that_records_says_nothing_of_practice(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    assert "practice" not in hands.say("affirm", "set job aside").lower()


def test_say_again_repeats_that_it_is_practice(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", open_job=False)
    notes = Notes()
    spoken_to = bench(hands.bench.journal, notes, lambda: hands.now, practice=True)
    spoken_to.open(hands.procedure, SMALL)
    spoken_to.typed("say again")
    assert all(reply.startswith(wording.PRACTICE) for reply in notes.replies)
    assert len(notes.replies) == 2
