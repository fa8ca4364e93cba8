"""A long shift in little time: `python -m tests.live.soak --hours 8`.

The real loop, ears, voice, session and journal; only the two devices are made up, on a clock that
goes as fast as sound is taken. Somebody speaks every so often over the noise of a room, mostly to
the assistant. It prints the memory after each eighth, and what was taken.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
import psutil

from assistant.audio.cue import Cue
from assistant.audio.loudspeaker import Loudspeaker
from assistant.audio.pcm import RATE
from assistant.audio.voice import SpokenVoice
from assistant.bench import ears as bench_ears
from assistant.bench import microphone as listening
from assistant.bench.conversation import Conversation
from assistant.bench.keeper import Keeper
from assistant.bench.microphone import Live
from assistant.bench.presenter import Presenter
from assistant.bench.protocols import Situation
from assistant.dialogue.turn import Reply
from assistant.journal.store import Journal
from assistant.procedure import reading
from tests.benchmark import voices
from tests.live.made_up import BLOCK, MadeUpMicrophone, Samples

_SAID = ("affirm", "say again", "what torque", "where are we", "next step", "note", "previous step")
_EVERY_S = 20.0


class Shift(MadeUpMicrophone):
    """A microphone at which somebody says something every `_EVERY_S` for so many hours."""

    def __init__(self, hours: float, at_mark: Callable[[float], None]) -> None:
        super().__init__(self._sound_at)
        self.said = 0
        self._last_s = hours * 3600
        self._mark_s = 0.0
        self._at_mark = at_mark
        self._phrases = [voices.speak(text, "heart", 0.3) for text in _SAID]
        noise = np.random.default_rng(3).normal(0, 15, RATE * 10)
        self._noise = np.round(noise).astype(np.int16)

    def _sound_at(self, start: int) -> Samples | None:
        if self.now >= self._mark_s:
            self._mark_s += self._last_s / 8
            self._at_mark(self.now / 3600)
        if self.now >= self._last_s:
            return None
        sound = np.take(self._noise, range(start, start + BLOCK), mode="wrap")
        number, into = divmod(start, round(_EVERY_S * RATE))
        self.said += into < BLOCK
        phrase = self._phrases[number % len(self._phrases)][into : into + BLOCK]
        sound[: len(phrase)] += phrase
        return sound


class NoLoudspeaker(Loudspeaker):
    """A loudspeaker that has played everything at once."""

    def open(self) -> None:
        """There is nothing to open."""
        self.connected = True
        self.device = {"name": "none", "rate": 44_100}
        self.seconds = 0.0

    def play(self, sound: npt.NDArray[np.float32], rate: int) -> None:
        """Count how long it would have taken."""
        self.seconds += len(sound) / rate

    def audible(self, since: float, until: float) -> bool:
        """It is never heard."""
        return False


class Tally:
    """A screen that only counts."""

    def __init__(self) -> None:
        self.shown: Counter[str] = Counter()

    def heard(self, words: str) -> None:
        self.shown["taken"] += 1

    def not_taken(self, words: str, why: str) -> None:
        self.shown["not taken"] += 1

    def said(self, replies: Sequence[Reply], cue: Cue | None) -> None:
        self.shown["replies"] += 1
        self.shown[f"cue {cue}"] += 1

    def update(self, situation: Situation) -> None:
        self.shown["updates"] += 1


def run(hours: float) -> tuple[list[float], int, Counter[str]]:
    """Work for so many hours of sound.

    Returns the memory in MB, resident, at the start and after each eighth; how often something was
    said; and what the screen showed.
    """
    memory: list[float] = []
    process = psutil.Process()
    begun = time.monotonic()

    def measure(hour: float) -> None:
        gc.collect()
        memory.append(process.memory_info().rss / 1e6)
        passed = time.monotonic() - begun
        print(f"{hour:5.1f} h  {memory[-1]:7.1f} MB  after {passed:5.0f} s", flush=True)

    with tempfile.TemporaryDirectory() as folder:
        loaded = reading.load(reading.find("winch-gearbox"))
        microphone, tally = Shift(hours, measure), Tally()
        start = datetime.now(UTC)
        voice = SpokenVoice(NoLoudspeaker(), waits=False)
        bench = Conversation(
            Keeper(Journal(Path(folder) / "journal.db")),
            Presenter(voice, [tally]),
            lambda: start + timedelta(seconds=microphone.now),
        )
        bench.open(loaded.procedure, loaded.text)
        live = Live(microphone, voice, headset=True, clock=microphone.clock)
        ears = bench_ears.build("pocketsphinx", None, None, loaded.procedure.respell)
        with contextlib.suppress(KeyboardInterrupt):
            listening.listen(bench, ears, live)
        bench.journal.close()
        return memory, microphone.said, tally.shown


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--hours", type=float, default=8.0)
    memory, said, shown = run(parser.parse_args().hours)
    print(f"{said} phrases said; {dict(shown)}")
    print(f"grown by {memory[-1] - memory[1]:.1f} MB since the first eighth")
