"""Noises of a workshop, made up from what they are physically; nobody's recordings.

Each is a function of a length in samples and a random generator, and gives float samples at 16 kHz
with a root mean square of 1. `mix` puts one under speech.
"""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

RATE = 16_000

Sound = npt.NDArray[np.float64]
Noise = Callable[[int, np.random.Generator], Sound]


def _level(sound: Sound) -> Sound:
    return sound / float(np.sqrt(np.mean(sound**2)))


def _shaped(length: int, rng: np.random.Generator, gain: Callable[[Sound], Sound]) -> Sound:
    """White noise with this gain over frequency in Hz."""
    spectrum = np.fft.rfft(rng.normal(size=length))
    return np.fft.irfft(spectrum * gain(np.fft.rfftfreq(length, 1 / RATE)), length)


def _harmonics(phase: Sound, amplitudes: "list[float]") -> Sound:
    """A tone and its harmonics; `phase` is that of the fundamental, in turns."""
    total = np.zeros(len(phase))
    for number, amplitude in enumerate(amplitudes, 1):
        total += amplitude * np.sin(2 * np.pi * number * phase)
    return total


def _turns(hertz: "Sound | float", length: int) -> Sound:
    return np.cumsum(np.broadcast_to(np.asarray(hertz, dtype=float), (length,))) / RATE


def pink(length: int, rng: np.random.Generator) -> Sound:
    """Power falling as 1/f above 50 Hz: what a room full of machines comes to."""
    return _level(_shaped(length, rng, lambda f: 1 / np.sqrt(np.maximum(f, 50.0))))


def hum(length: int, rng: np.random.Generator) -> Sound:
    """Mains hum at 50 Hz with its odd and even harmonics, and a little hiss."""
    tone = _harmonics(
        _turns(50.0, length) + rng.random(), [1, 0.6, 0.5, 0.3, 0.35, 0.2, 0.25, 0.1, 0.15, 0.1]
    )
    return _level(_level(tone) + 0.1 * rng.normal(size=length))


def compressor(length: int, rng: np.random.Generator) -> Sound:
    """A piston compressor: a motor's hum, and a stroke of intake noise 16 times a second."""
    phase = _turns(16.0 + 0.3 * rng.normal(), length) + rng.random()
    stroke = np.exp(-6 * (phase % 1.0))
    breath = _level(_shaped(length, rng, lambda f: 1 / (1 + (f / 700.0) ** 2)))
    rumble = _harmonics(phase, [1.0, 0.8, 0.6, 0.4, 0.3])
    whine = _harmonics(_turns(49.0, length), [1.0, 0.7, 0.4, 0.5, 0.2])
    return _level(1.0 * breath * (0.3 + stroke) + 0.35 * _level(rumble) + 0.35 * _level(whine))


def impact_wrench(length: int, rng: np.random.Generator) -> Sound:
    """Bursts of hammering: blows 20 to 25 a second that ring metal, over air that escapes."""
    out = np.zeros(length)
    ring_s = 0.05
    t = np.arange(int(ring_s * RATE)) / RATE
    at = int(rng.random() * 0.4 * RATE)
    while at < length:
        rate = 20 + 5 * rng.random()
        end = min(length, at + int((0.6 + rng.random()) * RATE))
        tones = rng.uniform(800, 5200, size=6)
        air = _shaped(end - at, rng, lambda f: f / (f + 1500.0)) if end - at > 16 else 0.0
        out[at:end] += 0.35 * air
        for blow in np.arange(at, end, RATE / rate):
            start = int(blow + rng.normal() * 0.001 * RATE)
            ring = sum(np.sin(2 * np.pi * f * t + rng.random() * 6) for f in tones)
            knock = rng.normal(size=len(t)) * np.exp(-t * 250) * 3
            hit = (ring * np.exp(-t * 90) + knock) * (0.7 + 0.6 * rng.random())
            start = max(0, start)
            out[start : start + len(t)] += hit[: max(0, length - start)][: len(t)]
        at = end + int((0.2 + rng.random() * 0.6) * RATE)
    return _level(out + 0.02 * pink(length, rng))


def grinder(length: int, rng: np.random.Generator) -> Sound:
    """An angle grinder on steel: a whine near 180 Hz that sags under load, and bright hiss."""
    load = np.clip(_level(_shaped(length, rng, lambda f: (f < 3.0).astype(float))), -2, 2)
    whine = _harmonics(
        _turns(180.0 * (1 - 0.05 * load), length), [1, 0.7, 0.8, 0.4, 0.5, 0.3, 0.3, 0.2]
    )
    hiss = _shaped(length, rng, lambda f: np.minimum(1.0, f / 2500.0))
    return _level(0.8 * _level(whine) + _level(hiss) * (0.7 + 0.2 * load))


