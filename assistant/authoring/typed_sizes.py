"""Sizes of fasteners and what goes on their threads, as people type them: "4 x M8x30 8.8", "oiled".

As in `typed`, what can mean two things is `Unreadable`.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass, replace
from decimal import Decimal

from assistant.authoring.typed import Amount, Unreadable, tidy
from assistant.errors import AssistantError
from assistant.grammar import nouns
from assistant.procedure import part_names
from assistant.trade import fasteners


@dataclass(frozen=True)
class Size:
    """What a size of a fastener tells."""

    thread: str = ""
    length: Amount | None = None
    grade: str | None = None
    count: int | None = None


_GRADE = re.compile(r"(?<![\d.])(\d{1,2}[.,]\d|A[1245]-\d{2,3})(?![\d.])")
_METRIC = re.compile(
    r"M\s*(?P<d>\d+(?:[.,]\d+)?)(?:\s*[x×X*]\s*(?P<first>\d+(?:[.,]\d+)?))?"
    r"(?:\s*[x×X*]\s*(?P<second>\d+(?:[.,]\d+)?))?\s*(?P<rest>.*)",
    re.IGNORECASE,
)
_INCH = re.compile(
    r"(?P<thread>(?:\d+/\d+|#?\d+)-\d+(?:\s*UN[CFS]?F?)?)"
    r"(?:\s*[x×X]\s*(?P<length>[\d ./]+)\s*(?:\"|in\.?)?)?\s*(?P<rest>.*)",
    re.IGNORECASE,
)
_COUNTED = re.compile(r"(?P<count>\d{1,3})\s*(?:x|×|off|pcs|-off)\s+(?P<rest>.+)", re.IGNORECASE)


def size(text: str) -> Size:
    """Return what a size tells: "M8", "M8x30" (a length), "M8x1.25" (a pitch), "M8x30 8.8",
    "4 x M8x1.25x30", "1/4-20 x 1". Raises Unreadable where it is no size.
    """
    clean = tidy(text).replace("(", " ").replace(")", " ").strip()
    counted = _COUNTED.fullmatch(clean)
    if counted is not None:
        return replace(size(counted["rest"]), count=int(counted["count"]))
    metric = _METRIC.fullmatch(clean)
    if metric is not None:
        return _metric(text, metric)
    inch = _INCH.fullmatch(clean)
    if inch is None:
        if re.fullmatch(r"(?:G|R|Rp|Rc)\s*\d.*|.*\b(?:NPT|BSP)\w*", clean):
            return Size(clean)
        raise Unreadable(f"{text!r} is no size of a thread, such as M8, M8x1.25 or M8x30")
    length = (inch["length"] or "").strip()
    return Size(
        inch["thread"].strip(),
        _inches(length) if length else None,
        grade(inch["rest"]) if inch["rest"] else None,
    )


def _metric(text: str, match: re.Match[str]) -> Size:
    thread = f"M{_plain(match['d'])}"
    figures = [_plain(one) for one in (match["first"], match["second"]) if one]
    # No thread has a pitch of more than a quarter of its diameter, and no screw is as short.
    if figures and Decimal(figures[0]) <= Decimal(_plain(match["d"])) / 4:
        thread += f"x{figures.pop(0)}"
    if len(figures) > 1:
        raise Unreadable(f"{text!r}: expected a thread and a length, such as M8x1.25x30")
    try:
        fasteners.thread(thread)
    except AssistantError as error:
        raise Unreadable(f"{text!r}: {str(error).rstrip('.')}") from None
    length = Amount(Decimal(figures[0]), "mm") if figures else None
    rest = re.sub(r"^(?:mm|-|,|\s|cl(?:ass)?\.?|gr(?:ade)?\.?)+", "", match["rest"])
    return Size(thread, length, grade(rest) if rest else None)


def _plain(figure: str) -> str:
    return figure.replace(",", ".")


def _inches(text: str) -> Amount:
    parts = text.split()
    try:
        total = sum(
            (Decimal(one.partition("/")[0]) / Decimal(one.partition("/")[2] or 1) for one in parts),
            Decimal(0),
        )
    except ArithmeticError:
        raise Unreadable(f"{text!r} is no length in inches") from None
    return Amount(total, "in")


def grade(text: str) -> str:
    """Return a property class: "8.8", "cl. 10.9", "8,8". Raises Unreadable."""
    found = _GRADE.search(tidy(text))
    if found is None:
        raise Unreadable(f"{text!r} is no property class, such as 8.8, 10.9 or A4-70")
    return found[1].replace(",", ".")


def strength(text: str) -> str | None:
    """Return the strength of a thread-locker; None where there is none.

    Raises Unreadable for a product or a colour: what they mean stands in their data sheet.
    """
    clean = tidy(text).casefold()
    if clean in ("", "-", "no", "none", "n/a", "dry", "without"):
        return None
    found = re.findall(r"\b(low|medium|med|high)\b", clean)
    if len(set(found)) != 1:
        raise Unreadable(
            f"{text!r} does not say how strong; write low, medium or high, as in its data sheet"
        )
    return "medium" if found[0] == "med" else str(found[0])


_LUBRICANTS = (
    ("thread-locker", r"thread[ -]?lock\w*|locking"),
    ("paste", r"paste|anti[- ]?seize|moly|copper|mos2"),
    ("grease", r"greas\w*"),
    ("oil", r"oil\w*|lubricat\w*"),
    ("dry", r"dry|clean|none|no|degreas\w*|unlubricated"),
)


def lubricant(text: str) -> str:
    """Return what the threads are wetted with. Raises Unreadable."""
    clean = tidy(text).casefold()
    found = [name for name, words in _LUBRICANTS if re.search(rf"\b(?:{words})\b", clean)]
    if "dry" in found and len(found) > 1:
        found = ["dry"] if re.search(r"\bno |\bdry\b", clean) else found
    if len(found) != 1:
        raise Unreadable(f"{text!r}: write dry, oil, grease, paste or thread-locker")
    return found[0]


def yes(text: str) -> bool:
    """Whether a cell says yes: "x", "yes", "new". Raises Unreadable."""
    clean = tidy(text).casefold()
    if clean in ("x", "y", "yes", "true", "new", "renew", "replace", "always", "1", "✓", "✔"):
        return True
    if clean in ("", "-", "n", "no", "false", "reuse", "re-use", "old", "0"):
        return False
    raise Unreadable(f"{text!r}: write yes or no")


def identifier(text: str, taken: Collection[str], otherwise: str) -> str:
    """Return a name for a step from what it says, which no other has: "take-off-the-cover"."""
    words = re.sub(r"[^a-z0-9]+", "-", text.casefold().replace("'", "")).strip("-").split("-")
    kept = [word for word in words if word not in ("the", "a", "an", "and", "with", "all", "its")]
    kept = kept[:4]
    while len(kept) > 1 and kept[-1] in ("of", "on", "at", "to", "in", "for", "from", "by", "or"):
        kept.pop()
    name = "-".join(kept)[:50].strip("-") or otherwise
    found, number = name, 1
    while found in taken:
        number += 1
        found = f"{name}-{number}"
    return found


def spoken(text: str) -> str | None:
    """Return a name that can be said, in the singular; None if there are no words in it."""
    return part_names.spoken(text)


def is_single(text: str) -> bool:
    """Whether a name as written is of one thing: "drain plug", not "cap bolts"."""
    last = re.sub(r"[^a-z ]", " ", text.casefold()).split()
    return not last or not any(nouns.singular(word) != word for word in last[-1:])


_STAR = ("star", "cross", "criss cross", "crisscross", "diagonal", "diagonally", "crosswise",
         "criss cross pattern", "star pattern", "cross pattern")  # fmt: skip


def order(text: str) -> str | list[int]:
    """Return a tightening order: "star", "criss-cross", "spiral", "1-3-2-4". Raises Unreadable."""
    clean = tidy(text).casefold()
    figures = re.fullmatch(r"\d{1,3}(?:\s*[-,; ]\s*\d{1,3})+", clean)
    if figures is not None:
        return [int(one) for one in re.findall(r"\d+", clean)]
    words = " ".join(re.findall(r"[a-z]+", clean))
    if words in _STAR:
        return "star"
    if words in ("spiral", "circle", "as numbered"):
        return words
    raise Unreadable(f"{text!r}: write star, spiral, circle, as numbered, or the bolts' numbers")
