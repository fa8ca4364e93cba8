"""Speech from text: pyttsx3, with eSpeak NG from its own package on Linux."""

from __future__ import annotations

import contextlib
import ctypes
import io
import os
import re
import sys
import tempfile
import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from assistant.errors import AssistantError

WORDS_A_MINUTE = 150
"""Slow enough for numbers over workshop noise."""

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
                print(f"Not spoken: {error}.", file=sys.stderr)
                continue
            if then is not None:
                then(speech)

    def _made(self, engine: Any, sentence: str, words_a_minute: int) -> Speech:
        import soundfile

        key = sentence, words_a_minute
        speech = self._kept.pop(key, None)
        if speech is None:
            engine.setProperty("rate", words_a_minute)
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "sentence.wav"
                write_wav(engine, sentence, path)
                samples, rate = soundfile.read(path, dtype="float32")
            speech = Speech(_trimmed(samples), rate)
        self._kept[key] = speech
        if len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return speech


def _trimmed(samples: npt.NDArray[np.float32]) -> npt.NDArray[np.float32]:
    """Leave away the silence at both ends."""
    loud = np.flatnonzero(np.abs(samples) > _SILENT)
    return samples[loud[0] : loud[-1] + 1] if len(loud) else samples[:0]


def start_engine() -> Any:
    """Start the platform's speech engine, for the thread that asks. None: AssistantError."""
    if sys.platform.startswith("linux"):
        _bring_espeak()
    try:
        import pyttsx3

        engine = pyttsx3.init()
        if sys.platform.startswith("linux"):
            engine.setProperty("voice", "gmw/en")
        engine.setProperty("rate", WORDS_A_MINUTE)
    except Exception as error:
        # Drivers raise whatever their platform gives them.
        raise AssistantError(f"no speech engine could be started ({error})") from None
    return engine


def _bring_espeak() -> None:
    """Load the eSpeak NG of its Python package, so that pyttsx3 finds it under its usual name.

    The driver opens libespeak-ng.so.1 by name; a library that is loaded already answers to its
    name. The data is found through the environment.
    """
    try:
        import espeakng_loader

        library = Path(espeakng_loader.get_library_path()).with_name("libespeak-ng.so.1")
        os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
        ctypes.CDLL(str(library), mode=ctypes.RTLD_GLOBAL)
    except (ImportError, OSError, RuntimeError):
        return  # One that is installed on the system may still be found.


def write_wav(engine: Any, text: str, path: Path) -> None:
    """Speak the text into a WAV file with an engine. Nothing in it, or written: AssistantError."""
    if not text.strip():
        raise AssistantError("There is nothing to say; give some text.")
    path.unlink(missing_ok=True)
    # The driver prints where it has saved the file.
    with contextlib.redirect_stdout(io.StringIO()):
        engine.save_to_file(text, str(path))
        engine.runAndWait()
        _finish()
    if not path.is_file():
        raise AssistantError(f"the speech engine wrote nothing to {path}")


def _finish() -> None:
    """Wait until eSpeak has written all: its driver's loop ends before a long text is done."""
    driver = sys.modules.get("pyttsx3.drivers._espeak")
    if driver is not None:
        driver.Synchronize()
