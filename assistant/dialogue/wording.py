"""How things are said aloud: numbers, quantities, parts of a procedure, events.

Numbers that matter are spoken digit by digit (ICAO Annex 10 Volume II, 5.2.1.4.1); counts and step
numbers in ordinary words. What is written for the eye ("M8", "newton metres") is turned into words
here, so that no voice has to guess.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date as Day
from decimal import Decimal

from assistant.dialogue import events
from assistant.dialogue import state as job_state
from assistant.dialogue.state import Mode
from assistant.grammar import numbers, units
from assistant.procedure.model import (
    Fastener,
    Fit,
    Limits,
    Procedure,
    Quantity,
    Reading,
    Step,
    Tighten,
)

digits = numbers.spell_digits
count = numbers.cardinal

STANDING_BY = "Standing by. Say resume."


def quantity(value: Decimal, unit: str | None) -> str:
    """Word a critical value: "one four newton metres"."""
    said = digits(value)
    return f"{said} {_unit(unit, value)}" if unit else said


def _unit(unit: str, value: Decimal) -> str:
    try:
        return units.spoken(unit, value)
    except ValueError:
        # A unit that nobody says at the bench, from a procedure: better as written than not at all.
        return _SELDOM.get(unit, unit)


_SELDOM = {"mbar·l/s": "millibar litres per second", "mbar": "millibar", "Pa": "pascals"}


def amount(value: Quantity) -> str:
    """Word a procedure's quantity as a critical value."""
    return quantity(value.value, value.unit)


def sentence(text: str) -> str:
    """Make a sentence of it: a capital, and a full stop where nothing ends it."""
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".?!" else ".")


def listing(things: Iterable[str], last: str = "and") -> str:
    """Join with commas and a final "and"."""
    items = list(things)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def several(number: int, one: str, many: str | None = None) -> str:
    """Word a count of things: "one bolt", "four bolts"."""
    return f"{count(number)} {one if number == 1 else many or one + 's'}"


_MONTHS = (
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
)


def date(day: Day) -> str:
    """Word a day: "four march two zero three one"."""
    return f"{count(day.day)} {_MONTHS[day.month - 1]} {digits(day.year)}"


def figures(text: str) -> str:
    """Return a text for the eye with its whole numbers as words."""
    return re.sub(r"\d+", lambda match: count(int(match[0])), text)


def duration(seconds: float) -> str:
    """Word a time span in its two largest units: "two days and three hours"."""
    left = max(0, round(seconds))
    said = []
    for size, name in ((86400, "day"), (3600, "hour"), (60, "minute"), (1, "second")):
        number, left = divmod(left, size)
        if number:
            said.append(several(number, name))
    return listing(said[:2]) or "no time"


_THREAD = re.compile(r"M(\d+(?:\.\d+)?)(?:\s*[x×]\s*(\d+(?:\.\d+)?))?$", re.IGNORECASE)


def thread(name: str) -> str:
    """Word a thread: "M8" is "M eight", "M10x1.25" is "M ten by one point two five"."""
    match = _THREAD.match(name.strip())
    if match is None:
        return re.sub(
            r"\d+(?:\.\d+)?", lambda m: f" {digits(Decimal(m[0]))} ", name.replace("-", " ")
        ).strip()
    whole = match[1].isdigit()
    said = f"M {count(int(match[1]))}" if whole else f"M {digits(Decimal(match[1]))}"
    return said + (f" by {digits(Decimal(match[2]))}" if match[2] else "")


def number_of_fasteners(fastener: Fastener) -> str:
    """Word how many of a fastener there are: "four cover bolts"."""
    name = fastener.name
    return several(fastener.count, name, name if name.endswith("s") else name + "s")


def fastener(one: Fastener) -> str:
    """Word a fastener in full: count, name, thread, length, grade, position, new, bag."""
    said = f"{number_of_fasteners(one)}, {thread(one.thread)}"
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
    return re.sub(r"\d", lambda m: f" {digits(Decimal(m[0]))} ", text.replace("-", " ")).strip()


def passes(tighten: Tighten) -> str:
    """Word a tightening's torques and angles: "one four, then two four newton metres"."""
    torques = [*tighten.passes, tighten.torque]
    if len({t.unit for t in torques}) == 1:
        said = ", then ".join([digits(t.value) for t in torques[:-1]] + [amount(torques[-1])])
    else:
        said = ", then ".join(amount(t) for t in torques)
    angles = ([tighten.angle] if tighten.angle else []) + list(tighten.then_angles)
    if tighten.circular_pass:
        said += ", then once round at the same"
    return said + "".join(f", then turn {amount(angle)}" for angle in angles)


