"""What it costs to have misheard: asking again is cheap, a wrong line in the record is not."""

from dataclasses import fields
from decimal import Decimal

from assistant.dialogue import intents

_CHEAP = (
    intents.Next,
    intents.Previous,
    intents.SayAgain,
    intents.ReadBack,
    intents.WhereAreWe,
    intents.WhatIsLeft,
    intents.Help,
    intents.Ask,
    intents.NextBolt,
    intents.TimeLeft,
    intents.Speak,
)
"""Moves and questions: the reply tells at once what was understood, and nothing is written."""


def high(intent: object) -> bool:
    """Whether this is to be heard by both listeners before it is acted on.

    So is whatever leaves a value, a name or a choice in the record, and whatever answers for
    something: affirming a caution, skipping, going elsewhere, closing, standing by.
    """
    return not isinstance(intent, _CHEAP)


def numeric(intent: object) -> bool:
    """Whether a number is in it: what is recorded of it is wrong if one digit is."""
    if isinstance(intent, intents.Correction):
        return numeric(intent.instead)
    return isinstance(intent, intents.Intent) and any(
        isinstance(getattr(intent, field.name), int | Decimal)
        and not isinstance(getattr(intent, field.name), bool)
        for field in fields(intent)
    )
