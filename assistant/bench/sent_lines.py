"""What a line means that an instrument or a scanner sent."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from decimal import Decimal

from assistant.bench.attached import Attached
from assistant.dialogue import intents, tag_codes
from assistant.errors import AssistantError
from assistant.grammar import units

LONGEST = 200
"""Characters of a line; none that means anything is longer."""
_VALUE = re.compile(
    r"([+-]?) {0,8}([0-9]{1,12}(?:[.,][0-9]{1,12})?|[.,][0-9]{1,12}) {0,8}(.{0,20})"
)
"""Sign, number, unit. With a decimal comma or point; instruments send no thousands. A number that
ends in its point is one that was cut off."""
_AROUND = "\0\2\3\r\n\t "
"""What stands around a value: ends of lines, and the control characters that frame a message."""


def meaning(
    line: str, by: Attached, is_ours: Callable[[str], bool]
) -> intents.Sent | intents.ScannedTag | intents.ScannedNumber | None:
    """Return what a line means; None for one that cannot be read, or was cut off.

    `is_ours` tells whether a job's uid is that of the job at the bench.
    """
    text = line.strip(_AROUND)
    if len(text) > LONGEST or not text.startswith(by.prefix):
        return None
    text = text[len(by.prefix) :].strip(_AROUND)
    if not text or not text.isprintable():
        return None
    return _value(text, by) if by.kind == "instrument" else _code(text, is_ours)


def _value(text: str, by: Attached) -> intents.Sent | None:
    match = _VALUE.fullmatch(text)
    if match is None:
        return None
    value = Decimal(match[1] + match[2].replace(",", "."))
    unit = _unit(match[3].strip()) if match[3].strip() else by.unit
    if match[3].strip() and unit is None:
        return None
    return intents.Sent(value if value else abs(value), unit, by.instrument)


def _unit(text: str) -> str | None:
    """Return the unit that a symbol or a word stands for; None where it is none for certain."""
    if text in units.WRITTEN:
        return units.WRITTEN[text]
    if text.casefold() in _IN_ANY_CASE:
        return _IN_ANY_CASE[text.casefold()]
    try:
        return units.parse(units.grammar_spelling(text.lower()).split())
    except ValueError:
        return None


def _in_any_case() -> dict[str, str]:
    """Return the symbols that instruments also send in capitals, where no two units share one."""
    pairs = {(symbol.casefold(), key) for symbol, key in units.WRITTEN.items()}
    times = Counter(symbol for symbol, _ in pairs)
    return {symbol: key for symbol, key in pairs if times[symbol] == 1}


_IN_ANY_CASE = _in_any_case()


def _code(
    text: str, is_ours: Callable[[str], bool]
) -> intents.ScannedTag | intents.ScannedNumber | None:
    if not text.startswith(tag_codes.START):
        return intents.ScannedNumber(text) if len(text) <= 60 else None
    try:
        uid, bag = tag_codes.scanned(text)
    except AssistantError:
        return None
    return intents.ScannedTag(bag, is_ours(uid))
