"""Refuses what would hurt somebody or break something if a procedure were followed to the letter.

Each is a slip of the pen that reads well: a torque that no bolt of that thread can take, a number
in the spoken text that is not the number of the key, a fastener that comes out of its bag at
another size, a name that begins another and a number, so that a value is recorded under the wrong
name.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from assistant.errors import AssistantError
from assistant.grammar import nouns, numbers
from assistant.procedure import arithmetic, routes, spoken_figures, trade_checks
from assistant.procedure.model import Fastener, Procedure, Quantity, Step, Tighten, Wrench
from assistant.procedure.problems import Fault, Place
from assistant.trade import fasteners, units

_ROUNDING = 0.02
"""Share by which a spoken torque may differ from its key: what rounding to whole units costs."""


def dangers(procedure: Procedure) -> Iterator[Fault]:
    """Yield each danger of a procedure."""
    yield from of_single_steps(procedure)
    yield from _no_wrench(procedure)
    yield from _other_size_out(procedure)
    yield from _names_and_numbers(procedure)


def of_single_steps(procedure: Procedure) -> Iterator[Fault]:
    """Yield the dangers that a step shows by itself."""
    for where, step in routes.placed(procedure):
        for number, tighten in enumerate(step.tighten):
            at = (*where, "tighten", number)
            if not units.same_dimension(tighten.torque.unit, "N·m") or tighten.torque.value <= 0:
                continue
            for fastener in step.fasteners:
                if fastener.name == tighten.fastener and routes.together(fastener, tighten):
                    yield from _too_much(at, fastener, tighten)
            if tighten.lubricated == "thread-locker" and tighten.locker is None:
                yield (
                    (*at, "lubricated"),
                    "the threads are wet with thread-locker, but no 'locker' says which: write "
                    "locker: {strength: medium}, or what the threads are really wetted with",
                )
        yield from _said_otherwise(where, step)


def _too_much(at: Place, fastener: Fastener, tighten: Tighten) -> Iterator[Fault]:
    """Yield a torque past proof load, by the stated class or else by the strongest usual one."""
    try:
        found = arithmetic.sanity(fastener, tighten)
        thread = fasteners.thread(fastener.thread) if fastener.thread else None
        if found is not None:
            if found.verdict is fasteners.Tightness.PAST_PROOF:
                yield (
                    (*at, "torque"),
                    f"{fastener.name}: {found.sentence()} Correct the torque, the thread, the "
                    "grade, or what is on the threads",
                )
            return
        if thread is None:
            return
        torque = arithmetic.quantity(tighten.torque)
        strength = fasteners.strongest(thread)
        if tighten.lubricated == "not stated":
            most = fasteners.torque_for(
                fasteners.tensile_load(thread, strength),
                units.quantity(thread.diameter, "mm"),
                fasteners.nut_factor("dry"),
            )
            what = "would break"
        else:
            state = "thread-locker" if tighten.locker else tighten.lubricated
            most = fasteners.recommended_torque(thread, strength, state, share=1)
            what = "would pass the proof load of"
    except AssistantError:
        # A thread or a grade that is in no table is told of elsewhere.
        return
    if units.express(torque, "N·m") > units.express(most, "N·m") * (1 + 1e-9):
        yield (
            (*at, "torque"),
            f"{fastener.name}: {tighten.torque} {what} {thread.name} {strength.name}, the "
            f"strongest usual class: {units.show(most)} is the most. Correct the torque or the "
            "thread",
        )


def _said_otherwise(where: Place, step: Step) -> Iterator[Fault]:
    """Yield a torque or an angle in the spoken text that is none of the step's keys."""
    if not step.tighten:
        return
    torques = [amount for one in step.tighten for amount in (*one.passes, one.torque)]
    angles = [amount for one in step.tighten for amount in (one.angle, *one.then_angles) if amount]
    for spoken in spoken_figures.in_text(step.say):
        if "set" in spoken.before:
            # What a wrench is set to differs from the torque where there is an adapter on it.
            continue
        tightening = any(word.startswith(("tighten", "torque")) for word in spoken.before)
        if spoken.unit is None:
            if not tightening or spoken.before[-1] not in ("to", "at"):
                continue
            if spoken.after[:1] in (("degrees",), ("of",)) or _counts(step, spoken):
                continue
            if any(spoken.value == amount.value for amount in (*torques, *angles)):
                continue
        elif units.same_dimension(spoken.unit, "N·m"):
            if any(_same(spoken.value, spoken.unit, amount) for amount in torques):
                continue
        elif units.same_dimension(spoken.unit, "°") and angles and tightening:
            if any(_same(spoken.value, spoken.unit, amount) for amount in angles):
                continue
        else:
            continue
        said = f"{spoken.value} {spoken.unit or ''}".strip()
        known = ", ".join(str(amount) for amount in (*torques, *angles))
        yield (
            (*where, "say"),
            f"the text says {said}, but the step's tightening is {known}. Write the same in both, "
            "or leave the number out of the text: it is spoken from the key",
        )


