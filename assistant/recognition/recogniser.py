"""The interface of a recogniser, and what it returns.

A recogniser is limited to a grammar and returns one `Hypothesis` for each phrase. `assistant.
recognition.two_pass` makes an `Utterance` of it, after a second pass if there is one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from assistant.audio.pcm import Pcm
from assistant.grammar.jsgf import Grammar
from assistant.recognition.utterance import Verdict


@dataclass(frozen=True)
class Hypothesis:
    """The result of one recogniser for one phrase. Free speech (`<GARBAGE>`) gives no words."""

    words: tuple[str, ...]
    is_sentence: bool
    """Whether the words are a whole sentence of the grammar."""
    confidence: float
    """0 to 1, on the recogniser's own scale."""
    recogniser: str
    verdict: Verdict = Verdict.REJECTED
    """What to do about the phrase if there is no second pass."""
    free_speech: bool = False
    """Whether more was said after the words. The caller sets this, not the recogniser."""
    times: tuple[tuple[str, float, float], ...] = ()
    """(word, start, end) in seconds from the start of the phrase."""
    alternatives: tuple[tuple[str, ...], ...] = ()
    """Other sentences that it may have been, the most likely first, if the recogniser gives any."""
    audio_s: float = 0.0
    """Length of the phrase, in seconds."""
    took_s: float = 0.0
    """Time that recognition took, in seconds."""

    @property
    def accepted(self) -> bool:
        """Whether to act on it if there is no second pass."""
        return self.verdict is Verdict.ACCEPTED


@dataclass(frozen=True)
class Acceptance:
    """Thresholds on the confidence of one recogniser."""

    accepted: float
    """Lowest confidence, 0 to 1, to act on a sentence. Higher: more is asked again, less is
    wrong."""
    doubtful: float
    """Lowest confidence, 0 to 1, to ask for the phrase again. Lower: more other talk is
    answered."""

    def verdict(self, is_sentence: bool, confidence: float) -> Verdict:
        """Return what to do about a phrase of this confidence, 0 to 1."""
        if is_sentence and confidence >= self.accepted:
            return Verdict.ACCEPTED
        return Verdict.DOUBTFUL if confidence >= self.doubtful else Verdict.REJECTED


class Recogniser(Protocol):
    """Turns blocks of 16 kHz mono 16-bit PCM into words limited to a grammar."""

    @property
    def name(self) -> str:
        """The recogniser's name, as the record keeps it."""

    def listen_for(self, grammar: Grammar) -> None:
        """Limit recognition to a grammar from the next phrase on; quick for one used before."""

    def feed(self, block: bytes) -> None:
        """Take the next block of the phrase, of any length."""

    def finish(self) -> Hypothesis:
        """End the phrase and return the hypothesis for all blocks since the last phrase."""


@runtime_checkable
class Rescoring(Protocol):
    """A recogniser that can also score other words against the last phrase (rescoring)."""

    def loss(self, words: Sequence[str]) -> float:
        """Return how much less likely these words make the last phrase than the words recognised.

        The unit is log-likelihood per 1000 frames of 10 ms; infinite if the words cannot fit.
        """


class Transcriber(Protocol):
    """Transcribes free speech, which no grammar limits, such as a note."""

    @property
    def name(self) -> str:
        """The names of the transcriber and its model, as the record keeps them."""

    def transcribe(self, pcm: Pcm) -> str:
        """Return the words of the sound, 16 kHz mono; "" if there is no speech in it."""


def hear_all(recogniser: Recogniser, pcm: Pcm) -> Hypothesis:
    """Recognise a whole stretch of sound as one phrase."""
    recogniser.feed(pcm.tobytes())
    return recogniser.finish()
