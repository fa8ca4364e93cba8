"""What is likely to be said next, so that the voice has it ready."""

from __future__ import annotations

from datetime import datetime

from assistant.dialogue import decide as session
from assistant.dialogue import intents
from assistant.dialogue.state import State

_LIKELY: tuple[intents.Intent, ...] = (
    intents.Next(),
    intents.Affirm(),
    intents.StandBy(),
    intents.WhereAreWe(),
    *(intents.Ask(topic) for topic in intents.Topic),
    intents.Negative(),
    intents.ReadBack(),
    intents.WhatIsLeft(),
)


def likely(state: State, now: datetime) -> list[str]:
    """Return the replies to what may well be said in this state, the likeliest first.

    Deciding changes nothing, so each is simply decided, and what it leads to is not carried out.
    """
    return [
        reply.text for intent in _LIKELY for reply in session.decide(state, intent, now).replies
    ]