def _counts(step: Step, spoken: spoken_figures.Spoken) -> bool:
    """Whether a number in the text counts the step's fasteners ("to four bolts")."""
    return any(
        word.startswith(one.name.split()[-1]) for word in spoken.after[:3] for one in step.fasteners
    )


def _same(value: Decimal, unit: str, amount: Quantity) -> bool:
    if not units.same_dimension(unit, amount.unit):
        return False
    wanted = float(amount.value)
    return abs(units.convert(float(value), unit, amount.unit) - wanted) <= _ROUNDING * abs(wanted)


def _no_wrench(procedure: Procedure) -> Iterator[Fault]:
    """Yield a torque for which the list of wrenches has none."""
    if not procedure.wrenches:
        return
    for where, step in routes.placed(procedure):
        for number, tighten in enumerate(step.tighten):
            for field, amounts in (("passes", tighten.passes), ("torque", (tighten.torque,))):
                for amount in amounts:
                    if not any(
                        trade_checks.suited(tool, amount, tighten) for tool in procedure.wrenches
                    ):
                        yield (
                            (*where, "tighten", number, field),
                            f"no wrench in the list suits {amount}: {_listed(procedure.wrenches)}. "
                            "Add one that does to 'wrenches', or correct the torque",
                        )


def _listed(tools: Iterable[Wrench]) -> str:
    found = []
    for tool in tools:
        one = arithmetic.wrench(tool)
        found.append(f"{tool.name} is good from {units.show(one.good_from)} to {tool.most}")
    return ", ".join(found)


def _other_size_out(procedure: Procedure) -> Iterator[Fault]:
    """Yield a fastener that goes into a bag at one size and comes out of it at another."""
    into: dict[tuple[int, str], list[Fastener]] = {}
    for where, step in routes.placed(procedure):
        for number, fastener in enumerate(step.fasteners):
            bag = fastener.bag or step.bag or step.from_bag
            if bag is None:
                continue
            if step.from_bag is None:
                into.setdefault((bag, fastener.name), []).append(fastener)
                continue
            earlier = into.get((bag, fastener.name), [])
            if fastener.new or not earlier:
                continue
            if any(_same_size(fastener, one) for one in earlier):
                continue
            size = " or ".join(dict.fromkeys(_size(one) for one in earlier))
            field = "thread" if earlier[0].thread != fastener.thread else "length"
            yield (
                (*where, "fasteners", number, field),
                f"{fastener.name}: {size} goes into bag {bag}, and {_size(fastener)} comes out. "
                "Write the same size in both, or new: true where another is fitted",
            )


def _same_size(one: Fastener, other: Fastener) -> bool:
    threads = not (one.thread and other.thread) or _thread(one) == _thread(other)
    if one.length is None or other.length is None:
        return threads
    if not units.same_dimension(one.length.unit, other.length.unit):
        return False
    lengths = (arithmetic.quantity(each.length) for each in (one, other) if each.length)
    first, second = (units.express(each, "mm") for each in lengths)
    return threads and abs(first - second) < 1e-6


def _thread(of: Fastener) -> str:
    try:
        return fasteners.thread(of.thread).name
    except AssistantError:
        return "".join(of.thread.split()).upper()


def _size(of: Fastener) -> str:
    return f"{of.thread} {of.length or ''}".strip() or "no size"


def _names_and_numbers(procedure: Procedure) -> Iterator[Fault]:
    """Yield a name of a value that is another one's name and a number.

    With “gap” and “gap one”, “gap one two point five” is 12.5 of one or 2.5 of the other.
    """
    named: dict[str, Place] = {}
    for where, step in routes.placed(procedure):
        for number, reading in enumerate(step.readings):
            named.setdefault(reading.name, (*where, "readings", number, "name"))
        for number, tighten in enumerate(step.tighten):
            named.setdefault(tighten.fastener, (*where, "tighten", number, "fastener"))
    for name, at in named.items():
        words = name.split()
        for place in range(1, len(words)):
            start = " ".join(words[:place])
            if start in named and numbers.is_number(words[place]):
                yield (
                    at,
                    f"'{name}' begins with the name '{start}' and goes on with a number, so a "
                    f"value of one is heard as a value of the other. Call it by a word, such as "
                    f"'upper {start}', or call the other one '{nouns.plural(start)} in all'",
                )
