"""The loudspeaker or headset: plays sounds in turn, can be stopped, knows when it is audible."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import IO

import numpy as np
import numpy.typing as npt

from assistant.audio.device_process import DeviceProcess
from assistant.audio.devices import Kind
from assistant.audio.playback import BEGUN, ENDED, GAIN, ORDER, PLAY, REPORT, STOP


@dataclass(frozen=True)
class Loudness:
    """How replies are played. By judgement, not measured."""

    ducked: int = 25
    """Gain while somebody speaks, in hundredths: 12 dB quieter. Higher: the reply is heard in the
    phrase."""
    drain_s: float = 1.0
    """Longest wait (s) for sound that the device still holds."""


LOUDNESS = Loudness()
_REMEMBERED = 50
"""Stretches that were audible, for `audible` to look in."""


class Loudspeaker(DeviceProcess):
    """A loudspeaker that may go and come back; sound that is played meanwhile is lost."""

    kind = Kind.LOUDSPEAKER
    _module = "assistant.audio.playback"

    def __init__(
        self, name: str | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(name, clock)
        self.begun_at = 0.0
        """When the last sound became audible, on the clock."""
        self._changed = threading.Condition()
        self._sent = self._ended = 0
        self._asked_at = 0.0
        self._heard: deque[tuple[float, float]] = deque(maxlen=_REMEMBERED)
        self._ducked = False

    @property
    def playing(self) -> bool:
        """Whether anything is being played, or about to be."""
        return self.connected and self._sent != self._ended

    def play(self, sound: npt.NDArray[np.float32], rate: int) -> None:
        """Play a sound after what is being played; returns at once. Shape (n,), from -1 to 1."""
        import soxr

        if not self.connected or not len(sound):
            return
        if rate != self.device["rate"]:
            sound = soxr.resample(sound, rate, self.device["rate"])
        data = np.round(np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
        with self._changed:
            if not self.playing:
                self._asked_at = self._clock()
            self._sent += 1
        self._order(PLAY, len(data), data)

    def stop(self) -> bool:
        """Stop what is being played; return whether anything was."""
        was = self.playing
        if was:
            self._order(STOP)
        return was

    def duck(self, on: bool) -> None:
        """Play quieter while somebody speaks, or as loud as before again."""
        if on != self._ducked:
            self._ducked = on
            self._order(GAIN, LOUDNESS.ducked if on else 100)

    def wait(self) -> None:
        """Wait until everything is played, or the device is gone."""
        with self._changed:
            while self.playing:
                self._changed.wait(0.1)
            end = self._heard[-1][1] if self._heard else 0.0
        # The device still holds the end of what the program has sent.
        time.sleep(max(0.0, min(LOUDNESS.drain_s, end - self._clock())))

    def audible(self, since: float, until: float) -> bool:
        """Whether anything was, or will be, audible between these times on the clock."""
        with self._changed:
            if self.playing and until >= self._asked_at:
                return True
            return any(begun <= until and since <= ended for begun, ended in self._heard)

    def _order(self, what: bytes, number: int = 0, data: bytes = b"") -> None:
        process = self._process
        if process is None or process.stdin is None:
            return
        try:
            process.stdin.write(ORDER.pack(what, number) + data)
            process.stdin.flush()
        except (OSError, ValueError):
            # The process has ended; `tend` reports it.
            return

    def _read(self, stream: IO[bytes], stale: Callable[[], bool]) -> None:
        with self._changed:
            # A new process has played nothing yet, at the usual loudness.
            self._sent = self._ended = 0
            self._ducked = False
        while len(frame := stream.read(REPORT.size)) == REPORT.size and not stale():
            at, what, number = REPORT.unpack(frame)
            with self._changed:
                if what == BEGUN:
                    self.begun_at = at
                elif what == ENDED:
                    self._ended = number
                    self._heard.append((self._asked_at, at))
                    self._asked_at = self._clock()
                self._changed.notify_all()

    def _lost(self) -> str:
        return "The loudspeaker is gone; until it is back, read the replies on the screen."

    def _returned(self) -> str:
        return "The loudspeaker is back."
