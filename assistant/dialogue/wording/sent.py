"""What instruments and scanners send: asked about, and refused."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from assistant.dialogue import facts
from assistant.dialogue.instrument import Instrument
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import figures, listing, quantity, sentence

OTHER_JOBS_TAG = "That tag is of another job. Nothing recorded."
UNKNOWN_NUMBER = (
    "No part of this job has that number. Nothing recorded. Say the part's name and received."
)
NOT_IN_KIT = "That number is not in this kit."
SCANNED_MEANWHILE = "Nothing is taken of what you scanned. First:"
SCANNED_STANDING_BY = "Standing by. Nothing is taken of what you scanned. Say resume first."


def value(of: Decimal, unit: str | None, instrument: Instrument) -> str:
    """Word a value with what it came from; no full stop."""
    return f"{quantity(of, unit)} from the {figures(instrument.name)}"


def which(what: str, readings: Sequence[str], fasteners: Sequence[str]) -> str:
    """Ask what a value is of; `what` is the value with what it came from."""
    asked = "Which reading" if not fasteners else "What is it of"
    return f"{sentence(what)} {asked}: {listing([*readings, *fasteners], 'or')}? Or say disregard."


def not_asked(what: str, number: int) -> str:
    """Refuse a value at a step that asks for none."""
    rest = sentence(f"{steps.name(number)} asks for no reading and no torque. Nothing recorded")
    return f"{sentence(what)} {rest} Go to its step and send it again, or say note to keep it."


def meanwhile(instrument: Instrument) -> str:
    """Refuse a value that comes while something else is asked."""
    return f"Nothing is taken from the {figures(instrument.name)} now. First:"


def standing_by(instrument: Instrument) -> str:
    """Refuse a value that comes while nobody is listened to."""
    name = figures(instrument.name)
    return f"Standing by. Nothing is taken from the {name}. Say resume, and send it again."


def none_to_come(part: str) -> str:
    """Refuse to receive a part that is not on order."""
    return sentence(f"{part}, none of it is on order. Nothing recorded")


def asked_later(item: facts.Parts) -> str:
    """Word that a thing of which the kit holds several is asked about in its turn."""
    return sentence(f"{steps.parts(item)}, I ask for all of them in their turn")


def checked_already(name: str) -> str:
    """Word that a thing of the kit was looked for already."""
    return sentence(f"{name} is checked already")
