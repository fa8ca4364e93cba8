"""Checks a procedure with the calculations of the trade: torques, bolt lengths, wrenches, cures.

A fault is a value that cannot be calculated with. A warning is a calculation with a bad result,
such as a torque that is low for its bolt. Nobody is kept from working by a warning: the writer may
know more than the rule does. What is dangerous is refused by `danger_checks`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from assistant.errors import AssistantError
from assistant.procedure import arithmetic, routes
from assistant.procedure.model import Fastener, Procedure, Quantity, Step, Tighten, Wrench
from assistant.procedure.problems import Fault, Place
from assistant.trade import fasteners, fluids, measure, units

_PIPE = re.compile(r"(G|Rp?|Rc)\s*\d.*|.*\b(NPTF?|BSP[PT]?)\b.*", re.IGNORECASE)
"""Pipe threads. They seal and do not clamp, so the tables of bolts do not hold them."""


def faults(procedure: Procedure) -> Iterator[Fault]:
    """Yield each value that cannot be calculated with."""
    names: set[str] = set()
    for number, tool in enumerate(procedure.wrenches):
        at: Place = ("wrenches", number)
        if tool.name in names:
            yield (*at, "name"), f"another wrench is called '{tool.name}' already"
        names.add(tool.name)
        yield from _try(at, arithmetic.wrench, tool)
    values: dict[str, str] = {}
    earlier: dict[str, Step] = {}
    for where, step in routes.placed(procedure):
        values |= {entry.name: entry.unit for entry in step.readings}
        values |= {entry.name: entry.unit for entry in step.derived}
        earlier[step.id] = step
        for number, fastener in enumerate(step.fasteners):
            yield from _known((*where, "fasteners", number), fastener)
        yield from _tightenings(step, where, procedure)
        yield from _loosenings(step, where)
        yield from _wait(step, where, earlier)
        yield from _wear(step, where)
        yield from _leak(step, where, values)
        yield from _fluids(step, where, values)


def warnings(procedure: Procedure) -> Iterator[Fault]:
    """Yield each calculation with a bad result: torque, bolt length, wrench out of its range."""
    for where, step in routes.placed(procedure):
        for number, fastener in enumerate(step.fasteners):
            at = (*where, "fasteners", number)
            found = _of_known(fastener)
            if found is None:
                if fastener.thread and not _PIPE.fullmatch(fastener.thread.strip()):
                    thread = fastener.thread
                    yield (
                        (*at, "thread"),
                        f"{thread} is not in the tables, so its torque and length are not checked",
                    )
                continue
            fit = arithmetic.bolt_length(fastener)
            if fit is not None and fit.fit is not fasteners.Fit.GOOD:
                yield (*at, "length"), f"{fastener.name}: {fit.sentence()}"
        for number, tighten in enumerate(step.tighten):
            at = (*where, "tighten", number, "torque")
            for fastener in step.fasteners:
                if fastener.name == tighten.fastener and routes.together(fastener, tighten):
                    yield from _too_loose(at, fastener, tighten)
            yield from _out_of_range((*where, "tighten", number), tighten, procedure)
        yield from _last_pass(step, where)


def _try(at: Place, work: Callable[..., object], *of: object) -> Iterator[Fault]:
    try:
        work(*of)
    except AssistantError as error:
        text = str(error).rstrip(".")
        yield at, text[0].lower() + text[1:]


def _of_known(fastener: Fastener) -> fasteners.Thread | None:
    try:
        return fasteners.thread(fastener.thread)
    except AssistantError:
        return None


def _known(at: Place, fastener: Fastener) -> Iterator[Fault]:
    """Yield a thread or a grade that is not in the tables but is needed to check the torque."""
    if fastener.grade is None:
        return
    thread = _of_known(fastener)
    if not fastener.thread:
        yield (*at, "grade"), "give the 'thread' too: a grade alone says nothing of the torque"
    elif thread is None:
        yield from _try((*at, "thread"), fasteners.thread, fastener.thread)
    else:
        yield from _try((*at, "grade"), fasteners.grade, fastener.grade, thread)


def _tightenings(step: Step, where: Place, procedure: Procedure) -> Iterator[Fault]:
    for number, tighten in enumerate(step.tighten):
        at = (*where, "tighten", number)
        if tighten.wrench is not None:
            tool = procedure.wrench(tighten.wrench)
            if tool is None:
                known = ", ".join(one.name for one in procedure.wrenches) or "none"
                yield (*at, "wrench"), f"no wrench is called '{tighten.wrench}'; known: {known}"
            elif tighten.adapter is not None and _measurable(tighten):
                yield from _try((*at, "adapter"), _at_drive, tighten, tool)
        if tighten.adapter_angle is not None:
            if not units.same_dimension(tighten.adapter_angle.unit, "°"):
                yield (*at, "adapter_angle"), "expected an angle, such as 45 deg"
            if tighten.adapter is None:
                yield (*at, "adapter_angle"), "give the adapter's length as 'adapter'"
        if tighten.locker is not None:
            yield from _try((*at, "locker"), arithmetic.release, tighten.locker.strength, procedure)
        counts = _counts(step, tighten.fastener)
        if tighten.circular_pass and (tighten.angle is not None or 1 in counts):
            yield (*at, "circular_pass"), "only for several bolts, with no angle after the torque"
        for count in counts:
            wrong = list(_try((*at, "order"), arithmetic.bolts, tighten, count))
            yield from wrong
            if not wrong and _measurable(tighten):
                field = "passes" if tighten.passes else "torque"
                yield from _try((*at, field), arithmetic.turns, tighten, count)


def _counts(step: Step, fastener: str) -> list[int]:
    """Return the counts that a fastener can have: variants may differ. Two entries for one case,
    such as new ones and old ones, are counted together, as they are at the bench.
    """
    named = [one for one in step.fasteners if one.name == fastener]
    return sorted({sum(f.count for f in named if f.when == one.when) for one in named})


def _at_drive(tighten: Tighten, tool: Wrench) -> object:
    return arithmetic.at_drive(tighten.torque, tighten, arithmetic.wrench(tool))


def _measurable(tighten: Tighten) -> bool:
    """Whether torques and angles can be calculated with; other checks report those that cannot."""
    torques = (tighten.torque, *tighten.passes)
    angles = ((tighten.angle,) if tighten.angle else ()) + tighten.then_angles
    return all(
        units.same_dimension(one.unit, like) and one.value > 0
        for amounts, like in ((torques, "N·m"), (angles, "°"))
        for one in amounts
    )


def _loosenings(step: Step, where: Place) -> Iterator[Fault]:
    for number, loosen in enumerate(step.loosen):
        at = (*where, "loosen", number)
        counts = _counts(step, loosen.fastener)
        if not counts:
            yield (*at, "fastener"), f"this step has no fastener '{loosen.fastener}'"
        for count in counts:
            yield from _try((*at, "order"), arithmetic.bolts, loosen, count)


def _wait(step: Step, where: Place, earlier: dict[str, Step]) -> Iterator[Fault]:
    wait, at = step.wait, (*where, "wait")
    if wait is None:
        return
    if (wait.time is None) == (wait.locker is None):
        yield at, "write either 'time' or 'locker', and not both"
        return
    if wait.locker is not None:
        yield from _try((*at, "locker"), arithmetic.wait_seconds, wait)
        if wait.since is None:
            yield (*at, "locker"), "give the step of the joint as 'since'"
    if wait.since is not None:
        joint = earlier.get(wait.since)
        if joint is None or not joint.tighten:
            yield (*at, "since"), f"no earlier step is called '{wait.since}' and tightens anything"


def _wear(step: Step, where: Place) -> Iterator[Fault]:
    for number, reading in enumerate(step.readings):
        at = (*where, "readings", number)
        new, worn_out = reading.new, reading.service_limit
        if new is None and worn_out is None:
            continue
        if new is None or worn_out is None:
            yield at, "expected both 'new' and 'service_limit', for wear"
            continue
        wrong = [
            field
            for field, amount in (("new", new), ("service_limit", worn_out))
            if not units.same_dimension(amount.unit, reading.unit)
        ]
        for field in wrong:
            yield (*at, field), f"expected a value in {reading.unit}"
        if not wrong:
            new_size = arithmetic.quantity(new)
            limit = arithmetic.quantity(worn_out)
            yield from _try((*at, "service_limit"), measure.wear, new_size, new_size, limit)


def _leak(step: Step, where: Place, values: dict[str, str]) -> Iterator[Fault]:
    leak, at = step.leak, (*where, "leak")
    if leak is None:
        return
    for field, like, wanted in (
        ("start", "bar", "a pressure"),
        ("final", "bar", "a pressure"),
        ("start_temperature", "°C", "a temperature"),
        ("final_temperature", "°C", "a temperature"),
    ):
        name = getattr(leak, field)
        if name is not None:
            yield from _value((*at, field), name, like, wanted, values)
    if (leak.start_temperature is None) != (leak.final_temperature is None):
        yield at, "give both temperatures or neither"
    yield from _is_a((*at, "allowed"), leak.allowed, "bar", "a pressure, such as 15 kPa")
    if leak.volume is not None:
        yield from _is_a((*at, "volume"), leak.volume, "l", "a volume, such as 2 l")
        if leak.time is None:
            yield (*at, "volume"), "a leak rate needs the 'time' between the readings"
    if leak.time is not None:
        yield from _is_a((*at, "time"), leak.time, "s", "a time, such as 10 min")


def _fluids(step: Step, where: Place, values: dict[str, str]) -> Iterator[Fault]:
    if step.fluid is not None:
        at = (*where, "fluid")
        yield from _value((*at, "of"), step.fluid.of, "l", "a volume", values)
        yield from _is_a((*at, "capacity"), step.fluid.capacity, "l", "a volume, such as 1.1 l")
    if step.mix is not None:
        at = (*where, "mix")
        yield from _try((*at, "ratio"), fluids.ratio, step.mix.ratio)
        yield from _is_a((*at, "total"), step.mix.total, "l", "a volume, such as 5 l")


def _value(at: Place, name: str, like: str, wanted: str, values: dict[str, str]) -> Iterator[Fault]:
    if name not in values:
        known = ", ".join(values) or "none"
        yield at, f"no reading so far is called '{name}'; known: {known}"
    elif not units.same_dimension(values[name], like):
        yield at, f"the reading '{name}' is not {wanted}"


def _is_a(at: Place, amount: Quantity, like: str, wanted: str) -> Iterator[Fault]:
    if not units.same_dimension(amount.unit, like):
        yield at, f"expected {wanted}, not {amount}"
    elif amount.value < 0:
        yield at, "it cannot be negative"


def _too_loose(at: Place, fastener: Fastener, tighten: Tighten) -> Iterator[Fault]:
    found = arithmetic.sanity(fastener, tighten)
    # A torque before an angle only seats the joint, so it is low on purpose.
    if found is None or found.verdict is not fasteners.Tightness.TOO_LOOSE or tighten.angle:
        return
    yield at, f"{fastener.name}: {found.sentence()} A joint this loose works itself slack"


def _last_pass(step: Step, where: Place) -> Iterator[Fault]:
    """Suggest a last pass for the bolts of a gasket: tightening one slackens the others.

    Only for a joint with one kind of bolt. A last pass over one kind is useless while the other
    kind is still loose.
    """
    if len(step.tighten) != 1 or not any("gasket" in entry.part for entry in step.fit):
        return
    (tighten,) = step.tighten
    if tighten.circular_pass or tighten.order is None:
        return
    for count in _counts(step, tighten.fastener):
        if arithmetic.final_pass(tighten, count):
            yield (
                (*where, "tighten", 0, "order"),
                f"{count} bolts on a gasket slacken each other: circular_pass: true goes over "
                "them once more at the full torque",
            )


def _out_of_range(at: Place, tighten: Tighten, procedure: Procedure) -> Iterator[Fault]:
    tool = procedure.wrench(tighten.wrench) if tighten.wrench else None
    if tool is None:
        return
    one = arithmetic.wrench(tool)
    good = f"the good range of {one.name}, {units.show(one.good_from)} to {units.show(one.most)}"
    for field, amounts in (("passes", tighten.passes), ("torque", (tighten.torque,))):
        for amount in amounts:
            if not one.suits(arithmetic.at_drive(amount, tighten, one)):
                suits = next(
                    (w.name for w in procedure.wrenches if suited(w, amount, tighten)), None
                )
                if suits is not None:
                    # That none in the list suits is refused by `danger_checks`.
                    yield (*at, field), f"{amount} is outside {good}; {suits} suits"


def suited(tool: Wrench, torque: Quantity, tighten: Tighten) -> bool:
    """Whether a wrench of the list covers a torque, with the tightening's adapter on it."""
    if tighten.adapter is not None and tool.length is None:
        return False
    one = arithmetic.wrench(tool)
    return one.suits(arithmetic.at_drive(torque, tighten, one))
