"""What recognition asks about words at one point of a job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from assistant.dialogue import stakes, understanding
from assistant.dialogue.decide import fits
from assistant.dialogue.intents import Intent
from assistant.dialogue.state import State


@dataclass(frozen=True)
class Meanings:
    """The understanding of words in one state of a job, as `recognition.utterance` asks for it."""

    state: State
    now: datetime
    """The time, with its offset: whether a value fits may depend on it."""

    def means(self, words: Sequence[str]) -> Intent | None:
        """Return what the words mean now; None where they mean nothing."""
        return understanding.understand(words, self.state)

    def at_stake(self, meaning: Intent) -> bool:
        """Return whether both listeners must hear it before it is acted on."""
        return stakes.high(meaning)

    def numeric(self, meaning: Intent) -> bool:
        """Return whether there is a number in it: one wrong digit makes it wrong."""
        return stakes.numeric(meaning)

    def fits(self, meaning: Intent) -> bool:
        """Return whether it would be taken without questioning its value."""
        return fits(self.state, meaning, self.now)
