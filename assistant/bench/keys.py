"""Reads the key or pedal at the bench from the terminal.

A pedal is a USB keyboard with one key. Any key will do; the space bar is the easiest to hit. Some
keys may be set aside to say a phrase, such as "affirm". A terminal does not report when a key is
let go: a key that is held is reported again and again.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field

from assistant.bench.addressing import WINDOWS
from assistant.errors import AssistantError

_AT_ONCE = 4096
_NAMED = {"enter": "\r", "space": " ", "tab": "\t"}


def key(name: str) -> str:
    """Return the character that a key sends, by its name: one character, enter, space or tab.

    Raises AssistantError for another name.
    """
    sent = _NAMED.get(name.casefold(), name)
    if len(sent) != 1 or not (sent.isprintable() or sent in _NAMED.values()):
        raise AssistantError(
            f"{name!r} is no key that can be used. Give one character, such as a, or enter, space "
            "or tab."
        )
    return sent


@dataclass
class Answers:
    """Keys that say a phrase, such as "affirm": the phrase by the character that the key sends."""

    phrases: Mapping[str, str] = field(default_factory=dict)
    _until: float = float("-inf")

    def said(self, pressed: str, at: float) -> str | None:
        """Return the phrase of the key that was pressed, at a time in seconds; None for other keys.

        A key that is held says its phrase once, and then "". What function keys send, which may
        contain the same character, says nothing.
        """
        keys = set(pressed)
        phrase = self.phrases.get(pressed[0]) if len(keys) == 1 else None
        if phrase is None:
            return None
        held, self._until = at < self._until, at + WINDOWS.first_repeat_s
        return "" if held else phrase


@contextmanager
def presses() -> Iterator[Callable[[], str]]:
    """Read the terminal key by key, within the context.

    The function that it gives returns at once what was pressed or repeated since the last call: ""
    for nothing, Enter as "\\r". Ctrl-C interrupts as ever, and the terminal is left as it was.
    Raises AssistantError if there is no terminal.
    """
    if not sys.stdin.isatty():
        raise AssistantError(
            "A key or pedal is read from a terminal, and there is none. Start this in one, or "
            "choose --address open or call-word."
        )
    if sys.platform == "win32":
        yield _on_windows
        return
    import select
    import termios
    import tty

    terminal = sys.stdin.fileno()
    before = termios.tcgetattr(terminal)

    def pressed() -> str:
        ready, _, _ = select.select([terminal], [], [], 0)
        # One press may be several bytes, and several may have come since.
        sent = os.read(terminal, _AT_ONCE) if ready else b""
        return sent.decode(errors="replace").replace("\n", "\r")

    # Unlike raw mode, cbreak leaves Ctrl-C and the line ends of what is printed alone.
    tty.setcbreak(terminal)
    try:
        yield pressed
    finally:
        termios.tcsetattr(terminal, termios.TCSADRAIN, before)


def _on_windows() -> str:
    if sys.platform != "win32":
        return ""
    import msvcrt

    pressed = ""
    while msvcrt.kbhit():
        pressed += msvcrt.getwch()
        if pressed.endswith("\x03"):
            raise KeyboardInterrupt
    return pressed
