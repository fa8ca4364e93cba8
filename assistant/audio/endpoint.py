"""Where phrases begin and end in a stream of sound."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from assistant.audio.activity import VoiceActivity
from assistant.audio.pcm import RATE, from_bytes

PAUSE_S = 0.4
"""Silence that ends a phrase, where nothing else is asked for."""

_WINDOW_S = 0.4
"""Over so long the voice activity detector decides whether somebody speaks."""
_PAUSE_SHARE = 0.3
_PAUSE_BELOW_DB = 30.0
"""A pause is no louder than this share, in dB, of the way from the floor to the speech, or is this
far below the speech."""
_CLEAR_DB = 30.0
"""Speech so far above its floor can be told from a pause by level alone."""
_LOW_S = 0.8
"""In noise the level falls now and then while someone speaks, but not for so long."""
_SPEECH = 0.5
_VOICED_FRAMES, _VOICED_OF = 3, 5
"""A voice begins when so many of so many frames are one's."""
_ROOM_S = 3.0
_ABOVE_ROOM_DB = 3.0
"""What is this far above the quietest of the last seconds is worth asking the voice activity."""
_HEARD_FRAMES = 35
"""What the voice activity is judged from: a second."""


@dataclass(frozen=True)
class Phrase:
    """One phrase: its 16-bit PCM with a little of what was before it, and where it starts (s).

    It ends with `pause_s` of silence.
    """

    data: bytes
    start_s: float
    pause_s: float = 0.0

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.data) / 2 / RATE


