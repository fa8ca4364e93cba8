"""The voice that speaks the replies, with a tone before each."""

from __future__ import annotations

import logging
import threading
import time
from collections import deque
from collections.abc import Iterable
from functools import partial
from pathlib import Path
from typing import Protocol

import numpy as np

from assistant.audio import pcm
from assistant.audio.cue import Cue
from assistant.audio.loudspeaker import Loudspeaker
from assistant.audio.manner import Manner
from assistant.audio.pcm import Pcm
from assistant.audio.synthesis import (
    SYNTHESIS,
    Speech,
    Synthesiser,
    sentences,
    start_engine,
)
from assistant.errors import AssistantError

_REMEMBERED = 20
"""Replies that `saying` looks in."""
_log = logging.getLogger(__name__)


class Voice(Protocol):
    """Speaks replies, or leaves them to whoever shows the dialogue."""

    manner: Manner
    """How fast and loud it speaks from the next reply on."""

    def cue(self, cue: Cue) -> None:
        """Play the tone of the reply that follows."""

    def say(self, text: str) -> None:
        """Say the text, after what is being said."""

    def play(self, sound: Pcm) -> bool:
        """Play sound after what is being said; return False where there is no loudspeaker."""

    def stop(self) -> bool:
        """Stop what is being said, from any thread; return whether anything was cut short."""

    def wait(self) -> None:
        """Wait until everything is said."""

    def prepare(self, replies: Iterable[str]) -> None:
        """Synthesise ahead what is likely to be said next."""

    def duck(self, on: bool) -> None:
        """Speak quieter while somebody else speaks, or as loud as before again."""

    def audible(self, since: float, until: float) -> bool:
        """Whether it is audible between these times, in seconds of `time.monotonic`."""

    def saying(self, at: float) -> str:
        """Return what was being said at that time, or just before."""

    def tend(self) -> str | None:
        """Retry a lost loudspeaker. Returns a sentence when it disappears or returns, else None."""


class PrintedVoice:
    """A voice without sound: whoever shows the dialogue prints the words."""

    def __init__(self) -> None:
        self.manner = Manner()

    def cue(self, cue: Cue) -> None:
        """Do nothing: there is no tone."""

    def say(self, text: str) -> None:
        """Do nothing."""

    def play(self, sound: Pcm) -> bool:
        """Return False: there is no loudspeaker."""
        return False

    def stop(self) -> bool:
        """Return False: nothing is being said."""
        return False

    def wait(self) -> None:
        """Return at once."""

    def prepare(self, replies: Iterable[str]) -> None:
        """Do nothing."""

    def duck(self, on: bool) -> None:
        """Do nothing."""

    def audible(self, since: float, until: float) -> bool:
        """Return False: nothing is audible."""
        return False

    def saying(self, at: float) -> str:
        """Return "": nothing is said."""
        return ""

    def tend(self) -> str | None:
        """Return None: there is no device to retry."""
        return None


class SpokenVoice:
    """Speaks through a loudspeaker.

    With `waits`, `say` returns when everything is said or stopped. Else it returns at once, and
    each sentence is synthesised while the one before is played. Raises AssistantError where there
    is no engine, no sound library or no device.
    """

    def __init__(self, loudspeaker: Loudspeaker, *, waits: bool = True, tones: bool = True) -> None:
        loudspeaker.open()
        self.manner = Manner()
        self._loudspeaker = loudspeaker
        self._synthesiser = Synthesiser()
        self._waits = waits
        self._tones = tones
        self._said: deque[tuple[float, str]] = deque(maxlen=_REMEMBERED)
        self._stops = 0
        self._stopping = threading.Lock()

    def cue(self, cue: Cue) -> None:
        """Play the tone of the reply that follows."""
        from assistant.audio import earcons

        if self._tones:
            self._loudspeaker.play(earcons.sound(cue), earcons.RATE)

    def say(self, text: str) -> None:
        """Say the text, after what is being said."""
        self._said.append((time.monotonic(), text))
        stops = self._stops
        for number, sentence in enumerate(sentences(text)):
            pause = SYNTHESIS.pause_s if number else 0.0
            self._synthesiser.make(sentence, self.manner.rate, partial(self._play, stops, pause))
        if self._waits:
            self.wait()

    def play(self, sound: Pcm) -> bool:
        """Play sound after what is being said, as loud as the replies are set to; return True."""
        self._said.append((time.monotonic(), ""))
        samples = (sound.samples / np.float32(2**15)).astype(np.float32)
        then = partial(self._play, self._stops, SYNTHESIS.pause_s)
        self._synthesiser.pass_on(Speech(samples, pcm.RATE), then)
        if self._waits:
            self.wait()
        return True

    def wait(self) -> None:
        """Wait until everything is said."""
        self._synthesiser.wait()
        self._loudspeaker.wait()

    def stop(self) -> bool:
        """Stop what is being said; return whether anything was cut short."""
        with self._stopping:
            self._stops += 1
            dropped = self._synthesiser.drop()
            return self._loudspeaker.stop() or dropped

    def prepare(self, replies: Iterable[str]) -> None:
        """Synthesise ahead what is likely to be said next."""
        wanted = dict.fromkeys(part for reply in replies for part in sentences(reply))
        self._synthesiser.prepare(wanted, self.manner.rate)

    def duck(self, on: bool) -> None:
        """Speak quieter while somebody else speaks, or as loud as before again."""
        self._loudspeaker.duck(on)

    def audible(self, since: float, until: float) -> bool:
        """Whether it is audible between these times, in seconds of `time.monotonic`."""
        return self._loudspeaker.audible(since, until)

    def saying(self, at: float) -> str:
        """Return what was being said at that time, or just before."""
        before = [text for begun, text in self._said if begun <= at]
        return before[-1] if before else ""

    def tend(self) -> str | None:
        """Retry a lost loudspeaker. Returns a sentence when it disappears or returns, else None."""
        return self._loudspeaker.tend()

    def close(self) -> None:
        """Release the loudspeaker."""
        self._loudspeaker.close()

    def _play(self, stops: int, pause: float, speech: Speech) -> None:
        sound = np.concatenate([np.zeros(round(pause * speech.rate)), speech.samples])
        with self._stopping:
            # A sentence that was being synthesised during a stop is not wanted any more.
            if stops == self._stops:
                self._loudspeaker.play((sound * self.manner.volume).astype(np.float32), speech.rate)


def to_wav(text: str, path: Path) -> None:
    """Speak the text into a WAV file, at the engine's own rate.

    Raises AssistantError where there is no text, no folder or no engine.
    """
    import soundfile

    if not text.strip():
        raise AssistantError("There is nothing to say; give some text.")
    if not path.parent.is_dir():
        raise AssistantError(f"{path.parent}: there is no such folder to write to.")
    engine = start_engine()
    sound = engine.sound(text, Manner().rate)
    try:
        soundfile.write(path, sound, engine.rate, format="WAV", subtype="PCM_16")
    except (OSError, soundfile.LibsndfileError) as error:
        raise AssistantError(f"{path}: cannot be written: {error}.") from None


def open_voice(
    *, silent: bool = False, name: str | None = None, waits: bool = True, tones: bool = True
) -> Voice:
    """Return a voice that speaks, or a silent one where there is no engine or no device.

    `name` is the loudspeaker's, or part of it. Raises AssistantError where a named one is missing.
    """
    if silent:
        return PrintedVoice()
    try:
        return SpokenVoice(Loudspeaker(name), waits=waits, tones=tones)
    except AssistantError as error:
        if name is not None:
            raise
        _log.warning("Replies are printed, not spoken. %s", error)
        return PrintedVoice()
