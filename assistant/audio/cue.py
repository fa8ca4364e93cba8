"""What kind of answer is coming: told by a tone, and shown at the same time."""

from __future__ import annotations

from enum import StrEnum


class Cue(StrEnum):
    """One of the few things that somebody who only half listens has to tell apart."""

    HEARD = "heard"
    RECORDED = "recorded"
    QUESTION = "question"
    REFUSED = "refused"
    TIMER = "timer"
