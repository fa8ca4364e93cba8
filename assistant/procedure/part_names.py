"""Names that can be said, out of what suppliers write: "SEAL, OIL 35x52x7" is an oil seal.

A spoken name has letters only (`model.Words`). So sizes, standards and codes are left out, what
stands after a comma goes before ("bolt, hex" is a hex bolt), and the usual short forms are written
out. What that makes alike is told apart again: two by their size, as across the bench (long, short,
large, small), more by the figure that differs, and what has no figure by its number in the list.
The rules are common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import chain, count

from assistant.grammar import nouns, numbers
from assistant.procedure import lexicon

_MOST_WORDS = 4
_LONGEST = 50
"""Characters of a name; with a word before it and its plural, at most `model.Words` has (60)."""
_LARGEST_FIGURE = 999
_ROOM_FOR_NUMBER = 24
"""Characters of a name that leave room for "number nine hundred and ninety nine" after it."""

_SHORT_FORMS = {
    "assem": "assembly", "assy": "assembly", "brg": "bearing", "brgs": "bearings",
    "brkt": "bracket", "bshg": "bush", "clnt": "coolant", "cplg": "coupling", "crcl": "circlip",
    "csk": "countersunk", "cvr": "cover", "cyl": "cylinder", "dr": "drive", "exh": "exhaust",
    "flg": "flange", "fltr": "filter", "fr": "front", "frt": "front", "gsk": "gasket",
    "gskt": "gasket", "hd": "head", "hsg": "housing", "hyd": "hydraulic", "imp": "impeller",
    "inl": "inlet", "inr": "inner", "lh": "left", "lng": "long", "lwr": "lower",
    "mech": "mechanical", "mtg": "mounting", "oring": "o ring", "orings": "o rings",
    "otr": "outer", "plt": "plate", "rh": "right", "rr": "rear", "rtng": "retaining",
    "scr": "screw", "scrw": "screw", "shcs": "socket head cap screw", "shft": "shaft",
    "skt": "socket", "slv": "sleeve", "spcr": "spacer", "spg": "spring", "spr": "spring",
    "sprg": "spring", "ss": "stainless", "stl": "steel", "thr": "thrust", "upr": "upper",
    "vlv": "valve", "wshr": "washer", "wshrs": "washers",
}  # fmt: skip


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_MEASURES = _set(
    "mm cm m um in inch inches ft g kg l ml lt ltr bar nm deg od id dia diam diameter thk lg long "
    "wide thick x by pitch off pc pcs ea each shore sh"
)
"""What belongs to a figure and stands after it."""
_BEFORE_FIGURES = _set(
    "type size grade class no nr number din iso en bs ansi asme sae jis uni nf dn pn m dia diam "
    "diameter od id mk part series model ref pos item length thread code gr cl shore t"
)
"""What belongs to a figure and stands before it."""
_NEVER_SAID = _set("the a an oem genuine od id dia diam thk lg pn nr qty pcs ea")
_SHAPED = _set("ring rings bolt bolts belt belts seal seals clip clips section hook")
"""What a letter before it says the shape of: o ring, u bolt, v belt. Other letters are codes."""
_NOT_SINGULAR = _set("lens lenses bellows dies axis axes gas abs brass glass")


@dataclass(frozen=True)
class Spoken:
    """A name in the singular and the plural, letters and blanks only."""

    name: str
    plural: str


def spoken(text: str) -> str | None:
    """Return the name in what a supplier wrote, in the singular; None if there are no words in it.

    It has at most four words and fifty characters.
    """
    plain = _letters(text)
    return _name(re.sub(r"\([^)]*\)?|\[[^\]]*\]?", " , ", plain)) or _name(plain)


def told_apart(descriptions: Sequence[str]) -> tuple[Spoken, ...]:
    """Return a name for each description of one list, no two of them the same.

    What has no words in it is an "item", by its number in the list.
    """
    names = [spoken(text) for text in descriptions]
    alike: dict[str, list[int]] = defaultdict(list)
    for place, name in enumerate(names):
        if name is not None:
            alike[name].append(place)
    found: dict[int, Spoken] = {}
    taken = {name for name, places in alike.items() if len(places) == 1}
    for place, name in enumerate(names):
        if name is None:
            alike[""].append(place)
        elif name in taken:
            found[place] = Spoken(name, nouns.plural(name))
    for name, places in alike.items():
        if name and len(places) == 1:
            continue
        if not name:
            ways = [_numbered("item", [place + 1 for place in places])]
        else:
            texts = [descriptions[place] for place in places]
            ways = [*_by_size(name, texts), _numbered(name, range(1, len(places) + 1))]
        # Numbers count on where a name of the list is in the way.
        further = (
            _numbered(name or "item", range(start, start + len(places)))
            for start in count(len(descriptions) + 1)
        )
        given = next(way for way in chain(ways, further) if not taken & {one.name for one in way})
        taken |= {one.name for one in given}
        found.update(zip(places, given, strict=True))
    return tuple(found[place] for place in range(len(descriptions)))


def _letters(text: str) -> str:
    """Return the text in small Latin letters without accents."""
    text = text.replace("ß", "ss").replace("Æ", "ae").replace("æ", "ae")
    text = re.sub(r"[Øø](?=\s*\d)|⌀", " ", text).replace("Ø", "o").replace("ø", "o")
    decomposed = unicodedata.normalize("NFKD", text)
    return "".join(c for c in decomposed if not unicodedata.combining(c)).lower()


def _name(text: str) -> str | None:
    # A comma between figures is a decimal point; every other one turns the name round.
    segments = re.split(r",(?!\d)|(?<!\d),|[;:|]|\s[-–—]+\s", text)
    said = [words for segment in segments if (words := _words_of(segment))]
    if not said:
        return None
    # The head comes first in the text and last in the name; what would make it too long goes.
    words = said[0][-_MOST_WORDS:]
    for before in said[1:]:
        if len(before) + len(words) <= _MOST_WORDS and not set(before) & set(words):
            words = before + words
    words[-1] = _singular(words[-1])
    while len(" ".join(words)) > _LONGEST and len(words) > 1:
        words = words[1:]
    return " ".join(words)[:_LONGEST]


def _words_of(segment: str) -> list[str]:
    """Return the words of one segment that can be said, in the order in which they are said."""
    segment = re.split(r"\b(?:with|without|incl|including|includes)\b|\bc/w\b|\bw/", segment)[0]
    head, _, what_for = segment.partition(" for ")
    words = _kept(re.findall(r"[a-z0-9]+(?:[.'’][a-z0-9]+)*", head))
    if what_for and words:
        for_words = _kept(re.findall(r"[a-z0-9]+(?:[.'’][a-z0-9]+)*", what_for))
        if len(for_words) + len(words) <= _MOST_WORDS:
            words[-1] = _singular(words[-1])
            words = [_singular(word) for word in for_words] + words
    return words


def _kept(tokens: Sequence[str]) -> list[str]:
    words: list[str] = []
    after_figure = False
    for token in tokens:
        if any(character.isdigit() for character in token):
            while words and words[-1] in _BEFORE_FIGURES:
                words.pop()
            # "ring20x2": the word that runs into its size.
            joined = re.match(r"[a-z]{3,}(?=\d)", token)
            if joined and joined[0] not in _BEFORE_FIGURES:
                words.append(joined[0])
            after_figure = True
            continue
        if after_figure and token in _MEASURES:
            continue
        after_figure = False
        token = re.sub(r"[.'’]", "", token)
        words += _SHORT_FORMS.get(token, token).split()
    said: list[str] = []
    for place, word in enumerate(words):
        following = words[place + 1] if place + 1 < len(words) else ""
        if word in _NEVER_SAID and words != [word]:
            continue
        if len(word) == 1 and following not in _SHAPED:
            continue
        # Letters without a vowel are a code ("nbr", "fkm"), which nobody can say as a word.
        if len(word) > 1 and not re.search(r"[aeiouy]", word):
            continue
        if not said or said[-1] != word:
            said.append(word)
    return said


def _singular(word: str) -> str:
    known = lexicon.singular(word)
    if known is not None:
        return known
    if len(word) < 4 or word in _NOT_SINGULAR or not re.search(r"[^suia]s$|[aeio]es$", word):
        return word
    one = nouns.singular(word)
    return one if nouns.plural(one) == word else word


def figures(text: str) -> tuple[Decimal, ...]:
    """Return the figures in what a supplier wrote, in order: "M8x40" gives 8 and 40."""
    found = re.findall(r"\d{1,6}(?:[.,]\d{1,4})?", text)
    return tuple(Decimal(figure.replace(",", ".")) for figure in found)


def _by_size(name: str, texts: Sequence[str]) -> list[list[Spoken]]:
    """Return the ways to tell lines of one name apart by their figures, the best first."""
    sizes = [figures(text) for text in texts]
    if len({len(size) for size in sizes}) != 1:
        return []
    ways: list[list[Spoken]] = []
    columns = [column for column in zip(*sizes, strict=True) if len(set(column)) == len(column)]
    if not columns:
        return []
    if len(texts) == 2 and not {"long", "short", "large", "small"} & set(name.split()):
        thread = re.compile(r"\bm\d", re.IGNORECASE)
        same_thread = all(thread.search(text) for text in texts) and sizes[0][0] == sizes[1][0]
        less, more = ("short", "long") if same_thread else ("small", "large")
        column = columns[0]
        words = (less, more) if column[0] < column[1] else (more, less)
        ways.append([Spoken(f"{word} {name}", nouns.plural(f"{word} {name}")) for word in words])
    for column in columns:
        if all(figure <= _LARGEST_FIGURE for figure in column):
            ways.append([_followed(name, _said(figure)) for figure in column])
    return [way for way in ways if all(len(one.plural) <= _LONGEST + 10 for one in way)]


def _numbered(name: str, numbered: Sequence[int]) -> list[Spoken]:
    return [
        _followed(name[:_ROOM_FOR_NUMBER].strip(), f"number {numbers.cardinal(number)}")
        for number in numbered
    ]


def _followed(name: str, figure: str) -> Spoken:
    # "O rings twenty": the figure is part of the name, and a plural at its end would be no figure.
    return Spoken(f"{name} {figure}", f"{nouns.plural(name)} {figure}")


def _said(figure: Decimal) -> str:
    if figure == figure.to_integral_value():
        return numbers.cardinal(int(figure))
    return numbers.spell_digits(figure.normalize())
