"""Text that came from outside, made safe to show: it cannot drive a terminal or turn a line round.

Control characters (ECMA-48: a title, a colour, a cleared screen) and format characters (Unicode's
bidirectional overrides, invisible ones) can make a line read as what it is not.
"""

from __future__ import annotations

import unicodedata

_LEFT_OUT = ("Cc", "Cf", "Cs", "Zl", "Zp")
_SPACES = "\t\r\n\u2028\u2029"


def plain(text: str, keep: str = "") -> str:
    """Return the text in one line, without control and format characters.

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
    """Return JSON text with the same characters written as JSON escapes: the value is unchanged.

    JSON itself escapes only U+0000 to U+001F and lets line ends stand between its parts.
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
