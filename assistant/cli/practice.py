"""Practice: the whole conversation on a journal that is thrown away, whichever way it ends."""

from __future__ import annotations

import signal
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from assistant.errors import AssistantError

if TYPE_CHECKING:
    import argparse

    from assistant.journal.store import Journal

_ENDS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))
"""What ends the program from outside without an exception: the terminal closed, the computer shut
down."""


def check(args: argparse.Namespace) -> None:
    """Raise AssistantError for options that need a record: in practice there is none."""
    if args.journal is not None:
        raise AssistantError(
            "--practice keeps nothing, so it takes no --journal. Leave out one of the two."
        )
    if args.follows is not None:
        raise AssistantError(
            "--practice has no earlier jobs, so it takes no --follows. Leave out one of the two."
        )


@contextmanager
def journal() -> Iterator[Journal]:
    """Open a journal in a folder of its own, and remove both at the end.

    That holds for Ctrl-C too, and where the program is asked from outside to end.
    """
    from assistant.journal.store import Journal

    with (
        _ended_as_by_exception(),
        tempfile.TemporaryDirectory(prefix="assistant-practice-") as folder,
        closing(Journal(Path(folder) / "practice.db")) as opened,
    ):
        yield opened


@contextmanager
def _ended_as_by_exception() -> Iterator[None]:
    """Turn signals that would end the program at once into an exception, so that it tidies up."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def leave(number: int, frame: FrameType | None) -> None:
        sys.exit(128 + number)

    before = {number: signal.signal(number, leave) for number in _ENDS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
