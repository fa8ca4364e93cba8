"""The result of recognition for one phrase: its words, its meaning, and whether to act on it.

Recognition makes an `Utterance` once. The dialogue decides on it, and the journal keeps the parts
that are evidence. Recognition is generic in the meaning. It asks an `Understanding`, which the
dialogue supplies, for what it must know about one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, Protocol, TypeVar

from assistant.audio.pcm import Pcm

M = TypeVar("M")


class Verdict(StrEnum):
    """What to do about a phrase."""

    ACCEPTED = "accepted"
    """Act on it."""
    DOUBTFUL = "doubtful"
    """Ask for it again: it may be a command."""
    REJECTED = "rejected"
    """Ignore it: it is other talk or noise."""


class Understanding(Protocol[M]):
    """What recognition asks about the meaning of words at this point of the conversation."""

    def means(self, words: Sequence[str]) -> M | None:
        """Return what the words mean now; None if they mean nothing."""

    def at_stake(self, meaning: M) -> bool:
        """Whether both passes must hear it before anyone acts on it."""

    def numeric(self, meaning: M) -> bool:
        """Whether there is a number in it, so that one wrong digit makes it wrong."""

    def fits(self, meaning: M) -> bool:
        """Whether the dialogue would accept its value without a question."""


class MeaningCache(Generic[M]):
    """An understanding that works out the meaning of the same words only once.

    Make a new one for each phrase, because meanings change as the conversation goes on.
    """

    def __init__(self, understanding: Understanding[M]) -> None:
        self._understanding = understanding
        self._known: dict[tuple[str, ...], M | None] = {}

    def means(self, words: Sequence[str]) -> M | None:
        """Return what the words mean; None if they mean nothing, or if there are no words."""
        words = tuple(words)
        if not words:
            return None
        if words not in self._known:
            self._known[words] = self._understanding.means(words)
        return self._known[words]

    def at_stake(self, meaning: M) -> bool:
        """Whether both passes must hear it before anyone acts on it."""
        return self._understanding.at_stake(meaning)

    def numeric(self, meaning: M) -> bool:
        """Whether there is a number in it."""
        return self._understanding.numeric(meaning)

    def fits(self, meaning: M) -> bool:
        """Whether the dialogue would accept its value without a question."""
        return self._understanding.fits(meaning)


@dataclass(frozen=True)
class Utterance(Generic[M]):
    """One phrase, heard or typed."""

    words: tuple[str, ...]
    meaning: M | None
    verdict: Verdict
    confidence: float | None
    """0 to 1; None if it was typed."""
    recogniser: str
    """Name of the recogniser, or "typed" or "key"."""
    sound: Pcm | None = None
    """Its sound, 16 kHz mono; None if it was typed."""
    free_speech: bool = False
    """Whether free speech followed the words, such as the text of a note."""
    times: tuple[tuple[str, float, float], ...] = ()
    """(word, start, end) in seconds from the start of the phrase."""
    alternatives: tuple[tuple[str, ...], ...] = ()
    """Other sentences that it may have been, the most likely first."""
    audio_s: float = 0.0
    """Length of the sound, in seconds."""
    took_s: float = 0.0
    """Time that recognition took, in seconds."""

    @property
    def accepted(self) -> bool:
        """Whether to act on it."""
        return self.verdict is Verdict.ACCEPTED

    @property
    def text(self) -> str:
        """Its words with spaces between them."""
        return " ".join(self.words)
