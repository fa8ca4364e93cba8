"""Measures, and prints: understood by voice, answer time, start-up, memory. No pass or fail.

Run as `python -m tests.benchmark [--recogniser R] [--noise DB]`; needs `pip install -e '.[dev]'`.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
import psutil

from assistant.audio import pcm, recogniser
from assistant.language import live, respelling, understanding
from assistant.session import intents as it
from tests.fixtures import state_of, utterances

ROOT = Path(__file__).resolve().parents[1]


def noisy(sound: pcm.Pcm, decibels: float, seed: int) -> pcm.Pcm:
    """Return the sound with pink noise so far under the level of its louder half."""
    samples = sound.samples.astype(float)
    spectrum = np.fft.rfft(np.random.default_rng(seed).normal(size=len(samples)))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(len(samples), 1 / pcm.RATE), 50))
    noise = np.fft.irfft(spectrum, len(samples))
    loud = np.sort(samples**2)[len(samples) // 2 :].mean() / 2
    noise *= np.sqrt(loud / np.mean(noise**2)) * 10 ** (-decibels / 20)
    mixed = np.clip(samples + noise, -32768, 32767).astype(np.int16)
    return pcm.from_bytes(mixed.tobytes())


def understood(kind: str, decibels: float | None) -> None:
    """Print, by voice, how many commands were understood: the intent and every value right."""
    ears = recogniser.choose(kind, respellings=respelling.standing())
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0, 0])
    audio = took = 0.0
    wrong = []
    for number, row in enumerate(utterances()):
        state = state_of(row["step"], row["asked"])
        ears.listen_for(live.grammar_for(state))
        sound = pcm.read(ROOT / "audio_fixtures" / row["file"])
        if decibels is not None:
            sound = noisy(sound, decibels, number)
        hearing = recogniser.hear_all(ears, sound)
        audio, took = audio + hearing.audio_s, took + hearing.took_s
        intent = understanding.understand(hearing.words, state) if hearing.accepted else None
        right = intent is not None and it.as_dict(intent) == json.loads(row["intent"])
        count = counts[row["voice"]]
        count[0] += 1
        count[1] += right
        count[2] += intent is not None and not right
        if not right:
            words = " ".join(hearing.words)
            wrong.append(f"{row['voice']}: “{row['text']}” as “{words}” {hearing.confidence:.2f}")
    level = "no noise" if decibels is None else f"pink noise {decibels:g} dB under the speech"
    print(f"\n{ears.name}, {level}: commands understood, with the grammar live at the step")
    print(f"{'voice':10}{'phrases':>9}{'right':>9}{'not taken':>11}{'wrong':>7}{'share':>8}")
    counts["all"] = [sum(c[i] for c in counts.values()) for i in range(3)]
    for voice, (number, right, taken_wrong) in counts.items():
        missed = number - right - taken_wrong
        share = right / number
        print(f"{voice:10}{number:9}{right:9}{missed:11}{taken_wrong:7}{share:8.1%}")
    print(f"{audio:.0f} s of audio in {took:.1f} s: {took / audio:.3f} of real time")
    for line in wrong:
        print("  " + line)


def start_up() -> None:
    """Print how long help takes, and until a job is ready to listen."""
    for what, command in (
        ("assistant --help", ["--help"]),
        ("assistant samples", ["samples"]),
    ):
        times = []
        for _ in range(5):
            begun = time.perf_counter()
            subprocess.run(
                [sys.executable, "-m", "assistant", *command], check=True, capture_output=True
            )
            times.append(time.perf_counter() - begun)
        print(f"{what}: {min(times):.3f} s (best of 5; worst {max(times):.3f})")


_READY = """
import sys, time
begun = time.perf_counter()
import psutil
from pathlib import Path
from assistant import listening
from assistant.bench import Bench
from assistant.journal.store import Journal
from assistant.language import live
from assistant.procedure import reading
class Quiet:
    heard = not_taken = said = say = lambda self, *rest: None
loaded = reading.load(reading.find("winch-gearbox"))
ears = listening.ears("pocketsphinx", None, None, loaded.procedure.respell)
bench = Bench(Journal(Path(sys.argv[1])), Quiet(), Quiet())
bench.open(loaded.procedure, loaded.text)
ears.listen_for(live.grammar_for(bench.state))
ready = time.perf_counter() - begun
for file in sorted(Path("audio_fixtures/demo").glob("*.flac"))[:40]:
    listening.attend(ears, [file])(bench)
print(f"{ready:.2f} {psutil.Process().memory_info().rss / 1e6:.0f}")
"""


def running(folder: Path) -> None:
    """Print the time until a job listens, and its memory after forty phrases."""
    ready, memory = [], []
    for number in range(3):
        told = subprocess.run(
            [sys.executable, "-c", _READY, str(folder / f"{number}.db")],
            check=True,
            capture_output=True,
            text=True,
            cwd=ROOT,
        ).stdout.split()
        ready.append(float(told[-2]))
        memory.append(float(told[-1]))
    print(f"ready to listen: {min(ready):.2f} s (best of 3; worst {max(ready):.2f})")
    print(f"resident memory of a running job: {max(memory):.0f} MB")


if __name__ == "__main__":
    import tempfile

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--recogniser", default="pocketsphinx")
    parser.add_argument("--noise", type=float, metavar="DB", help="pink noise this far under")
    arguments = parser.parse_args()
    print(f"{psutil.cpu_count()} cores, Python {sys.version.split()[0]}")
    start_up()
    with tempfile.TemporaryDirectory() as place:
        running(Path(place))
    understood(arguments.recogniser, arguments.noise)
