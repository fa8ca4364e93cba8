"""The sets of listeners that are compared, behind one interface."""

from collections.abc import Callable, Iterator
from functools import cache
from typing import Protocol

from assistant.audio.endpoint import Endpointer, Phrase
from assistant.audio.pcm import Pcm
from assistant.bench import ears as bench_ears
from assistant.dialogue.intents import Intent
from assistant.grammar import respelling
from assistant.grammar.jsgf import Grammar
from assistant.recognition import choosing
from assistant.recognition.endpointing import Hear
from assistant.recognition.two_pass import TwoPassRecogniser
from assistant.recognition.utterance import Understanding, Utterance

Intents = Understanding[Intent]


class Listener(Protocol):
    def hear(self, sound: Pcm, grammar: Grammar, understanding: Intents) -> Utterance[Intent]: ...


class Before:
    """PocketSphinx alone, as the assistant listened before it had more."""

    def __init__(self) -> None:
        fast = choosing.choose("pocketsphinx", respellings=respelling.standing())
        self._ears = TwoPassRecogniser(fast)

    def hear(self, sound: Pcm, grammar: Grammar, understanding: Intents) -> Utterance[Intent]:
        return self._ears.hear(sound, grammar, understanding)


class Paused:
    """Cuts a stream into phrases at its pauses, whatever is said: as it was before."""

    def __init__(self, hear: Hear[Intent]) -> None:
        self._hear = hear
        self._endpointer = Endpointer()

    def feed(self, block: bytes) -> Iterator[tuple[Phrase, Utterance[Intent]]]:
        for phrase in self._endpointer.feed(block):
            yield phrase, self._hear(phrase, False)

    def flush(self) -> Iterator[tuple[Phrase, Utterance[Intent]]]:
        for phrase in self._endpointer.flush():
            yield phrase, self._hear(phrase, False)


SETS: dict[str, Callable[[], Listener]] = {
    "before": Before,
    "fast": lambda: bench_ears.build("pocketsphinx", None, None, {}, second=False),
    "both": lambda: bench_ears.build("pocketsphinx", None, None, {}),
    "unsuppressed": lambda: bench_ears.build("pocketsphinx", None, None, {}, suppress=False),
}
"""By name: PocketSphinx alone; on suppressed sound; with the second listener; that unsuppressed."""


@cache
def made(name: str) -> Listener:
    """The set of this name, one in a process."""
    return SETS[name]()
