"""Where phrases begin and end in a stream of sound."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from assistant.audio.pcm import RATE

PAUSE_S = 0.4
"""Silence that ends a phrase, where nothing else is asked for."""


@dataclass(frozen=True)
class Phrase:
    """One phrase: its 16-bit PCM with a little of what was before it, and where it starts (s)."""

    data: bytes
    start_s: float

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.data) / 2 / RATE


class Endpointer:
    """Cuts a stream of 16 kHz mono 16-bit PCM into phrases by voice activity.

    A phrase starts when most of the last `pause_s` was speech, and takes in `pre_roll_s` before
    that, so that a soft first sound is not lost. It ends when most of the last `pause_s` was not
    speech, or after `longest_s`. `strictness` is the voice activity detector's, 0 to 3: the higher,
    the less noise is taken for speech.
    """

    def __init__(
        self,
        pause_s: float = PAUSE_S,
        pre_roll_s: float = 0.2,
        longest_s: float = 20.0,
        strictness: int = 2,
    ) -> None:
        self._pause_s = pause_s
        self._strictness = strictness
        self._activity = self._fresh()
        self._frame_bytes: int = self._activity.frame_bytes
        self._frame_s = self._frame_bytes / 2 / RATE
        self._longest = round(longest_s / self._frame_s)
        self._before: deque[bytes] = deque(maxlen=round((pause_s + pre_roll_s) / self._frame_s))
        self._phrase: list[bytes] = []
        self._rest = bytearray()
        self._frames = 0

    def _fresh(self) -> Any:
        import pocketsphinx

        return pocketsphinx.Endpointer(
            window=self._pause_s, vad_mode=self._strictness, sample_rate=RATE
        )

    @property
    def in_speech(self) -> bool:
        """Whether someone is speaking now."""
        return bool(self._phrase)

    def feed(self, block: bytes) -> Iterator[Phrase]:
        """Take the next block, of any length; the phrases that ended in it."""
        self._rest += block
        while len(self._rest) >= self._frame_bytes:
            frame = bytes(self._rest[: self._frame_bytes])
            del self._rest[: self._frame_bytes]
            phrase = self._take(frame)
            if phrase:
                yield phrase

    def flush(self) -> Iterator[Phrase]:
        """End the stream: the phrase that was being spoken, if any."""
        if self._phrase:
            self._phrase.append(bytes(self._rest))
            yield self._end()
        self._rest.clear()
        self._before.clear()
        self._activity = self._fresh()

    def _take(self, frame: bytes) -> Phrase | None:
        self._frames += 1
        self._activity.process(frame)
        if self._activity.in_speech:
            if not self._phrase:
                self._phrase = list(self._before)
                self._before.clear()
            self._phrase.append(frame)
            if len(self._phrase) >= self._longest:
                self._activity = self._fresh()
                return self._end()
        elif self._phrase:
            self._phrase.append(frame)
            return self._end()
        else:
            self._before.append(frame)
        return None

    def _end(self) -> Phrase:
        data = b"".join(self._phrase)
        self._phrase = []
        end_s = self._frames * self._frame_s
        return Phrase(data, max(0.0, end_s - len(data) / 2 / RATE))
