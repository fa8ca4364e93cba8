"""What is likely to be said next, so that the voice has it ready."""

from __future__ import annotations

from datetime import datetime

from assistant.session import decide as session
from assistant.session import intents as it
from assistant.session.state import State

_LIKELY: tuple[it.Intent, ...] = (
    it.Next(),
    it.Affirm(),
    it.StandBy(),
    it.WhereAreWe(),
    *(it.Ask(topic) for topic in it.Topic),
    it.Negative(),
    it.ReadBack(),
    it.WhatIsLeft(),
)


def likely(state: State, now: datetime) -> list[str]:
    """Return the replies to what may well be said in this state, the likeliest first.

    Deciding changes nothing, so each is simply decided, and what it leads to is not carried out.
    """
    return [
        reply.text for intent in _LIKELY for reply in session.decide(state, intent, now).replies
    ]
