"""What checking finds in a procedure file: where, how grave, by which rule, and what to do.

An error keeps a procedure from being worked from. A warning does not, because the writer may know
more than the rule does. A note only says how something is taken.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

Place = tuple[Any, ...]
"""A place in the file: keys and list positions, from the top."""
Fault = tuple[Place, str]
"""The place in the file, and what is wrong there."""


class Severity(StrEnum):
    """How grave a problem is."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


RULES = {
    "file": "The file can be read: it is there, it is text, and no larger than a procedure.",
    "yaml": "The file is YAML as its writer means it: quotes, colons, indentation.",
    "keys": "Every key is known, every needed key is there, and its value is of the right kind.",
    "references": "What a key names is there: steps, parts, fasteners, readings, answers, units.",
    "danger": "Nothing is asked for that hurts someone or breaks something.",
    "flow": "Every step is reached, can be done, and leads on.",
    "hardware": "What comes off goes on again, and bags, parts and variants add up.",
    "trade": "The trade's sums come out well: torques, lengths, wrenches, passes.",
    "listening": "What is spoken can be listened to: short enough, hazards first.",
    "commands": "No answer is a command of the assistant.",
    "hearing": "Names can be told apart by ear, from each other and from numbers.",
}
"""What each rule is about, by its name."""


@dataclass(frozen=True)
class Problem:
    """One problem of one file."""

    line: int
    """The line, from 1."""
    text: str
    """What is wrong and what to write instead, as sentences."""
    severity: Severity
    rule: str
    """One of `RULES`."""
    source: str = ""
    """The fragment's file where it is in one; empty for the procedure's own."""

    def shown(self, source: str) -> str:
        """Return the problem as a line for people, FILE:LINE: what is wrong; `source` is the
        procedure's own file.
        """
        grave = "" if self.severity is Severity.ERROR else f"{self.severity}: "
        return f"{self.source or source}:{self.line}: {grave}{self.text}"


def in_order(of: Iterable[Problem]) -> tuple[Problem, ...]:
    """Return each problem once: those of the procedure's own file first, in the order of lines."""
    return tuple(sorted(set(of), key=lambda one: (one.source, one.line, one.text, one.severity)))


def errors(of: Iterable[Problem]) -> tuple[Problem, ...]:
    """Return those that keep a procedure from being worked from."""
    return tuple(one for one in of if one.severity is Severity.ERROR)


def ended(text: str) -> str:
    """Return the text with a full stop, unless it ends in one."""
    return text if text[-1] in ".?!" else f"{text}."
