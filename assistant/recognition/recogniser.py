"""What a recogniser is, what it returns, and how one is chosen.

A recogniser is limited to a grammar and returns one `Hypothesis` for each phrase. `assistant.
recognition.ears` makes an `Utterance` of it, with the second listener where there is one.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from assistant.audio.pcm import Pcm
from assistant.grammar.jsgf import Grammar
from assistant.recognition.utterance import Verdict


@dataclass(frozen=True)
class Hypothesis:
    """What one recogniser makes of one phrase. Free speech (`<GARBAGE>`) gives no words."""

    words: tuple[str, ...]
    is_sentence: bool
    """Whether the words are a whole sentence of the grammar."""
    confidence: float
    """0 to 1, on the recogniser's own scale."""
    recogniser: str
    verdict: Verdict = Verdict.REJECTED
    """What to do about the phrase where nobody else listens."""
    free_speech: bool = False
    """Whether more was said after the words; the recogniser leaves this to its caller."""
    times: tuple[tuple[str, float, float], ...] = ()
    """(word, start, end) in seconds from the start of the phrase."""
    alternatives: tuple[tuple[str, ...], ...] = ()
    """Other sentences that it may have been, the likeliest first, where the recogniser tells."""
    audio_s: float = 0.0
    took_s: float = 0.0

    @property
    def accepted(self) -> bool:
        """Whether this recogniser alone would act on it."""
        return self.verdict is Verdict.ACCEPTED


@dataclass(frozen=True)
class Acceptance:
    """Confidence at which one recogniser's hypothesis is acted on, or asked for again."""

    accepted: float
    """Least confidence, 0 to 1, to act on a sentence. Higher: more is asked, less is wrong."""
    doubtful: float
    """Least confidence to ask for the phrase again. Lower: more other talk is answered."""

    def verdict(self, is_sentence: bool, confidence: float) -> Verdict:
        """Return what to do about a phrase of this confidence."""
        if is_sentence and confidence >= self.accepted:
            return Verdict.ACCEPTED
        return Verdict.DOUBTFUL if confidence >= self.doubtful else Verdict.REJECTED


class Recogniser(Protocol):
    """Turns blocks of 16 kHz mono 16-bit PCM into words limited to a grammar."""

    @property
    def name(self) -> str:
        """Its name, as the record keeps it."""

    def listen_for(self, grammar: Grammar) -> None:
        """Limit recognition from the next phrase on; quick for a grammar it has had before."""

    def feed(self, block: bytes) -> None:
        """Take the next block of the phrase, of any length."""

    def finish(self) -> Hypothesis:
        """End the phrase and return what was heard since the last one ended."""


@runtime_checkable
class Rescoring(Protocol):
    """A recogniser that can also score other words against the phrase it heard last."""

    def loss(self, words: Sequence[str]) -> float:
        """Return how much less likely the last phrase is as these words than as it was heard.

        In log-likelihood per 1000 frames of 10 ms; infinite where the words do not fit at all.
        """


class Transcriber(Protocol):
    """Writes down free speech, where no grammar limits it: a note's transcript."""

    @property
    def name(self) -> str:
        """Its name and its model's, as they stand beside the transcript."""

    def transcribe(self, pcm: Pcm) -> str:
        """Return what is said in the sound; "" where it hears no speech."""


def hear_all(recogniser: Recogniser, pcm: Pcm) -> Hypothesis:
    """Recognise a whole stretch of sound as one phrase."""
    recogniser.feed(pcm.tobytes())
    return recogniser.finish()
