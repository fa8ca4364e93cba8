"""Finds the numbers, with their units, in a text that is spoken.

The text is turned into the words that are heard ("45 Nm" is "four five newton metres"), so figures
and words are found alike.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from assistant.grammar import numbers, units

_LONGEST_NUMBER = 10
_LONGEST_UNIT = 4


@dataclass(frozen=True)
class Spoken:
    """A number in a sentence."""

    value: Decimal
    unit: str | None
    """The unit's symbol; None if no unit follows."""
    before: tuple[str, ...]
    """The words before it in its sentence."""
    after: tuple[str, ...]
    """The words after it and its unit."""


def in_text(text: str) -> Iterator[Spoken]:
    """Yield each number of a text."""
    for sentence in re.split(r"[.;:!?](?:\s+|$)", text):
        words = tuple(
            re.sub(r"[^\w'. ]", " ", numbers.digits_to_words(_spaced(sentence)).lower()).split()
        )
        place = 0
        while place < len(words):
            end = _end_of_number(words, place)
            if end is None:
                place += 1
                continue
            unit, then = _unit_at(words, end)
            value = numbers.parse(words[place:end])
            yield Spoken(value, unit, words[:place], words[then:])
            place = then


def _spaced(sentence: str) -> str:
    """Return the sentence with units such as ft-lb as they are said."""
    return re.sub(r"(?i)\b(ft|foot)[-. ]?lbs?f?\b", "pound feet", sentence)


def _end_of_number(words: Sequence[str], start: int) -> int | None:
    """Return where the longest number that starts here ends; None if none does."""
    if not _begins_number(words[start]):
        return None
    for end in range(min(len(words), start + _LONGEST_NUMBER), start, -1):
        try:
            numbers.parse(words[start:end])
        except ValueError:
            continue
        return end
    return None


@lru_cache(maxsize=2000)
def _begins_number(word: str) -> bool:
    try:
        numbers.parse([word])
    except ValueError:
        return False
    return word not in ("o", "oh")


def _unit_at(words: Sequence[str], start: int) -> tuple[str | None, int]:
    for end in range(min(len(words), start + _LONGEST_UNIT), start, -1):
        try:
            return units.parse(words[start:end]), end
        except ValueError:
            continue
    return None, start
