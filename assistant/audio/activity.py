"""Whether anybody speaks: Silero VAD, by the model that the package faster-whisper carries."""

import math
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from assistant.audio.pcm import RATE, Pcm, Samples

_CHUNK = 512
"""Samples that the model judges at a time: 32 ms."""
_BEFORE = 32
"""So many give the model enough to go by."""
_CHUNKS = 5
"""A voice is one that lasts for so many of them."""
_VOICE = 0.5
"""Probability from which on a chunk is one of speech."""


class VoiceActivity(Protocol):
    """Tells speech from a wrench put down."""

    def probability(self, sound: Pcm) -> float:
        """How likely it is that somebody speaks somewhere in it, 0 to 1."""

    def at_end(self, sound: Pcm) -> float:
        """How likely it is that somebody speaks at its end, 0 to 1."""

    def voice_s(self, sound: Pcm, since_s: float) -> float:
        """For how many seconds somebody speaks in it, from `since_s` on."""


class Silero:
    """Silero VAD; raises ImportError where faster-whisper is missing."""

    def __init__(self) -> None:
        from faster_whisper.vad import get_vad_model

        self._model: Any = get_vad_model()

    def probability(self, sound: Pcm) -> float:
        """The fifth likeliest of the chunks, so that a blow of 0.1 s does not count."""
        chunks = self._chunks(sound.samples)
        return float(np.sort(chunks)[-_CHUNKS]) if len(chunks) >= _CHUNKS else 0.0

    def at_end(self, sound: Pcm) -> float:
        """That of the last whole chunk, judged with the second before it, in about 2 ms."""
        whole = min(len(sound.samples) // _CHUNK, _BEFORE)
        if not whole:
            return 0.0
        # The library spoils the end of what it is given: one more chunk is put there.
        return float(self._chunks(np.pad(sound.samples[-whole * _CHUNK :], (0, _CHUNK)))[-2])

    def voice_s(self, sound: Pcm, since_s: float) -> float:
        """Counted in whole chunks."""
        later = self._chunks(sound.samples)[math.ceil(since_s * RATE / _CHUNK) :]
        return float(np.count_nonzero(later > _VOICE) * _CHUNK / RATE)

    def _chunks(self, samples: Samples) -> npt.NDArray[np.float32]:
        padded = np.pad(samples.astype(np.float32) / 32768, (0, -len(samples) % _CHUNK))
        likely: npt.NDArray[np.float32] = self._model(padded).ravel()
        return likely
