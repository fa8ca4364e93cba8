"""Plurals and articles of English nouns.

The names of parts and fasteners come from procedures, so any noun of the trade may turn up: bush,
boss, key, crankcase half. A library gives the plural of the last word. If a procedure gives a
plural of its own, the caller has to pass it.
"""

from __future__ import annotations

from functools import lru_cache

from pluralizer import Pluralizer

_PLURALS = Pluralizer()  # type: ignore[no-untyped-call]
# Words whose plural in the trade is not the library's: dies here cut threads.
for _one, _many in (("die", "dies"), ("lens", "lenses")):
    _PLURALS.add_irregular_rule(_one, _many)

# Letters whose names begin with a vowel sound: an o ring, an s hook, but a u bolt.
_VOWEL_NAMES = frozenset("aefhilmnorsx")
_AS_CONSONANT = ("uni", "use", "usu", "eu", "one", "once", "ute")
_SILENT_H = ("hour", "honest", "heir")


def plural(noun: str) -> str:
    """Return the plural of a noun: "bush" gives "bushes". A plural stays as it is."""
    head, space, last = noun.rpartition(" ")
    return f"{head}{space}{_plural_word(last)}"


@lru_cache(maxsize=4096)
def _plural_word(word: str) -> str:
    """Return a word's plural. Thousands of parts end in few words, and working one out is slow."""
    return str(_PLURALS.pluralize(word))


@lru_cache(maxsize=1024)
def singular(noun: str) -> str:
    """Return the singular of a plural: "bushes" gives "bush". A guess for words that are neither.

    Words that end in s but are one thing ("lens", "bellows") may lose their s.
    """
    head, space, last = noun.rpartition(" ")
    return f"{head}{space}{_PLURALS.singular(last)}"


def counted(number: int, noun: str, many: str | None = None) -> str:
    """Return the noun as it follows a number; `many` is its plural, if the caller has one."""
    return noun if abs(number) == 1 else many or plural(noun)


def article(noun: str) -> str:
    """Return "a" or "an", by the sound of the first word: "an o ring", "a u bolt", "a union"."""
    word = noun.replace("-", " ").split(" ", 1)[0].lower()
    if len(word) == 1:
        return "an" if word in _VOWEL_NAMES else "a"
    if word.startswith(_AS_CONSONANT):
        return "a"
    return "an" if word.startswith(("a", "e", "i", "o", "u", *_SILENT_H)) else "a"
