"""Tells whether what a procedure has people say can be heard: advice for its writer.

It compares the pronunciations of names that can be said at one moment, finds numbers that are
mistaken for each other where both would be believed, and words that no dictionary has. All of it is
advice: the recognisers may do better than the rule, and they ask again where they are not sure.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from rapidfuzz import process
from rapidfuzz.distance import Levenshtein

from assistant.grammar import nouns, numbers, respelling
from assistant.grammar.respelling import Respellings
from assistant.procedure import routes
from assistant.procedure.model import Limits, Procedure, Reading, Step
from assistant.procedure.problems import Fault, Place, Severity
from assistant.recognition.alignment import COSTS, phone_distance
from assistant.recognition.lexicon import Lexicon, Phones, spelt_with_known_words
from assistant.recognition.pronunciation import PHONES
from assistant.trade import units

Hint = tuple[Fault, Severity]


@dataclass(frozen=True)
class Likeness:
    """When two names are too much alike, in the units of `alignment.PhoneCosts`."""

    most: float = 0.8
    """Weighted distance up to which two names are told: two phones of one group, or one that is
    left out. Higher: more pairs are told that are heard well."""


LIKENESS = Likeness()
_ROWS = 500
"""Names that are compared with all others at once: what bounds the memory that it takes."""
_BETTER = (
    *("upper", "lower", "front", "rear", "inner", "outer"),
    *("left", "right", "long", "short", "large", "small"),
)
"""Words that tell two things apart, and sound unlike each other."""
_TAKEN_FOR_NUMBERS = ("to", "too", "for", "won", "ate", "oh")


def hints(procedure: Procedure) -> Iterator[Hint]:
    """Yield what is hard to hear, with the place and how grave it is."""
    lexicon = Lexicon(_respellings(procedure))
    named = list(_named(procedure))
    lexicon.add(word for name, _ in named for word in _words(name))
    yield from _lacking(named, lexicon)
    yield from _alike(_parts(procedure), lexicon, "parts")
    for where, step in routes.placed(procedure):
        for group, what in _groups(where, step):
            yield from _alike(group, lexicon, what)
        yield from _numbers_at_risk(where, step)
    yield from _run_into_numbers(procedure)


def _respellings(procedure: Procedure) -> Respellings:
    """Return what ships with the program for any recogniser, and the procedure's own over it."""
    shipped = respelling.standing()
    words = {word: " ".join(as_) for of in shipped.sections.values() for word, as_ in of.items()}
    return Respellings().with_extra(words).with_extra(procedure.respell)


Named = tuple[str, Place]


def _words(name: str) -> list[str]:
    return name.replace("-", " ").split()


def _parts(procedure: Procedure) -> list[Named]:
    return [
        (name, ("parts", number, "name" if name == part.name else "also"))
        for number, part in enumerate(procedure.parts)
        for name in (part.name, *part.also)
    ]


def _groups(where: Place, step: Step) -> Iterator[tuple[list[Named], str]]:
    """Yield the names of a step that stand for each other in a sentence."""
    if step.question:
        at = (*where, "question", "answers")
        yield (
            [
                (words, (*at, number, "say"))
                for number, answer in enumerate(step.question.answers)
                for words in (answer.say, *answer.also)
            ],
            "answers",
        )
    yield (
        [(r.name, (*where, "readings", n, "name")) for n, r in enumerate(step.readings)],
        ("readings"),
    )
    yield (
        [(f.name, (*where, "fasteners", n, "name")) for n, f in enumerate(step.fasteners)],
        ("fasteners"),
    )


def _named(procedure: Procedure) -> Iterator[Named]:
    """Yield everything that is said by name, once."""
    seen: set[str] = set()
    found = [*_parts(procedure)]
    found += [(name, ("places", n)) for n, name in enumerate(procedure.places)]
    found += [(name, ("conditions", n)) for n, name in enumerate(procedure.conditions)]
    for where, step in routes.placed(procedure):
        found += [one for group, _ in _groups(where, step) for one in group]
        if step.wait:
            found.append((step.wait.purpose, (*where, "wait", "purpose")))
    for name, at in found:
        if name not in seen:
            seen.add(name)
            yield name, at


def _lacking(named: Iterable[Named], lexicon: Lexicon) -> Iterator[Hint]:
    told: set[str] = set()
    for name, at in named:
        for word in _words(name):
            if word in told or not lexicon.lacks(word):
                continue
            told.add(word)
            phones = lexicon.of(word)[0]
            known = spelt_with_known_words(word, phones)
            instead = (
                f"Spell it with words that recognisers know, as in respell: {{{word}: "
                f"{' '.join(known)}}}"
                if known
                else "Spell it with words that recognisers know, under 'respell', or call the "
                "thing otherwise"
            )
            yield (
                (
                    at,
                    f"no dictionary has '{word}', so it is listened for as {' '.join(phones)}, by "
                    f"rule, and is heard worse. Listen to it: assistant say --word {word}. "
                    f"{instead}",
                ),
                Severity.WARNING,
            )


