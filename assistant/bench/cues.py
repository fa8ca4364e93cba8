"""Which cue an answer is given with."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.audio.cue import Cue
from assistant.dialogue.turn import Reply, Tone


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
