"""Being called by a word, as in "bench, next step": the grammar with it, and what it means."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Generic, TypeVar

from assistant.bench.addressing import without_call
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Alternatives, Expansion, Grammar, Reference, Rule, Sequence_
from assistant.grammar.jsgf import Word as Said
from assistant.recognition.utterance import Understanding

M = TypeVar("M")

CALLED = "call$"
"""The name of the rule for a sentence with the call word; no grammar uses "$" in a name."""

_MOST_WORDS = 3
_WORD = re.compile(r"[^\W\d_]+('[^\W\d_]+)*")


@dataclass(frozen=True)
class Likelihoods:
    """How the call word is expected, as probabilities. Neither was measured."""

    alone: float = 0.1
    """That the call word is said alone. More makes the recogniser hear it in talk that only begins
    like it."""
    without: float = 0.5
    """That a sentence has no call word, where it needs none: either way is as likely."""


_LIKELIHOODS = Likelihoods()


def call_word(text: str) -> tuple[str, ...]:
    """Return the words of a call word. Anything but one to three words is an AssistantError."""
    words = tuple(text.casefold().split())
    if not 1 <= len(words) <= _MOST_WORDS or not all(map(_WORD.fullmatch, words)):
        raise AssistantError(
            f"{text!r} is no call word; it is one word, or up to three, of letters alone."
        )
    return words


@dataclass(frozen=True)
class Called:
    """The meaning of the call word said alone: somebody wants to be listened to."""


@dataclass(frozen=True)
class WithCallWord(Generic[M]):
    """Understands phrases with or without the call word in front of them."""

    inner: Understanding[M]
    """Understands what follows the call word."""
    word: tuple[str, ...]

    def means(self, words: Sequence[str]) -> M | Called | None:
        """Return what the words after the call word mean; `Called` for the call word alone."""
        rest, called = without_call(words, self.word)
        return Called() if called and not rest else self.inner.means(rest)

    def at_stake(self, meaning: M | Called) -> bool:
        """Return whether both listeners must hear it; so they must the call word alone."""
        return isinstance(meaning, Called) or self.inner.at_stake(meaning)

    def numeric(self, meaning: M | Called) -> bool:
        """Return whether there is a number in it."""
        return not isinstance(meaning, Called) and self.inner.numeric(meaning)

    def fits(self, meaning: M | Called) -> bool:
        """Return whether it would be taken without questioning its value."""
        return isinstance(meaning, Called) or self.inner.fits(meaning)


@lru_cache(maxsize=128)
def with_call_word(grammar: Grammar, word: tuple[str, ...], optional: bool) -> Grammar:
    """Return the grammar whose sentences are the call word, alone or before one of the grammar's.

    With `optional` they may also be said without it. Use that even where the call word is needed,
    and drop what was heard without it. A recogniser that has to find the call word finds it in
    commands that were not called: of 30 such commands in two synthetic voices it was unsure of 11,
    and of none with `optional`. Of 30 called commands both took 28.

    A parse is a `Node` of the rule `CALLED`, with the grammar's own beneath it. The result is
    remembered for each grammar object.
    """
    call = tuple(Said(part) for part in word)
    said = tuple(Reference(name, 0) for name in grammar.public)
    sentence: Expansion = Alternatives(said, (1.0,) * len(said))
    branches: list[Expansion] = [Sequence_(call), Sequence_((*call, sentence))]
    weights = [_LIKELIHOODS.alone, 1 - _LIKELIHOODS.alone]
    if optional:
        branches.append(sentence)
        weights = [
            *(weight * (1 - _LIKELIHOODS.without) for weight in weights),
            _LIKELIHOODS.without,
        ]
    rule = Rule(CALLED, True, Alternatives(tuple(branches), tuple(weights)), 0)
    rules = {
        # Only `CALLED` is public: nothing else can be said by itself.
        name: Rule(name, False, old.expansion, old.line)
        for name, old in grammar.rules.items()
    }
    return Grammar(grammar.name, {**rules, CALLED: rule}, (CALLED,), grammar.source)
