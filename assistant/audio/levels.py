"""Whether a microphone is loud enough, clear enough of the room's noise, and not overdriven.

Levels are in decibels relative to full scale (dBFS, of the root mean square; a full square wave
is 0).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from assistant.audio.pcm import Samples, from_bytes


@dataclass(frozen=True)
class MicrophoneLevels:
    """Levels at which a microphone is at fault. Common practice, not measured."""

    muted_db: float = -90.0
    """No room is quieter (dBFS): the microphone is switched off."""
    too_quiet_db: float = -45.0
    """Speech below this (dBFS) is too quiet. Higher: more people are told to come nearer."""
    above_noise_db: float = 12.0
    """Least distance (dB) of speech from the room's noise."""
    clipped_at: int = 32_700
    clipped_share: float = 0.001
    """Share of the samples at or beyond this value that is overdriven; fewer are stray."""
    frame: int = 480
    speech_percentile: float = 80.0
    """The level of speech is this percentile of the levels of frames of so many samples."""
    phrases: int = 3
    """Phrases in a row that must show a fault: one cough says nothing about a microphone."""


LEVELS = MicrophoneLevels()


def level(samples: Samples) -> float:
    """Return the level of sound in dBFS; of none at all, -120."""
    if not len(samples):
        return -120.0
    power = float(np.mean(samples.astype(np.float64) ** 2)) / 32768**2
    return max(-120.0, 10 * math.log10(max(power, 1e-12)))


def speech_level(samples: Samples) -> float:
    """Return the level of the louder parts of a phrase, without its pauses, in dBFS."""
    frames = [
        level(samples[start : start + LEVELS.frame])
        for start in range(0, max(1, len(samples) - LEVELS.frame + 1), LEVELS.frame)
    ]
    return float(np.percentile(frames, LEVELS.speech_percentile))


def clips(samples: Samples) -> bool:
    """Whether more of it than a stray sample is cut off at full scale."""
    clipped = np.abs(samples.astype(np.int32)) >= LEVELS.clipped_at
    return float(np.mean(clipped)) > LEVELS.clipped_share


def judged(speech_db: float, noise_db: float | None, clipped: bool) -> str | None:
    """Return what is wrong with speech at this level in this noise and what to do, or None."""
    if clipped:
        return "The microphone is overdriven. Turn it down, or hold it farther from your mouth."
    if speech_db < LEVELS.too_quiet_db:
        return "The microphone is too quiet. Turn it up, or bring it nearer to your mouth."
    if noise_db is not None and speech_db < noise_db + LEVELS.above_noise_db:
        return "The room is nearly as loud as you are. Bring the microphone nearer to your mouth."
    return None


class Levels:
    """Watches a microphone's levels, and reports each fault once."""

    def __init__(self) -> None:
        self.noise_db: float | None = None
        """Level of the room without speech (dBFS), as measured last."""
        self._speech: list[float] = []
        self._clipped = 0
        self._told: set[str] = set()

    def room(self, data: bytes) -> str | None:
        """Take a stretch without speech, PCM bytes; return advice if something is wrong."""
        self.noise_db = level(from_bytes(data).samples)
        if self.noise_db < LEVELS.muted_db:
            return self._once(
                "The microphone gives no sound at all. It may be switched off, or the wrong one."
            )
        return None

    def phrase(self, data: bytes) -> str | None:
        """Take a phrase, PCM bytes; return advice if the last few were faulty."""
        samples = from_bytes(data).samples
        self._speech = [*self._speech, speech_level(samples)][-LEVELS.phrases :]
        self._clipped = self._clipped + 1 if clips(samples) else 0
        if len(self._speech) < LEVELS.phrases:
            return None
        fault = judged(max(self._speech), self.noise_db, self._clipped >= LEVELS.phrases)
        return None if fault is None else self._once(fault)

    def _once(self, sentence: str) -> str | None:
        if sentence in self._told:
            return None
        self._told.add(sentence)
        return sentence
