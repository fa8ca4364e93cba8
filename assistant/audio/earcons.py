"""Earcons, the tones before an answer: they differ in rhythm first, and in pitch as well.

As for alarms in IEC 60601-1-8 and ISO 7731 (from memory): fundamentals between 300 Hz and 2 kHz,
where hearing damaged by noise is best; several harmonics, so that some are heard over any machine;
onsets that do not startle. None but the timer's is longer than `LONGEST_S`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from assistant.audio.cue import Cue

RATE = 22_050
"""Samples a second."""
LONGEST_S = 0.3
"""A longer tone would hold up the answer."""


@dataclass(frozen=True)
class ToneShape:
    """What every tone has in common. By judgement, not measured."""

    level: float = 0.4
    """Peak, as a share of full scale."""
    edge_s: float = 0.008
    """Time (s) in which a tone rises and falls. Shorter ones click."""
    harmonics: tuple[float, ...] = (1.0, 0.5, 0.25, 0.12)
    """Amplitudes of the fundamental and of each overtone."""


SHAPE = ToneShape()

_TIMER = ((880, 0.1), (0, 0.05), (880, 0.1), (0, 0.05), (880, 0.1), (0, 0.3))
_PATTERNS: dict[Cue, tuple[tuple[float, float], ...]] = {
    # One short tick.
    Cue.HEARD: ((660, 0.05),),
    # Short, long, rising: done.
    Cue.RECORDED: ((523, 0.07), (0, 0.03), (784, 0.18)),
    # Two equal ones, rising, as a question does.
    Cue.QUESTION: ((587, 0.1), (0, 0.08), (880, 0.1)),
    # One long low one.
    Cue.REFUSED: ((330, 0.29),),
    # Three quick ones, and again.
    Cue.TIMER: _TIMER + _TIMER,
}
"""Hertz (0 is silence) and seconds, one after another."""


@cache
def sound(cue: Cue) -> npt.NDArray[np.float32]:
    """Return the tone for a cue at `RATE`, shape (n,), from -1 to 1."""
    return np.concatenate([_tone(hertz, seconds) for hertz, seconds in _PATTERNS[cue]])


def _tone(hertz: float, seconds: float) -> npt.NDArray[np.float32]:
    times = np.arange(round(seconds * RATE)) / RATE
    if not hertz:
        return np.zeros(len(times), np.float32)
    wave = sum(
        share * np.sin(2 * np.pi * hertz * (number + 1) * times)
        for number, share in enumerate(SHAPE.harmonics)
    )
    edge = np.minimum(1, np.minimum(times, times[::-1]) / SHAPE.edge_s)
    return np.asarray(SHAPE.level * edge * wave / sum(SHAPE.harmonics), dtype=np.float32)
