"""What an instruction tells beside itself: which way parts go, which fasteners it names.

Everything here is a proposal out of plain English. Whoever uses it marks it to be confirmed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from assistant.authoring.typed import tidy
from assistant.grammar import nouns, numbers
from assistant.procedure import part_names

LONGEST = 400
"""Characters of a text that is spoken, as the model has it."""

_FASTENERS = "bolt|screw|nut|stud|capscrew|setscrew|plug|union|banjo|fitting"
_NUMBERS = {numbers.cardinal(number): number for number in range(1, 21)}
_NO_NAMES = frozenset(
    (
        "the", "a", "an", "all", "each", "every", "both", "new", "old", "remaining", "to", "and",
        "with", "in", "of", "on", "its", "their", "these", "those", "any", "tighten", "torque",
        "install", "fit", "replace", "remove", "loosen", "undo", "unscrew", "take", "out", "off",
        "refit", "insert", "then", "thread", "using", "for", "mm", "x", "lubricate", "oil",
        "screw", "coat", "apply", "clean", "check", "renew",
    )
)  # fmt: skip
_FASTENER = re.compile(
    rf"(?:\b(?P<count>\d{{1,3}}|{'|'.join(_NUMBERS)})\s+(?:off\s+|x\s+)?)?"
    rf"(?P<before>(?:[A-Za-z0-9.,-]+\s+){{0,3}}?)(?P<noun>(?:{_FASTENERS})s?)\b",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class FastenerNamed:
    """A fastener that a text names."""

    name: str
    """In the singular, as it is said."""
    count: int | None
    """How many, 1 for one in the singular; None where the text does not say."""


_COUNT_AFTER = re.compile(r"\s*(?:M\S+\s*)?[(\[]?\s*(\d{1,3})\s*(?:off|x|pcs)\b")


def fasteners_in(text: str) -> list[FastenerNamed]:
    """Return the fasteners that an instruction names: "tighten the four M8 cover bolts". Each name
    once, in the order in which they are named.
    """
    found: dict[str, FastenerNamed] = {}
    for match in _FASTENER.finditer(text):
        words = [word.strip(".,") for word in match["before"].split()]
        count = match["count"]
        for number in range(len(words) - 1, -1, -1):
            if words[number].casefold() in _NO_NAMES:
                words = words[number + 1 :]
                break
        for number, word in enumerate(words):
            if word.casefold() in _NUMBERS or word.isdigit():
                count, words = word, words[number + 1 :]
                break
        if match["noun"].casefold() == "screw" and not words and not count:
            continue  # "screw in": what is done, and no fastener
        after = _COUNT_AFTER.match(text, match.end())
        count = count or (after[1] if after else None)
        name = part_names.spoken(" ".join([*words, match["noun"]]))
        if name:
            single = nouns.singular(match["noun"].casefold()) == match["noun"].casefold()
            several = _NUMBERS.get(count.casefold()) or int(count) if count else None
            named = FastenerNamed(name, several or (1 if single else None))
            # The one that was named last comes last.
            known = found.pop(name, None)
            found[name] = known if known is not None and known.count else named
    return list(found.values())


def count_of(name: str, text: str) -> int | None:
    """Return how many of a fastener a text says there are; None where it does not."""
    noun = name.split()[-1]
    pattern = rf"\b(\d{{1,3}}|{'|'.join(_NUMBERS)})\s+(?:[a-z0-9.-]+\s+){{0,3}}?{noun}"
    found = re.search(pattern, text, re.IGNORECASE)
    if found is None:
        return None
    return _NUMBERS.get(found[1].casefold()) or int(found[1])


_OFF = re.compile(
    r"\b(?:remove|take (?:off|out|the .* (?:off|out))|undo|unscrew|unbolt|disconnect|dismantle|"
    r"disassemble|strip|pull|drain|withdraw|extract|lift (?:off|out)|slacken|loosen|"
    r"detach|discard)\b",
    re.IGNORECASE,
)
_ON = re.compile(
    r"\b(?:fit|refit|install|reinstall|insert|replace|renew|mount|assemble|reassemble|attach|"
    r"connect|reconnect|tighten|torque|screw in|put (?:on|back|in)|press (?:in|on)|"
    r"bolt on)\b",
    re.IGNORECASE,
)
_OFF_STAGE = re.compile(r"strip|dis-?assembl|dismantl|removal|remove|take ?down", re.IGNORECASE)
_ON_STAGE = re.compile(r"build|\b(?:re-?)?assembl|install|refit|fitting", re.IGNORECASE)

Way = Literal["off", "on"]


def way(text: str, stage: str = "") -> Way | None:
    """Return whether parts come off or go on in a step; None where neither is told."""
    off, on = _OFF.search(text), _ON.search(text)
    if (off is None) != (on is None):
        return "off" if off else "on"
    if _OFF_STAGE.search(stage):
        return "off"
    if _ON_STAGE.search(stage):
        return "on"
    if off and on:
        return "off" if off.start() < on.start() else "on"
    return None


def names_a_stage(text: str) -> bool:
    """Whether a line by itself is the heading of a stage."""
    clean = text.strip().rstrip(":")
    return (
        len(clean) <= 60
        and not clean.endswith((".", ","))
        and (
            clean.isupper()
            or text.strip().endswith(":")
            or re.fullmatch(
                r"(?:\w+[ -])?(?:strip[ -]?down|dis-?assembly|dismantling|removal|inspection|"
                r"cleaning|build[ -]?up|(?:re-?)?assembly|installation|testing|test|make (?:it )?"
                r"safe|preparation|final checks?|commissioning)",
                clean,
                re.IGNORECASE,
            )
            is not None
        )
    )


_SIGNAL = re.compile(r"\W*(danger|warning|caution|notice|note|important)\b\W*", re.IGNORECASE)
Signal = Literal["danger", "warning", "caution", "notice"]


def hazards(text: str, signal: Signal) -> list[dict[str, str]]:
    """Return the hazards in a text, a line or so each; `signal` is for those without a word."""
    found = []
    for line in filter(None, map(str.strip, text.split("\n"))):
        begins = _SIGNAL.match(line)
        own: str = signal
        if begins is not None and begins.end() < len(line):
            own = begins[1].casefold()
            own = "notice" if own in ("note", "important") else own
            line = line[begins.end() :]
        found += [{"signal": own, "say": _sentence(part)} for part in parts_of(line)]
    return found


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def parts_of(text: str) -> Iterator[str]:
    """Yield a text in parts that can be spoken, cut between sentences where that is possible."""
    text = " ".join(text.split())
    while len(text) > LONGEST:
        cut = max(text.rfind(mark, 0, LONGEST) for mark in (". ", "; ", "! ", "? "))
        cut = cut + 1 if cut > 0 else max(text.rfind(" ", 0, LONGEST), 1)
        yield text[:cut].strip()
        text = text[cut:].strip()
    if text:
        yield text


_MEASURED = re.compile(
    r"\b(?:measure|check|read|gauge|record|note)\b\s+(?:that\s+)?(?:the\s+)?"
    r"(?P<what>[a-z][a-z -]+)",
    re.IGNORECASE,
)


def reading_in(text: str) -> str | None:
    """Return what an instruction says to measure: "measure the end float of …" is the end float."""
    match = _MEASURED.search(text)
    if match is None:
        return None
    what = re.split(r"\b(?:of|at|in|on|with|and|is|are|to|between|from|does)\b", match["what"])[0]
    return part_names.spoken(what)


_COUNTED = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        r"(?P<count>\d{1,3})\s*(?:x|×|off|pcs)\s*(?P<name>.+)",
        r"(?P<name>.+?)\s*[(\[]?\s*(?:x|×|qty\.?)\s*(?P<count>\d{1,3})\s*[)\]]?",
        r"(?P<name>.+?)\s*[(\[]\s*(?P<count>\d{1,3})\s*(?:off|pcs|x|×)?\s*[)\]]",
        r"(?P<count>\d{1,3})\s+(?P<name>[a-z].+)",
    )
)


def counted(text: str) -> tuple[int | None, str]:
    """Return how many and what: "2 x oil seal", "oil seal (2)". None where no count is written."""
    clean = tidy(text)
    for pattern in _COUNTED:
        match = pattern.fullmatch(clean)
        if match is not None:
            return int(match["count"]), match["name"].strip()
    return None, clean


def listed(text: str) -> list[str]:
    """Return the entries of a list in one cell: a line each, or with commas or semicolons between.

    A comma between figures divides nothing.
    """
    found = re.split(r"\s*(?:[;\n]|,(?!\d)|\s[+&]\s)\s*", text)
    clean = (re.sub(r"^[-•*·]\s*", "", one).strip(" .") for one in found)
    return [one for one in clean if one and one.casefold() not in ("-", "none", "n/a", "and")]


def has_a_word(text: str) -> bool:
    """Whether a text has more than figures and units to be read."""
    return re.search(r"[^\W\d_]{3}", text) is not None


def has_words(text: str) -> bool:
    """Whether a text has letters to be read."""
    return re.search(r"[^\W\d_]{2}", text) is not None
