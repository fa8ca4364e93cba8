"""Checks whether a call word can be told apart from other talk at a bench."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.grammar.jsgf import GARBAGE, Grammar
from assistant.grammar.network import Arc, Network
from assistant.recognition.alignment import Aligner
from assistant.recognition.lexicon import Lexicon


@dataclass(frozen=True)
class CallWordCheck:
    """Thresholds for a warning about a call word. Chosen by ear, not measured."""

    near: float = 0.25
    """Distance per phone below which two words are easily confused: about one wrong phone in three.
    Higher: more call words get a warning."""
    short_phones: int = 3
    """Most phones of a syllable that occurs in much other talk, such as "hey" or "mac"."""


CHECK = CallWordCheck()


def doubts(word: tuple[str, ...], grammar: Grammar, lexicon: Lexicon) -> Iterator[str]:
    """Yield a sentence for people for each reason to choose another call word.

    The call word begins a phrase, so it is compared with every word that can begin a sentence of
    the grammar.
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
    """Return a network of single words, all equally likely."""
    arcs = tuple(Arc(0, 1, 1 / len(words), word) for word in sorted(words))
    return Network(0, frozenset([1]), arcs, 2)