def water(length: int, rng: np.random.Generator) -> Sound:
    """A parts washer running: broad noise about 1 kHz, and bubbles."""
    stream = _level(
        _shaped(length, rng, lambda f: 1 / (1 + np.abs(np.log2(np.maximum(f, 20) / 1000))))
    )
    out = stream.copy()
    t = np.arange(int(0.03 * RATE)) / RATE
    for start in rng.integers(0, max(1, length - len(t)), size=max(1, length // 400)):
        pitch = rng.uniform(400, 2500)
        bubble = np.sin(2 * np.pi * pitch * (1 + 4 * t) * t) * np.exp(-t * 130)
        stop = min(length, start + len(t))
        out[start:stop] += rng.random() * 1.5 * bubble[: stop - start]
    return _level(out)


def white(length: int, rng: np.random.Generator) -> Sound:
    """Air leaking from a hose: every frequency alike."""
    return _level(rng.normal(size=length))


def clatter(length: int, rng: np.random.Generator) -> Sound:
    """Things put down and dropped: metal that rings, bounces and lies still, in a quiet room."""
    out = 0.002 * rng.normal(size=length)
    t = np.arange(int(0.4 * RATE)) / RATE
    at = 0.3 * RATE
    while at < length:
        tones = rng.uniform(400, 6000, size=5)
        fade, knock, loud = rng.uniform(8, 60), rng.uniform(0, 3), rng.uniform(0.2, 1)
        gap = rng.uniform(0.08, 0.3)
        for bounce in range(int(rng.integers(1, 6))):
            start = int(at + RATE * gap * (1 - 0.6**bounce) / 0.4)
            ring = sum(np.sin(2 * np.pi * f * t + rng.random() * 6) for f in tones)
            hit = ring * np.exp(-t * fade) + knock * rng.normal(size=len(t)) * np.exp(-t * 200)
            out[start : start + len(t)] += (loud * 0.6**bounce * hit)[: max(0, length - start)]
        at += RATE * rng.uniform(0.8, 4)
    return _level(out)


def coughs(length: int, rng: np.random.Generator) -> Sound:
    """Coughs and cleared throats: bursts of breath shaped by a mouth, one to three in a row."""
    out = 0.002 * rng.normal(size=length)
    at = 0.5 * RATE
    while at < length:
        mouth = rng.uniform(400, 900), rng.uniform(1100, 2000)
        for _ in range(int(rng.integers(1, 4))):
            size = int(RATE * rng.uniform(0.12, 0.35))
            breath = _shaped(
                size,
                rng,
                lambda f, peaks=mouth: sum(1 / (1 + ((f - p) / 250) ** 2) for p in peaks) + 0.05,  # type: ignore[misc]
            )
            t = np.arange(size) / size
            voice = 1 + 0.7 * np.sin(2 * np.pi * rng.uniform(80, 160) * np.arange(size) / RATE)
            cough = _level(breath) * np.exp(-4 * t) * np.minimum(1, t * 20) * voice
            start = int(at)
            out[start : start + size] += cough[: max(0, length - start)]
            at += size + RATE * rng.uniform(0.05, 0.2)
        at += RATE * rng.uniform(1, 5)
    return _level(out)


SHOP: dict[str, Noise] = {
    "pink": pink,
    "compressor": compressor,
    "impact wrench": impact_wrench,
    "grinder": grinder,
    "water": water,
    "hum": hum,
}
"""The shop's noises by name; "babble" is made of voices, in `tests.benchmark.talk`."""


def mix(speech: npt.NDArray[np.int16], noise: Sound, decibels: float) -> npt.NDArray[np.int16]:
    """Put noise this far under the speech. Both 16 kHz; the noise is cut to the speech's length.

    The speech's level is the root mean square of the louder 40 % of its 10 ms frames, so that
    pauses do not count; the noise's is over its whole length, which flatters bursts.
    """
    sound = speech.astype(np.float64)
    frames = sound[: len(sound) // 160 * 160].reshape(-1, 160)
    power = np.mean(frames**2, axis=1)
    level = np.sqrt(np.mean(power[power >= np.percentile(power, 60)]))
    noise = _level(noise[: len(sound)])
    mixed = sound + noise * level * 10 ** (-decibels / 20)
    # A microphone's gain is set so that it does not clip.
    peak = np.abs(mixed).max()
    if peak > 32000:
        mixed *= 32000 / peak
    return np.round(mixed).astype(np.int16)
