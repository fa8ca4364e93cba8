"""Voices for test speech that come with pip: nothing here is recorded or kept.

`heart` is a small neural voice (hibari-tts); `deep` and `quick` are the same made another speaker
by resampling, which shifts pitch and formants together, and by tempo. `reed` and `scot` are formant
voices of eSpeak NG. None of them was used to tune anything; those that were are in audio_fixtures.
"""

import ctypes
import functools
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

RATE = 16_000
LEVEL = 0.12
CACHE = Path(tempfile.gettempdir()) / "bench-assistant-voices"

# name: engine, voice, tempo, and how much higher its pitch and formants are.
HELD_OUT: dict[str, tuple[str, str, float, float]] = {
    "heart": ("neural", "heart", 1.0, 1.0),
    "deep": ("neural", "heart", 1.12, 0.85),
    "quick": ("neural", "heart", 1.25, 1.06),
    "reed": ("formant", "en-us+m3", 150, 1.0),
    "scot": ("formant", "en-gb-scotland+m7", 150, 1.0),
}

_SPELLINGS = {
    "circlips": "sir clips",
    "circlip": "sir clip",
    "o rings": "oh rings",
    "o ring": "oh ring",
}


def speak(text: str, voice: str, pause_s: float = 0.15) -> npt.NDArray[np.int16]:
    """The phrase in this voice, at a common level, with a pause and faint hiss around it."""
    kept = CACHE / voice / f"{_safe(text)}.flac"
    if not kept.is_file():
        kept.parent.mkdir(parents=True, exist_ok=True)
        # Two processes may make the same phrase: it is there whole, or not at all.
        begun = kept.with_suffix(f".{os.getpid()}")
        soundfile.write(begun, _made(text, voice), RATE, subtype="PCM_16", format="FLAC")
        begun.replace(kept)
    samples, _ = soundfile.read(kept, dtype="float64")
    pause = np.zeros(int(pause_s * RATE))
    phrase = np.concatenate([pause, samples, pause])
    # The hiss of a quiet room, about -70 dBFS: no microphone gives digital silence.
    phrase += np.random.default_rng(len(text)).normal(0, 0.0003, len(phrase))
    return np.round(np.clip(phrase, -1, 1) * 32767).astype(np.int16)


def _safe(text: str) -> str:
    import hashlib

    return hashlib.sha256(text.encode()).hexdigest()[:20]


def _made(text: str, voice: str) -> npt.NDArray[np.float64]:
    engine, name, tempo, higher = HELD_OUT[voice]
    for word, spelling in _SPELLINGS.items():
        text = text.replace(word, spelling)
    samples, rate = (
        _neural(text, name, tempo) if engine == "neural" else _formant(text, name, tempo)
    )
    samples = soxr.resample(samples, rate * higher, RATE)
    loud = np.flatnonzero(np.abs(samples) > 0.02 * np.abs(samples).max())
    samples = samples[max(0, loud[0] - RATE // 50) : loud[-1] + RATE // 20]
    samples = samples * (LEVEL / np.sqrt(np.mean(samples**2)))
    return np.clip(samples, -1, 1)


@functools.cache
def _hibari(name: str) -> object:
    from hibari import Hibari

    return Hibari(name)


def _neural(text: str, name: str, tempo: float) -> tuple[npt.NDArray[np.float64], float]:
    from hibari import SAMPLE_RATE

    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        _hibari(name).save(text, file.name, speed=tempo, seed=7)  # type: ignore[attr-defined]
        samples, rate = soundfile.read(file.name, dtype="float64")
    assert rate == SAMPLE_RATE
    return samples, rate


def _formant(text: str, name: str, words_a_minute: float) -> tuple[npt.NDArray[np.float64], float]:
    # In a process of its own: the library keeps one voice for the whole process.
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        subprocess.run(
            [
                sys.executable,
                "-m",
                "tests.benchmark.voices",
                name,
                str(int(words_a_minute)),
                file.name,
                text,
            ],
            check=True,
        )
        samples, rate = soundfile.read(file.name, dtype="float64")
    return samples, rate


def _espeak_to_file(name: str, words_a_minute: int, file: str, text: str) -> None:
    import espeakng_loader

    os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
    library = ctypes.CDLL(espeakng_loader.get_library_path())
    synchronous = 2
    rate = library.espeak_Initialize(synchronous, 0, espeakng_loader.get_data_path().encode(), 0)
    got: list[bytes] = []
    callback_type = ctypes.CFUNCTYPE(
        ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
    )

    @callback_type
    def take(samples: "ctypes._Pointer[ctypes.c_short]", count: int, events: object) -> int:
        if samples and count:
            got.append(ctypes.string_at(samples, count * 2))
        return 0

    library.espeak_SetSynthCallback(take)
    if library.espeak_SetVoiceByName(name.encode()) != 0:
        raise SystemExit(f"no voice {name}")
    rate_parameter = 1
    library.espeak_SetParameter(rate_parameter, words_a_minute, 0)
    data = text.encode()
    library.espeak_Synth(data, len(data) + 1, 0, 0, 0, 1, None, None)
    library.espeak_Synchronize()
    soundfile.write(file, np.frombuffer(b"".join(got), dtype=np.int16), rate, subtype="PCM_16")


if __name__ == "__main__":
    _espeak_to_file(sys.argv[1], int(sys.argv[2]), sys.argv[3], sys.argv[4])
