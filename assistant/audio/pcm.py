"""Sound as every recogniser takes it: 16 kHz, one channel, 16-bit signed PCM."""

import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from assistant.errors import AssistantError

RATE = 16_000
"""Samples a second."""

MOST_SECONDS = 3600
"""Longest recording, in seconds: a file of a few bytes can promise years of silence."""
_RATES = range(1000, 1_000_001)
_MOST_CHANNELS = 64

Samples: TypeAlias = npt.NDArray[np.int16]


@dataclass(frozen=True, eq=False)
class Pcm:
    """A stretch of sound: samples at 16 kHz, shape (n,), little-endian as bytes."""

    samples: Samples

    @property
    def seconds(self) -> float:
        """How long it lasts, in seconds."""
        return len(self.samples) / RATE

    def tobytes(self) -> bytes:
        """Return the samples as little-endian bytes."""
        return self.samples.astype("<i2").tobytes()


def from_bytes(data: bytes) -> Pcm:
    """Return sound from little-endian 16-bit samples; an odd last byte is dropped."""
    return Pcm(np.frombuffer(data[: len(data) // 2 * 2], dtype="<i2").astype(np.int16))


def read(path: Path) -> Pcm:
    """Return the sound in a WAV, FLAC or other file that libsndfile reads, at any rate.

    Channels are averaged. A file that breaks off is read as far as it goes, with a UserWarning.
    Raises AssistantError for a file that is missing, empty, not sound, or longer than
    `MOST_SECONDS`.
    """
    import soundfile
    import soxr

    if path.is_dir():
        raise AssistantError(f"{path} is a folder; name a WAV or FLAC file in it.")
    try:
        size = path.stat().st_size
        if size == 0:
            raise AssistantError(f"{path} is empty; record it again.")
        with soundfile.SoundFile(path) as file:
            rate, promised = file.samplerate, file.frames
            if rate not in _RATES or file.channels > _MOST_CHANNELS:
                raise AssistantError(
                    f"{path} says {rate} samples a second on {file.channels} channels, which is "
                    "no recording of speech."
                )
            sound = _read(file, rate)
            if len(sound) > MOST_SECONDS * rate:
                raise AssistantError(
                    f"{path} is longer than {MOST_SECONDS // 60} minutes; cut it into parts."
                )
    except OSError as error:
        raise AssistantError(f"{path}: cannot be read: {error.strerror or error}.") from None
    except soundfile.LibsndfileError as error:
        raise AssistantError(
            f"{path} is not sound that can be read ({error.error_string.rstrip('.')}); expected a "
            "WAV or FLAC file."
        ) from None
    if len(sound) < promised or _breaks_off(path, size):
        if len(sound) == 0:
            raise AssistantError(f"{path} breaks off before any sound; record it again.")
        warnings.warn(
            f"{path} breaks off after {len(sound) / rate:.1f} s; what is there is used.",
            stacklevel=2,
        )
    # Of a single sample nothing is left at another rate.
    if len(sound) * RATE < rate:
        raise AssistantError(f"{path} holds no sound; record it again.")
    with np.errstate(all="ignore"):  # floating-point files may hold anything
        mono = np.nan_to_num(sound)
        if rate != RATE:
            mono = soxr.resample(mono, rate, RATE)
        return Pcm(np.clip(np.nan_to_num(np.round(mono * 32768)), -32768, 32767).astype(np.int16))


def _read(file: Any, rate: int) -> npt.NDArray[np.float32]:
    """Read all channels averaged, shape (n,); a sample too many where the file is too long."""
    blocks = []
    left = MOST_SECONDS * rate + 1
    while left:
        block = file.read(min(left, rate * 60), dtype="float32", always_2d=True)
        if not len(block):
            break
        with np.errstate(all="ignore"):
            blocks.append(block.mean(axis=1))
        left -= len(block)
    return np.concatenate(blocks) if blocks else np.zeros(0, np.float32)


def _breaks_off(path: Path, size: int) -> bool:
    """Whether a RIFF file is shorter than its header says; libsndfile reads such files silently."""
    with path.open("rb") as file:
        head = file.read(12)
    if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
        return False
    promised = int.from_bytes(head[4:8], "little")
    # Recorders that stream leave 0 or the largest number there: nothing is promised.
    return 0 < promised < 0x7FFF_0000 and promised + 8 > size + 1


def read_flac(data: bytes) -> Pcm:
    """Return the sound of a clip that `write_flac` made; AssistantError for anything else."""
    import soundfile

    try:
        samples, rate = soundfile.read(io.BytesIO(data), dtype="int16")
    except soundfile.LibsndfileError as error:
        raise AssistantError(f"The clip is not sound that can be read ({error}).") from None
    if rate != RATE or samples.ndim != 1:
        raise AssistantError(f"The clip is not one channel at {RATE} samples a second.")
    return Pcm(samples)


def write_flac(data: bytes) -> bytes:
    """Return 16 kHz 16-bit mono PCM bytes as a FLAC file."""
    import soundfile

    out = io.BytesIO()
    soundfile.write(out, from_bytes(data).samples, RATE, format="FLAC", subtype="PCM_16")
    return out.getvalue()


def write_wav(pcm: Pcm, path: Path) -> None:
    """Write a 16 kHz 16-bit mono WAV file. Raises AssistantError where it cannot be written."""
    import soundfile

    try:
        soundfile.write(path, pcm.samples, RATE, format="WAV", subtype="PCM_16")
    except (OSError, soundfile.LibsndfileError) as error:
        raise AssistantError(f"{path}: cannot be written: {error}.") from None
