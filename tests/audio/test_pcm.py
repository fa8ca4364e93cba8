"""Sound files as shops have them: any rate, size and number of channels, and broken ones."""

import warnings
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.audio import pcm
from assistant.errors import AssistantError


def tone(rate: int, seconds: float = 1.0, channels: int = 1) -> np.ndarray:
    """A 440 Hz tone of amplitude 0.5, shape (frames, channels)."""
    wave = 0.5 * np.sin(2 * np.pi * 440 * np.arange(int(rate * seconds)) / rate)
    return np.repeat(wave[:, None], channels, axis=1)


@pytest.mark.parametrize("rate", [8000, 11025, 16000, 22050, 44100, 48000])
@pytest.mark.parametrize(
    ("kind", "subtype", "noise"),
    [
        ("WAV", "PCM_U8", 0.01),
        ("WAV", "PCM_16", 1e-3),
        ("WAV", "PCM_24", 1e-3),
        ("WAV", "PCM_32", 1e-3),
        ("WAV", "FLOAT", 1e-3),
        ("WAV", "ULAW", 0.02),
        ("FLAC", "PCM_16", 1e-3),
        ("FLAC", "PCM_24", 1e-3),
    ],
)
def test_rates_and_sizes(tmp_path: Path, rate: int, kind: str, subtype: str, noise: float) -> None:
    path = tmp_path / f"a.{kind.lower()}"
    soundfile.write(path, tone(rate, channels=2), rate, format=kind, subtype=subtype)
    sound = pcm.read(path)
    assert sound.seconds == pytest.approx(1.0, abs=0.001)
    middle = sound.samples[4000:12000] / 32768
    expected = tone(16000)[4000:12000, 0]
    assert float(np.sqrt(np.mean((middle - expected) ** 2))) < noise


def test_channels_are_averaged(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    both = np.column_stack([tone(16000)[:, 0], -tone(16000)[:, 0]])
    soundfile.write(path, both, 16000)
    assert int(np.abs(pcm.read(path).samples).max()) <= 1


def test_a_file_that_breaks_off_is_used_as_far_as_it_goes(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, tone(16000), 16000, subtype="PCM_16")
    path.write_bytes(path.read_bytes()[: 44 + 16000])
    with pytest.warns(UserWarning, match=r"a\.wav breaks off after 0\.5 s"):
        assert pcm.read(path).seconds == pytest.approx(0.5)


def test_a_recorder_that_promises_no_length(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, tone(16000), 16000, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    data[4:8] = data[40:44] = b"\xff\xff\xff\xff"
    path.write_bytes(data)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert pcm.read(path).seconds == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", "is empty"),
        (b"hello, this is text\n" * 20, "is not sound"),
        (b"RIFF", "is not sound"),
        (b"RIFF\x24\x00\x00\x00WAVEfmt ", "is not sound"),
    ],
)
def test_what_is_no_sound(tmp_path: Path, data: bytes, expected: str) -> None:
    path = tmp_path / "take1.wav"
    path.write_bytes(data)
    with pytest.raises(AssistantError, match=expected) as error:
        pcm.read(path)
    assert "take1.wav" in str(error.value)


def test_header_only_folder_and_missing(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    soundfile.write(path, tone(16000)[:0], 16000)
    with pytest.raises(AssistantError, match="no sound"):
        pcm.read(path)
    soundfile.write(path, tone(16000), 16000)
    path.write_bytes(path.read_bytes()[:44])
    with pytest.raises(AssistantError, match="breaks off before any sound"):
        pcm.read(path)
    with pytest.raises(AssistantError, match="is a folder"):
        pcm.read(tmp_path)
    with pytest.raises(AssistantError, match="No such file"):
        pcm.read(tmp_path / "none.wav")


def test_flac_and_wav_come_back_the_same(tmp_path: Path) -> None:
    sound = pcm.Pcm((tone(16000)[:, 0] * 32767).astype(np.int16))
    flac, wav = tmp_path / "a.flac", tmp_path / "a.wav"
    flac.write_bytes(pcm.write_flac(sound.tobytes()))
    pcm.write_wav(sound, wav)
    assert pcm.read(flac).tobytes() == pcm.read(wav).tobytes() == sound.tobytes()
    with pytest.raises(AssistantError, match="cannot be written"):
        pcm.write_wav(sound, tmp_path / "none" / "a.wav")
