"""Sound files from anybody: broken, lying about their length, years of silence in a few bytes."""

from __future__ import annotations

import io
import random
import struct
import warnings
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import strategies as st

from assistant.audio import pcm
from assistant.errors import AssistantError
from tests.safety.hammering import hammer, in_time, sizes


def sound(form: str, subtype: str, rate: int = 16000, seconds: float = 0.2) -> bytes:
    samples = np.sin(np.arange(int(rate * seconds)) / 9).astype(np.float32) / 2
    out = io.BytesIO()
    soundfile.write(out, samples, rate, format=form, subtype=subtype)
    return out.getvalue()


SAMPLES = [
    *(sound("WAV", "PCM_16"), sound("WAV", "FLOAT", 44100), sound("WAV", "MS_ADPCM", 8000)),
    *(sound("FLAC", "PCM_16"), sound("FLAC", "PCM_24", 48000), sound("OGG", "VORBIS", 22050)),
    *(sound("AIFF", "PCM_16"), sound("AU", "ULAW", 8000), b"RIFF\0\0\0\0WAVE", b"fLaC", b""),
]


@sizes(60, 5000)
def test_mangled_sound(examples: int, tmp_path: Path) -> None:
    file = tmp_path / "a.wav"

    def read(args: tuple[bytes, int, int]) -> None:
        data, edits, seed = args
        chance = random.Random(seed)
        mangled = bytearray(data)
        for _ in range(edits if mangled else 0):
            # Mostly in the head, where the lengths and rates are.
            at = chance.randrange(min(len(mangled), chance.choice((60, len(mangled)))))
            mangled[at] = chance.choice((0, 255, 127, 128, chance.randrange(256)))
        if mangled and chance.random() < 0.2:
            del mangled[chance.randrange(len(mangled)) :]
        file.write_bytes(mangled)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)
            heard = pcm.read(file)
        assert 0 < heard.seconds <= pcm.MOST_SECONDS + 1

    inputs = st.tuples(st.sampled_from(SAMPLES), st.integers(0, 8), st.integers(0, 10**9))
    hammer(read, inputs, examples)


def wav_of(rate: int, samples: int, channels: int = 1) -> bytes:
    data = bytes(2 * channels * samples)
    head = struct.pack("<HHIIHH", 1, channels, rate, rate * 2 * channels, 2 * channels, 16)
    body = (
        b"WAVEfmt " + struct.pack("<I", 16) + head + b"data" + struct.pack("<I", len(data)) + data
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


@pytest.mark.parametrize(
    ("rate", "samples", "channels", "why"),
    [
        (1, 100_000, 1, "1 samples a second"),  # would be 1.6 billion samples of 16 kHz
        (2_000_000_000, 100, 1, "no recording of speech"),
        (16_000, 10, 1000, "1000 channels|not sound"),
        (1000, 3_600_100, 1, "longer than 60 minutes"),
        (44_100, 1, 1, "holds no sound"),  # less than one sample of 16 kHz
    ],
)
def test_what_is_no_recording(
    tmp_path: Path, rate: int, samples: int, channels: int, why: str
) -> None:
    file = tmp_path / "a.wav"
    file.write_bytes(wav_of(rate, samples, channels))
    with in_time(10), pytest.raises(AssistantError, match=why):
        pcm.read(file)


def test_an_hour_and_more_of_silence_in_a_small_file(tmp_path: Path) -> None:
    file = tmp_path / "a.flac"
    with soundfile.SoundFile(file, "w", 8000, 1, "PCM_16", format="FLAC") as out:
        for _ in range(61):
            out.write(np.zeros(8000 * 60, np.int16))
    assert file.stat().st_size < 500_000
    with in_time(15), pytest.raises(AssistantError, match="longer than 60 minutes"):
        pcm.read(file)
