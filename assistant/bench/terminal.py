"""Shows the conversation on a terminal: what was heard, what was not taken, what is said."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Sequence
from typing import TextIO

from assistant.audio.cue import Cue
from assistant.bench.protocols import Situation
from assistant.dialogue.turn import Reply
from assistant.text import plain

_WIDTH = 96
_MARKS = {Cue.RECORDED: "+", Cue.QUESTION: "?", Cue.REFUSED: "!", Cue.TIMER: "*"}
"""Printed in front of an answer, for what its tone tells."""


class Terminal:
    """A screen that prints the dialogue line by line."""

    def __init__(self, out: TextIO | None = None) -> None:
        self._out = out or sys.stdout

    def heard(self, words: str) -> None:
        """Print what the technician said."""
        self._print("technician", words)

    def not_taken(self, words: str, why: str) -> None:
        """Print what was heard but not taken as a command."""
        self._print("(not taken)", f"{words or '…'}  [{why}]")

    def said(self, replies: Sequence[Reply], cue: Cue | None) -> None:
        """Print an answer, marked as its tone marks it for the ear."""
        mark = _MARKS.get(cue, "") if cue is not None else ""
        text = " ".join(reply.text for reply in replies)
        self._print(f"{mark:1}{'assistant':>10}", text)

    def update(self, situation: Situation) -> None:
        """Print nothing: the dialogue tells it."""

    def _print(self, who: str, text: str) -> None:
        lines = textwrap.wrap(plain(text), _WIDTH - 13) or [""]
        print(f"{who:>11}: {lines[0]}", file=self._out)
        for line in lines[1:]:
            print(f"{'':13}{line}", file=self._out)
        self._out.flush()
