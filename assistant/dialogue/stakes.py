"""What it costs to have misheard: asking again is cheap, a wrong line in the record is not."""

from dataclasses import fields
from decimal import Decimal

from assistant.dialogue import intents
from assistant.dialogue.commands import RULEBOOK


def high(intent: object) -> bool:
    """Whether this is to be heard by both listeners before it is acted on.

    So is whatever leaves a value, a name or a choice in the record, and whatever answers for
    something: affirming a caution, skipping, going elsewhere, closing, standing by.
    """
    command = RULEBOOK.by_intent.get(type(intent)) if isinstance(intent, intents.Intent) else None
    return command is None or not command.low_stakes


def numeric(intent: object) -> bool:
    """Whether a number is in it: what is recorded of it is wrong if one digit is."""
    if isinstance(intent, intents.Correction):
        return numeric(intent.instead)
    return isinstance(intent, intents.Intent) and any(
        isinstance(getattr(intent, field.name), int | Decimal)
        and not isinstance(getattr(intent, field.name), bool)
        for field in fields(intent)
    )
