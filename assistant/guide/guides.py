"""Which guides there are, and how one is found by name.

Each guide is a Markdown file in this folder. It begins with its title as a heading, and one
paragraph that says who it is for and what is in it; both are shown in lists of the guides.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from rapidfuzz import process

from assistant.errors import AssistantError

_FOLDER = Path(__file__).parent
NAMES = (
    "at-the-bench",
    "card",
    "writing-procedures",
    "procedure-keys",
    "supervisor-and-parts-desk",
    "the-computer",
)
"""The guides in the order in which they are listed."""

_NEAR_ENOUGH = 50
"""How alike a mistyped name has to be to be suggested, from 0 to 100 (rapidfuzz's WRatio)."""
_START = re.compile(r"# (?P<title>[^\n]+)\n\n(?P<summary>.+?)\n\n", re.DOTALL)


@dataclass(frozen=True)
class Guide:
    """One guide."""

    name: str
    title: str
    summary: str
    """Who it is for and what is in it, in one line."""
    markdown: str


@cache
def read(name: str) -> Guide:
    """Return the guide of exactly this name. Raises KeyError where there is none."""
    if name not in NAMES:
        raise KeyError(name)
    markdown = (_FOLDER / f"{name}.md").read_text(encoding="utf-8")
    start = _START.match(markdown)
    if start is None:
        raise ValueError(f"{name}.md does not begin with a title and a paragraph")
    summary = " ".join(re.sub(r"[*`]", "", start["summary"]).split())
    return Guide(name, start["title"], summary, markdown)


def every() -> tuple[Guide, ...]:
    """Return all guides in the order in which they are listed."""
    return tuple(map(read, NAMES))


def find(wanted: str) -> Guide:
    """Return the guide that somebody asks for by its name, or by a part that only it has.

    Raises AssistantError, with the nearest name where one is near, else with all names.
    """
    name = "-".join(wanted.lower().split())
    if name in NAMES:
        return read(name)
    holding = [one for one in NAMES if name and name in one]
    if len(holding) == 1:
        return read(holding[0])
    near = process.extractOne(name, NAMES, score_cutoff=_NEAR_ENOUGH)
    likely = holding or ([near[0]] if near else [])
    hint = (
        f"Did you mean {' or '.join(likely)}?" if likely else f"The guides are {', '.join(NAMES)}."
    )
    raise AssistantError(f"There is no guide called {wanted[:60]!r}. {hint}")
