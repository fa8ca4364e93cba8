"""A job as a whole: opening it, taking it up again, closing it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assistant.dialogue import facts
from assistant.dialogue.wording import remaining, steps
from assistant.dialogue.wording.quantities import (
    are,
    count,
    duration,
    listing,
    sentence,
    several,
)
from assistant.procedure.model import Procedure

SAMPLE = "This is an invented sample. Do not work from it."
DRAFT = "This is a draft that nobody has approved."
UNAPPROVED = "Nobody has approved this revision."
PRACTICE = "This is practice. Nothing that is said is kept, and nothing counts."
PRACTICE_OVER = "That was practice. Nothing of it was kept."
CARE = "The maker's current data, local codes and licensed practice come before what I read out."
CLOSED = "Job closed."
STAYS_OPEN = "The job stays open."


def opened(title: str, number: int) -> str:
    """Word a job that begins: its title and how many steps it has."""
    return sentence(f"{title}, {several(number, 'step')}")


def standing(procedure: Procedure) -> str | None:
    """Word what is to be known of a text before anybody works from it; None for one that is
    approved, and where there is none.
    """
    if procedure.unwritten is not None or procedure.approved:
        return None
    if procedure.draft:
        return DRAFT
    # Whoever hears that it is invented need not be told that nobody stands for it.
    return None if procedure.sample else UNAPPROVED


def taken_up(title: str, seconds: float) -> str:
    """Word a job that is gone on with, and how long ago work stopped."""
    when = "just now" if seconds < 60 else f"{duration(seconds)} ago"
    return sentence(f"{title}. Work stopped {when}")


def close_all_the_same(left: Iterable[facts.Left]) -> str:
    """Ask whether to close a job that is not complete."""
    told = listing(remaining.each_left(left))
    return sentence(f"not complete: {told}. Close all the same?")


def still_to_come(parts: Sequence[facts.Parts]) -> str:
    """Word the parts that are still to come when the job is closed."""
    return sentence(f"still to come: {steps.all_of(parts)}")


def not_done_before(numbers: Sequence[int]) -> str:
    """Word which steps before the one that is gone to are not done."""
    return sentence(f"{steps.named(numbers)} before it {are(len(numbers))} not done")


def not_skipped(number: int) -> str:
    """Word that a step is not skipped after all."""
    return f"Not skipped. {remaining.stay(number)}"


def already_skipped(reason: facts.SkipReason) -> str:
    """Word that the step was skipped, and why."""
    return sentence(f"this step was skipped, {remaining.reason(reason)}")


STEP_DONE = "This step is done."


def place(number: int, of: int) -> str:
    """Word where a job stands, inside a sentence: "at step four of nine"."""
    return f"at {steps.name(number)} of {count(of)}"
