"""Messages about the run itself: plain lines on standard error, apart from what commands print.

Any module of the assistant that has something to say of this kind logs it; a command's result is
printed.
"""

from __future__ import annotations

import logging
import sys

from assistant.text import plain


class _PlainLines(logging.Handler):
    """Writes each message as it is, without level or name, and without control characters."""

    def emit(self, record: logging.LogRecord) -> None:
        # Looked up each time, because whoever embeds or tests the program may change it.
        print(plain(record.getMessage(), keep="\n"), file=sys.stderr, flush=True)


def configure() -> None:
    """Send the assistant's messages to standard error; called again, it changes nothing."""
    logger = logging.getLogger("assistant")
    logger.setLevel(logging.INFO)
    if not any(isinstance(handler, _PlainLines) for handler in logger.handlers):
        logger.addHandler(_PlainLines())
