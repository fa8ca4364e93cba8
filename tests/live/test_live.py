"""The real program with a real sound server: heard, answered, interrupted, unplugged, stalled.

`pytest -m slow -s tests/live` prints what was measured. The bounds are wide, for these machines are
busy with other things; the README has what was measured on a quiet one.
"""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import soxr

from assistant.audio import earcons
from assistant.audio.cue import Cue
from assistant.journal.store import Journal
from tests.benchmark import voices
from tests.live import soak
from tests.live.program import VOICE, Program
from tests.live.room import RATE, Room

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="PulseAudio and signals"),
]

PLATE = """\
procedure: plate
title: Plate
revision: A
sample: true
equipment: {kind: test box}
parts:
  - {name: end plate}
stages:
  - name: Build-up
    steps:
      - id: open
        say: Take off the end plate.
        hazards: [{signal: warning, say: The spring is under load.}]
        remove: [{part: end plate}]
        bag: 1
      - id: close
        say: Fit the end plate.
        fasteners:
          - {name: short bolt, count: 2, thread: M8}
        tighten:
          - {fastener: short bolt, torque: 10 N·m}
"""


def _started(room: Room, folder: Path, *options: str) -> Program:
    program = Program(room, folder, PLATE, *options)
    program.wait_for("Listening. To hear", timeout=120)
    return program


def _kinds(program: Program) -> list[str]:
    return [event.kind for event in Journal(program.journal).events(1)]


@pytest.mark.parametrize("room", [0.0, 0.5], indirect=True, ids=["headset", "in the room"])
def test_a_whole_job_is_heard_answered_and_kept(
    room: Room, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    in_room = "in the room" in request.node.name
    program = _started(room, tmp_path, *([] if in_room else ["--headset"]))
    waits, starts = [], []
    for phrase, answer in (
        ("affirm", "Take off the end plate"),
        ("what caution", "The spring is under load"),
        ("bag one", "Bag one. Recorded"),
        ("next step", "Step two"),
        ("tightened one zero", "newton metres. Recorded"),
        ("close job", "Job closed"),
    ):
        answered = program.ask(phrase, answer)
        waits.append(answered - room.said_at())
        time.sleep(1.0)
        (first, *_) = room.loud(answered - 0.05) or [float("inf")]
        starts.append(first - answered)
    assert program.end() == 0
    kinds = _kinds(program)
    for kind in ("job opened", "bag recorded", "torque recorded", "job closed"):
        assert kinds.count(kind) == 1, kinds
    said = [line for _, line in program.lines if "technician:" in line]
    assert len(said) == 6, "it answered itself"
    print(f"\nend of speech to decision, s: {_spread(waits)}; to the voice, s: {_spread(starts)}")
    assert np.percentile(starts, 50) < 0.25 and max(waits) < 10


def test_the_voice_stops_for_whoever_speaks(room: Room, tmp_path: Path) -> None:
    program = _started(room, tmp_path, "--headset")
    program.ask("affirm", "Take off")
    program.ask("bag one", "Recorded")
    program.ask("next step", "Step two")
    delays = []
    for _ in range(3):
        time.sleep(1.0)
        spoken = program.say("stand by")
        recognised = program.wait_for("technician: stand by", spoken - 1.0)
        time.sleep(1.5)
        delays.append(_tone(room, recognised - 0.1) - recognised)
        program.ask("resume", "Listening. Step")
        # What was cut short is not lost.
        program.ask("say again", "Short bolt")
    print(f"\nrecognised to the old reply gone and the new one begun, s: {_spread(delays)}")
    assert np.median(delays) < 0.15


def test_devices_are_taken_away_within_a_phrase_and_given_back(room: Room, tmp_path: Path) -> None:
    program = _started(room, tmp_path, "--headset")
    program.ask("affirm", "Take off")
    time.sleep(4)
    room.say(voices.speak("bag one", VOICE, 0.0))
    time.sleep(0.5)
    gone = time.monotonic()
    room.power_off()
    told = program.wait_for("the microphone is gone", gone) - gone
    program.wait_for("The loudspeaker is gone", gone)
    time.sleep(2)
    room.power_on()
    back = time.monotonic()
    program.wait_for("The loudspeaker is back", gone)
    again = program.wait_for("The microphone is back", gone) - back
    room.settle()
    print(f"\nloss told after {told:.1f} s, return after {max(0.0, again):.1f} s")
    program.ask("bag one", "Bag one. Recorded")
    program.ask("next step", "Step two")
    assert _kinds(program).count("bag recorded") == 1
    program.end(0)


def test_what_is_lost_while_it_stalls_is_counted_and_told(room: Room, tmp_path: Path) -> None:
    program = _started(room, tmp_path, "--headset")
    os.kill(program.pid, signal.SIGSTOP)
    time.sleep(20)
    os.kill(program.pid, signal.SIGCONT)
    at = program.wait_for("Sound was lost")
    line = next(line for when, line in program.lines if when == at)
    # 15 s are kept by the recorder, and a little on the way.
    assert 2.0 < float(line.split()[3]) < 6.0
    program.wait_for("some sound was lost")
    time.sleep(1)
    assert program.screen().count("I could not keep up") == 1
    program.ask("affirm", "Take off")
    program.end(0)


def test_half_an_hour_leaves_the_memory_as_it_was() -> None:
    # The whole shift of eight hours is for `python -m tests.live.soak`.
    memory, said, shown = soak.run(0.5)
    assert shown["taken"] > 0.9 * said
    assert memory[-1] < memory[4] + 40


def _spread(values: list[float]) -> str:
    low, high = np.percentile(values, [50, 95])
    return f"p50 {low:.3f}, p95 {high:.3f} of {len(values)}"


def _tone(room: Room, since: float) -> float:
    """Return when the tone before a reply began: what was said before it had stopped by then."""
    tone = soxr.resample(earcons.sound(Cue.HEARD), earcons.RATE, RATE)
    heard = room.heard(since).astype(float)[:RATE]
    power = np.sqrt(np.convolve(heard**2, np.ones(len(tone)), "valid")) + 1.0
    fits = np.correlate(heard, tone, "valid") / power / np.linalg.norm(tone)
    assert fits.max() > 0.8, "there was no tone"
    return room.first_at(since) + int(fits.argmax()) / RATE
