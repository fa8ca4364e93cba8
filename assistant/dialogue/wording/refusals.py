"""Refusals: what could not be done, and what to say instead."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import facts, intents
from assistant.dialogue.wording import remaining, steps
from assistant.dialogue.wording.quantities import count, figures, sentence
from assistant.grammar import nouns

JOB_CLOSED = "This job is closed. Nothing more is recorded."
BARE_NUMBER = "I heard a number alone. Say tightened or reading before it."
NO_REASON_ASKED = "I asked for no reason. To skip this step, say skip step."
NO_QUESTION_OPEN = "I asked nothing. To take back the last thing, say disregard."
NOT_YET = "Not yet."
NOTHING_TO_DISREGARD = "There is nothing to disregard."
NOTHING_TO_CORRECT = (
    "There is nothing at this step to correct in that way. Say read back to hear what is recorded."
)
SAY_THE_WHOLE = "Say correction, and the whole of it."
SAY_THE_READING = "Say reading, its name, and the value."
WHOLE_NUMBER = "I need a whole number."
CANNOT_AFFIRM = "A value of that kind cannot be recorded here."
ANOTHER_THING = "That does not answer my question."
NOTHING_CHANGED = "Nothing changed. What was recorded stands."
NOTHING_RECORDED = "Nothing recorded. Say it again when ready."
FIRST_STEP = "This is the first step. There is none before it."
DONE_ALREADY = "This step is done already. Say next step."
EVERY_TORQUE = "Every torque asked for here is recorded. To change the last, say correction."
EVERY_READING = "Every reading asked for here is recorded. To change the last, say correction."
BAG_RECORDED = "The bag is recorded. To change it, say correction."


def say_instead(word: intents.Plain) -> str:
    """Word what to say in place of a word of everyday speech."""
    match word:
        case "yes":
            return "Say affirm."
        case "no":
            return "Say negative."
        case "undo":
            return "Say disregard to take back the last thing, or correction and the right value."
        case "help":
            return "Say what words to hear what can be said."


def nothing_to_affirm(outstanding: Sequence[facts.Outstanding]) -> str:
    """Refuse an affirmation that nothing asked for, and say what is outstanding."""
    if not outstanding:
        return "Nothing is waiting for an answer. Say next step when ready."
    return f"Nothing is waiting for an answer. {remaining.told(outstanding)}"


def how_many(name: str, condition: str) -> str:
    """Refuse a finding of several without their number."""
    said = f"two {nouns.plural(name)} {condition}"
    return f"I do not know how many there are. Say the number with it, such as {said}."


def see_to_it(number: int) -> str:
    """Stay at a step whose condition is not affirmed."""
    return f"See to it first, then say affirm. {remaining.stay(number)}"


def no_such_step(last: int) -> str:
    """Refuse a step's number that the procedure does not have."""
    return f"There are {count(last)} steps. Say go to step, and one of their numbers."


def step_does_not_apply(number: int) -> str:
    """Refuse a step that the answers leave out, or may yet leave out."""
    return (
        f"{sentence(steps.name(number)).rstrip('.')} does not apply to this machine, "
        "or a question before it is still open. Say what is left to hear what is open."
    )


def _of_step(number: int, rest: str) -> str:
    return sentence(f"{steps.name(number)} {rest}")


def no_torque(number: int) -> str:
    """Refuse a torque at a step that asks for none."""
    return _of_step(number, "asks for no torque. Nothing recorded. Say note to keep it")


def no_reading(number: int) -> str:
    """Refuse a reading at a step that asks for none."""
    return _of_step(number, "asks for no reading. Say note to keep it")


def no_bag(number: int) -> str:
    """Refuse a bag at a step that has none."""
    return _of_step(number, "has no bag. Say note to keep it")


def no_question(number: int) -> str:
    """Refuse an answer at a step that asks nothing."""
    return _of_step(number, "asks nothing. Say what is left, or next step")


def answered_already(given: str, new: str) -> str:
    """Refuse a second answer to a question, and say how to change the first."""
    return f"Answered already: {given}. To change it, say correction {new}."


def no_such_bolt(last: int) -> str:
    """Refuse a bolt that the pass does not have."""
    return f"There are {count(last)} bolts. Say bolt, its number, and the torque."


def bolt_recorded(bolt: int) -> str:
    """Refuse a second torque of a bolt."""
    return f"Bolt {count(bolt)} is recorded. To change it, say correction bolt {count(bolt)}."


# What cannot be worked out


def cannot_work_out(name: str, why: str) -> str:
    """Word a value that cannot be worked out; `why` is the sum's own sentence."""
    return sentence(f"{name} cannot be worked out: {figures(why)}")
