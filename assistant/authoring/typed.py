"""What people type into cells of a sheet of steps, read as values: "25Nm", "33–37", "0.05 mm max".

Nothing is guessed that could hurt: where a text can mean two things it is `Unreadable`, and the
message says what to write. A decimal comma is taken, and told.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal

from assistant.errors import AssistantError
from assistant.trade import units


class Unreadable(Exception):
    """A text that cannot be read as what it should be; says why and what to write."""


@dataclass(frozen=True)
class Amount:
    """A number with its unit."""

    value: Decimal
    unit: str
    noticed: str = ""
    """What a person should know about how it was read; "" if nothing."""

    def __str__(self) -> str:
        return f"{self.value:f} {self.unit}"


@dataclass(frozen=True)
class Limits:
    """The least and the most allowed; either may be left out."""

    least: Amount | None
    most: Amount | None
    noticed: str = ""


@dataclass(frozen=True)
class Torque:
    """A torque, with what else was typed beside it."""

    amount: Amount
    passes: tuple[Amount, ...] = ()
    angles: tuple[Amount, ...] = ()
    tolerance: Decimal | None = None
    """In percent."""
    noticed: str = ""


_FIGURE = r"\d+(?:[.,]\d+)?|[.,]\d+"
_NUMBER = rf"[+-]?(?:{_FIGURE})"
_AMOUNT = re.compile(rf"(?P<value>{_NUMBER})\s*(?P<unit>[^\d\s,;+±].*)?")
_DASH = r"\s*(?:-|to|bis|\.\.\.?|…)\s*"
_RANGE = re.compile(
    rf"(?P<least>{_NUMBER})\s*(?P<unit>[^\d\s,;±+-][^\d]*?)?{_DASH}"
    rf"(?P<most>[+]?(?:{_FIGURE}))\s*(?P<after>[^\d\s,;+±].*)?"
)
_LOOSE_WORDS = re.compile(
    r"^(?:tighten(?:ed)?|torque[ds]?|set|approx(?:imately)?\.?|about|ca\.?|to|at|@|=|:|\s)+", re.I
)


def tidy(text: str) -> str:
    """Return the text with plain dashes, blanks and quotes, for comparing."""
    text = re.sub(r"[–—‒−‐‑]", "-", text).replace("\u00a0", " ").replace("⁄", "/")
    return " ".join(text.split()).strip(" .;,")


def amount(text: str, unit: str | None = None, kind: str | None = None) -> Amount:
    """Return a number with its unit; `unit` is for a number without one, from the heading.

    Raises Unreadable, also where the unit does not measure a `kind` ("torque", "length" …).
    """
    clean = _LOOSE_WORDS.sub("", tidy(text))
    match = _AMOUNT.fullmatch(clean)
    if match is None:
        such = {"torque": "25 N·m", "time": "10 min", None: "0.05 mm"}.get(kind, "45 mm")
        if looks_like_several(text):
            raise Unreadable(f"{text!r} is more than one value; give one value, or limits")
        raise Unreadable(f"{text!r} is not a number with a unit, such as {such}")
    value, noticed = _number(match["value"])
    found = _unit(match["unit"], unit, kind, text)
    if unit is not None and found != unit:
        other = f"the heading says {unit}, the cell {found}, which is taken"
        noticed = "; ".join(filter(None, (noticed, other)))
    return Amount(value, found, noticed)


def _number(text: str) -> tuple[Decimal, str]:
    """Return a number, and what to tell of it. Raises Unreadable."""
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text):
        raise Unreadable(
            f"{text!r} may be {text.replace(',', '.')} or {text.replace(',', '')}; write it "
            "with a decimal point, or without the comma"
        )
    plain = text.replace(",", ".")
    value = Decimal(f"0{plain}" if plain.startswith(".") else plain)
    return value, f"the decimal comma in {text!r} is taken as {value:f}" if "," in text else ""


def _unit(text: str | None, otherwise: str | None, kind: str | None, whole: str) -> str:
    written = (text or "").strip(" .()[]")
    if not written:
        if otherwise is None:
            raise Unreadable(f"{whole!r} has no unit, and the heading gives none")
        return otherwise
    if re.sub(r"[\s.·-]", "", written) in ("mN", "Mn", "MN"):
        raise Unreadable(f"{written!r} is no torque; is N·m meant?")
    try:
        found = units.find(written)
    except AssistantError as error:
        raise Unreadable(str(error).rstrip(".")) from None
    if kind is not None and found.kind != kind:
        raise Unreadable(f"{whole!r} is not a {kind}: {found.key} measures {found.kind}")
    return found.key


def looks_like_several(text: str) -> bool:
    """Whether a text has two numbers or more, as a range has."""
    return len(re.findall(r"\d+(?:[.,]\d+)?", text)) > 1


def torque(text: str, unit: str | None = None) -> Torque:
    """Return a torque as typed: "25Nm", "18 ft-lb", "10 / 20 / 40 Nm", "40 Nm + 90°",
    "25 ± 2 Nm", "25 Nm (18 ft-lb)". Raises Unreadable, as for the range "8-10 Nm".
    """
    clean = _LOOSE_WORDS.sub("", tidy(text))
    clean, angles = _angles(clean)
    clean, tolerance, noticed = _tolerance(clean)
    both = re.fullmatch(r"(?P<first>[^()\[\]]+?)\s*[(\[](?P<second>[^()\[\]]+)[)\]]", clean) or (
        re.fullmatch(r"(?P<first>[^/]*[A-Za-z]\s*)/(?P<second>[^/]*[A-Za-z]\s*)", clean)
    )
    if both is not None:
        return replace(_in_both(both["first"], both["second"], unit), angles=angles)
    stages = re.split(r"\s*(?:/|,\s+|;|then|->|→|>|\+)\s*", clean, flags=re.IGNORECASE)
    if len(stages) > 1 and all(_AMOUNT.fullmatch(one) for one in stages):
        return _in_passes(stages, unit, angles, text)
    ranged = _RANGE.fullmatch(clean)
    if ranged is not None:
        raise Unreadable(
            f"{text!r} is a range; give one value, and how far it may be off as a tolerance"
        )
    one = _positive(amount(clean, unit, "torque"))
    told = "; ".join(filter(None, (one.noticed, noticed)))
    if tolerance is not None and not 0 < tolerance <= 30:
        raise Unreadable(f"{text!r} has a tolerance that cannot be right; give one up to 30 %")
    return Torque(one, (), angles, tolerance, told)


def _positive(one: Amount) -> Amount:
    if one.value <= 0:
        raise Unreadable(f"a torque of {one} cannot be right")
    return one


def _angles(text: str) -> tuple[str, tuple[Amount, ...]]:
    """Take angles after a torque off a text: "40 Nm + 90° + 90°"."""
    found: list[Amount] = []
    pattern = re.compile(
        rf"\s*(?:\+|then|plus|and|,)\s*(?:a\s+)?(?:further\s+)?(?P<value>{_FIGURE})\s*"
        r"(?:°|deg(?:rees?)?\.?)\s*(?:turn)?$",
        re.IGNORECASE,
    )
    while match := pattern.search(text):
        found.insert(0, Amount(_number(match["value"])[0], "°"))
        text = text[: match.start()]
    return text.strip(" ,;"), tuple(found)


def _tolerance(text: str) -> tuple[str, Decimal | None, str]:
    """Take a tolerance off a torque; return what is left, the percentage, and what to tell."""
    match = re.fullmatch(
        rf"(?P<value>{_FIGURE})\s*(?P<unit>[A-Za-z][^±+\d]*)?\s*(?:±|\+\s*/\s*-)\s*"
        rf"(?P<off>{_FIGURE})\s*(?P<of>%|[A-Za-z].*)?",
        text,
    )
    if match is None:
        return text, None, ""
    value, off = _number(match["value"])[0], _number(match["off"])[0]
    unit = match["unit"] or (match["of"] if match["of"] != "%" else None) or ""
    percent = off if match["of"] == "%" else (off / value * 100 if value else Decimal(0))
    left = f"{match['value']} {unit}".strip()
    if match["of"] == "%":
        return left, percent, ""
    percent = round(percent, 1)
    return left, percent, f"± {off} is taken as a tolerance of {percent} %"


def _in_both(first: str, second: str, unit: str | None) -> Torque:
    """Return the first of a torque in two units, if they agree."""
    one, other = (_positive(amount(text, unit, "torque")) for text in (first, second))
    same = units.convert(float(other.value), other.unit, one.unit)
    if abs(same - float(one.value)) > 0.06 * float(one.value):
        raise Unreadable(f"{one} and {other} are not the same torque; which one is it?")
    told = f"{one} is taken, not {other}"
    return Torque(one, noticed="; ".join(filter(None, (one.noticed, told))))


def _in_passes(
    stages: list[str], unit: str | None, angles: tuple[Amount, ...], text: str
) -> Torque:
    last = amount(stages[-1], unit, "torque")
    found = [*(amount(one, last.unit, "torque") for one in stages[:-1]), last]
    in_one = [units.convert(float(one.value), one.unit, last.unit) for one in found]
    if in_one != sorted(set(in_one)):
        raise Unreadable(f"{text!r}: passes have to rise to the final torque")
    if len(found) == 2 and "/" in text:
        raise Unreadable(
            f"{text!r} may be two passes or two sizes; write 'then' between passes, or one value"
        )
    passes = ", ".join(map(str, found[:-1]))
    return Torque(last, tuple(found[:-1]), angles, None, f"{passes}: taken as passes before {last}")


def limits(text: str, unit: str | None = None) -> Limits:
    """Return limits as typed: "0.05 mm max", "33–37", "≤ 0.1 mm", "35 ±0.01 mm", "min 3 mm".

    Raises Unreadable. A single value says neither whether it is the least nor the most.
    """
    clean = tidy(text)
    for words, which in ((_MOST, "most"), (_LEAST, "least")):
        match = words.fullmatch(clean)
        if match is not None:
            one = amount(match["before"] or match["after"], unit)
            least, most = (None, one) if which == "most" else (one, None)
            return Limits(least, most, one.noticed)
    around = re.fullmatch(
        rf"(?P<value>{_NUMBER})\s*(?P<unit>[^\d\s,;±+].*?)?\s*(?:±|\+\s*/\s*-)\s*"
        rf"(?P<off>{_FIGURE})\s*(?P<after>[^\d\s].*)?",
        clean,
    )
    if around is not None:
        if (around["after"] or "").strip() == "%":
            raise Unreadable(f"{text!r}: give the least and the most instead of a percentage")
        value, off = _number(around["value"]), _number(around["off"])
        found = _unit(around["after"] or around["unit"], unit, None, text)
        told = value[1] or off[1]
        return Limits(Amount(value[0] - off[0], found), Amount(value[0] + off[0], found), told)
    ranged = _RANGE.fullmatch(clean)
    if ranged is None:
        amount(clean, unit)
        raise Unreadable(f"{text!r} is one value; write min or max beside it, or a range")
    low, high = _number(ranged["least"]), _number(ranged["most"])
    found = _unit(ranged["after"] or ranged["unit"], unit, None, text)
    lower = _unit(ranged["unit"] or ranged["after"], unit, None, text)
    return Limits(Amount(low[0], lower), Amount(high[0], found), low[1] or high[1])


def _bound(words: str, signs: str) -> re.Pattern[str]:
    return re.compile(
        rf"(?:(?:{words})\.?:?\s*|(?:{signs})\s*)(?P<after>.+)|(?P<before>.+?)\s*(?:{words})",
        re.IGNORECASE,
    )


_MOST = _bound(
    r"max(?:imum)?|at most|not more than|up to|less than|below|under|or less", "<=|<|≤|=<"
)
_LEAST = _bound(r"min(?:imum)?|at least|not less than|more than|above|over|or more", ">=|>|≥|=>")
