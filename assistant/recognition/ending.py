"""Endpointing by grammar: when a phrase is over depends on what can still be said.

In a short silence the phrase is recognised as far as it goes. If nothing could follow in the
grammar, it is over then and there. If something could (another digit, a unit, a note's own words),
or only the beginning of a sentence was said, there is time for it; and if nothing more comes, the
utterance is ready.
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
    """Seconds of silence that end a phrase, by what was said.

    By trial on the voices of audio_fixtures; `tests.benchmark` measures how soon they answer.
    Shorter ones answer sooner and cut more phrases in two.
    """

    early_s: float = 0.06
    """Silence that may be the end: the phrase is recognised then."""
    answered_s: float = 0.15
    """Ends a phrase that nothing can follow. It is longer than the closure of a stop between two
    words of other talk that begins like a command, and about as long as recognition takes."""
    at_stake_s: float = 0.25
    """The same where something is at stake. It is heard twice meanwhile, and talk that only begins
    like a command goes on by then."""
    begun_s: float = 0.8
    """Ends a phrase that is only the beginning of a sentence."""
    free_s: float = 0.8
    """Ends free speech."""


PHRASE_ENDING = PhraseEnding()

Hear = Callable[[Phrase, bool], Utterance[M]]
"""Recognises a phrase; with True, one that may go on."""


class PhraseListener(Generic[M]):
    """Turns a stream of sound into phrases and their utterances.

    `grammar` returns what can be said now, and `hear` recognises a phrase. `clock` is that of the
    stream, in seconds; without one the stream stands still during recognition, as a recording
    does. `activity` finds the end of speech in noise. `at_stake` tells which meanings wait longer.
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
        """Whether the phrase was recognised in the silence that goes on now."""
        self._guess: tuple[Utterance[M], Grammar] | None = None
        """The utterance if nothing more is said, and the grammar that it was heard in."""

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
        # What was said during recognition is still to come.
        took_s = self._clock() - begun
        self._endpointer.pause_s = max(pause_s, self._endpointer.silent_s + took_s)

    def _heard(self, phrase: Phrase) -> tuple[Phrase, Utterance[M]]:
        # A key, or a timer, may have moved the conversation on in the pause: then the words may
        # mean something else.
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
        """Return the silence that ends the phrase, and whether the utterance will stand then."""
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
