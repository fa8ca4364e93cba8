"""Grammars for a bench that is called by a word: "bench, next step"."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from assistant.bench.addressing import without_call
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Alternatives, Expansion, Grammar, Reference, Rule, Sequence_
from assistant.grammar.jsgf import Word as Said

CALLED = "call$"
"""The rule that a called sentence is; "$" keeps it apart from the names that grammars use."""

_MOST_WORDS = 3
_WORD = re.compile(r"[^\W\d_]+('[^\W\d_]+)*")

# Shares of probability: the word alone is said seldom. In the window either way is as likely.
_ALONE = 0.1
_WITHOUT = 0.5


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
    """What the call word alone means: somebody wants to be listened to."""


def with_call_meaning(
    understand: Callable[[tuple[str, ...]], object | None], word: tuple[str, ...]
) -> Callable[[tuple[str, ...]], object | None]:
    """Return what tells the meaning of words with or without the call word in front of them."""

    def means(words: tuple[str, ...]) -> object | None:
        rest, called = without_call(words, word)
        return Called() if called and not rest else understand(rest)

    return means


@lru_cache(maxsize=128)
def with_call_word(grammar: Grammar, word: tuple[str, ...], optional: bool) -> Grammar:
    """Return the grammar whose sentences are the call word, alone or before one of the grammar's.

    With `optional` they may be without it as well. Listen for that one even where the word is
    needed, and drop what was heard without it: a listener that must hear the word finds it in
    commands that were not called. Of 30 of those, in two synthetic voices, it was unsure of 11; of
    none where it need not. Of 30 called ones both took 28.

    A parse is a `Node` of the rule `CALLED`, with the grammar's own beneath it. Each is made once
    for each grammar object.
    """
    call = tuple(Said(part) for part in word)
    said = tuple(Reference(name, 0) for name in grammar.public)
    sentence: Expansion = Alternatives(said, (1.0,) * len(said))
    branches: list[Expansion] = [Sequence_(call), Sequence_((*call, sentence))]
    weights = [_ALONE, 1 - _ALONE]
    if optional:
        branches.append(sentence)
        weights = [*(weight * (1 - _WITHOUT) for weight in weights), _WITHOUT]
    rule = Rule(CALLED, True, Alternatives(tuple(branches), tuple(weights)), 0)
    rules = {
        # What could be said before is not, without the word.
        name: Rule(name, False, old.expansion, old.line)
        for name, old in grammar.rules.items()
    }
    return Grammar(grammar.name, {**rules, CALLED: rule}, (CALLED,), grammar.source)