def locker(tighten: Tighten) -> str:
    """Word the thread-locker note of a tightening."""
    if tighten.locker is None:
        return "no thread locker"
    said = f"{tighten.locker.strength} strength thread locker"
    return f"{said}, {tighten.locker.note}" if tighten.locker.note else said


def condition_of_threads(tighten: Tighten) -> str:
    """Word whether the threads are dry or lubricated."""
    if tighten.lubricated == "dry":
        return "threads dry"
    if tighten.lubricated == "thread-locker":
        return ""
    return f"threads with {tighten.lubricated}"


def order(of: str | tuple[int, ...] | None) -> str:
    """Word the kind of order that bolts are tightened in."""
    if of is None:
        return "no order is given"
    if isinstance(of, str):
        return {
            "star": "in a star, opposite bolts in turn",
            "spiral": "from the centre outwards in a spiral",
            "circle": "one after the other around the circle",
            "as numbered": "in the order of their numbers",
        }[of]
    return "in this order"


def limits(of: Limits) -> str:
    """Word the limits of a reading."""
    if of.least and of.most:
        low = digits(of.least.value) if of.least.unit == of.most.unit else amount(of.least)
        return f"{low} to {amount(of.most)}"
    if of.least:
        return f"at least {amount(of.least)}"
    if of.most:
        return f"at most {amount(of.most)}"
    return "no limits are given"


def reading(of: Reading) -> str:
    """Word a reading to take, and its limits."""
    asked = of.say or of.name
    if not (of.limits.least or of.limits.most):
        return sentence(asked)
    if of.say:
        return f"{sentence(asked)} {sentence(f'limits {limits(of.limits)}')}"
    return sentence(f"{asked}, limits {limits(of.limits)}")


def hazard(signal: str, say: str) -> str:
    """Word a hazard: the signal word, then what to beware of."""
    return f"{signal.capitalize()}. {sentence(say)}"


def target(of: job_state.Target, fastener_too: bool = True) -> str:
    """Word one pass of tightening: "cover bolts, pass one of two, one four newton metres"."""
    named = f"{of.tighten.fastener}, " if fastener_too else ""
    turn = of.unit == "°"
    if of.stages > 1:
        named += f"pass {count(of.stage)} of {count(of.stages)}, "
    if of.around:
        named += "once round, "
    return f"{named}{'turn ' if turn else ''}{quantity(of.value, of.unit)}"


def pass_of(target: job_state.Target) -> str:
    """Word which pass it is: "pass two"."""
    return f"pass {count(target.stage)}"


def outstanding(item: job_state.Outstanding) -> str:
    """Word what keeps a step from being done, so that it says what to do."""
    match item:
        case job_state.HazardsToHear(hazards):
            return f"the {listing(dict.fromkeys(h.signal.value for h in hazards))} to affirm"
        case job_state.StepBefore(step, number):
            return f"step {count(number)} to do first, {_lower(step.say)}"
        case job_state.ConditionToAffirm(before):
            return f"to affirm: {_lower(before.affirm or '')}"
        case job_state.QuestionToAnswer(step) if step.question:
            return f"the question: {question(step)}"
        case job_state.ReadingToTake(reading):
            return f"the reading {reading.name}"
        case job_state.TorqueToRecord(one):
            return f"the torque, {target(one)}"
        case job_state.BagToRecord(number):
            return f"the bag, bag {count(number)}"
        case job_state.TimeToPass(purpose, seconds, _, left):
            if left is None:
                return f"the {purpose}, {duration(seconds)}, not started: say start timer"
            return f"the {purpose}, {duration(left)} left"
    raise TypeError(f"no words for {item!r}")


def all_outstanding(items: Sequence[job_state.Outstanding]) -> str:
    """Word all that is outstanding; of a fastener's passes only the next, and how many follow."""
    passes = Counter(
        item.target.tighten.fastener for item in items if isinstance(item, job_state.TorqueToRecord)
    )
    said = []
    for item in items:
        words = outstanding(item).rstrip(".")
        if isinstance(item, job_state.TorqueToRecord):
            more = passes.pop(item.target.tighten.fastener, 0) - 1
            if more < 0:
                continue
            if more:
                words += f" with {several(more, 'more pass', 'more passes')} after it"
        said.append(words)
    return listing(said)


def _lower(text: str) -> str:
    text = text.rstrip(".?!")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text


def question(step: Step) -> str:
    """Word a step's question with its answers."""
    if step.question is None:
        raise LookupError(f"step {step.id} asks nothing")
    asked = sentence(step.question.say)
    names = [answer.say for answer in step.question.answers]
    if all(name in asked.lower() for name in names):
        return asked
    return f"{asked} Say {listing(names, 'or')}."


