"""The check of the kit."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import facts
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import amount, count, sentence, several

NOTHING_TO_CHECK = "The procedure lists nothing that a kit could hold."
FIRST_THING = "This is the first thing."
NOTHING_ORDERED = "Nothing ordered. What is missing is recorded."
LEFT = "Kit check left. Say kit check to go on with it."
NOT_CHECKING = "The kit is not being checked. Say kit check first."


def begun(number: int) -> str:
    """Word how many things are still to be looked for."""
    things = several(number, "thing")
    return f"Kit check, {things}. Affirm what is there, or say how many are missing."


def ask(item: facts.Parts) -> str:
    """Ask for the next thing: its name and how many or how much of it."""
    if not item.countable and item.amount is None:
        return sentence(item.name)
    much = amount(item.amount) if item.amount else count(item.count)
    return sentence(f"{item.name}, {much}")


def ask_to_order(missing: Sequence[facts.Parts]) -> str:
    """Ask whether what is short is to be ordered."""
    one = len(missing) == 1 and missing[0].count == 1
    short = [part.model_copy(update={"amount": None}) for part in missing]
    return f"Missing in all: {steps.all_of(short)}. Order {'it' if one else 'them'}?"


def short(of: facts.Parts, asked: int) -> str:
    """Word how many of a thing are not there."""
    return sentence(f"{count(of.count)} missing" if asked > 1 else "missing")


def should_hold(number: int) -> str:
    """Word that more cannot be short than the kit should hold."""
    return f"The kit should hold {count(number)}."


def on_order_already(of: facts.Parts, number: int) -> str:
    """Word that so many of what is short are on order already."""
    return sentence(f"{steps.parts(of.model_copy(update={'count': number}))} on order already")


def complete(name: str) -> str:
    """Word the last thing of a kit in which everything is there."""
    return sentence(f"{name} there. The kit is complete. Recorded")
