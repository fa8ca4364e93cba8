"""Speech from text, ahead of time where that is possible: eSpeak NG on Linux, else pyttsx3.

An engine belongs to the thread that started it, so one thread makes everything. Whatever goes wrong
in it is reported, and the thread goes on: somebody may be waiting for it.
"""

from __future__ import annotations

import logging
import re
import sys
import tempfile
import threading
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
from cachetools import LRUCache

from assistant.errors import AssistantError

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Synthesis:
    """How sentences are made into sound and kept."""

    pause_s: float = 0.2
    """Pause (s) between sentences. Engines leave twice that after each, the last as well,
    which would be waited for."""
    silence: float = 0.005
    """Amplitude, of 1, below which the ends of a sentence are trimmed."""
    kept: int = 200
    """Sentences that are kept as sound: about 50 MB."""
    ahead: int = 100
    """Most sentences that wait to be made ahead of time."""


SYNTHESIS = Synthesis()


@dataclass(frozen=True, eq=False)
class Speech:
    """A sentence as sound: float32 from -1 to 1, shape (n,), at `rate` samples a second."""

    samples: npt.NDArray[np.float32]
    rate: int


def sentences(text: str) -> list[str]:
    """Split a reply into what can be synthesised one after the other."""
    return [part for part in re.split(r"(?<=[.?!])\s+", text.strip()) if part]


class Engine(Protocol):
    """Turns text into speech."""

    @property
    def rate(self) -> int:
        """Samples a second of the sound that it makes."""

    def sound(self, text: str, words_a_minute: int) -> npt.NDArray[np.float32]:
        """Return the text as sound, shape (n,), from -1 to 1."""


@cache
def start_engine() -> Engine:
    """Start the platform's speech engine, for the thread that asks first.

    Raises AssistantError where there is none.
    """
    if sys.platform.startswith("linux"):
        from assistant.audio.espeak import Espeak

        return Espeak()
    return Platform()


class Platform:
    """The platform's own engine, through pyttsx3, which can only write files."""

    def __init__(self) -> None:
        self.rate = 0
        try:
            import pyttsx3

            self._engine: Any = pyttsx3.init()
        except Exception as error:
            # Drivers raise whatever their platform gives them.
            raise AssistantError(f"No speech engine could be started ({error}).") from None

    def sound(self, text: str, words_a_minute: int) -> npt.NDArray[np.float32]:
        """Return the text as sound. Raises AssistantError where the engine makes none."""
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


class Synthesiser:
    """Makes sentences into sound in its own thread: what is wanted first, then what is prepared.

    What was made is kept. `start` starts the engine. Raises AssistantError where it cannot.
    """

    def __init__(self, start: Callable[[], Engine] = start_engine) -> None:
        self._start = start
        self._changed = threading.Condition()
        self._wanted: deque[tuple[str | Speech, int, Callable[[Speech], None]]] = deque()
        self._ahead: deque[tuple[str, int]] = deque(maxlen=SYNTHESIS.ahead)
        self._kept: LRUCache[tuple[str, int], Speech] = LRUCache(SYNTHESIS.kept)
        self._failed: AssistantError | None = None
        self._busy = False
        ready = threading.Event()
        threading.Thread(target=self._work, args=(ready,), daemon=True).start()
        ready.wait()
        if self._failed is not None:
            raise self._failed

    def make(self, sentence: str, words_a_minute: int, then: Callable[[Speech], None]) -> None:
        """Make a sentence after those already asked for, and pass it to `then` in the thread."""
        self._want(sentence, words_a_minute, then)

    def pass_on(self, sound: Speech, then: Callable[[Speech], None]) -> None:
        """Pass sound that is there already to `then`, in its turn after what was asked for."""
        self._want(sound, 0, then)

    def _want(self, what: str | Speech, rate: int, then: Callable[[Speech], None]) -> None:
        with self._changed:
            self._wanted.append((what, rate, then))
            self._changed.notify_all()

    def prepare(self, wanted: Iterable[str], words_a_minute: int) -> None:
        """Make these sentences when there is nothing else to do, in place of those before."""
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
        """Wait until everything that was asked for is made and passed on, or has failed."""
        with self._changed:
            self._changed.wait_for(lambda: not self._wanted and not self._busy)

    def _work(self, ready: threading.Event) -> None:
        try:
            engine = self._start()
        except AssistantError as error:
            self._failed = error
            return
        except Exception as error:
            # Engines raise whatever their platform gives them.
            self._failed = AssistantError(f"No speech engine could be started ({error!r}).")
            return
        finally:
            ready.set()
        while True:
            with self._changed:
                self._busy = False
                self._changed.notify_all()
                self._changed.wait_for(lambda: self._wanted or self._ahead)
                then: Callable[[Speech], None] | None = None
                sentence: str | Speech
                if self._wanted:
                    sentence, rate, then = self._wanted.popleft()
                else:
                    sentence, rate = self._ahead.popleft()
                self._busy = then is not None
            try:
                speech = self._made(engine, sentence, rate)
                if then is not None:
                    then(speech)
            except Exception as error:
                # The words are on the screen.
                why = error if isinstance(error, AssistantError) else repr(error)
                _log.warning("Not spoken: “%s” %s", sentence, why)

    def _made(self, engine: Engine, sentence: str | Speech, words_a_minute: int) -> Speech:
        if isinstance(sentence, Speech):
            return sentence
        key = sentence, words_a_minute
        speech = self._kept.get(key)
        if speech is None:
            speech = Speech(_trimmed(engine.sound(sentence, words_a_minute)), engine.rate)
            self._kept[key] = speech
        return speech


def _trimmed(samples: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Return the samples without the silence at both ends."""
    loud = np.flatnonzero(np.abs(samples) > SYNTHESIS.silence)
    return samples[loud[0] : loud[-1] + 1] if len(loud) else samples[:0]
