"""A step as it is told: what to do, hazards, parts, fasteners, torques, readings, the question."""

from __future__ import annotations

import re
from collections.abc import Sequence

from assistant.dialogue import facts
from assistant.dialogue.wording.quantities import (
    amount,
    are,
    count,
    digits,
    duration,
    limits,
    listing,
    quantity,
    sentence,
    several,
)
from assistant.grammar import nouns
from assistant.procedure import arithmetic
from assistant.procedure.model import Fastener, Fit, Procedure, Reading, Remove, Step, Tighten

# The step itself


def name(number: int) -> str:
    """Word a step by its number: "step four"."""
    return f"step {count(number)}"


def named(numbers: Sequence[int]) -> str:
    """Word several steps by their numbers: "steps four, six and nine to twelve"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    said = []
    for run in runs:
        if len(run) > 2:
            said.append(f"{count(run[0])} to {count(run[-1])}")
        else:
            said += map(count, run)
    return f"{'step' if len(numbers) == 1 else 'steps'} {listing(said)}"


def heading(number: int, step: Step) -> str:
    """Word a step's number and what to do."""
    return f"{number_alone(number)} {sentence(step.say)}"


def number_alone(number: int) -> str:
    """Word a step's number as a sentence."""
    return sentence(name(number))


def where(number: int, of: int, stage: str, step: Step) -> str:
    """Word where the work stands: the step's number, its stage, and what to do."""
    return f"{sentence(f'{name(number)} of {count(of)}, {stage.lower()}')} {sentence(step.say)}"


def stage(name: str) -> str:
    """Word a stage as it begins."""
    return sentence(name)


def condition(number: int, asked: str) -> str:
    """Word what must be true before a step."""
    return sentence(f"before {name(number)}: {asked}")


def briefing(
    procedure: Procedure, step: Step, answers: dict[str, str], fits: Sequence[Fit]
) -> Sequence[str]:
    """Word what a step asks for beyond its sentence: fits, torques, locker, readings, bag, wait.

    `fits` is what goes in with these answers, a chosen part by its own name.
    """
    said = [sentence(f"fit {fit(procedure, f)}") for f in fits]
    if procedure.unwritten is not None:
        # What goes on the step says itself, but for what is new and what was noted.
        said = [words for f in fits for words in _of_piece(f)]
    if step.from_bag:
        said.append(f"Hardware from bag {count(step.from_bag)}.")
    for tighten in step.tighten:
        if tighten.applies(answers):
            # The number last: it is what has to stay in the ear.
            told = [tighten.fastener, locker(tighten), condition_of_threads(tighten)]
            said.append(sentence(f"{', '.join(p for p in told if p)}, {passes(tighten)}"))
    if step.question:
        said.append(question_of(step))
    readings = [r for r in step.readings if r.applies(answers)]
    if readings:
        # One at a time: nobody keeps the limits of four readings in their ear.
        said.append(reading(readings[0]))
    if len(readings) > 1:
        said.append(sentence(f"then {several(len(readings) - 1, 'more reading')}"))
    if step.bag:
        said.append(f"Bag {count(step.bag)}.")
    if step.wait and step.wait.applies(answers):
        wait = duration(arithmetic.wait_seconds(step.wait))
        how = "since the joint was tightened" if step.wait.since else "say start timer"
        said.append(sentence(f"{step.wait.purpose}, {wait}: {how}"))
    if step.second_check:
        said.append("It needs a second check.")
    return said


def _of_piece(of: Fit) -> Sequence[str]:
    """Word what is new of what goes on again, and what was noted when it came off."""
    new = [sentence(f"{count(of.count)} new")] if of.new else []
    return new + ([sentence(of.how)] if of.how else [])


def hazard(of: facts.Hazard) -> str:
    """Word a hazard: the signal word, then what to beware of."""
    return f"{of.signal.capitalize()}. {sentence(of.text)}"


def question(asked: str, answers: Sequence[str]) -> str:
    """Word a question with its answers, unless it names them all itself."""
    said = sentence(asked)
    if all(answer in said.lower() for answer in answers):
        return said
    return f"{said} Say {listing(answers, 'or')}."


def question_of(step: Step) -> str:
    """Word a step's own question. Raises LookupError where it asks nothing."""
    if step.question is None:
        raise LookupError(f"step {step.id} asks nothing")
    return question(step.question.say, [answer.say for answer in step.question.answers])


