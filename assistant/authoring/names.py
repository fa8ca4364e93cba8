"""Names for a file's keys: of a procedure, and of steps, each of which nobody else has."""

from __future__ import annotations

import re

_LONGEST_ID = 60


def hyphenated(text: str) -> str:
    """Return a text in small letters, digits and hyphens; "" where nothing is left of it."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower().replace("'", "")).strip("-")


def of_procedure(title: str) -> str:
    """Return the procedure's own name, from its title."""
    return hyphenated(title)[:_LONGEST_ID].strip("-") or "draft"


class Ids:
    """Gives each step a name that nobody else has."""

    def __init__(self, taken: set[str]) -> None:
        self._taken = taken

    def new(self, text: str) -> str:
        """Return a name made from a text, with a number at its end where it is taken."""
        wanted = hyphenated(text) or "step"
        name, number = wanted[:_LONGEST_ID].rstrip("-"), 1
        while name in self._taken:
            number += 1
            end = f"-{number}"
            name = wanted[: _LONGEST_ID - len(end)].rstrip("-") + end
        self._taken.add(name)
        return name
