"""Killed at random moments, over whole jobs: what was spoken is there, nothing twice, in order."""

import os
import random
import signal
import time
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from assistant.bench.presenter import Presenter
from assistant.dialogue import state as job_state
from assistant.dialogue.replaying import procedure_of
from assistant.journal import verification
from assistant.journal.store import Journal
from tests.bench_helpers import SMALL, Hands, Notes, flac
from tests.journal import scripted
from tests.journal.scripted import SCRIPT

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="NO KILLING HERE: it needs fork")

_MOST_REPLIES = 8
_LONGEST_S = 0.02
"""A process is killed after so many replies at most, and within so long after; sometimes so long
after it was made, before it speaks at all. A phrase takes some 5 ms."""


@dataclass
class Toll:
    """What came of it all."""

    kills: int = 0
    jobs: int = 0
    spoken: int = 0
    in_the_middle: int = 0
    """Kills after which an event was on disk whose reply was not spoken any more."""
    at: set[int] = field(default_factory=set)
    """After how many phrases, over all jobs."""


@pytest.mark.parametrize("kills", [pytest.param(25), pytest.param(500, marks=pytest.mark.slow)])
def test_killed_at_random_moments(tmp_path: Path, kills: int) -> None:
    seed = random.randrange(2**32)
    print(f"seed {seed}")
    toll = _until(tmp_path, kills, random.Random(seed))
    print(toll)
    assert toll.kills == kills
    assert toll.jobs >= kills // 25
    assert toll.spoken > kills
    # Really at random: many places, and between the disk and the voice.
    assert len(toll.at) > min(kills, 100) / 5
    assert toll.in_the_middle


def _until(folder: Path, kills: int, random_: random.Random) -> Toll:
    reference = Hands(folder / "reference.db")
    reference.set_clock(scripted.Clock())
    for number in range(len(SCRIPT)):
        scripted.say(reference.bench, number)
    expected = reference.bench.journal.events(1)
    reference.bench.journal.close()
    rows = scripted.told(expected)
    procedure = procedure_of(expected, 1)
    states = [
        scripted.alike(job_state.replay(procedure, expected[:n])) for n in range(len(expected) + 1)
    ]
    toll = Toll()
    while toll.kills < kills:
        toll.jobs += 1
        path = folder / f"journal-{toll.jobs}.db"
        log = folder / f"spoken-{toll.jobs}"
        done = False
        while not done and toll.kills < kills:
            done = _run(path, log, random_)
            toll.kills += not done
            said_before = [tuple(map(int, line.split())) for line in _lines(log)]
            if not path.exists():
                assert not said_before
                continue
            with closing(Journal(path)) as journal:
                numbers = journal.numbers()
                if not numbers:
                    assert not said_before
                    continue
                assert numbers == [1]
                events = journal.events(1)
                assert verification.job(journal, 1).fault is None
                clips = journal.clips(events)
            # In order, none missing and none twice: so far, what came in one go.
            so_far = scripted.told(events)
            assert so_far == rows[: len(so_far)]
            assert scripted.alike(job_state.replay(procedure, events)) == states[len(so_far)]
            # What was spoken is there.
            places = [place for place, _ in said_before]
            phrases = scripted.said(events)
            if said_before:
                assert len(events) >= max(places)
                assert phrases >= said_before[-1][1]
                toll.in_the_middle += phrases > said_before[-1][1]
            toll.at.add(phrases)
            spoken = [n for n, p in enumerate(SCRIPT[:phrases]) if p[0] == "*"]
            sounds = {flac(scripted.clip(number)) for number in spoken}
            assert set(clips.values()) == sounds
        toll.spoken += len(said_before)
        assert not done or scripted.told(events) == rows
    return toll


def _lines(log: Path) -> list[str]:
    # A kill may have left half a line; what it was to say is not known then.
    text = log.read_text() if log.exists() else ""
    return [line for line in text.splitlines(keepends=True) if line.endswith("\n")]


def _run(path: Path, log: Path, random_: random.Random) -> bool:
    """Work in a process of its own, until it is killed; return whether the job was done."""
    replies, seconds = random_.randrange(_MOST_REPLIES), random_.uniform(0, _LONGEST_S)
    hearing, speaking = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(hearing)
            _work(path, log, speaking)
            os._exit(0)
        finally:
            os._exit(1)
    os.close(speaking)
    for _ in range(replies):
        if not os.read(hearing, 1):
            break
    time.sleep(seconds)
    # Not waited for yet, so the number is still this process's, whether it has ended or not.
    os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    os.close(hearing)
    assert status == signal.SIGKILL or os.waitstatus_to_exitcode(status) == 0
    return status != signal.SIGKILL


def _work(path: Path, log: Path, speaking: int) -> None:
    """Begin the job or go on with it, and say what is left of the script."""
    spoken = os.open(log, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    notes = Notes()
    hands = Hands(path, open_job=False)
    bench = hands.bench
    hands.set_clock(scripted.Clock())
    bench.presenter = Presenter(notes, [notes])
    phrase = 0

    def speak(text: str) -> None:
        os.write(spoken, f"{bench.keeper.known} {phrase}\n".encode())
        os.write(speaking, b".")

    notes.on_saying = speak
    latest = bench.journal.latest_open()
    if latest is not None:
        phrase = scripted.said(bench.journal.events(latest))
        bench.take_up(latest)
    elif bench.journal.numbers():
        return  # Killed when all was done, and before it could end.
    else:
        bench.open(hands.procedure, SMALL)
    while not bench.over and phrase < len(SCRIPT):
        number, phrase = phrase, phrase + 1
        scripted.say(bench, number)
