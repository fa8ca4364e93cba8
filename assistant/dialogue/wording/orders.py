"""Parts that are ordered, that came, and that a step still lacks."""

from __future__ import annotations

from collections.abc import Mapping

from assistant.dialogue import facts
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import are, count, listing, sentence


def none_asked_for(part: str) -> str:
    """Refuse to move a part that was never asked for."""
    return f"No {part} was asked for in this job. To order it, say order {part}."


def none_can_be(part: str, stand: Mapping[facts.OrderState, int], to: facts.OrderState) -> str:
    """Refuse a move that none of a part's orders can make, and say where they are."""
    there = listing(f"{count(number)} {are(number)} {state}" for state, number in stand.items())
    return sentence(f"of {part}, {there}. None can be {to}. Nothing recorded")


def fitted_already(of: facts.Parts) -> str:
    """Word that parts are down as fitted, since the step that fits them was done."""
    return sentence(f"{steps.parts(of)} recorded as fitted already, with the step that fits it")


def only_so_many(most: facts.Parts, to: facts.OrderState) -> str:
    """Refuse a move of more than there are."""
    return f"Only {steps.parts(most)} can be {to}. Nothing recorded."


def lacking(number: int, of: facts.PartsLacking) -> str:
    """Word what a step needs that is not to be had, why, and the way out."""
    return sentence(f"{steps.name(number)} needs {steps.not_to_be_had(of)}")


def not_in_list(part: str) -> str:
    """Refuse to order what the procedure does not list."""
    return sentence(f"{part} is not in this procedure's list of parts. Say note to keep it")
