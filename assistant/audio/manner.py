"""How the voice speaks: how fast and how loud, within bounds in which it stays intelligible."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum

from pydantic import BaseModel, ConfigDict, Field

SLOWEST, FASTEST = 90, 250
"""Words a minute."""
SOFTEST, LOUDEST = 0.125, 1.0
"""Share of the engine's full level."""
_RATE_STEP = 20
"""Words a minute that one "slower" or "faster" changes."""
_VOLUME_STEP = 2**0.5
"""Factor that one "louder" or "softer" changes: 3 dB."""


@dataclass(frozen=True)
class Pace:
    """How long a text takes to say, from its letters: fitted to what eSpeak NG makes of the 1016
    sentences of the samples, at 150 words a minute; one sentence is 0.16 s off on average.
    """

    letter_s: float = 0.0716
    """Seconds a letter."""
    mark_s: float = 0.326
    """Seconds that a comma, a colon or a semicolon adds."""
    sentence_s: float = 0.31
    """Seconds that a sentence adds, of which 0.2 are the pause after it."""
    rate: int = 150
    """Words a minute at which these hold; they grow as it is slower."""


PACE = Pace()


class Change(StrEnum):
    """How the voice may be asked to change."""

    SLOWER = "slower"
    FASTER = "faster"
    LOUDER = "louder"
    SOFTER = "softer"


class Manner(BaseModel):
    """How replies are spoken."""

    model_config = ConfigDict(frozen=True)

    rate: int = Field(default=150, ge=SLOWEST, le=FASTEST)
    """Words a minute; the default is slow enough for numbers over workshop noise."""
    volume: float = Field(default=0.5, ge=SOFTEST, le=LOUDEST)
    """Share of the engine's full level; half leaves 6 dB to become louder by."""

    def seconds(self, text: str) -> float:
        """Return about how long a text takes to say, in seconds."""
        letters = sum(character.isalpha() for character in text)
        marks = sum(text.count(mark) for mark in ",:;")
        sentences = len(re.findall(r"[.?!](?:\s|$)", text))
        at_pace = letters * PACE.letter_s + marks * PACE.mark_s + sentences * PACE.sentence_s
        return at_pace * PACE.rate / self.rate

    def changed(self, change: Change) -> Manner:
        """Return the manner one step on; the same where there is no further step."""
        rate, volume = self.rate, self.volume
        match change:
            case Change.SLOWER:
                rate = max(SLOWEST, rate - _RATE_STEP)
            case Change.FASTER:
                rate = min(FASTEST, rate + _RATE_STEP)
            case Change.LOUDER:
                volume = min(LOUDEST, round(volume * _VOLUME_STEP, 3))
            case Change.SOFTER:
                volume = max(SOFTEST, round(volume / _VOLUME_STEP, 3))
        return self.model_copy(update={"rate": rate, "volume": volume})
