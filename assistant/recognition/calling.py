"""Checks a call word: can it be told from what else is said at a bench?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.grammar.jsgf import GARBAGE, Grammar
from assistant.grammar.network import Arc, Network
from assistant.recognition.alignment import Aligner
from assistant.recognition.lexicon import Lexicon


@dataclass(frozen=True)
class CallWordCheck:
    """When a call word is doubted. Chosen by ear, not measured."""

    near: float = 0.25
    """Distance for each phone below which two words are easily confused: less than every third
    phone wrong. Higher: more call words are doubted."""
    short_phones: int = 3
    """A syllable of so few phones, such as "hey" or "mac", is in much of what is said."""


CHECK = CallWordCheck()


def doubts(word: tuple[str, ...], grammar: Grammar, lexicon: Lexicon) -> Iterator[str]:
    """Yield a plain sentence for each reason to choose another call word.

    It stands at the beginning of a phrase, so that is where it is compared: with each word that
    can begin a sentence of the grammar.
    """
    said = " ".join(word)
    spoken = [phones for part in word for phones in lexicon.of(part)[0]]
    vowels = sum(phone[0] in "AEIOU" for phone in spoken)
    if vowels <= 1 and len(spoken) <= CHECK.short_phones:
        yield (
            f"The call word “{said}” is one short syllable, and will be heard in other talk. "
            "Choose a longer one with --call-word."
        )
    begins = _first_words(grammar)
    if set(word) & begins:
        yield f"The call word “{said}” also begins a command. Choose another with --call-word."
        return
    if not begins:
        return
    first = _any_of(begins)
    nearest = Aligner(first, lexicon).nearest(tuple(spoken), most=1)
    for match in nearest:
        if match.distance < CHECK.near * len(spoken):
            yield (
                f"The call word “{said}” sounds like “{match.words[0]}”, which begins a command. "
                "Choose another with --call-word."
            )


def _first_words(grammar: Grammar) -> set[str]:
    """Return the words that can begin a sentence."""
    network = grammar.network()
    return {
        arc.word
        for state in network.closure([network.start])
        for arc in network.leaving[state]
        if arc.word is not None and arc.word != GARBAGE
    }


def _any_of(words: set[str]) -> Network:
    """Return a network of single words, each as likely as the others."""
    arcs = tuple(Arc(0, 1, 1 / len(words), word) for word in sorted(words))
    return Network(0, frozenset([1]), arcs, 2)