class Endpointer:
    """Cuts a stream of 16 kHz mono 16-bit PCM into phrases by voice activity.

    A phrase starts when most of the last 0.4 s was speech, and takes in `pre_roll_s` before that,
    so that a soft first sound is not lost. It ends when nothing was said for `pause_s`, or after
    `longest_s`. `strictness` is the voice activity detector's, 0 to 3: the higher, the less noise
    is taken for speech. With `activity`, which in noise knows better, a phrase starts after 0.1 s
    of a voice, and its end is noticed sooner.

    Whoever knows more of what is said watches `silent_s`, and sets `pause_s` for the phrase that
    is being spoken: for the next one it is what it was.
    """

    def __init__(
        self,
        pause_s: float = PAUSE_S,
        pre_roll_s: float = 0.2,
        longest_s: float = 20.0,
        strictness: int = 2,
        activity: VoiceActivity | None = None,
    ) -> None:
        self.pause_s = self._usual_pause_s = pause_s
        self._strictness = strictness
        self._activity = activity
        self._detector = self._fresh()
        self._frame_bytes: int = self._detector.frame_bytes
        self._frame_s = self._frame_bytes / 2 / RATE
        self._longest = round(longest_s / self._frame_s)
        self._before: deque[bytes] = deque(maxlen=round((_WINDOW_S + pre_roll_s) / self._frame_s))
        self._phrase: list[bytes] = []
        self._rest = bytearray()
        self._frames = 0
        self._levels: list[float] = []
        # Frames, up to now, in which the level was that of a pause; in which it was so beside clear
        # speech; and in which the voice activity was low.
        self._low, self._clear, self._unvoiced = _Run(), _Run(), _Run()
        self._inactive = 0
        """Frames since the detector found that nobody speaks."""
        self._was_active = False
        self._room: deque[float] = deque(maxlen=round(_ROOM_S / self._frame_s))
        self._voiced: deque[bool] = deque(maxlen=_VOICED_OF)

    def _fresh(self) -> Any:
        import pocketsphinx

        return pocketsphinx.Endpointer(
            window=_WINDOW_S, vad_mode=self._strictness, sample_rate=RATE
        )

    @property
    def in_speech(self) -> bool:
        """Whether a phrase is being spoken now, its pauses included."""
        return bool(self._phrase)

    @property
    def silent_s(self) -> float:
        """How long nothing was said, up to now, in the phrase that is being spoken."""
        low_s = self._low.length * self._frame_s
        return float(
            max(
                self._clear.length * self._frame_s,
                self._unvoiced.length * self._frame_s,
                low_s if low_s >= _LOW_S else 0.0,
                _WINDOW_S + self._inactive * self._frame_s if self._inactive else 0.0,
            )
        )

    def so_far(self) -> Phrase:
        """What was said of the phrase that is being spoken."""
        data = b"".join(self._phrase)
        start_s = self._frames * self._frame_s - len(data) / 2 / RATE
        return Phrase(data, max(0.0, start_s), self.silent_s)

    def feed(self, block: bytes) -> Iterator[Phrase]:
        """Take the next block, of any length; the phrases that ended in it."""
        for frame in self.frames(block):
            phrase = self.take(frame)
            if phrase:
                yield phrase

    def frames(self, block: bytes) -> Iterator[bytes]:
        """Cut the stream into frames of the length that `take` needs."""
        self._rest += block
        while len(self._rest) >= self._frame_bytes:
            frame = bytes(self._rest[: self._frame_bytes])
            del self._rest[: self._frame_bytes]
            yield frame

    def take(self, frame: bytes) -> Phrase | None:
        """Take one frame; the phrase that ended with it."""
        self._frames += 1
        self._detector.process(frame)
        active = self._detector.in_speech
        if not self._phrase:
            if not (self._voice_begins(frame) if self._activity else active):
                self._before.append(frame)
                return None
            self._phrase = list(self._before)
            self._before.clear()
            self._levels = [_level(earlier) for earlier in self._phrase]
        self._phrase.append(frame)
        # It may have found the phrase's beginning late, or not at all.
        self._was_active |= active
        self._inactive = 0 if active or not self._was_active else self._inactive + 1
        self._measure(frame)
        if self.silent_s >= self.pause_s:
            return self._end()
        if len(self._phrase) >= self._longest:
            self._detector = self._fresh()
            return self._end()
        return None

    def flush(self) -> Iterator[Phrase]:
        """End the stream: the phrase that was being spoken, if any."""
        if self._phrase:
            self._phrase.append(bytes(self._rest))
            yield self._end()
        self._rest.clear()
        self._before.clear()
        self._detector = self._fresh()

    def _voice_begins(self, frame: bytes) -> bool:
        """Tell whether a voice has begun, from the voice activity where anything is to be heard."""
        assert self._activity is not None
        level = _level(frame)
        self._room.append(level)
        heard = bool(level > np.percentile(self._room, 10) + _ABOVE_ROOM_DB)
        said = b"".join([*self._before, frame]) if heard else b""
        self._voiced.append(heard and self._activity.at_end(from_bytes(said)) >= _SPEECH)
        return sum(self._voiced) >= _VOICED_FRAMES

    def _measure(self, frame: bytes) -> None:
        """Tell from the level, and in noise from the voice activity, whether this was a pause."""
        level = _level(frame)
        self._levels.append(level)
        floor, loud = np.percentile(self._levels, [10, 95])
        low = level < max(floor + _PAUSE_SHARE * (loud - floor), loud - _PAUSE_BELOW_DB)
        self._low.add(low)
        self._clear.add(low and loud - floor >= _CLEAR_DB, at_once=True)
        if self._activity:
            said = from_bytes(b"".join(self._phrase[-_HEARD_FRAMES:]))
            self._unvoiced.add(self._activity.at_end(said) < _SPEECH)

    def _end(self) -> Phrase:
        phrase = self.so_far()
        if self._detector.in_speech:
            # It would take what comes next for more of the same phrase.
            self._detector = self._fresh()
        self._phrase, self._levels = [], []
        self._low, self._clear, self._unvoiced, self._inactive = _Run(), _Run(), _Run(), 0
        self._was_active = False
        self._voiced.clear()
        self.pause_s = self._usual_pause_s
        return phrase


class _Run:
    """How many frames in a row were so, up to now; a single one that was not does not count."""

    def __init__(self) -> None:
        self.length = 0
        self._others = 0

    def add(self, so: bool, at_once: bool = False) -> None:
        """Take the next frame; `at_once` where even a single other one ends it."""
        self._others = 0 if so else self._others + 1
        self.length = 0 if self._others >= (1 if at_once else 2) else self.length + so


def _level(frame: bytes) -> float:
    """The level of a frame in dB above one step."""
    samples = np.frombuffer(frame, np.int16).astype(np.float64)
    return float(10 * np.log10(np.mean(samples**2) + 1.0))
