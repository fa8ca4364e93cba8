"""Turns the bytes of a procedure file into text, and names an encoding that cannot be read.

UTF-8 is read with or without its mark, and UTF-16 with its mark, as some editors save by default.
Older encodings look alike as bytes, and a wrong guess would turn 5 µm into 5 Âµm without a word, so
they are named and refused.
"""

from __future__ import annotations

import codecs


class UnknownEncoding(ValueError):
    """Bytes that are no text that can be read; the message says what they probably are."""

    def __init__(self, message: str, line: int) -> None:
        super().__init__(message)
        self.line = line


_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def decoded(content: bytes) -> str:
    """Return the text of a file, with line ends as \\n.

    Raises UnknownEncoding where it is not UTF-8 and has no mark of another encoding.
    """
    encoding = next((name for mark, name in _MARKS if content.startswith(mark)), "utf-8")
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        if encoding != "utf-8":
            raise UnknownEncoding(
                f"the file says that it is {encoding.upper()} and is not; save it as UTF-8", line
            ) from error
        odd = content[error.start]
        likely = "; it looks like Windows-1252 or Latin-1" if odd >= 0x80 else ""
        raise UnknownEncoding(
            f"not UTF-8 text (byte {error.start}){likely}. In the editor choose “Save as” and the "
            "encoding UTF-8",
            line,
        ) from error
    if "\0" in text[:200]:
        raise UnknownEncoding("this looks like UTF-16 without its mark; save it as UTF-8", 1)
    return text.replace("\r\n", "\n").replace("\r", "\n")
