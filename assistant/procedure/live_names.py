"""The names that can be said in a job without a procedure, as rules of a grammar, and back again.

Three kinds of names are live together: those of the machine's list (`lexicon`), those of the kit,
and those that this job has brought. Each can have up to two qualifiers before it, said in any
order. The rules hold the qualifiers once, and never every product of qualifiers and nouns, so the
grammar stays small. What was said is turned into one name, so that "long upper bolts" and "upper
long bolt" are the same part.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from assistant.procedure.lexicon import Lexicon, Noun

MOST_QUALIFIERS = 2


@dataclass(frozen=True)
class Names:
    """The live names of one job at one moment."""

    nouns: tuple[Noun, ...]
    """Each name once: the job's, the kit's, the machine's list."""
    qualifiers: tuple[str, ...]
    """In the order in which a name keeps them."""

    @cached_property
    def rules(self) -> tuple[tuple[str, str], ...]:
        """The rules of a JSGF grammar as (name, expansion), as `vocabulary.rules` gives them.

        <part> is one or several, <one_part> the singular, <many_parts> the plural.
        """
        return (
            ("part", "<one_part> | <many_parts>"),
            ("one_part", "[<qualifiers>] <one_name>"),
            ("many_parts", "[<qualifiers>] <many_names>"),
            ("qualifiers", "<qualifier> [<qualifier>]"),
            ("qualifier", _any_of(self.qualifiers)),
            ("one_name", _any_of(noun.name for noun in self.nouns)),
            ("many_names", _any_of(noun.plural for noun in self.nouns)),
        )

    def named(self, words: Sequence[str]) -> Noun | None:
        """Return the part that the words name, with its qualifiers in order; None if they do not.

        `words` are those of <one_part> or <many_parts>, or a name that was kept. Of the names that
        are in them the one with the most qualifiers counts: of "long bolt" and "bolt" in the kit
        it is the first. The order in which the qualifiers were said makes no difference.
        """
        parsed = self._parsed(tuple(words))
        if parsed is None or len(parsed[0]) > MOST_QUALIFIERS:
            return None
        before, noun = parsed
        own, base = self._taken_apart[noun]
        told = own | set(before)
        chosen, its_own = max(
            ((n, q) for n, (q, b) in self._taken_apart.items() if b == base and q <= told),
            key=lambda one: (len(one[1]), one[0].name),
        )
        ahead = " ".join(sorted(told - its_own, key=self._place.__getitem__))
        return Noun(f"{ahead} {chosen.name}".strip(), f"{ahead} {chosen.plural}".strip())

    def _parsed(
        self, words: tuple[str, ...], first: int = 0
    ) -> tuple[tuple[str, ...], Noun] | None:
        """Return the qualifiers and the longest name that the words are, from a place on."""
        for start in range(first, len(words)):
            noun = self._by_words.get(words[start:])
            before = self._split(words[:start])
            if noun is not None and before is not None:
                return before, noun
        return None

    @cached_property
    def _taken_apart(self) -> dict[Noun, tuple[frozenset[str], Noun]]:
        """Each name's own qualifiers, and the name that is left without them."""
        apart: dict[Noun, tuple[frozenset[str], Noun]] = {}
        for noun in self.nouns:
            own: frozenset[str] = frozenset()
            base = noun
            while (inner := self._parsed(tuple(base.name.split()), 1)) is not None:
                own, base = own | set(inner[0]), inner[1]
            apart[noun] = own, base
        return apart

    @cached_property
    def _by_words(self) -> dict[tuple[str, ...], Noun]:
        # A name goes before the plural of another: where "press" is one, it is not several.
        found = {tuple(noun.plural.split()): noun for noun in reversed(self.nouns)}
        found |= {tuple(noun.name.split()): noun for noun in reversed(self.nouns)}
        return found

    @cached_property
    def _place(self) -> dict[str, int]:
        return {word: place for place, word in enumerate(self.qualifiers)}

    def _split(self, words: tuple[str, ...]) -> tuple[str, ...] | None:
        """Return the qualifiers that the words are, one after another; None if they are not."""
        if not words:
            return ()
        for end in range(len(words), 0, -1):
            first = " ".join(words[:end])
            if first in self._place and (rest := self._split(words[end:])) is not None:
                return (first, *rest)
        return None


def names(lexicon: Lexicon, kit: Iterable[Noun] = (), job: Iterable[Noun] = ()) -> Names:
    """Return the live names: those of this job, of its kit, and of the machine's list.

    A name of the job or kit goes before the same one of the list, with its own plural.
    """
    found: dict[str, Noun] = {}
    for noun in (*job, *kit, *lexicon.nouns):
        found.setdefault(noun.name, noun)
    return Names(tuple(found.values()), lexicon.qualifier_words())


def _any_of(phrases: Iterable[str]) -> str:
    return " | ".join(dict.fromkeys(phrases)) or "<VOID>"
