"""Prints what the program logs, for whoever started it."""

from __future__ import annotations

import logging
import sys

from assistant.text import plain


class _Stderr(logging.Handler):
    """Prints messages on standard error, without characters that would move its cursor."""

    def emit(self, record: logging.LogRecord) -> None:
        """Print one message."""
        print(plain(record.getMessage(), keep="\n"), file=sys.stderr, flush=True)


_HANDLER = _Stderr()


def print_them() -> None:
    """Print what is logged from now on: of other packages only warnings."""
    logging.getLogger("assistant").setLevel(logging.INFO)
    logging.getLogger().addHandler(_HANDLER)
