"""Where phrases begin and end in a stream of sound."""

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from assistant.audio.activity import VoiceActivity
from assistant.audio.pcm import RATE, from_bytes


@dataclass(frozen=True)
class Endpointing:
    """When a phrase begins and ends.

    By trial on the voices of audio_fixtures with shop noise under them; `tests.benchmark` measures
    what comes of them on a stream.
    """

    pause_s: float = 0.4
    """Silence (s) that ends a phrase where the caller asks for nothing else. Shorter answers
    sooner, and cuts phrases in two."""
    pre_roll_s: float = 0.2
    """Sound (s) kept from before a phrase begins, so that a soft first sound is not lost."""
    longest_s: float = 20.0
    """A phrase is ended after so long (s), whatever is heard."""
    strictness: int = 2
    """The voice activity detector's mode, 0 to 3. Higher: less noise is taken for speech."""
    window_s: float = 0.4
    """Time (s) over which that detector decides whether somebody speaks."""
    pause_share: float = 0.3
    pause_below_db: float = 30.0
    """A pause is no louder than this share, in dB, of the way from the floor to the speech, or is
    this far below the speech. More: soft ends of words count as pauses."""
    clear_db: float = 30.0
    """Speech so far (dB) above its floor can be told from a pause by level alone."""
    low_s: float = 0.8
    """Time (s) of low level that ends speech in noise; while someone speaks the level falls too,
    but not for so long."""
    speech_probability: float = 0.5
    """Probability of a voice, from the voice activity model, that counts as speech."""
    voiced_frames: int = 3
    voiced_of: int = 5
    """A phrase begins when so many of so many frames of 30 ms are a voice's. More: short words are
    missed. Fewer: blows begin phrases."""
    room_s: float = 3.0
    above_room_db: float = 3.0
    """The voice activity model is only asked about sound that is this far above the quietest of the
    last seconds: it takes 2 ms for each frame."""
    context_frames: int = 35
    """Frames (a second) that the model judges the end of speech from."""


ENDPOINTING = Endpointing()


@dataclass(frozen=True)
class Phrase:
    """One phrase: its 16-bit PCM, and where it starts in the stream, in seconds.

    It begins with a little of what was before it, and ends with `pause_s` seconds of silence.
    """

    data: bytes
    start_s: float
    pause_s: float = 0.0

    @property
    def seconds(self) -> float:
        """How long it lasts, in seconds."""
        return len(self.data) / 2 / RATE


class Endpointer:
    """Cuts a stream of 16 kHz mono 16-bit PCM into phrases by voice activity.

    A phrase starts when most of the last 0.4 s was speech, and ends when nothing was said for
    `pause_s`, or after `longest_s`. With `activity`, which knows better in noise, it starts after
    0.1 s of a voice, and its end is noticed sooner.

    A caller who knows what was said watches `silent_s`, and sets `pause_s` for the phrase that is
    being spoken; the next one starts with the usual pause again.
    """

    def __init__(
        self, activity: VoiceActivity | None = None, tuning: Endpointing = ENDPOINTING
    ) -> None:
        self.pause_s = tuning.pause_s
        self._tuning = tuning
        self._activity = activity
        self._detector = self._fresh()
        self._frame_bytes: int = self._detector.frame_bytes
        self._frame_s = self._frame_bytes / 2 / RATE
        self._longest = round(tuning.longest_s / self._frame_s)
        before_s = tuning.window_s + tuning.pre_roll_s
        self._before: deque[bytes] = deque(maxlen=round(before_s / self._frame_s))
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
        self._room: deque[float] = deque(maxlen=round(tuning.room_s / self._frame_s))
        self._voiced: deque[bool] = deque(maxlen=tuning.voiced_of)

    def _fresh(self) -> Any:
        import pocketsphinx

        return pocketsphinx.Endpointer(
            window=self._tuning.window_s, vad_mode=self._tuning.strictness, sample_rate=RATE
        )

    @property
    def in_speech(self) -> bool:
        """Whether a phrase is being spoken now, its pauses included."""
        return bool(self._phrase)

    @property
    def silent_s(self) -> float:
        """How long nothing was said (s), up to now, in the phrase that is being spoken."""
        inactive_s = self._inactive * self._frame_s
        low_s = self._low.length * self._frame_s
        return float(
            max(
                self._clear.length * self._frame_s,
                self._unvoiced.length * self._frame_s,
                low_s if low_s >= self._tuning.low_s else 0.0,
                self._tuning.window_s + inactive_s if self._inactive else 0.0,
            )
        )

    def so_far(self) -> Phrase:
        """Return what was said so far of the phrase that is being spoken."""
        data = b"".join(self._phrase)
        start_s = self._frames * self._frame_s - len(data) / 2 / RATE
        return Phrase(data, max(0.0, start_s), self.silent_s)

    def feed(self, block: bytes) -> Iterator[Phrase]:
        """Take the next block, of any length; yield the phrases that ended in it."""
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
        """Take one frame; return the phrase that ended with it, if any."""
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
        """End the stream; yield the phrase that was being spoken, if any."""
        if self._phrase:
            self._phrase.append(bytes(self._rest))
            yield self._end()
        self._rest.clear()
        self._before.clear()
        self._detector = self._fresh()

    def _voice_begins(self, frame: bytes) -> bool:
        """Whether a voice has begun; the model is asked only above the level of the room."""
        assert self._activity is not None
        level = _level(frame)
        self._room.append(level)
        heard = bool(level > np.percentile(self._room, 10) + self._tuning.above_room_db)
        said = b"".join([*self._before, frame]) if heard else b""
        self._voiced.append(
            heard and self._activity.at_end(from_bytes(said)) >= self._tuning.speech_probability
        )
        return sum(self._voiced) >= self._tuning.voiced_frames

    def _measure(self, frame: bytes) -> None:
        """Take note whether this was a pause, by its level and by the voice activity."""
        tuning = self._tuning
        level = _level(frame)
        self._levels.append(level)
        floor, loud = np.percentile(self._levels, [10, 95])
        low = level < max(floor + tuning.pause_share * (loud - floor), loud - tuning.pause_below_db)
        self._low.add(low)
        self._clear.add(low and loud - floor >= tuning.clear_db, at_once=True)
        if self._activity:
            said = from_bytes(b"".join(self._phrase[-tuning.context_frames :]))
            self._unvoiced.add(self._activity.at_end(said) < tuning.speech_probability)

    def _end(self) -> Phrase:
        phrase = self.so_far()
        if self._detector.in_speech:
            # It would take what comes next for more of the same phrase.
            self._detector = self._fresh()
        self._phrase, self._levels = [], []
        self._low, self._clear, self._unvoiced, self._inactive = _Run(), _Run(), _Run(), 0
        self._was_active = False
        self._voiced.clear()
        self.pause_s = self._tuning.pause_s
        return phrase


class _Run:
    """Counts frames in a row that were so; a single one that was not is forgiven."""

    def __init__(self) -> None:
        self.length = 0
        self._others = 0

    def add(self, so: bool, at_once: bool = False) -> None:
        """Take the next frame; with `at_once` even a single other one ends the run."""
        self._others = 0 if so else self._others + 1
        self.length = 0 if self._others >= (1 if at_once else 2) else self.length + so


def _level(frame: bytes) -> float:
    """Return the level of a frame in dB above one step of 16 bits."""
    samples = np.frombuffer(frame, np.int16).astype(np.float64)
    return float(10 * np.log10(np.mean(samples**2) + 1.0))
