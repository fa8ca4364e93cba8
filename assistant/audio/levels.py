"""Whether a microphone is loud enough, clear enough of the room's noise, and not overdriven.

Levels are decibels below full scale (dBFS, of the root mean square; a full square wave is 0). The
thresholds are common practice, no source.
"""

from __future__ import annotations

import math

import numpy as np

from assistant.audio.pcm import Samples, from_bytes

MUTED_DB = -90.0
"""Quieter is no room, but a microphone that is switched off."""
TOO_QUIET_DB = -45.0
LEAST_ABOVE_NOISE_DB = 12.0
_CLIPPED = 32_700
_CLIPPED_SHARE = 0.001
_FRAME = 480
_PHRASES = 3
"""One cough says nothing about a microphone."""


def level(samples: Samples) -> float:
    """Return the level of sound in dBFS; of none at all, -120."""
    if not len(samples):
        return -120.0
    power = float(np.mean(samples.astype(np.float64) ** 2)) / 32768**2
    return max(-120.0, 10 * math.log10(max(power, 1e-12)))


def speech_level(samples: Samples) -> float:
    """Return the level of the louder parts of a phrase, without its pauses, in dBFS."""
    frames = [
        level(samples[start : start + _FRAME])
        for start in range(0, max(1, len(samples) - _FRAME + 1), _FRAME)
    ]
    return float(np.percentile(frames, 80))


def clips(samples: Samples) -> bool:
    """Whether more of it than a stray sample is cut off at full scale."""
    return float(np.mean(np.abs(samples.astype(np.int32)) >= _CLIPPED)) > _CLIPPED_SHARE


def judged(speech_db: float, noise_db: float | None, clipped: bool) -> str | None:
    """Return what is wrong with speech at this level in this noise, and what to do; or None."""
    if clipped:
        return "The microphone is overdriven. Turn it down, or hold it farther from your mouth."
    if speech_db < TOO_QUIET_DB:
        return "The microphone is too quiet. Turn it up, or bring it nearer to your mouth."
    if noise_db is not None and speech_db < noise_db + LEAST_ABOVE_NOISE_DB:
        return "The room is nearly as loud as you are. Bring the microphone nearer to your mouth."
    return None


class Levels:
    """Watches a microphone's levels, and has something to say about each fault once."""

    def __init__(self) -> None:
        self.noise_db: float | None = None
        """The room without speech, as it was measured last."""
        self._speech: list[float] = []
        self._clipped = 0
        self._told: set[str] = set()

    def room(self, data: bytes) -> str | None:
        """Take a stretch without speech, PCM bytes; return what is wrong with it, if anything."""
        self.noise_db = level(from_bytes(data).samples)
        if self.noise_db < MUTED_DB:
            return self._once(
                "The microphone gives no sound at all. It may be switched off, or the wrong one."
            )
        return None

    def phrase(self, data: bytes) -> str | None:
        """Take a phrase, PCM bytes; return what is wrong with the last few, if anything."""
        samples = from_bytes(data).samples
        self._speech = [*self._speech, speech_level(samples)][-_PHRASES:]
        self._clipped = self._clipped + 1 if clips(samples) else 0
        if len(self._speech) < _PHRASES:
            return None
        fault = judged(max(self._speech), self.noise_db, self._clipped >= _PHRASES)
        return None if fault is None else self._once(fault)

    def _once(self, sentence: str) -> str | None:
        if sentence in self._told:
            return None
        self._told.add(sentence)
        return sentence