def _alike(group: Sequence[Named], lexicon: Lexicon, what: str) -> Iterator[Hint]:
    """Yield pairs of names that a recogniser takes for each other."""
    spoken = {name: _phones(name, lexicon) for name, _ in group}
    others = [name for name, _ in group]
    better: dict[str, str] = {}
    for (one, _), (other, at) in _pairs(group, spoken):
        if one == other or one in (nouns.plural(other), other + "s") or other == nouns.plural(one):
            continue
        distance = phone_distance(spoken[one], spoken[other])
        if distance <= LIKENESS.most:
            noun = other.split()[-1]
            if noun not in better:
                better[noun] = _better(noun, others, lexicon)
            yield (
                (
                    at,
                    f"the {what} '{one}' and '{other}' sound alike, so the one is sooner or later "
                    f"recorded for the other. Call one of them otherwise, such as {better[noun]}",
                ),
                Severity.WARNING,
            )


def _pairs(group: Sequence[Named], spoken: dict[str, Phones]) -> Iterator[tuple[Named, Named]]:
    """Yield the pairs that differ in so few phones that their weighted distance may be small."""
    if len(group) < 2:
        return
    # Each phone as one character, so that a library in C can sift five thousand names.
    texts = ["".join(chr(33 + PHONES.index(phone)) for phone in spoken[name]) for name, _ in group]
    edits = int(LIKENESS.most / COSTS.alike)
    for start in range(0, len(texts), _ROWS):
        near = process.cdist(
            texts[start : start + _ROWS],
            texts,
            scorer=Levenshtein.distance,
            score_cutoff=edits,
            dtype=np.uint8,
        )
        for row, column in np.argwhere(near <= edits):
            if column > start + row:
                yield group[start + row], group[column]


def _phones(name: str, lexicon: Lexicon) -> Phones:
    return tuple(phone for word in _words(name) for phone in lexicon.of(word)[0])


def _better(noun: str, others: Sequence[str], lexicon: Lexicon) -> str:
    """Return two names for such a thing that are as far as can be from the others."""
    against = [_phones(one, lexicon) for one in others if one.split()[-1] == noun][:50]
    lexicon.add(_BETTER)

    def nearest(candidate: str) -> float:
        phones = _phones(candidate, lexicon)
        return min((phone_distance(phones, one) for one in against), default=0.0)

    candidates = [f"{word} {noun}" for word in _BETTER if f"{word} {noun}" not in others]
    best = sorted(candidates, key=nearest, reverse=True)[:2]
    return " or ".join(f"'{one}'" for one in best)


_TEENS = tuple((teen, (teen - 10) * 10) for teen in range(13, 20))
"""Numbers that differ in their last syllable: thirteen and thirty, fourteen and forty …"""


def _numbers_at_risk(where: Place, step: Step) -> Iterator[Hint]:
    for number, reading in enumerate(step.readings):
        pair = next((pair for pair in _TEENS if all(_good(value, reading) for value in pair)), None)
        if pair:
            yield (
                (
                    (*where, "readings", number, "limits"),
                    f"{pair[0]} and {pair[1]} sound alike, and both are good values of "
                    f"'{reading.name}', so a mistaken one is not noticed. Narrow the limits, or "
                    "have it said digit by digit, and have it read back",
                ),
                Severity.NOTE,
            )
    targets = {
        (amount.value, amount.unit): (*where, "tighten", number, "torque")
        for number, tighten in enumerate(step.tighten)
        for amount in (*tighten.passes, tighten.torque)
    }
    for (value, unit), at in targets.items():
        for teen, ty in _TEENS:
            if value == teen and (Decimal(ty), unit) in targets:
                yield (
                    (
                        at,
                        f"{teen} and {ty} {unit} sound alike, and this step asks for both. Make "
                        "two steps of it, or have them said digit by digit",
                    ),
                    Severity.WARNING,
                )


def _good(value: int, reading: Reading) -> bool:
    """Whether a number in the reading's unit is within limits that are given on both sides."""
    limits = reading.limits
    if reading.resolution is not None and reading.resolution.value < 1:
        # With decimals it is said digit by digit: “one three point zero”.
        return False
    if limits.least is None or limits.most is None:
        return False
    return _at(limits, "least", reading) <= value <= _at(limits, "most", reading)


def _at(limits: Limits, end: str, reading: Reading) -> float:
    amount = getattr(limits, end)
    return units.convert(float(amount.value), amount.unit, reading.unit)


def _run_into_numbers(procedure: Procedure) -> Iterator[Hint]:
    """Yield names before values that end in a word that is taken for a number."""
    told: set[str] = set()
    for where, step in routes.placed(procedure):
        # Where a value can be implausible, one that ran into its name is questioned.
        named = [
            (r.name, (*where, "readings", n, "name"))
            for n, r in enumerate(step.readings)
            if r.plausible.most is None
        ]
        named += [
            (t.fastener, (*where, "tighten", n, "fastener")) for n, t in enumerate(step.tighten)
        ]
        for name, at in named:
            last = name.split()[-1]
            if name in told or not (last in _TAKEN_FOR_NUMBERS or numbers.is_number(last)):
                continue
            told.add(name)
            # A number that belongs to the name is listened for as such; the others are not.
            grave = Severity.WARNING if last in _TAKEN_FOR_NUMBERS else Severity.NOTE
            yield (
                (
                    at,
                    f"'{name}' ends in what is heard as a number and runs into the value: "
                    f"“{name} five” may be heard as one number. Put the number first or use a "
                    "word, such as 'upper' or 'rear'",
                ),
                grave,
            )
