"""The key or pedal at the bench, read from the terminal.

A pedal is a USB keyboard with one key: whatever it sends is taken, as is any key of the keyboard,
of which the space bar is the easiest to hit. A terminal does not tell when a key is let go; one
that is held comes again and again.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from assistant.errors import AssistantError

_AT_ONCE = 4096


@contextmanager
def presses() -> Iterator[Callable[[], bool]]:
    """Read the terminal key by key; within the context the function given tells, without waiting,
    whether a key was pressed, or repeated, since it was last asked.

    Ctrl-C interrupts as ever, and the terminal is left as it was. No terminal: AssistantError.
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

    def pressed() -> bool:
        ready, _, _ = select.select([terminal], [], [], 0)
        # One press may be several bytes, and several may have come since.
        return bool(ready) and bool(os.read(terminal, _AT_ONCE))

    # Unlike raw mode, cbreak leaves Ctrl-C and the line ends of what is printed alone.
    tty.setcbreak(terminal)
    try:
        yield pressed
    finally:
        termios.tcsetattr(terminal, termios.TCSADRAIN, before)


def _on_windows() -> bool:
    if sys.platform != "win32":
        return False
    import msvcrt

    pressed = False
    while msvcrt.kbhit():
        if msvcrt.getwch() == "\x03":
            raise KeyboardInterrupt
        pressed = True
    return pressed
