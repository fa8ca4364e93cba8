"""What is left: of the present step, and of the job."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from assistant.dialogue import facts
from assistant.dialogue.wording import customer, failures, second_check, steps
from assistant.dialogue.wording.quantities import (
    count,
    duration,
    figures,
    inside,
    listing,
    sentence,
    several,
)
from assistant.procedure.model import Reading

# Of a step


def outstanding(item: facts.Outstanding) -> str:
    """Word what keeps a step from being done, so that it says what to do; no full stop."""
    match item:
        case facts.GateToPass():
            return _first(item)
        case facts.FailureToSettle():
            where = "" if item.here else f"at {steps.name(item.failed.number)}, "
            again = item.failed.again
            way = "what failed" if again is None else failures.going_on(again)
            return f"{where}{failures.what(item.failed)}: say {way}"
        case facts.HazardsToHear():
            signals = dict.fromkeys(hazard.signal for hazard in item.hazards)
            return f"the {listing(signals)} to affirm"
        case facts.StepBefore():
            return _first(item)
        case facts.GroupToEnd():
            return "the group to end: say end group"
        case facts.ConditionToAffirm():
            return f"the check, {inside(item.condition)}"
        case facts.QuestionToAnswer():
            return f"the question: {steps.question(item.question, item.answers).rstrip('.')}"
        case facts.PartsLacking():
            return steps.not_to_be_had(item)
        case facts.ReadingToTake():
            return f"the reading of {item.name}"
        case facts.TorqueToRecord():
            if item.missing:
                bolts = f"bolt {count(item.missing[0])}"
                if len(item.missing) > 1:
                    bolts = f"bolts {listing(map(count, item.missing))}"
                return f"the torque, {bolts} of {steps.target(item)}"
            return f"the torque, {steps.target(item)}"
        case facts.BagToRecord():
            return f"bag {count(item.number)}"
        case facts.TimeToPass():
            if item.left is None:
                return f"the {item.purpose}, {duration(item.seconds)}, not started: say start timer"
            return f"the {item.purpose}, {duration(item.left)} left"
        case facts.SecondCheckToMake():
            return second_check.outstanding(item.done_by)


def _first(of: facts.StepBefore | facts.GateToPass) -> str:
    number = steps.name(of.number)
    return f"{number} to do first, {inside(of.text)}: say go to {number}"


def _says_a_command(of: facts.Outstanding) -> bool:
    """Whether its words end with what to say."""
    if isinstance(of, facts.TimeToPass):
        return of.left is None
    return isinstance(
        of,
        facts.GateToPass
        | facts.StepBefore
        | facts.FailureToSettle
        | facts.PartsLacking
        | facts.QuestionToAnswer
        | facts.SecondCheckToMake
        | facts.GroupToEnd,
    )


def all_outstanding(items: Sequence[facts.Outstanding]) -> str:
    """Word all that is outstanding; of a fastener's passes only the next, and how many follow.

    What says a command ends its sentence: "say go to step five and bag four" would be heard as one.
    """
    passes = Counter(i.fastener for i in items if isinstance(i, facts.TorqueToRecord))
    # Those of the procedure and of the step are affirmed with one word.
    hazards = [h for i in items if isinstance(i, facts.HazardsToHear) for h in i.hazards]
    said: list[list[str]] = [[]]
    for item in items:
        if isinstance(item, facts.HazardsToHear):
            if hazards:
                said[-1].append(outstanding(facts.HazardsToHear(hazards=tuple(hazards))))
            hazards = []
            continue
        words = outstanding(item)
        if isinstance(item, facts.TorqueToRecord):
            more = passes.pop(item.fastener, 0) - 1
            if more < 0:
                continue
            if more:
                words += f" with {several(more, 'more pass')} after it"
        said[-1].append(words)
        if _says_a_command(item):
            said.append([])
    return ". Also ".join(listing(together) for together in said if together)


def told(items: Sequence[facts.Outstanding]) -> str:
    """Word what is outstanding as a sentence, or that nothing is."""
    if not items:
        return "Nothing is outstanding here."
    return sentence(f"outstanding: {all_outstanding(items)}")


def stay(number: int) -> str:
    """Word that the step stays the same."""
    return f"We stay at {steps.name(number)}."


def step_waits(number: int, before: facts.StepBefore) -> str:
    """Word that a step has to wait for another, and what that one is."""
    return sentence(f"{steps.name(number)} has to wait: {outstanding(before)}")


def begun(items: Sequence[facts.Outstanding]) -> str:
    """Word what is left of a step that is half done."""
    return sentence(f"half done, outstanding: {all_outstanding(items)}")


def next_thing(item: facts.Outstanding) -> str:
    """Word what to do next at the step."""
    if isinstance(item, facts.TorqueToRecord) and item.missing:
        return sentence(f"next, bolt {count(item.missing[0])}, {steps.target(item)}")
    if isinstance(item, facts.TorqueToRecord):
        return sentence(f"next, {steps.target(item)}")
    return sentence(f"next, {outstanding(item)}")


def next_reading(of: Reading, place: int) -> str:
    """Word a reading as what to do next; `place` is its number where it is taken several times."""
    if place > 1:
        return sentence(f"next, {of.name}, {count(place)} of {count(of.times)}")
    return f"Next. {steps.reading(of)}"


SKIP_AGAIN = "It was skipped. To leave it skipped, say go to step, and another number."
NOTHING_MORE = "Nothing more here. Say next step when ready."

# Of the job


def reason(of: facts.SkipReason) -> str:
    """Word why a step is skipped."""
    if of.code is not None:
        return of.code
    return figures(of.note) if of.note else "as spoken in the clip"


def left(of: facts.Left) -> str:
    """Word one thing that keeps the job from being complete; no full stop."""
    match of:
        case facts.Failed():
            stands = "is open" if of.again else "fails"
            return f"{steps.name(of.number)} {stands}: {failures.what(of)}"
        case facts.StepsNotDone():
            half = f", {listing(map(count, of.begun))} half done" if of.begun else ""
            return f"{steps.named(of.numbers)} of {of.stage.lower()} not done{half}"
        case facts.SkippedStep():
            return f"{steps.name(of.number)} skipped, {reason(of.reason)}"
        case facts.CustomerToAnswer():
            return customer.to_answer(of)
        case facts.BagNotOpened():
            return f"bag {count(of.number)} was not opened"
        case facts.BagUneven():
            gap = of.gap
            more = f"{count(gap)} left over" if gap > 0 else f"{count(-gap)} more than went in"
            went_in, fitted = (
                steps.all_of(things) or "no fastener" for things in (of.went_in, of.fitted)
            )
            return f"bag {count(of.number)}: {went_in} went in, {fitted} fitted from it, {more}"
        case facts.PartsLeftOver():
            where = {"in the kit": " in the kit", "received": ", received and not fitted"}
            return f"{steps.parts(of.parts)} left over{where.get(of.place, '')}"
        case facts.TimerRunning():
            if of.left <= 0:
                return f"{of.name} is up"
            return f"{of.name}, {duration(of.left)} left"


def each_left(things: Iterable[facts.Left]) -> list[str]:
    """Word all that is left; bags that were not opened are told together."""
    said: list[str] = []
    unopened: list[int] = []
    for thing in things:
        if isinstance(thing, facts.BagNotOpened):
            unopened.append(thing.number)
        else:
            said.append(left(thing))
    if len(unopened) > 1:
        said.append(f"bags {listing(map(count, unopened))} were not opened")
    elif unopened:
        said.append(left(facts.BagNotOpened(number=unopened[0])))
    return said


NOTHING_LEFT = "Nothing is left. Say close job."
LAST_STEP = "That was the last step."
SAY_CLOSE = "Say close job to close it."


def still_open(things: Iterable[facts.Left]) -> str:
    """Word what is still open after the last step."""
    return sentence(f"still open: {listing(each_left(things))}")
