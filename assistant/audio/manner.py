"""How the voice speaks: how fast and how loud, within bounds in which it stays intelligible."""

from __future__ import annotations

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
