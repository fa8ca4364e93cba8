"""Speech from text, ahead of time where that is possible: eSpeak NG on Linux, else pyttsx3."""

from __future__ import annotations

import re
import sys
import tempfile
import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from assistant.errors import AssistantError

PAUSE_S = 0.2
"""Between sentences. Engines leave twice that after each, the last as well, which is waited for."""
_SILENT = 0.005
_KEPT = 200
"""Sentences that are kept as sound: about 50 MB."""
_AHEAD = 100


@dataclass(frozen=True, eq=False)
class Speech:
    """A sentence as sound: float32 from -1 to 1, shape (n,), at `rate` samples a second."""

    samples: npt.NDArray[np.float32]
    rate: int


def sentences(text: str) -> list[str]:
    """Split a reply into what can be synthesised one after the other."""
    return [part for part in re.split(r"(?<=[.?!])\s+", text.strip()) if part]


class Synthesiser:
    """Makes sentences into sound, in a thread of its own: those that are wanted first, and others
    ahead of time. What was made is kept. No engine: AssistantError when it is made.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._wanted: deque[tuple[str, int, Callable[[Speech], None]]] = deque()
        self._ahead: deque[tuple[str, int]] = deque(maxlen=_AHEAD)
        self._kept: OrderedDict[tuple[str, int], Speech] = OrderedDict()
        self._failed: AssistantError | None = None
        self._busy = False
        ready = threading.Event()
        # An engine belongs to the thread that made it.
        threading.Thread(target=self._work, args=(ready,), daemon=True).start()
        ready.wait()
        if self._failed is not None:
            raise self._failed

    def make(self, sentence: str, words_a_minute: int, then: Callable[[Speech], None]) -> None:
        """Make a sentence after those that were asked for, and hand it over in the thread."""
        with self._changed:
            self._wanted.append((sentence, words_a_minute, then))
            self._changed.notify_all()

    def prepare(self, wanted: Iterable[str], words_a_minute: int) -> None:
        """Make these when nothing else is to be done; what was to be prepared before is dropped."""
        with self._changed:
            self._ahead.clear()
            self._ahead.extend((sentence, words_a_minute) for sentence in wanted)
            self._changed.notify_all()

    def drop(self) -> bool:
        """Forget what was asked for and is not begun; return whether there was any."""
        with self._changed:
            was = bool(self._wanted)
            self._wanted.clear()
            self._changed.notify_all()
        return was

    def wait(self) -> None:
        """Wait until all that was asked for is handed over."""
        with self._changed:
            self._changed.wait_for(lambda: not self._wanted and not self._busy)

    def _work(self, ready: threading.Event) -> None:
        try:
            engine = start_engine()
        except AssistantError as error:
            self._failed = error
            return
        finally:
            ready.set()
        while True:
            with self._changed:
                self._busy = False
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._wanted or self._ahead)
                then: Callable[[Speech], None] | None = None
                if self._wanted:
                    sentence, rate, then = self._wanted.popleft()
                else:
                    sentence, rate = self._ahead.popleft()
                self._busy = then is not None
            try:
                speech = self._made(engine, sentence, rate)
            except AssistantError as error:
                # The words are on the screen.
                print(f"Not spoken. {error}", file=sys.stderr)
                continue
            if then is not None:
                then(speech)

    def _made(self, engine: Engine, sentence: str, words_a_minute: int) -> Speech:
        key = sentence, words_a_minute
        speech = self._kept.pop(key, None)
        if speech is None:
            speech = Speech(_trimmed(engine.sound(sentence, words_a_minute)), engine.rate)
        self._kept[key] = speech
        if len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return speech


def _trimmed(samples: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Leave away the silence at both ends."""
    loud = np.flatnonzero(np.abs(samples) > _SILENT)
    return samples[loud[0] : loud[-1] + 1] if len(loud) else samples[:0]


class Engine(Protocol):
    """Turns text into speech."""

    @property
    def rate(self) -> int:
        """Samples a second of what it makes."""

    def sound(self, text: str, words_a_minute: int) -> npt.NDArray[np.float32]:
        """Return the text as sound, shape (n,), from -1 to 1."""


@cache
def start_engine() -> Engine:
    """Start the platform's speech engine, for the thread that asks first. None: AssistantError."""
    if sys.platform.startswith("linux"):
        from assistant.audio.espeak import Espeak

        return Espeak()
    return Platform()


class Platform:
    """The platform's own engine, by pyttsx3: it can only write files."""

    def __init__(self) -> None:
        self.rate = 0
        try:
            import pyttsx3

            self._engine: Any = pyttsx3.init()
        except Exception as error:
            # Drivers raise whatever their platform gives them.
            raise AssistantError(f"No speech engine could be started ({error}).") from None

    def sound(self, text: str, words_a_minute: int) -> npt.NDArray[np.float32]:
        """Return the text as sound, shape (n,), from -1 to 1. Nothing made: AssistantError."""
        import soundfile

        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "speech.wav"
            self._engine.setProperty("rate", words_a_minute)
            self._engine.save_to_file(text, str(path))
            self._engine.runAndWait()
            if not path.is_file():
                raise AssistantError("The speech engine made nothing.")
            samples, self.rate = soundfile.read(path, dtype="float32")
        return np.asarray(samples, np.float32)
