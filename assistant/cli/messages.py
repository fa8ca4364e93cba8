"""Prints what the program logs, for whoever started it."""

from __future__ import annotations

import logging
import sys

from assistant.text import plain


class _Stderr(logging.Handler):
    """Prints messages on what is standard error at the time, without anything that moves a cursor."""

    def emit(self, record: logging.LogRecord) -> None:
        """Print one message."""
        print(plain(record.getMessage(), keep="\n"), file=sys.stderr, flush=True)


_HANDLER = _Stderr()


def print_them() -> None:
    """Print this package's messages from now on, warnings and what is going on; of others warnings."""
    logging.getLogger("assistant").setLevel(logging.INFO)
    logging.getLogger().addHandler(_HANDLER)