def answered(answer: str, then: str | None) -> str:
    """Word the answer that was recorded, and what the procedure says to it."""
    said = then or ""
    if not said.lower().startswith(answer):
        said = f"{sentence(answer)} {said}"
    return f"{sentence(said)} Recorded."


# Parts


def parts(of: facts.Parts, before: str = "") -> str:
    """Word a count of parts: "two new circlips"; "gear oil" for what is not counted."""
    if not of.countable:
        return f"{before}{of.name}" + (f", {amount(of.amount)}" if of.amount else "")
    return f"{count(of.count)} {before}{called(of)}"


def called(of: facts.Parts) -> str:
    """Word a part as so many of it are called."""
    return nouns.counted(of.count, of.name, of.plural)


def some(of: facts.Parts) -> str:
    """Word a count of parts with an article: "a drain plug", "an o ring", "two circlips"."""
    if of.countable and of.count == 1:
        return f"{nouns.article(of.name)} {of.name}"
    return parts(of)


def all_of(things: Sequence[facts.Parts]) -> str:
    """Word a list of parts."""
    return listing(map(parts, things))


def not_to_be_had(of: facts.PartsLacking) -> str:
    """Word parts that a step needs and cannot have, why, and what to say; no full stop."""
    of_parts, verb = of.parts, are(of.parts.count)
    why = {
        "condemned": "condemned",
        "missing": "missing",
        "away for repair": "away for repair",
        "short in the kit": "short in the kit",
        "ordered": "ordered and not received",
        "asked": "asked for and not received",
    }[of.why]
    came = of.why in ("ordered", "asked", "away for repair")
    ways = [to_receive(of_parts) if came else to_order(of_parts)]
    ways += ["kit check"] if of.why == "short in the kit" else []
    ways += ["concession"] if of.concession else []
    return f"{some(of_parts)} that {verb} {why}: say {', or '.join(ways)}"


def to_order(of: facts.Parts) -> str:
    """Word what to say to have parts ordered."""
    return f"order {called(of) if of.count == 1 else parts(of)}"


def to_receive(of: facts.Parts) -> str:
    """Word what to say when parts have come."""
    return f"{called(of)} received"


def fit(procedure: Procedure, of: Fit) -> str:
    """Word a part to fit, how many, and how it goes in."""
    how = f", {of.how}" if of.how else ""
    return parts(facts.Parts.of(procedure, of.part, of.count), "new " if of.new else "") + how


def remove(procedure: Procedure, of: Remove) -> str:
    """Word a part to take off."""
    away = ", to be thrown away" if of.discard else ""
    return f"{parts(facts.Parts.of(procedure, of.part, of.count))}, to come off{away}"


# Fasteners

_THREAD = re.compile(r"M(\d+(?:\.\d+)?)(?:\s*[x×]\s*(\d+(?:\.\d+)?))?$", re.IGNORECASE)


def thread(name: str) -> str:
    """Word a thread: "M8" is "M eight", "M10x1.25" is "M ten by one point two five"."""
    match = _THREAD.match(name.strip())
    if match is None:
        spaced = re.sub(r"\d+(?:\.\d+)?", lambda m: f" {digits(m[0])} ", name.replace("-", " "))
        return " ".join(spaced.split())
    whole = match[1].isdigit()
    said = f"M {count(int(match[1]))}" if whole else f"M {digits(match[1])}"
    return said + (f" by {digits(match[2])}" if match[2] else "")


def number_of_fasteners(one: Fastener) -> str:
    """Word how many of a fastener there are: "four cover bolts"."""
    return several(one.count, one.name)


def fastener(one: Fastener) -> str:
    """Word a fastener in full: count, name, thread, length, grade, position, new, bag."""
    said = number_of_fasteners(one) + (f", {thread(one.thread)}" if one.thread else "")
    if one.length:
        said += f", {amount(one.length)} long"
    if one.grade:
        said += f", grade {thread(one.grade) if one.grade[0].isdigit() else _grade(one.grade)}"
    if one.position:
        said += f", {one.position}"
    if one.new:
        said += ", new ones"
    if one.bag:
        said += f", bag {count(one.bag)}"
    return said


