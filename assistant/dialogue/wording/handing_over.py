"""Where a job stands, for whoever takes it over: short enough to be listened to in one go."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assistant.dialogue import facts
from assistant.dialogue.wording import brief, customer, failures, remaining, steps
from assistant.dialogue.wording.brief import Topic
from assistant.dialogue.wording.quantities import (
    are,
    count,
    duration,
    listing,
    several,
)

_MOST_NAMED = 3
"""How many of one kind are named; nobody keeps more in their ear."""


@dataclass(frozen=True)
class Standing:
    """Where a job stands; steps by their numbers as they are spoken, from 1."""

    number: int
    of: int
    """How many steps the procedure has."""
    stage: str
    done: bool = False
    """Whether the present step is done."""
    skipped_here: bool = False
    closed: bool = False
    failed: tuple[facts.Failed, ...] = ()
    """Results that do not meet their requirement and were not conceded."""
    asked: str | None = None
    """The mode in which an answer is waited for; None where nothing is asked."""
    left_here: tuple[facts.Outstanding, ...] = ()
    """What keeps the present step from being done."""
    ready: bool = False
    """Whether nothing keeps the present step from being done, and it is not done yet."""
    not_done: tuple[int, ...] = ()
    """Steps that are neither done nor skipped, the present one too."""
    half_done: tuple[int, ...] = ()
    """Those of them, but the present one, that are begun."""
    skipped: tuple[facts.SkippedStep, ...] = ()
    timers: tuple[facts.TimerRunning, ...] = ()
    to_come: tuple[facts.Parts, ...] = ()
    """Parts asked for or ordered, and not received."""
    away: tuple[facts.Parts, ...] = ()
    """Parts away for repair."""
    short: tuple[facts.Parts, ...] = ()
    """Parts that a step needs and nobody has ordered."""
    to_answer: tuple[facts.CustomerToAnswer, ...] = ()
    """What the customer has still to answer."""


def told(of: Standing) -> list[str]:
    """Word where a job stands, a sentence for each topic, within `brief.MOST_WORDS`."""
    return brief.told(list(_topics(of)))


def _topics(of: Standing) -> Iterator[Topic]:
    """Yield the topics in the order in which they are told."""
    yield _place(of)
    if of.failed:
        yield Topic(0, tuple(_failures(of.failed)))
    if of.asked is not None and not of.closed:
        asked = {
            "questioning": "a value is in question",
            "skipping": "a skip needs its reason",
            "noting": "a note is being taken",
            "closing": "closing was asked and not affirmed",
            "checking": "the kit check is not finished",
            "conceding": "a concession needs its reason",
            "reviewing": "a correction is not finished",
            "placing": "a value was sent, and nobody has said what it is of",
        }
        yield Topic(2, (asked[of.asked],))
    if of.left_here:
        yield Topic(2, tuple(_here(of.left_here)))
    elif of.ready and not of.closed:
        yield Topic(2, ("nothing is outstanding here",))
    before = [number for number in of.not_done if number < of.number]
    if before and not of.closed:
        left = f"before it {are(len(before))} not done"
        yield Topic(3, (f"{steps.named(before)} {left}", f"{several(len(before), 'step')} {left}"))
    if of.half_done:
        number = len(of.half_done)
        named = f"{steps.named(of.half_done)} {are(number)} half done"
        yield Topic(7, (named, f"{several(number, 'later step')} half done"))
    if of.skipped:
        yield Topic(4, tuple(_skipped(of.skipped)))
    if of.to_answer:
        yield Topic(4, tuple(_to_answer(of.to_answer)))
    if of.timers:
        yield Topic(1, tuple(_timers(of.timers)))
    if of.short:
        yield Topic(5, _parts("short and not ordered", of.short))
    if of.to_come:
        yield Topic(5, _parts("still to come", of.to_come))
    if of.away:
        yield Topic(6, _parts("away for repair", of.away))
    yield Topic(8, (_to_go(of),))


def _place(of: Standing) -> Topic:
    where = f"{steps.name(of.number)} of {count(of.of)}"
    state = ", skipped" if of.skipped_here else ", done" if of.done else ""
    closed = "the job is closed, at " if of.closed else ""
    stage = f", {of.stage.lower()}"
    return Topic(3, (f"{closed}{where}{stage}{state}", f"{closed}{where}{state}"))


def _to_go(of: Standing) -> str:
    number = len(of.not_done)
    if of.closed:
        return f"{several(number, 'step')} {are(number)} not done" if number else "no step was left"
    after = sum(1 for step in of.not_done if step > of.number)
    if after:
        return f"{several(after, 'step')} after it to go"
    if of.not_done or of.skipped or of.failed:
        return "no step after it to go"
    return "every step is done: say close job"


def _failures(failed: Sequence[facts.Failed]) -> Iterator[str]:
    """Yield what fails: in full, by name, by step, as a count."""
    verb = "fails" if len(failed) == 1 else "fail"
    yield "open: " + listing(f"{steps.name(one.number)}, {failures.what(one)}" for one in failed)
    named = [f"{_result(one)} at {steps.name(one.number)}" for one in failed]
    yield f"{listing(named)} {verb}"
    if len(failed) > _MOST_NAMED:
        more = f"{count(len(failed) - _MOST_NAMED)} more"
        yield f"{listing([*named[:_MOST_NAMED], more])} fail: say what failed"
    numbers = sorted({one.number for one in failed})
    results = several(len(failed), "result")
    yield f"{results} {verb}, at {steps.named(numbers)}: say what failed"
    yield f"{results} {verb}"


def _result(of: facts.Failed) -> str:
    """Word a result that fails by its name alone."""
    if of.parts is not None:
        what = "missing" if of.result.kind == "missing part" else "condemned"
        return f"{what} {steps.called(of.parts)}"
    match of.result.kind:
        case "torque":
            return f"the torque of {of.result.name}"
        case "leak test":
            return "the leak test"
        case "choice":
            return f"the part for {of.result.name}"
        case "fitted part":
            return f"the wrong part, {of.part},"
        case _:
            return of.result.name


def _here(items: Sequence[facts.Outstanding]) -> Iterator[str]:
    """Yield what is outstanding at the step: all of it, the first of it, as a count."""
    yield f"outstanding: {remaining.all_outstanding(items)}"
    if len(items) > 1:
        first = remaining.all_outstanding(items[:1])
        yield f"outstanding: {first}, and {count(len(items) - 1)} more"
    yield f"{several(len(items), 'thing')} outstanding here: say where are we"
    yield f"{several(len(items), 'thing')} outstanding here"


def _skipped(skipped: Sequence[facts.SkippedStep]) -> Iterator[str]:
    """Yield what was skipped: with the reasons, by number, as a count."""
    yield "skipped: " + listing(
        f"{steps.name(one.number)}, {remaining.reason(one.reason)}" for one in skipped
    )
    yield f"skipped: {steps.named([one.number for one in skipped])}"
    yield f"{several(len(skipped), 'step')} skipped"


def _to_answer(asked: Sequence[facts.CustomerToAnswer]) -> Iterator[str]:
    """Yield what the customer has to answer: in full, as a count."""
    yield f"customer to answer: {listing(customer.work(one.work) for one in asked)}"
    yield f"{several(len(asked), 'question')} to the customer not answered"


def _timers(timers: Sequence[facts.TimerRunning]) -> Iterator[str]:
    """Yield the timers that run, the first due first: all, the first, as a count."""
    yield "running: " + listing(remaining.left(one) for one in timers)
    if len(timers) > 1:
        yield f"running: {remaining.left(timers[0])}, and {count(len(timers) - 1)} more"
    soonest = timers[0].left
    yield f"{several(len(timers), 'timer')} running" + (
        f", the first up in {duration(soonest)}" if soonest > 0 else ", one up"
    )
    yield f"{several(len(timers), 'timer')} running"


def _parts(how: str, parts: Sequence[facts.Parts]) -> tuple[str, ...]:
    """Return parts that are waited for: all, the first few, as a count."""
    number = sum(one.count for one in parts)
    named = listing([*map(steps.parts, parts[:_MOST_NAMED]), f"{count(len(parts))} kinds in all"])
    full = (f"{how}: {steps.all_of(parts)}",)
    few = (f"{how}: {named}",) if len(parts) > _MOST_NAMED else ()
    return (*full, *few, f"{how}: {several(number, 'part')}")
