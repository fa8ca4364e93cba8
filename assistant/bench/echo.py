"""Keeps the assistant from answering itself, where its voice reaches its own microphone.

While the voice can be heard in the room, and for a moment after, the microphone is ignored. A
phrase that begins as soon as it listens again is either an echo or somebody who could not wait. It
is ignored too if it only repeats words that the assistant was just saying.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.audio.microphone import Block
from assistant.audio.voice import Voice


@dataclass(frozen=True)
class Echo:
    """How long the assistant's own voice lingers, in seconds. Not measured in a real room."""

    tail_s: float = 0.25
    """How long the microphone stays ignored: for the echo of a workshop, and for a wireless
    loudspeaker that plays later than it reports. Longer loses the first word of quick answers."""
    doubtful_s: float = 0.15
    """A phrase that begins sooner than this after that may be an echo: people take longer to
    answer."""


ECHO = Echo()


@dataclass
class EchoGuard:
    """Tells the assistant's own voice from others. Times are seconds of time.monotonic.

    With a `headset` the voice does not reach the microphone, and nothing is ignored.
    """

    voice: Voice
    headset: bool = False
    _deaf_until: float = float("-inf")

    def deaf(self, block: Block, seconds: float) -> bool:
        """Return whether a block of this length may hold the assistant's own voice."""
        if self.headset or not self.voice.audible(block.at - seconds - ECHO.tail_s, block.at):
            return False
        self._deaf_until = block.at
        return True

    def own_words(self, words: Sequence[str], begun: float) -> bool:
        """Return whether a phrase that began then is only what the assistant was saying."""
        if self.headset or not words or begun > self._deaf_until + ECHO.doubtful_s:
            return False
        said = _plain(self.voice.saying(begun))
        return f" {' '.join(words).casefold()} " in f" {said} "


def _plain(text: str) -> str:
    letters = "".join(c if c.isalnum() or c == "'" else " " for c in text.casefold())
    return " ".join(letters.split())
