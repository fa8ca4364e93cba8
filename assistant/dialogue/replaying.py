"""Replaying events that come from files and databases that others may have written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from assistant.errors import AssistantError


@contextmanager
def made_by_a_session() -> Iterator[None]:
    """Say in a plain sentence what trips over events that no session can have made.

    They come from files and databases that others write; each is good in itself, but one may
    withdraw what never was, or count to a number that nobody can say.
    """
    try:
        yield
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError) as error:
        raise AssistantError(
            f"The job's events do not fit together ({type(error).__name__}: {error}). "
            "See whether they were altered, with: assistant verify"
        ) from error
