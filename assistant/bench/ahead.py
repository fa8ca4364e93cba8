"""The replies that are likely to be needed next, so that the voice can prepare them."""

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
    """Return the replies to what is likely to be said in this state, the likeliest first.

    Deciding changes nothing, so each phrase is simply decided, and not acted on.
    """
    return [
        reply.text for intent in _LIKELY for reply in session.decide(state, intent, now).replies
    ]
