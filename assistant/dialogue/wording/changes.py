"""What changed: results that follow otherwise now, and what is gone through to be put right."""

from __future__ import annotations

from assistant.dialogue import events
from assistant.dialogue.wording import record, steps
from assistant.dialogue.wording.quantities import quantity, sentence


def result(now: events.Base, before: events.Base | None) -> str:
    """Word what follows from the readings; where it was something else before, that it changed."""
    match now, before:
        case events.ValueWorkedOut(), events.ValueWorkedOut() if now.value != before.value:
            beyond = record.beyond(now)
            return sentence(f"{now.name} is now {quantity(now.value, now.unit)}{beyond}")
        case events.PartChosen(), events.PartChosen() if now.part != before.part and before.part:
            if now.part is None:
                return f"{record.told(now)} Not {before.part} any more."
            return f"{record.told(now).rstrip('.')}, not {before.part}."
        case _:
            return record.told(now)


# Putting right what was recorded at another step


def review(number: int, event: events.Base) -> str:
    """Ask about one thing that was recorded at a step."""
    return (
        f"{sentence(f'{steps.name(number)}: {record.event(event)}')} "
        "Say the right value; affirm to go on; or disregard."
    )


def nothing_to_review(number: int) -> str:
    """Refuse to go through a step at which nothing was recorded that could be corrected."""
    return sentence(f"nothing is recorded at {steps.name(number)} that could be corrected")


REVIEWED = "That was all that is recorded there."
REST_STANDS = "The rest stands as it is."