def at_the_bench(name: str | None, by_voice: bool) -> str:
    """Say who is signed on; where nobody is, how to sign on (`by_voice`: the shop has a list)."""
    if name is not None:
        return sentence(f"{name} is at the bench")
    return "Nobody has signed on." + (" Say this is, and your name." if by_voice else "")


_THEMES = {
    "move": "to move",
    "hear": "to hear",
    "ask": "to ask",
    "record": "to record",
    "answer": "to answer",
    "find": "for a finding",
    "supply": "for parts",
    "mend": "to mend",
    "time": "for time",
    "voice": "for my voice",
    "attend": "to begin and end",
}


def what_can_be_said(mode: Mode, examples: Sequence[tuple[str, tuple[str, ...]]]) -> str:
    """Say what can be said in a mode, by theme; a few ways out where an answer is waited for."""
    match mode:
        case Mode.NOTING:
            return "Say your note; it ends when you pause. Or say disregard."
        case Mode.CLOSED:
            return "The job is closed."
        case Mode.WORKING:
            themes = [f"{_THEMES[theme]}: {listing(said, 'or')}" for theme, said in examples]
            return " ".join(sentence(theme) for theme in themes)
    said = [one for _, ones in examples for one in ones]
    return sentence(f"say {listing(said, 'or')}")


def event(of: events.Base) -> str:
    """Word an event as it is read back, disregarded and shown in the log; no full stop."""
    match of:
        case events.TorqueRecorded():
            stage = f", pass {count(of.stage)} of {count(of.stages)}" if of.stages > 1 else ""
            verb = "turned" if of.unit == "°" else "tightened"
            over = "" if of.within else f", where {quantity(of.asked, of.asked_unit)} was asked"
            doubt = f", but {of.warning}" if of.warning else ""
            return f"{of.fastener}{stage} {verb} {quantity(of.value, of.unit)}{over}{doubt}"
        case events.BoltCalled():
            return f"bolt {count(of.bolt)}"
        case events.ReadingRecorded():
            worn = "" if of.wear is None else f", worn {digits(Decimal(of.wear))} percent"
            return f"{of.name} {quantity(of.value, of.unit)}{_beyond(of)}{worn}"
        case events.ValueWorkedOut():
            return f"{of.name} comes to {quantity(of.value, of.unit)}{_beyond(of)}"
        case events.LeakJudged():
            return leak_test(of)
        case events.FluidMeasured():
            return fluid(of)
        case events.PartChosen():
            note = f", {of.note}" if of.note else ""
            doubt = f", but it is close to {of.unsure}: measure again" if of.unsure else ""
            return f"use {of.part}{note}{doubt}"
        case events.BagRecorded():
            over = "" if of.within else f", where bag {count(of.asked or 0)} was asked"
            return f"bag {count(of.number)}{over}"
        case events.PartOrdered():
            return f"order {count(of.count)} {of.part}"
        case events.OrderMoved():
            return f"{count(of.count)} {of.part} {of.state}"
        case events.KitOpened():
            return "kit check"
        case events.KitItemChecked():
            return f"{of.name}, " + (f"{count(of.short)} short" if of.short else "there")
        case events.KitChecked():
            return "kit checked" + (f", short {listing(of.short)}" if of.short else ", all there")
        case events.FindingRecorded():
            told = [f"{of.part} {of.condition}", of.place, of.disposition]
            return ", ".join(words for words in told if words)
        case events.NoteRecorded():
            return f"note: {of.text}" if of.text else "a spoken note"
        case events.QuestionAnswered():
            return f"{of.answer}"
        case events.HazardsHeard():
            return f"heard: {listing(of.hazards)}"
        case events.ConditionAffirmed():
            return f"affirmed: {_lower(of.condition)}"
        case events.TimerStarted():
            return f"{of.name} started, {duration(of.seconds)}"
        case events.TimerRang():
            return f"{of.name} is up"
        case events.TimerCancelled():
            return f"{of.name} cancelled"
        case events.StepEntered():
            return "went to the step"
        case events.StepDone():
            return "step done"
        case events.StepSkipped():
            return f"step skipped, {of.reason}"
        case events.ValueQuestioned():
            return f"questioned: heard {of.said}. {of.why}"
        case events.Withdrawn():
            return f"{'corrected' if of.corrected else 'withdrawn'}: {of.what}"
        case events.JobOpened():
            return f"job opened: {of.title}, revision {of.revision}"
        case events.JobTakenUp():
            return "job taken up again"
        case events.JobClosed():
            return "job closed" + (f" with {listing(of.left)}" if of.left else "")
        case events.QuestionDropped():
            return f"dropped: {of.what}"
        case events.CloseAsked():
            return "asked to close the job"
        case events.SkipAsked():
            return "asked to skip the step"
        case events.NoteOpened():
            return "note opened"
        case events.SignedOn():
            return f"{of.name} at the bench"
        case events.StoodBy():
            return "standing by"
        case events.Resumed():
            return "listening again"
    raise TypeError(f"no words for {of!r}")