def _grade(text: str) -> str:
    spaced = re.sub(r"\d", lambda m: f" {digits(m[0])} ", text.replace("-", " "))
    return " ".join(spaced.split())


# Tightening


def passes(tighten: Tighten) -> str:
    """Word a tightening's torques and angles: "one four, then two four newton metres"."""
    torques = [*tighten.passes, tighten.torque]
    if len({t.unit for t in torques}) == 1:
        said = ", then ".join([digits(t.value) for t in torques[:-1]] + [amount(torques[-1])])
    else:
        said = ", then ".join(amount(t) for t in torques)
    angles = ([tighten.angle] if tighten.angle else []) + list(tighten.then_angles)
    if tighten.circular_pass:
        said += ", then once more round at the same torque"
    return said + "".join(f", then turn {amount(angle)}" for angle in angles)


NOT_STATED = "thread locker not stated"


def locker(tighten: Tighten) -> str:
    """Word the thread-locker note of a tightening; empty where nobody said."""
    if tighten.locker is None:
        return "" if tighten.lubricated == "not stated" else "no thread locker"
    said = f"{tighten.locker.strength} strength thread locker"
    return f"{said}, {tighten.locker.note}" if tighten.locker.note else said


def condition_of_threads(tighten: Tighten) -> str:
    """Word whether the threads are dry or lubricated; empty where nobody said."""
    if tighten.lubricated == "dry":
        return "threads dry"
    if tighten.lubricated in ("thread-locker", "not stated"):
        return ""
    return f"threads with {tighten.lubricated}"


_ORDERS = {
    "star": "in a star, opposite bolts in turn",
    "spiral": "from the centre outwards in a spiral",
    "circle": "one after the other around the circle",
    "as numbered": "in the order of their numbers",
}


def order(of: str | tuple[int, ...] | None) -> str:
    """Word the kind of order that bolts are tightened in."""
    if of is None:
        return "no order is given"
    return _ORDERS[of] if isinstance(of, str) else "in this order"


def target(of: facts.TorqueToRecord, fastener_too: bool = True) -> str:
    """Word one pass of tightening: "cover bolts, pass one of two, one four newton metres"."""
    said = f"{of.fastener}, " if fastener_too else ""
    if of.stages > 1:
        said += f"pass {count(of.stage)} of {count(of.stages)}, "
    if of.around:
        said += "once round, "
    return f"{said}{'turn ' if of.unit == '°' else ''}{quantity(of.value, of.unit)}"


def tightened(unit: str) -> str:
    """Return the verb for a pass: it is turned where it is an angle, else tightened."""
    return "turned" if unit == "°" else "tightened"


def first_bolt(of: facts.TorqueToRecord) -> str:
    """Word the pass whose bolts are called out from here on."""
    return sentence(target(of))


def loosen(fastener: str) -> str:
    """Word the fasteners that are called out to be loosened."""
    return sentence(f"{fastener}, to loosen")


ALL_LOOSENED = "That was every bolt to loosen."


def bolt(number: int) -> str:
    """Word the bolt that is next."""
    return f"Bolt {count(number)}."


def last_bolt(of: facts.TorqueToRecord) -> str:
    """Word that a pass has no bolt after this one, and what to say when it is tight."""
    return f"The last of pass {count(of.stage)}. {_then_say(of)}"


def no_more_bolts(of: facts.TorqueToRecord, missing: Sequence[int]) -> str:
    """Word that each bolt of a pass was called, and which are to be recorded yet."""
    said = f"That was every bolt of pass {count(of.stage)}."
    if missing:
        left = listing(map(count, missing))
        said += f" To be done yet: {'bolt' if len(missing) == 1 else 'bolts'} {left}."
    return f"{said} {_then_say(of)}"


def _then_say(of: facts.TorqueToRecord) -> str:
    value = quantity(of.value, of.unit)
    return f"Say {tightened(of.unit)} {value} for each, or all tightened."


# Readings


def reading(of: Reading) -> str:
    """Word a reading to take, and its limits."""
    asked = of.say or of.name
    if of.times > 1:
        asked = f"{asked}, {several(of.times, 'reading')}"
    if not (of.limits.least or of.limits.most):
        return sentence(asked)
    if of.say:
        return f"{sentence(asked)} {sentence(f'limits {limits(of.limits)}')}"
    return sentence(f"{asked}, limits {limits(of.limits)}")
