"""Finds text that YAML has cut short at a #, because a comment begins there.

“Tighten bolt #4 last” is read as “Tighten bolt”. That is no mistake in YAML, so only the line
itself shows it. A comment after a value is all right where it looks like one.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from ruamel.yaml.comments import CommentedMap, CommentedSeq

from assistant.procedure.problems import Severity

_SPOKEN = ("say", "detail", "why", "then", "how", "note", "affirm", "position", "title")
_INSTEAD = "Put the text in quotes, or write the number in words"


def found(tree: Any, text: str) -> Iterator[tuple[int, str, Severity]]:
    """Yield the line, what is wrong there, and how grave it is, of each text that was cut short."""
    lines = text.split("\n")
    for line, column, value, spoken in _texts(tree):
        rest = lines[line][column:] if line < len(lines) else ""
        if not rest.startswith(value):
            continue
        comment = re.match(r"\s+#(.*)", rest[len(value) :])
        if comment is None:
            continue
        shown = value if len(value) <= 40 else f"…{value[-40:]}"
        what = f"the text is cut short at #, after “{shown}”: # begins a comment. {_INSTEAD}"
        if re.match(r"\d|\w", comment[1]):
            yield line + 1, what, Severity.ERROR
        elif spoken and value[-1] not in ".!?":
            ends = "If that is meant, end the text with a full stop"
            yield line + 1, f"{what}. {ends}", Severity.WARNING


def _texts(node: Any) -> Iterator[tuple[int, int, str, bool]]:
    """Yield each text with its line and column, from 0, and whether it is one to be spoken."""
    if isinstance(node, CommentedMap):
        for key, value in node.items():
            if isinstance(value, str) and value and key in node.lc.data:
                line, column = node.lc.value(key)
                yield line, column, value, key in _SPOKEN
            else:
                yield from _texts(value)
    elif isinstance(node, CommentedSeq):
        for number, value in enumerate(node):
            if isinstance(value, str) and value and number in node.lc.data:
                line, column = node.lc.item(number)
                yield line, column, value, False
            else:
                yield from _texts(value)