def _beyond(of: events.ReadingRecorded | events.ValueWorkedOut) -> str:
    if of.within is False:
        return f", outside the limits {of.limits}"
    return f", too close to the limits to call, {of.limits}" if of.too_close else ""


def leak_test(of: events.LeakJudged) -> str:
    """Word how a leak test came out, what was lost of what is allowed last."""
    said = f"leak test {of.outcome}"
    if of.thermal:
        said += f", the gauge lost {digits(of.measured)}, temperature explains {digits(of.thermal)}"
    if of.outcome == "doubtful":
        return f"{said}, check gauge and temperature, gained {quantity(abs(of.lost), of.unit)}"
    if of.rate is not None:
        said += f", leak rate {quantity(of.rate, 'mbar·l/s')}"
    return f"{said}, lost {digits(of.lost)} of {quantity(of.allowed, of.unit)} allowed"


def fluid(of: events.FluidMeasured) -> str:
    """Word how much came out or went in, of how much: "zero point nine of one point one litres"."""
    way = "came out" if of.drained else "went in"
    said = f"{of.fluid}, {digits(of.value)} of {quantity(of.capacity, of.unit)} {way}"
    if of.within:
        return said
    gap = quantity(abs(of.missing), of.unit)
    if of.missing < 0:
        return f"{said}, {gap} too much"
    return f"{said}, {gap} is missing: look for the reason"


def step_heading(number: int, step: Step) -> str:
    """Word a step's number and what to do."""
    return f"Step {count(number)}. {sentence(step.say)}"


def parts(procedure: Procedure, name: str, number: int, before: str = "") -> str:
    """Word a count of parts: "two new circlips"."""
    return f"{count(number)} {before}{name_of_parts(procedure, name, number)}"


def name_of_parts(procedure: Procedure, name: str, number: int) -> str:
    """Word a part as so many of it are called."""
    part = procedure.part(name)
    if number != 1:
        return part.plural_name if part else f"{name}s"
    return part.name if part and name == part.plural_name else name


def bag_contents(procedure: Procedure, step: Step) -> str | None:
    """Word what goes into the step's bag; None where the step does not say."""
    things = [parts(procedure, r.part, r.count) for r in step.remove if not r.discard]
    named = {r.part for r in step.remove}
    # A bolt can be listed both as a part that comes off and as a fastener of the joint.
    things += [number_of_fasteners(f) for f in step.fasteners if f.name not in named]
    return listing(things) or None


def some_parts(procedure: Procedure, name: str, number: int) -> str:
    """Word a count of parts with an article: "a drain plug", "an o ring", "two circlips"."""
    if number == 1:
        return f"{'an' if name[0] in 'aeio' else 'a'} {name}"
    return parts(procedure, name, number)


def fit(procedure: Procedure, of: Fit) -> str:
    """Word a part to fit, how many, and how it goes in."""
    how = f", {of.how}" if of.how else ""
    return parts(procedure, of.part, of.count, "new " if of.new else "") + how


def briefing(procedure: Procedure, step: Step, answers: dict[str, str]) -> Sequence[str]:
    """Word what a step asks for beyond its sentence: fits, torques, locker, readings, bag, wait."""
    said = [sentence(f"fit {fit(procedure, f)}") for f in step.fit if f.applies(answers)]
    if step.from_bag:
        said.append(f"Hardware from bag {count(step.from_bag)}.")
    for tighten in step.tighten:
        if tighten.applies(answers):
            # The number last: it is what has to stay in the ear.
            parts = [tighten.fastener, locker(tighten), condition_of_threads(tighten)]
            said.append(sentence(f"{', '.join(p for p in parts if p)}, {passes(tighten)}"))
    if step.question:
        said.append(question(step))
    readings = [r for r in step.readings if r.applies(answers)]
    if readings:
        # One at a time: nobody keeps the limits of four readings in their ear.
        said.append(reading(readings[0]))
    if len(readings) > 1:
        more = several(len(readings) - 1, "more reading")
        said.append(sentence(f"then {more}"))
    if step.bag:
        said.append(f"Bag {count(step.bag)}.")
    if step.wait and step.wait.applies(answers):
        wait = duration(job_state.wait_seconds(step))
        how = "since the joint was tightened" if step.wait.since else "say start timer"
        said.append(sentence(f"{step.wait.purpose}, {wait}: {how}"))
    return said
