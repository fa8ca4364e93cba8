"""Finds the lines of a list's entries in a YAML text, from how far they are indented.

Comments above a line belong to what follows it. Flow style, a list in brackets, has no such lines.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence


def indent(line: str) -> int:
    """Return how many spaces a line begins with."""
    return len(line) - len(line.lstrip(" "))


def end_of_entry(lines: Sequence[str], start: int) -> int:
    """Return the line after the entry whose hyphen is on line `start`, both from 0."""
    margin = indent(lines[start])
    return _end(lines, start, lambda line: indent(line) <= margin)


def block(lines: Sequence[str], first: int) -> tuple[int, int]:
    """Return the lines of a list, from 0, and the line after it; its first hyphen is on line
    `first`. The comments directly above that belong to it.
    """
    margin, start = indent(lines[first]), first
    while start > 0 and lines[start - 1].lstrip().startswith("#"):
        start -= 1

    def ends(line: str) -> bool:
        at = indent(line)
        return at < margin or (at == margin and not line.startswith("-", at))

    return start, _end(lines, first, ends)


def _end(lines: Sequence[str], start: int, ends: Callable[[str], bool]) -> int:
    end = start + 1
    for number in range(start + 1, len(lines)):
        if _tells(lines[number]):
            if ends(lines[number]):
                break
            end = number + 1
    return end


def _tells(line: str) -> bool:
    """Whether there is more on a line than a comment."""
    return bool(line.strip()) and not line.lstrip().startswith("#")
