"""The time now, and the procedure that a job was begun with."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache

from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.procedure import reading
from assistant.procedure.model import Procedure


def local_now() -> datetime:
    """Return the time now, local, with its offset from UTC."""
    return datetime.now().astimezone()


def procedure_of(history: Sequence[events.Event], job: int) -> Procedure:
    """Return the procedure as the job was begun with, not as its file stands today."""
    opened = history[0]
    if not isinstance(opened, events.JobOpened):
        raise AssistantError(f"Job {job} does not start with its opening; it is damaged.")
    return _stored(opened.source)


@lru_cache(maxsize=32)
def _stored(source: str) -> Procedure:
    # Asked for by whoever makes the ears and again by the bench; and jobs share procedures.
    return reading.parse(source, "the procedure kept with the job", stored=True)
