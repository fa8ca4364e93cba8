"""Extra work that the customer has to agree to: asked, refused, answered."""

from __future__ import annotations

from assistant.dialogue import events, facts
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import count, figures, sentence

ABOUT_NOTHING = (
    "Nothing was found yet to ask the customer about. Say what you found first, such as the part, "
    "worn, renew, then ask customer."
)
NEEDS_NOT_SAID = (
    "What it needs was not said. To say it, say correction, the part and its condition, and renew "
    "or repair."
)


def work(of: facts.ExtraWork) -> str:
    """Word extra work: "gear worn, upper, renew", or "a new drain plug"."""
    if of.condition is None:
        return f"to order {steps.some(of.parts)}"
    number = f"{count(of.parts.count)} " if of.parts.count > 1 else ""
    told = [f"{number}{steps.called(of.parts)} {of.condition}", of.place, of.needs]
    return ", ".join(words for words in told if words)


def asked(of: facts.ExtraWork, number: int | None) -> str:
    """Word that a question waits for the desk; `number` is the step where it was found, where that
    is another one.
    """
    where = f", at {steps.name(number)}" if number is not None else ""
    return sentence(f"ask customer: {work(of)}{where}. Recorded, it waits for the parts desk")


def asked_already(of: facts.ExtraWork, answer: events.CustomerAnswered | None) -> str:
    """Refuse to ask twice, and say what came of it."""
    so_far = "has not answered yet" if answer is None else _says(answer)
    return sentence(
        f"the customer was asked already: {work(of)}. The customer {so_far}. For something else, "
        "say what you found first"
    )


def not_agreed(of: facts.ExtraWork, answer: events.CustomerAnswered | None) -> str:
    """Word that something is ordered to which the customer has not agreed."""
    so_far = "has not agreed yet" if answer is None else _says(answer)
    return sentence(f"take care, the customer {so_far}: {work(of)}")


def event(of: events.CustomerAsked | events.CustomerAnswered) -> str:
    """Word a question, or its answer; no full stop."""
    if isinstance(of, events.CustomerAsked):
        return f"ask customer: {work(of.work)}"
    if of.answer == "waiting":
        return f"the customer's answer is taken back, and waited for: {work(of.work)}"
    return f"customer {_says(of)}: {work(of.work)}"


def _says(of: events.CustomerAnswered) -> str:
    """Word what the customer says, and who said it for them."""
    return f"{of.answer}, says {figures(of.name)}" if of.name else str(of.answer)


def to_answer(of: facts.CustomerToAnswer) -> str:
    """Word that the customer has still to answer; no full stop."""
    where = f", at {steps.name(of.number)}" if of.number is not None else ""
    return f"customer to answer: {work(of.work)}{where}"
