"""What kind of answer is coming: told by a tone, and shown at the same time."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from assistant.session.turn import Reply, Tone


class Cue(StrEnum):
    """One of the few things that somebody who only half listens has to tell apart."""

    HEARD = "heard"
    RECORDED = "recorded"
    QUESTION = "question"
    REFUSED = "refused"
    TIMER = "timer"


def of(replies: Sequence[Reply]) -> Cue:
    """Return the cue for an answer: of what is in it, that which matters most."""
    tones = {reply.tone for reply in replies}
    for tone, cue in (
        (Tone.REFUSED, Cue.REFUSED),
        (Tone.QUESTION, Cue.QUESTION),
        (Tone.RECORDED, Cue.RECORDED),
    ):
        if tone in tones:
            return cue
    return Cue.HEARD
