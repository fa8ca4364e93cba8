"""What kind of answer follows: given as a tone, and shown at the same time."""

from __future__ import annotations

from enum import StrEnum


class Cue(StrEnum):
    """One of the few kinds of answer that somebody who half listens has to tell apart."""

    HEARD = "heard"
    RECORDED = "recorded"
    QUESTION = "question"
    REFUSED = "refused"
    TIMER = "timer"
