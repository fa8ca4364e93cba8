"""Hears phrases in the grammar that is live, and hands those that are meant for the bench to it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from assistant.audio import pcm
from assistant.audio.endpoint import Phrase
from assistant.bench import calling
from assistant.bench.addressing import Addressing, Way
from assistant.bench.calling import Called, WithCallWord
from assistant.bench.protocols import Attended
from assistant.dialogue.intents import Intent
from assistant.grammar.jsgf import Grammar
from assistant.recognition.endpointing import PhraseListener
from assistant.recognition.two_pass import TwoPassRecogniser
from assistant.recognition.utterance import Understanding, Utterance, Verdict


class Hearer:
    """Joins ears to whoever is spoken to.

    With a `clock`, in seconds, a phrase has just ended when it arrives, and an answer takes its
    time. Without one, time is that of the sound, and stands still while an answer is given.
    """

    def __init__(
        self,
        bench: Attended,
        ears: TwoPassRecogniser,
        addressing: Addressing,
        clock: Callable[[], float] | None = None,
    ) -> None:
        self._bench = bench
        self._ears = ears
        self._addressing = addressing
        self._clock = clock

    def phrases(self) -> PhraseListener[Intent | Called]:
        """Return what cuts a stream of sound into phrases, and has them heard here."""
        return PhraseListener(
            self.hear, self.grammar, self._clock, self._ears.activity, self._at_stake
        )

    def _at_stake(self, meaning: Intent | Called) -> bool:
        return self._understanding().at_stake(meaning)

    def grammar(self) -> Grammar:
        """Return what can be said now, with the call word where there is one."""
        grammar = self._bench.grammar()
        if self._addressing.way is Way.CALL_WORD:
            # A recogniser that has to find the call word finds it in what was not called.
            return calling.with_call_word(grammar, self._addressing.word, True)
        return grammar

    def prepare(self) -> None:
        """Make ready to hear what can be said now, so that its first phrase need not wait."""
        self._ears.prepare(self.grammar())

    def hear(self, phrase: Phrase, early: bool = False) -> Utterance[Intent | Called]:
        """Recognise a phrase, or, `early`, one that may go on. Nothing is done about it yet."""
        at = self._begun(phrase)
        if not self._addressing.listening(at):
            name = self._ears.name
            return Utterance((), None, Verdict.REJECTED, 0.0, name, audio_s=phrase.seconds)
        return self._ears.hear(
            pcm.from_bytes(phrase.data),
            self.grammar(),
            self._understanding(),
            for_us=lambda words: self._addressing.meant(words, at),
            # Most of what is heard then is talk to others.
            both=not self._addressing.word_optional(at),
            early=early,
            pause_s=phrase.pause_s,
        )

    def take(self, phrase: Phrase, heard: Utterance[Intent | Called]) -> bool:
        """Hand over what was heard, if it was meant for the bench. Returns whether it was."""
        addressing, at = self._addressing, self._begun(phrase)
        if not addressing.listening(at):
            return False
        if heard.verdict is Verdict.REJECTED and not addressing.word_optional(at):
            return False
        if not heard.accepted and heard.words == addressing.word:
            return False
        words = addressing.heard(heard.words, at)
        if words is None:
            return False
        if heard.words and not words:
            self._bench.called(heard.text)
            self._answered(phrase)
            return True
        self._bench.take(self._without_call(heard, words))
        if heard.accepted:
            # Asking again, perhaps because of other talk, does not keep the window open for it.
            self._answered(phrase)
        return True

    def _without_call(
        self, heard: Utterance[Intent | Called], words: tuple[str, ...]
    ) -> Utterance[Intent]:
        """Return the phrase without its call word."""
        meaning = None if isinstance(heard.meaning, Called) else heard.meaning
        return replace(heard, words=words, meaning=meaning)  # type: ignore[return-value]

    def _understanding(self) -> Understanding[Any]:
        if self._addressing.way is Way.CALL_WORD:
            return WithCallWord(self._bench, self._addressing.word)
        return self._bench

    def _begun(self, phrase: Phrase) -> float:
        return self._clock() - phrase.seconds if self._clock else phrase.start_s

    def answered(self, at: float) -> None:
        """Note that an answer was being said until then: what follows it needs no call word."""
        self._addressing.answered(at, standing_by=self._bench.standing_by)

    def _answered(self, phrase: Phrase) -> None:
        self.answered(self._clock() if self._clock else phrase.start_s + phrase.seconds)
