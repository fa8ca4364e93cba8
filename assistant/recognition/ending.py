"""When a phrase is over: decided from what can still be said, not from silence alone.

In a short silence the phrase is heard as far as it goes. If the grammar has nothing that could
follow, it is over then and there. If something could (another digit, a unit, a note's own words),
or what was said is only a beginning, there is time for it; and if nothing more comes, what was
heard stands ready.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from assistant.audio.activity import VoiceActivity
from assistant.audio.endpoint import PAUSE_S, Endpointer, Phrase
from assistant.grammar.jsgf import GARBAGE, Grammar
from assistant.recognition.recogniser import Hearing

EARLY_S = 0.06
"""A silence that may be the end: it is heard then."""
_ANSWERED_S = 0.15
"""A silence that is the end where nothing could follow: longer than the closure of a stop between
two words of other talk that begins like a command. To hear the phrase takes about as long."""
_RECORDED_S = 0.25
"""The same where it would be recorded: that is heard twice meanwhile, and talk that only begins
like a command goes on by then."""
_BEGUN_S = 0.8
"""Silence that ends a phrase which is only the beginning of a sentence."""
_FREE_S = 0.8
"""Silence that ends free speech."""

Hear = Callable[[Phrase, bool], Hearing]
"""Hears a phrase; with True, one that may go on."""


class PhraseListener:
    """Turns a stream of sound into phrases and what is heard in each.

    `grammar` gives what can be said now, and `hear` hears it. `clock` is that of the stream, in
    seconds; without one the stream stands still while a phrase is heard, as a recording does.
    `activity` is for the end of speech in noise; `high_stakes` tells what is not to be hurried.
    """

    def __init__(
        self,
        hear: Hear,
        grammar: Callable[[], Grammar],
        clock: Callable[[], float] | None = None,
        activity: VoiceActivity | None = None,
        high_stakes: Callable[[Hearing], bool] = lambda hearing: False,
    ) -> None:
        self._hear = hear
        self._grammar = grammar
        self._clock = clock or (lambda: 0.0)
        self._endpointer = Endpointer(activity=activity)
        self._high_stakes = high_stakes
        self._guessed = False
        """Whether the phrase was heard in the silence that goes on now."""
        self._guess: Hearing | None = None

    @property
    def in_speech(self) -> bool:
        """Whether someone is speaking now."""
        return self._endpointer.in_speech

    def feed(self, block: bytes) -> Iterator[tuple[Phrase, Hearing]]:
        """Take the next block, of any length; the phrases that were over in it."""
        for frame in self._endpointer.frames(block):
            phrase = self._endpointer.take(frame)
            if phrase:
                yield self._heard(phrase)
            elif self._endpointer.silent_s < EARLY_S:
                self._forget()
            elif not self._guessed:
                self._look_ahead()

    def flush(self) -> Iterator[tuple[Phrase, Hearing]]:
        """End the stream: the phrase that was being spoken, if any."""
        for phrase in self._endpointer.flush():
            yield self._heard(phrase)

    def _look_ahead(self) -> None:
        begun = self._clock()
        hearing = self._hear(self._endpointer.so_far(), True)
        pause_s, stands = self._judged(hearing)
        self._guessed = True
        self._guess = hearing if stands else None
        # What was said while it was heard is still to come.
        took_s = self._clock() - begun
        self._endpointer.pause_s = max(pause_s, self._endpointer.silent_s + took_s)

    def _heard(self, phrase: Phrase) -> tuple[Phrase, Hearing]:
        hearing = self._guess or self._hear(phrase, False)
        self._forget()
        return phrase, hearing

    def _forget(self) -> None:
        if self._guessed:
            self._endpointer.pause_s = PAUSE_S
        self._guessed, self._guess = False, None

    def _judged(self, hearing: Hearing) -> tuple[float, bool]:
        """The silence after which the phrase is over, and whether what was heard will stand."""
        network = self._grammar().network()
        following = network.following(hearing.words)
        if GARBAGE in following:
            return _FREE_S, True
        if not network.accepts(hearing.words):
            return (_BEGUN_S if hearing.words and following else PAUSE_S), False
        if following or not hearing.accepted:
            return PAUSE_S, True
        return (_RECORDED_S if self._high_stakes(hearing) else _ANSWERED_S), True
