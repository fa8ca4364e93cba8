"""A job without a procedure: what came off, and what goes on again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from assistant.dialogue import facts
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import count, listing, quantity, sentence

TOLD_AT_ONCE = 5
"""How much of a list is read out; nobody keeps more of it in their ear."""

SAY_REMOVED = "Say removed, and what came off, as in removed six long bolts."
NOTHING_OFF = f"Nothing has come off yet. {SAY_REMOVED}"
SAY_WHAT_IT_IS = "Say what it is."
SAFE = f"Safe to work on. {SAY_REMOVED}"
AFTER_THAT = f"{SAY_REMOVED} When it is all down, say start build up."
BUILDING = "The build up has begun. To take something off again, say rework, and its step."
NOT_REWORKED = (
    "That is no step of the build up. To put right what came off, say make that, or call it."
)
NOT_BUILDING = "The build up has not begun. Say start build up."
GROUP_OPEN = "A group is open. Say end group when it is complete."
NO_GROUP = "No group is open. Say start group before what belongs together."
NOT_OF_BUILD_UP = "Nothing goes on at this step. Say next step to go on with the build up."
ALL_OFF_AGAIN = "All that came off is on again."
BEFORE_TIGHTENED = "Say set torque, what it is for, and the value."
BAG_NUMBER = "Bags have a number from one up. Say bag, and its number."
SET_FIRST = "No torque is set here. Say set torque, and the value in the manual, before it is used."
NOTHING_USUAL = "No torque is set here. To hear what is usual, say the size, as in size m eight."
NOT_A_TORQUE = "That is no torque. Say set torque, what it is for, and the value."
SAY_SOME_OF = "Say how many came off, of how many, as in four of six."
SAY_WHICH_COUNT = "Say correction, and how many are missing, or make that, and how many in all."
PUT_RIGHT = "To put right what came off, say make that, call it, or size, and the right one."
LOCKER_FOUND = "The build up has not begun. For what was found, say thread locker found."
NOT_HERE = "Go to what came off first. Say go to step, and its number."


def removed(of: facts.Parts) -> str:
    """Say what came off, as it is recorded."""
    return sentence(f"{_so_many(of)} off")


def said_of(of: facts.Parts, told: str) -> str:
    """Say what was added about what came off: its size, its threads, its count."""
    return sentence(f"{steps.called(of)}, {told}")


def threads(of: facts.Threads) -> str:
    """Word what was found on the threads."""
    return "found dry" if of == "dry" else "thread locker found"


def locker(strength: facts.LockerStrength) -> str:
    """Word the thread-locker that was put on."""
    return f"thread locker, {strength} strength"


def locker_already(strength: facts.LockerStrength) -> str:
    """Refuse a second thread-locker for one thing."""
    return sentence(
        f"{locker(strength)}, is recorded. To change it, say correction, thread locker, and which"
    )


def size(thread: str, length: facts.Amount | None) -> str:
    """Word a thread and a length: "M eight by five five millimetres"."""
    said = steps.thread(thread)
    return f"{said} by {quantity(length.value, length.unit)}" if length else said


def recounted(of: facts.Parts, before: int) -> str:
    """Say how many there are, and how many were said before."""
    return sentence(f"{steps.parts(of)}, not {count(before)}")


def some_of(of: facts.Parts, lost: int) -> str:
    """Say how many came off of how many; `of` are those that belong there."""
    missing = f"{count(lost)} missing" if lost else "none missing"
    return sentence(f"{count(of.count - lost)} of {steps.parts(of)}, {missing}")


def missing_already(of: facts.Parts) -> str:
    """Refuse other counts than those by which some are missing already."""
    return sentence(f"recorded already: {steps.parts(of)} missing. {SAY_WHICH_COUNT}")


def renamed(of: facts.Parts, before: facts.Parts) -> str:
    """Say what it is called now, and what it was called before."""
    return sentence(f"{steps.parts(of)}, not {steps.called(before)}")


def bag(number: int, of: facts.Parts, beside: Sequence[facts.Parts]) -> str:
    """Say the bag back, with what is in it already."""
    too = f", with {listing(map(_so_many, beside))}" if beside else ""
    return sentence(f"{steps.called(of)} in bag {count(number)}{too}")


def bagged(number: int) -> str:
    """Refuse a second bag for one thing."""
    return f"It is in bag {count(number)}. To change it, say correction, bag, and the number."


@dataclass(frozen=True)
class Off:
    """What came off together, as it is told."""

    parts: facts.Parts
    """All that belong there."""
    bag: int | None
    missing: int = 0
    """How many of them are."""


def one(of: Off) -> str:
    """Word so much of one thing, the bag that it is in, and how many of it are missing."""
    bag = "no bag" if of.bag is None else f"bag {count(of.bag)}"
    left = of.parts.model_copy(update={"count": of.parts.count - of.missing})
    if not of.missing:
        return f"{_so_many(left)}, {bag}"
    if not left.count:
        return f"{_so_many(of.parts)}, missing"
    return f"{_so_many(left)}, {bag}, and {count(of.missing)} missing"


def came_off_last(of: Off) -> str:
    """Say what came off last."""
    return sentence(f"last off: {one(of)}")


def still_off(things: Sequence[Off], groups: Sequence[Sequence[facts.Parts]]) -> Sequence[str]:
    """Say what is still off, the last off first, so many of them; `groups` are what was put
    together and is to go on as one.
    """
    if not things and not groups:
        return ("Nothing is off.",)
    told = [sentence(one(of)) for of in things[:TOLD_AT_ONCE]]
    more = len(things) - TOLD_AT_ONCE
    if more > 0:
        told.append(f"And {count(more)} more before {'that' if more == 1 else 'those'}.")
    return [*told, *(sentence(f"put together: {_listed(group)}") for group in groups)]


def how_many(of: facts.Parts, bags: Sequence[int], missing: int) -> str:
    """Say how many of one thing came off, the bags that they are in, and how many are missing of
    those that belong there (`of`).
    """
    where = f", bag {listing([count(number) for number in bags])}" if bags else ""
    if missing:
        there = f"{count(of.count - missing)} of {steps.parts(of)}"
        return sentence(f"{there} came off{where}, {count(missing)} missing")
    return sentence(f"{steps.parts(of)} came off{where}")


def none_off(name: str) -> str:
    """Say that nothing of such a name came off."""
    return sentence(f"no {name} came off")


def build_up(number: int) -> str:
    """Say that the build-up begins, with so many things."""
    return sentence(f"build up, {count(number)} to go on, the last off first")


def no_bag(things: Sequence[facts.Parts]) -> str:
    """Say what lies in no bag."""
    return sentence(f"in no bag: {listing(map(_so_many, things))}")


def group_begun(building: bool) -> str:
    """Say that a group begins, and how it is ended."""
    what = "goes together now" if building else "comes off now"
    return f"Group started. What {what} goes on as one. Say end group when it is complete."


def group_ended(parts: Sequence[facts.Parts]) -> str:
    """Say what goes on as one, or that a group of less than two things is none."""
    if len(parts) < 2:
        what = f"{_so_many(parts[0])} alone" if parts else "nothing"
        return sentence(f"group ended with {what} in it. That is no group")
    return sentence(f"group ended. {_listed(parts).capitalize()} go on as one")


def goes_before(of: facts.Parts, before: facts.Parts) -> str:
    """Say back what goes on before what."""
    return sentence(before_words(of, before))


def before_words(of: facts.Parts, before: facts.Parts) -> str:
    """Word what goes on before what; no full stop."""
    return f"{_so_many(of)} before {_so_many(before)}"


def before_already(of: facts.Parts, before: facts.Parts) -> str:
    """Refuse an order that is there already."""
    return sentence(f"{before_words(of, before)} already")


def same_thing(of: facts.Parts, before: facts.Parts) -> str:
    """Refuse to put a thing before itself."""
    return sentence(f"{before_words(of, before)} is the same thing. Say before, and two things")


def _listed(parts: Sequence[facts.Parts]) -> str:
    return listing(map(_so_many, parts))


def _so_many(of: facts.Parts) -> str:
    """Word a count of things; of one, its name alone: "piece one"."""
    return of.name if of.count == 1 else steps.parts(of)


def torque_set(called: str, value: Decimal, unit: str) -> str:
    """Say a torque back that was read out of a manual."""
    return sentence(f"torque for {called}, {quantity(value, unit)}")


def not_off(name: str) -> str:
    """Refuse what is about a thing that did not come off."""
    return f"No {name} came off. Say what is still off to hear the names."


def tightened_already(called: str, number: int) -> str:
    """Refuse another torque for what was tightened to the one before."""
    step = steps.name(number)
    return sentence(f"{called} are tightened at {step}. Say rework {step} first")


def on_already(called: str) -> str:
    """Refuse to put on a second time what is on."""
    return sentence(f"{called}: on already")


def on(called: str) -> str:
    """Say that something is on again."""
    return sentence(f"{called} on")
