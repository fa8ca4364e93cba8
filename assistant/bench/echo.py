"""Keeps the assistant from answering itself, where its voice can reach its own microphone.

While it is heard in the room, and for a moment after, nothing that the microphone gives is taken.
What begins as soon as it listens again is either the room's echo or somebody who could not wait:
it is not taken if it only says what the assistant was just saying.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.audio.microphone import Block
from assistant.audio.voice import Voice

TAIL_S = 0.25
"""How long a workshop rings on, and a wireless loudspeaker is late beyond what it says."""
_DOUBTFUL_S = 0.15
"""An answer to the last word mostly takes longer to begin than this."""


@dataclass
class EchoGuard:
    """Tells the assistant's own voice from others. Times are seconds of time.monotonic.

    With a `headset` its voice does not reach the microphone, and everything is taken.
    """

    voice: Voice
    headset: bool = False
    _deaf_until: float = float("-inf")

    def deaf(self, block: Block, seconds: float) -> bool:
        """Whether a block of this length may hold the assistant's own voice."""
        if self.headset or not self.voice.audible(block.at - seconds - TAIL_S, block.at):
            return False
        self._deaf_until = block.at
        return True

    def own_words(self, words: Sequence[str], begun: float) -> bool:
        """Whether a phrase that began then is no more than what the assistant was saying."""
        if self.headset or not words or begun > self._deaf_until + _DOUBTFUL_S:
            return False
        said = _plain(self.voice.saying(begun))
        return f" {' '.join(words).casefold()} " in f" {said} "


def _plain(text: str) -> str:
    letters = "".join(c if c.isalnum() or c == "'" else " " for c in text.casefold())
    return " ".join(letters.split())
