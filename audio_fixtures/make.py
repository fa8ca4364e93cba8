"""Makes the recordings: every command in every voice, and the phrases of the demos in one or two.

It needs flite and espeak-ng on the path (the Debian packages have these names) and the assistant's
own environment. Run `python audio_fixtures/make.py` in any folder. It makes all recordings again;
commit those that changed. The tests and the demo read the recordings, and nothing runs this script.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import soundfile
import soxr

HERE = Path(__file__).resolve().parent
RATE = 16_000

# Name: (program, its voice). Two are formant-like or diphone voices on purpose: they are harder to
# recognise, and nobody at a bench speaks like a newsreader.
VOICES = {
    "slt": ("flite", "slt"),
    "rms": ("flite", "rms"),
    "awb": ("flite", "awb"),
    "kal": ("flite", "kal16"),
    "esp": ("espeak-ng", "en-us"),
}
DEMO_VOICE = "rms"
"""Who speaks in a demo before its script says who, with a line such as "@voice slt"."""
DEMOS = ("demo", "demo/unwritten")
LEVEL = 0.12
"""Root mean square of the speech; full scale is 1."""

# Spellings that make a synthesiser say a word as people do.
SPELLINGS = {
    "circlips": "sir clips",
    "circlip": "sir clip",
    "o rings": "oh rings",
    "o ring": "oh ring",
}


def speak(text: str, voice: str) -> np.ndarray:
    """Return the phrase as float samples, shape (n,), at RATE, with a pause before and after it.

    The speech has the level LEVEL. Raises CalledProcessError if the synthesiser fails.
    """
    program, name = VOICES[voice]
    for word, spelling in SPELLINGS.items():
        text = text.replace(word, spelling)
    with tempfile.NamedTemporaryFile(suffix=".wav") as wav:
        if program == "flite":
            command = ["flite", "-voice", name, "-t", text, "-o", wav.name]
        else:
            command = ["espeak-ng", "-v", name, "-s", "145", "-w", wav.name, text]
        subprocess.run(command, check=True, capture_output=True)
        samples, rate = soundfile.read(wav.name, dtype="float32")
    samples = soxr.resample(samples, rate, RATE)
    loud = np.flatnonzero(np.abs(samples) > 0.01)
    samples = samples[max(0, loud[0] - RATE // 50) : loud[-1] + RATE // 20]
    samples = samples * (LEVEL / np.sqrt(np.mean(samples**2)))
    pause = np.zeros(RATE // 7, dtype=np.float32)
    # Hiss of a quiet room, about -70 dBFS, because no microphone gives digital silence.
    phrase = np.concatenate([pause, samples, pause])
    hiss = np.random.default_rng(len(text)).normal(0, 0.0003, len(phrase))
    return np.clip(phrase + hiss, -1, 1)


def noisy(samples: np.ndarray, decibels: float) -> np.ndarray:
    """Return the speech with pink noise, like a compressor's, `decibels` below LEVEL."""
    spectrum = np.fft.rfft(np.random.default_rng(0).normal(size=len(samples)))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(len(samples), 1 / RATE), 50))
    noise = np.fft.irfft(spectrum, len(samples))
    level = LEVEL * 10 ** (-decibels / 20)
    return np.clip(samples + noise * (level / np.sqrt(np.mean(noise**2))), -1, 1)


def write(path: Path, samples: np.ndarray) -> None:
    """Write the samples, -1 to 1, as 16-bit mono FLAC at RATE."""
    path.parent.mkdir(parents=True, exist_ok=True)
    soundfile.write(path, samples, RATE, subtype="PCM_16", format="FLAC", compression_level=1.0)


def make_commands() -> int:
    """Make the recordings of all commands and their table; return how many there are.

    Each command is spoken in each voice, or only in the voices that its fifth column names.
    """
    lines = (HERE / "commands.tsv").read_text(encoding="utf-8").splitlines()[1:]
    rows = ["file\tvoice\ttext\tstep\tasked\tintent"]
    for number, line in enumerate(lines, 1):
        text, step, asked, intent, *voices = line.split("\t")
        for voice in voices[0].split() if voices else VOICES:
            file = f"commands/{voice}/{number:03}.flac"
            write(HERE / file, speak(text, voice))
            rows.append(f"{file}\t{voice}\t{text}\t{step}\t{asked}\t{intent}")
    (HERE / "utterances.tsv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return len(rows) - 1


def make_demo(folder: Path) -> int:
    """Make the recordings of a demo's phrases, numbered as in its script; return how many."""
    for old in folder.glob("*.flac"):
        old.unlink()
    number, voice = 0, DEMO_VOICE
    for line in (folder / "script.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith("@voice"):
            voice = line.split()[1]
        if not line.strip() or line[0] in "#@":
            continue
        number += 1
        fields = [field.strip() for field in line.split("|")]
        samples = speak(fields[1] if len(fields) > 1 else fields[0], voice)
        if len(fields) > 2:
            samples = noisy(samples, float(fields[2].split()[0]))
        write(folder / f"{number:03}.flac", samples)
    return number


if __name__ == "__main__":
    print(f"{make_commands()} commands", file=sys.stderr)
    for name in DEMOS:
        print(f"{make_demo(HERE / name)} phrases of {name}", file=sys.stderr)
