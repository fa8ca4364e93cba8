"""One phrase on its way through the house: what was said, what it means, whether to act on it.

Recognition makes an `Utterance` once; the dialogue decides on it, the journal keeps what of it is
evidence. Recognition is generic in the meaning: what it must know of one it asks an
`Understanding`, which the dialogue gives it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Generic, Protocol, TypeVar

from assistant.audio.pcm import Pcm

M = TypeVar("M")


class Verdict(StrEnum):
    """What is to be done about a phrase."""

    ACCEPTED = "accepted"
    """Act on it."""
    DOUBTFUL = "doubtful"
    """Likely enough a command to ask for it again."""
    REJECTED = "rejected"
    """Other talk, or noise."""


class Understanding(Protocol[M]):
    """What recognition asks about the meaning of words, where the conversation stands now."""

    def means(self, words: Sequence[str]) -> M | None:
        """Return what the words mean now; None where they mean nothing."""

    def at_stake(self, meaning: M) -> bool:
        """Return whether both listeners must hear it before it is acted on."""

    def numeric(self, meaning: M) -> bool:
        """Return whether there is a number in it: one wrong digit makes it wrong."""

    def fits(self, meaning: M) -> bool:
        """Return whether it would be taken without questioning its value."""


class MeaningCache(Generic[M]):
    """An understanding that works out the meaning of the same words only once.

    Make one for each phrase: what words mean changes as the conversation goes on.
    """

    def __init__(self, understanding: Understanding[M]) -> None:
        self._understanding = understanding
        self._known: dict[tuple[str, ...], M | None] = {}

    def means(self, words: Sequence[str]) -> M | None:
        """Return what the words mean; None where they mean nothing, or where there are none."""
        words = tuple(words)
        if not words:
            return None
        if words not in self._known:
            self._known[words] = self._understanding.means(words)
        return self._known[words]

    def at_stake(self, meaning: M) -> bool:
        """Return whether both listeners must hear it before it is acted on."""
        return self._understanding.at_stake(meaning)

    def numeric(self, meaning: M) -> bool:
        """Return whether there is a number in it."""
        return self._understanding.numeric(meaning)

    def fits(self, meaning: M) -> bool:
        """Return whether it would be taken without questioning its value."""
        return self._understanding.fits(meaning)


@dataclass(frozen=True)
class Utterance(Generic[M]):
    """One phrase, heard or typed."""

    words: tuple[str, ...]
    meaning: M | None
    verdict: Verdict
    confidence: float | None
    """0 to 1; None for what was typed."""
    recogniser: str
    """Who heard it; "typed" or "key" where nobody had to."""
    sound: Pcm | None = None
    """Its clip, 16 kHz mono; None for what was typed."""
    free_speech: bool = False
    """Whether more was said after the words, where the grammar allows any speech: a note's own."""
    times: tuple[tuple[str, float, float], ...] = ()
    """(word, start, end) in seconds from the start of the phrase."""
    alternatives: tuple[tuple[str, ...], ...] = ()
    """Other sentences that it may have been, the likeliest first."""
    audio_s: float = 0.0
    took_s: float = 0.0

    @property
    def accepted(self) -> bool:
        """Whether to act on it."""
        return self.verdict is Verdict.ACCEPTED

    @property
    def text(self) -> str:
        """Its words with spaces between them."""
        return " ".join(self.words)
