"""Pronunciations of English words, from CMUdict (in PocketSphinx's package) or else by rule."""

from collections import defaultdict
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from assistant.grammar.respelling import Respellings
from assistant.recognition.pronunciation import PHONES, pronounce

Phones = tuple[str, ...]


@cache
def _dictionary() -> dict[str, list[str]]:
    import pocketsphinx

    found: dict[str, list[str]] = defaultdict(list)
    path = Path(pocketsphinx.__file__).parent / "model" / "en-us" / "cmudict-en-us.dict"
    for line in path.read_text(encoding="utf-8").splitlines():
        word, _, phones = line.partition(" ")
        # Further pronunciations are written "read(2)".
        found[word.partition("(")[0]].append(phones)
    return found


class Lexicon:
    """Pronunciations of words in the phones of CMUdict, without stress. None is ever empty.

    Respellings for `recogniser` come before the dictionary.
    """

    def __init__(self, respellings: Respellings | None = None, recogniser: str = "") -> None:
        self._respellings = respellings or Respellings()
        self._recogniser = recogniser
        self._known: dict[str, tuple[Phones, ...]] = {}

    def add(self, words: Iterable[str]) -> None:
        """Look up many words at once, because a process is started for those by rule."""
        new = {word.casefold() for word in words} - self._known.keys()
        for word in new:
            self._known[word] = self._looked_up(word)
        unknown = sorted(word for word in new if not self._known[word])
        for word, phones in pronounce(unknown).items():
            self._known[word] = (phones or _spelt(word),)

    def of(self, word: str) -> tuple[Phones, ...]:
        """Return every pronunciation of the word, the most common first."""
        word = word.casefold()
        if word not in self._known:
            self.add([word])
        return self._known[word]

    def lacks(self, word: str) -> bool:
        """Whether no dictionary has the word, and no respelling, so that rules pronounce it."""
        known = self._respellings.of(word, self._recogniser) or self._looked_up(word.casefold())
        return not known

    def _looked_up(self, word: str) -> tuple[Phones, ...]:
        respelling = self._respellings.of(word, self._recogniser)
        if respelling is not None:
            if all(part in PHONES for part in respelling):
                return (tuple(respelling),)
            parts = [self._looked_up(part.casefold()) for part in respelling]
            if all(parts):
                return (tuple(phone for part in parts for phone in part[0]),)
        return tuple(tuple(phones.split()) for phones in _dictionary().get(word, ()))


def spelt_with_known_words(word: str, phones: Phones) -> tuple[str, str] | None:
    """Return two words of the dictionary that sound like a word together, or None.

    Two of which it is written are best ("end cap" for endcap), then two that sound like it.
    """
    written = [
        (word[:place], word[place:])
        for place in range(3, len(word) - 2)
        if word[:place] in _dictionary() and word[place:] in _dictionary()
    ]
    index = _by_phones()
    heard = [
        (first, second)
        for place in range(2, len(phones) - 1)
        if (first := index.get(phones[:place])) and (second := index.get(phones[place:]))
    ]
    return min(written or heard, key=lambda two: abs(len(two[0]) - len(two[1])), default=None)


@cache
def _by_phones() -> dict[Phones, str]:
    """Return the shortest word of each pronunciation; short words are the commoner ones."""
    found: dict[Phones, str] = {}
    for word, spoken in _dictionary().items():
        if word.isalpha() and len(word) > 1:
            phones = tuple(spoken[0].split())
            if phones not in found or len(word) < len(found[phones]):
                found[phones] = word
    return found


def _spelt(word: str) -> Phones:
    """Return the names of a word's letters, for a word that the rules cannot pronounce."""
    names = (_dictionary().get(f"{letter}.") or [""] for letter in word if letter.isalpha())
    return tuple(phone for name in names for phone in name[0].split()) or ("AH",)
