"""Voice activity: Silero VAD, with the model that the package faster-whisper carries."""

import math
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from assistant.audio.pcm import RATE, Pcm, Samples

_CHUNK = 512
"""Samples (32 ms) that the model judges at a time; it takes no other number."""


@dataclass(frozen=True)
class Voicing:
    """What counts as a voice. By judgement; checked on the voices and noises of `tests`."""

    context_chunks: int = 32
    """Chunks of 32 ms that the end of a sound is judged with. Fewer is faster and less sure."""
    least_chunks: int = 5
    """Chunks that must be a voice's. Fewer: a blow of 0.1 s counts as one."""
    probability: float = 0.5
    """Probability from which a chunk is a voice's. Lower: noise counts as speech."""


VOICING = Voicing()


class VoiceActivity(Protocol):
    """Tells speech from other sound, such as a wrench put down."""

    def probability(self, sound: Pcm) -> float:
        """Return how likely it is that somebody speaks somewhere in the sound, 0 to 1."""

    def at_end(self, sound: Pcm) -> float:
        """Return how likely it is that somebody speaks at its end, 0 to 1."""

    def voice_s(self, sound: Pcm, since_s: float) -> float:
        """Return for how many seconds somebody speaks, from `since_s` on."""


class Silero:
    """Silero VAD; raises ImportError where faster-whisper is missing."""

    def __init__(self) -> None:
        from faster_whisper.vad import get_vad_model

        self._model: Any = get_vad_model()

    def probability(self, sound: Pcm) -> float:
        """Return the probability of the fifth likeliest chunk: a blow of 0.1 s does not count."""
        chunks, least = self._chunks(sound.samples), VOICING.least_chunks
        return float(np.sort(chunks)[-least]) if len(chunks) >= least else 0.0

    def at_end(self, sound: Pcm) -> float:
        """Return the last whole chunk's, judged with the second before it, in about 2 ms."""
        whole = min(len(sound.samples) // _CHUNK, VOICING.context_chunks)
        if not whole:
            return 0.0
        # The library spoils the end of what it is given: one more chunk is put there.
        return float(self._chunks(np.pad(sound.samples[-whole * _CHUNK :], (0, _CHUNK)))[-2])

    def voice_s(self, sound: Pcm, since_s: float) -> float:
        """Return for how long somebody speaks, counted in whole chunks."""
        later = self._chunks(sound.samples)[math.ceil(since_s * RATE / _CHUNK) :]
        return float(np.count_nonzero(later > VOICING.probability) * _CHUNK / RATE)

    def _chunks(self, samples: Samples) -> npt.NDArray[np.float32]:
        padded = np.pad(samples.astype(np.float32) / 32768, (0, -len(samples) % _CHUNK))
        likely: npt.NDArray[np.float32] = self._model(padded).ravel()
        return likely
