"""Made-up devices on a clock of their own, which goes as fast as sound is taken."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from assistant.audio.capture import BLOCK_S
from assistant.audio.cue import Cue
from assistant.audio.microphone import Block, Microphone
from assistant.audio.pcm import RATE
from assistant.audio.voice import PrintedVoice

BLOCK = round(BLOCK_S * RATE)
Samples = npt.NDArray[np.int16]


class MadeUpMicrophone(Microphone):
    """Gives what `sound(start)` returns for the block that starts at this sample.

    When that is None the run is over: KeyboardInterrupt, as when somebody stops it.
    """

    def __init__(self, sound: Callable[[int], Samples | None]) -> None:
        super().__init__()
        self.connected = True
        self.now = 0.0
        self.news: dict[float, str] = {}
        """What `tend` has to tell, by the time from which on; there is a gap in the sound then."""
        self._sound = sound
        self._gap = False

    def clock(self) -> float:
        """Return the time on its clock, in seconds."""
        return self.now

    def tend(self) -> str | None:
        """Tell the news that is due."""
        due = next((at for at in self.news if at <= self.now), None)
        if due is None:
            return None
        self._gap = True
        return self.news.pop(due)

    def next(self, timeout: float = 0.25) -> Block | None:
        """Return the next block at once."""
        block = self._sound(round(self.now * RATE))
        if block is None:
            raise KeyboardInterrupt
        self.now += BLOCK_S
        follows, self._gap = not self._gap, False
        return Block(block.tobytes(), self.now, follows)


def recorded(sound: Samples) -> Callable[[int], Samples | None]:
    """Return what gives a recording block by block, with a room's noise under it."""
    noise = np.random.default_rng(5).normal(0, 12, len(sound) + BLOCK)
    noisy = np.clip(noise[: len(sound)] + sound, -32768, 32767).astype(np.int16)
    return lambda start: noisy[start : start + BLOCK] if start + BLOCK <= len(noisy) else None


class MadeUpVoice(PrintedVoice):
    """A voice that takes its time on the microphone's clock, and remembers what was done to it."""

    def __init__(self, clock: Callable[[], float], letters_a_second: float = 14.0) -> None:
        self.cues: list[Cue] = []
        self.cut: list[str] = []
        self.ducked = False
        self._clock = clock
        self._pace = letters_a_second
        self._said: list[tuple[float, float, str]] = []

    def cue(self, cue: Cue) -> None:
        self.cues.append(cue)

    def say(self, text: str) -> None:
        begun = max([self._clock(), *(until for _, until, _ in self._said)])
        self._said.append((begun, begun + len(text) / self._pace, text))

    def stop(self) -> bool:
        now = self._clock()
        self.cut += [text for _, until, text in self._said if until > now]
        was = any(until > now for _, until, _ in self._said)
        self._said = [(a, min(until, now), text) for a, until, text in self._said if a < now]
        return was

    def duck(self, on: bool) -> None:
        self.ducked |= on

    def audible(self, since: float, until: float) -> bool:
        return any(begun <= until and since <= end for begun, end, _ in self._said)

    def saying(self, at: float) -> str:
        return next((text for begun, _, text in reversed(self._said) if begun <= at), "")

    def spoken_until(self) -> float:
        """Return when the last thing is said."""
        return max(until for _, until, _ in self._said)
