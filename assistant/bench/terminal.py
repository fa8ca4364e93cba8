"""Shows the conversation on a terminal: what was heard, what was not taken, what is said."""

from __future__ import annotations

import sys
import textwrap
from typing import TextIO

from assistant.audio.cue import Cue
from assistant.text import plain

_WIDTH = 96
_MARKS = {Cue.RECORDED: "+", Cue.QUESTION: "?", Cue.REFUSED: "!", Cue.TIMER: "*"}
"""What stands in front of an answer."""


class Terminal:
    """A screen that prints the dialogue line by line."""

    def __init__(self, out: TextIO | None = None) -> None:
        self._out = out or sys.stdout
        self._mark = ""

    def heard(self, words: str) -> None:
        """Print what the technician said."""
        self._print("technician", words)

    def not_taken(self, words: str, why: str) -> None:
        """Print what was heard but not taken as a command."""
        self._print("(not taken)", f"{words or '…'}  [{why}]")

    def cue(self, cue: Cue) -> None:
        """Mark the reply that follows, as its tone does."""
        self._mark = _MARKS.get(cue, "")

    def said(self, text: str) -> None:
        """Print a reply."""
        self._print(f"{self._mark:1}{'assistant':>10}", text)
        self._mark = ""

    def _print(self, who: str, text: str) -> None:
        lines = textwrap.wrap(plain(text), _WIDTH - 13) or [""]
        print(f"{who:>11}: {lines[0]}", file=self._out)
        for line in lines[1:]:
            print(f"{'':13}{line}", file=self._out)
        self._out.flush()
