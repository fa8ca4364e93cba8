"""Whether anybody speaks: Silero VAD, by the model that the package faster-whisper carries."""

from typing import Any, Protocol

import numpy as np

from assistant.audio.pcm import Pcm

_CHUNK = 512
"""Samples that the model judges at a time: 32 ms."""
_CHUNKS = 5
"""A voice is one that lasts for so many of them."""


class VoiceActivity(Protocol):
    """Tells speech from a wrench put down."""

    def probability(self, sound: Pcm) -> float:
        """How likely it is that somebody speaks somewhere in it, 0 to 1."""


class Silero:
    """Silero VAD; raises ImportError where faster-whisper is missing."""

    def __init__(self) -> None:
        from faster_whisper.vad import get_vad_model

        self._model: Any = get_vad_model()

    def probability(self, sound: Pcm) -> float:
        """The fifth likeliest of the chunks, so that a blow of 0.1 s does not count."""
        samples = sound.samples.astype(np.float32) / 32768
        chunks = self._model(np.pad(samples, (0, -len(samples) % _CHUNK))).ravel()
        if len(chunks) < _CHUNKS:
            return 0.0
        return float(np.sort(chunks)[-_CHUNKS])
