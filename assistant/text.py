"""Text for people: makes text from outside safe to show, and suggests the word that was meant.

Control characters (ECMA-48) can set a terminal's title, change its colours or clear its screen.
Format characters (Unicode's bidirectional overrides and invisible ones) can make a line look like a
different one. `plain` and `escaped` take both out of the way.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

_SIMILAR = 60
"""Lowest similarity of a suggested word, 0 to 100 (normalised indel similarity)."""

_LEFT_OUT = ("Cc", "Cf", "Cs", "Zl", "Zp")
_SPACES = "\t\r\n\u2028\u2029"


FORMULA = tuple("=+-@\t\r\n＝＋－＠")
"""A spreadsheet takes a cell that begins so as a formula; OWASP, "CSV Injection"."""


def plain(text: str, keep: str = "") -> str:
    """Return the text on one line, without control and format characters.

    Line ends and tabs become spaces. Characters in `keep`, such as a line end, stay as they are.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        character if character in keep else " " if character in _SPACES else character
        for character in text
        if character in keep
        or character in _SPACES
        or unicodedata.category(character) not in _LEFT_OUT
    )


def escaped(json: str) -> str:
    """Return JSON text with control and format characters as JSON escapes; its value is the same.

    JSON itself escapes only U+0000 to U+001F. Line ends between its parts stay.
    """
    if json.isascii() and "\x7f" not in json:
        return json
    return "".join(
        character
        if character == "\n" or unicodedata.category(character) not in _LEFT_OUT
        else _escape(character)
        for character in json
    )


def _escape(character: str) -> str:
    code = ord(character)
    if code < 0x10000:
        return f"\\u{code:04x}"
    code -= 0x10000
    return f"\\u{0xD800 + (code >> 10):04x}\\u{0xDC00 + (code & 0x3FF):04x}"


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return " Did you mean X?" with the most similar known word, or "" if none is similar."""
    from rapidfuzz import fuzz, process

    found = process.extractOne(word, tuple(known), scorer=fuzz.ratio, score_cutoff=_SIMILAR)
    return f" Did you mean {found[0]}?" if found else ""
