"""Endpointing by grammar: what can still be said decides when a phrase is over.

After a short silence the phrase so far is recognised. If nothing can follow it in the grammar, the
phrase is over at once. If something can (another digit, a unit, the text of a note), or if only the
beginning of a sentence was said, the listener waits longer. If nothing more comes, the utterance is
ready by then.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from assistant.audio.activity import VoiceActivity
from assistant.audio.endpoint import ENDPOINTING, Endpointer, Phrase
from assistant.audio.pcm import from_bytes
from assistant.grammar.jsgf import GARBAGE, Grammar
from assistant.recognition.utterance import Utterance

M = TypeVar("M")


@dataclass(frozen=True)
class PhraseEnding:
    """The silence, in seconds, that ends a phrase, depending on what was said.

    Found by trial on the voices of audio_fixtures; `tests.benchmark` measures the time to an
    answer. Shorter values answer sooner and cut more phrases in two.
    """

    early_s: float = 0.06
    """Silence after which the phrase so far is recognised."""
    answered_s: float = 0.15
    """Ends a phrase that nothing can follow. It is longer than the closure of a stop consonant
    between two words of other talk, and about as long as recognition takes."""
    at_stake_s: float = 0.25
    """Ends such a phrase if something is at stake. Both passes run in that time, and other talk
    that only begins like a command has gone on by then."""
    begun_s: float = 0.8
    """Ends a phrase that is only the beginning of a sentence."""
    free_s: float = 0.8
    """Ends free speech."""


PHRASE_ENDING = PhraseEnding()

Hear = Callable[[Phrase, bool], Utterance[M]]
"""Recognises a phrase. The flag is True if the phrase may still go on."""


class PhraseListener(Generic[M]):
    """Turns a stream of sound into phrases and their utterances.

    Args:
        hear: recognises a phrase.
        grammar: returns what can be said now.
        clock: the time of the stream in seconds. Without it, the stream stands still during
            recognition, as a recording does.
        activity: finds the end of speech in noise.
        at_stake: whether a meaning waits for the longer silence.
        tuning: the silences that end a phrase.
    """

    def __init__(
        self,
        hear: Hear[M],
        grammar: Callable[[], Grammar],
        clock: Callable[[], float] | None = None,
        activity: VoiceActivity | None = None,
        at_stake: Callable[[M], bool] = lambda meaning: False,
        tuning: PhraseEnding = PHRASE_ENDING,
    ) -> None:
        self._hear = hear
        self._grammar = grammar
        self._clock = clock or (lambda: 0.0)
        self._endpointer = Endpointer(activity=activity)
        self._at_stake = at_stake
        self._tuning = tuning
        self._looked = False
        """Whether the phrase so far was already recognised in the present silence."""
        self._guess: tuple[Utterance[M], Grammar] | None = None
        """The utterance, if nothing more is said, and the grammar in which it was recognised."""

    @property
    def in_speech(self) -> bool:
        """Whether someone is speaking now."""
        return self._endpointer.in_speech

    def feed(self, block: bytes) -> Iterator[tuple[Phrase, Utterance[M]]]:
        """Take the next block, of any length; yield the phrases that ended in it."""
        for frame in self._endpointer.frames(block):
            phrase = self._endpointer.take(frame)
            if phrase:
                yield self._heard(phrase)
            elif self._endpointer.silent_s < self._tuning.early_s:
                self._forget()
            elif not self._looked:
                self._look_ahead()

    def flush(self) -> Iterator[tuple[Phrase, Utterance[M]]]:
        """End the stream; yield the phrase that was being spoken, if any."""
        for phrase in self._endpointer.flush():
            yield self._heard(phrase)

    def _look_ahead(self) -> None:
        begun = self._clock()
        grammar = self._grammar()
        utterance = self._hear(self._endpointer.so_far(), True)
        pause_s, stands = self._judged(utterance, grammar)
        self._looked = True
        self._guess = (utterance, grammar) if stands else None
        # The sound from the time of the recognition has not been fed yet.
        took_s = self._clock() - begun
        self._endpointer.pause_s = max(pause_s, self._endpointer.silent_s + took_s)

    def _heard(self, phrase: Phrase) -> tuple[Phrase, Utterance[M]]:
        # A key or a timer may have changed the grammar during the pause, so that the words may mean
        # something else.
        if self._guess is not None and self._guess[1] is self._grammar():
            utterance = replace(self._guess[0], sound=from_bytes(phrase.data))
        else:
            utterance = self._hear(phrase, False)
        self._forget()
        return phrase, utterance

    def _forget(self) -> None:
        if self._looked:
            self._endpointer.pause_s = ENDPOINTING.pause_s
        self._looked, self._guess = False, None

    def _judged(self, utterance: Utterance[M], grammar: Grammar) -> tuple[float, bool]:
        """Return the silence (s) that ends the phrase, and whether the utterance holds by then."""
        tuning, usual_s = self._tuning, ENDPOINTING.pause_s
        network = grammar.network()
        following = network.following(utterance.words)
        if GARBAGE in following:
            return tuning.free_s, True
        if not network.accepts(utterance.words):
            return (tuning.begun_s if utterance.words and following else usual_s), False
        if following or not utterance.accepted:
            return usual_s, True
        waits = utterance.meaning is not None and self._at_stake(utterance.meaning)
        return (tuning.at_stake_s if waits else tuning.answered_s), True
