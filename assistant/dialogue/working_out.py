"""What follows from readings: values, a choice of part, a leak test, a fluid's quantity."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from assistant.dialogue import events, facts, wording
from assistant.dialogue.state import State
from assistant.dialogue.turn import Tone, Turn
from assistant.errors import AssistantError
from assistant.procedure import arithmetic
from assistant.procedure.model import Derived, Leak, Limits
from assistant.trade import fluids, leak, measure, units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity


def work_out(turn: Turn) -> None:
    """Record all that now follows from the readings, and say it."""
    for derived in turn.state.step.derived:
        if derived.applies(turn.state.answers):
            _derive(turn, derived)
    _choose(turn)
    _judge_leak(turn)
    _judge_fluid(turn)


def plain(number: float) -> Decimal:
    """Return a worked-out number as it is kept: four decimals at most, no trailing zeros."""
    return Decimal(f"{number:.4f}").normalize() + 0


def within(value: Decimal, unit: str, limits: Limits) -> bool:
    """Whether a value is inside its limits; a limit itself is within."""
    for limit, sign in ((limits.least, 1), (limits.most, -1)):
        if limit is None:
            continue
        if unit == limit.unit:
            beyond = (value - limit.value) * sign < 0
        else:
            converted = units.convert(float(value), unit, limit.unit)
            beyond = (converted - float(limit.value)) * sign < -1e-9
        if beyond:
            return False
    return True


def too_close(
    value: Decimal, unit: str, limits: Limits, uncertainty: Quantity | None, plausible: Limits
) -> bool:
    """Whether the uncertainty leaves open on which side of a limit the value is (ISO 14253-1).

    A limit that nothing can plausibly pass, such as a gap of nothing, is not in doubt.
    """
    if uncertainty is None:
        return False
    least = None if limits.least == plausible.least else limits.least
    most = None if limits.most == plausible.most else limits.most
    judged = measure.judge(
        units.quantity(float(value), unit),
        arithmetic.maybe(least),
        arithmetic.maybe(most),
        uncertainty,
    )
    return judged.verdict is measure.Verdict.UNSURE


def _known(state: State) -> dict[str, Quantity]:
    return {
        name: units.quantity(float(value), unit) for name, (value, unit) in state.values().items()
    }


def _resolutions(state: State) -> dict[str, Quantity]:
    """Return how finely each value is known, by name, as an instrument's resolution."""
    found = {
        reading.name: arithmetic.quantity(reading.resolution)
        for step in state.procedure.steps
        for reading in step.readings
        if reading.resolution is not None
    }
    for event in state.of_job(events.ValueWorkedOut):
        if event.uncertainty is not None:
            # The resolution that would give a reading the uncertainty of the worked-out value.
            uncertainty = units.quantity(float(event.uncertainty), event.unit)
            one = measure.expanded_uncertainty(units.quantity(1, event.unit))
            ratio = units.number_like(units.as_difference(uncertainty), one)
            found[event.name] = units.quantity(ratio / float(one.magnitude), event.unit)
    return found


def _derive(turn: Turn, derived: Derived) -> None:
    known = turn.state.values()
    names = [name.replace("_", " ") for name in measure.names_in(derived.formula)]
    if derived.name in known:
        return
    if any(name not in known for name in names if not units.is_unit(name)):
        return
    values = {name: value for name, value in _known(turn.state).items() if name in names}
    try:
        result = measure.evaluate(derived.formula, values)
        number = units.express(result, derived.unit)
        doubt = measure.uncertainty_of(derived.formula, values, _resolutions(turn.state))
    except AssistantError as error:
        turn.say(wording.refusals.cannot_work_out(derived.name, str(error)), Tone.REFUSED)
        return
    value = plain(number)
    limits = facts.Bounds.of(derived.limits)
    worked = turn.record(
        events.ValueWorkedOut,
        name=derived.name,
        value=value,
        unit=derived.unit,
        limits=limits,
        within=within(value, derived.unit, derived.limits) if limits else None,
        too_close=too_close(value, derived.unit, derived.limits, doubt, Limits()),
        uncertainty=None if doubt is None else _difference(doubt, derived.unit),
    )
    stands_out = worked.within is False or worked.too_close
    turn.say(wording.record.told(worked), Tone.ALERT if stands_out else Tone.INFORM)


def _difference(value: Quantity, unit: str) -> Decimal:
    """Return how large a difference is in a unit, to two significant figures."""
    one = units.as_difference(units.quantity(1, unit))
    return Decimal(f"{units.number_like(value, one):.2g}")


def _choose(turn: Turn) -> None:
    choice = turn.state.step.choice
    known = turn.state.values()
    if choice is None or choice.of not in known or turn.state.of_step(events.PartChosen):
        return
    value, unit = known[choice.of]
    rows = [
        measure.Row(row.part, arithmetic.maybe(row.over), arithmetic.maybe(row.up_to))
        for row in choice.rows
    ]
    fineness = _resolutions(turn.state).get(choice.of)
    doubt = None if fineness is None else measure.expanded_uncertainty(fineness)
    try:
        found = measure.choose(units.quantity(float(value), unit), rows, doubt)
    except AssistantError:
        amount = facts.Amount(value=value, unit=unit)
        turn.say(wording.refusals.no_part_for(choice.of, amount), Tone.ALERT)
        return
    chosen = turn.record(
        events.PartChosen,
        part=found.part,
        chosen_by=choice.of,
        value=value,
        unit=unit,
        note=choice.rows[found.row].note,
        unsure=found.unsure,
    )
    turn.say(wording.record.told(chosen), Tone.ALERT if chosen.unsure else Tone.INFORM)


def _judge_leak(turn: Turn) -> None:
    test = turn.state.step.leak
    known = _known(turn.state)
    if test is None or turn.state.of_step(events.LeakJudged):
        return
    names = (test.start, test.final, test.start_temperature, test.final_temperature)
    if any(name not in known for name in names if name is not None):
        return
    try:
        found = _hold(test, known)
    except AssistantError as error:
        turn.say(wording.refusals.leak_not_judged(str(error)), Tone.REFUSED)
        return
    unit = test.allowed.unit
    judged = turn.record(
        events.LeakJudged,
        outcome=found.outcome.value,
        measured=plain(units.express(found.measured, unit)),
        thermal=plain(units.express(found.thermal, unit)),
        lost=plain(units.express(found.lost, unit)),
        allowed=test.allowed.value,
        unit=unit,
        rate=None if found.rate is None else _rate(found.rate),
        within=found.outcome is leak.Outcome.PASS,
    )
    turn.say(wording.record.told(judged), Tone.INFORM if judged.within else Tone.ALERT)


def _rate(value: Quantity) -> Decimal:
    # Leak rates span many powers of ten: figures, not places, are what is known of one.
    return Decimal(units.number(units.express(value, "mbar·l/s"), 2))


def _hold(test: Leak, known: dict[str, Quantity]) -> leak.Hold:
    def of(name: str | None) -> Quantity | None:
        return None if name is None else known[name]

    return leak.hold(
        known[test.start],
        known[test.final],
        arithmetic.quantity(test.allowed),
        start_temperature=of(test.start_temperature),
        end_temperature=of(test.final_temperature),
        volume=arithmetic.maybe(test.volume),
        time=arithmetic.maybe(test.time),
    )


def _judge_fluid(turn: Turn) -> None:
    fluid = turn.state.step.fluid
    known = _known(turn.state)
    if fluid is None or fluid.of not in known or turn.state.of_step(events.FluidMeasured):
        return
    capacity = arithmetic.to_level(fluid)
    try:
        found = fluids.drain(known[fluid.of], capacity, float(fluid.tolerance) / 100)
    except AssistantError as error:
        turn.say(wording.refusals.fluid_not_judged(fluid.name, str(error)), Tone.REFUSED)
        return
    unit = fluid.capacity.unit
    measured = turn.record(
        events.FluidMeasured,
        fluid=fluid.name,
        value=plain(units.express(found.out, unit)),
        capacity=plain(units.express(capacity, unit)),
        missing=plain(units.express(found.missing, unit)),
        unit=unit,
        drained=fluid.drains,
        within=found.ok,
    )
    turn.say(wording.record.told(measured), Tone.INFORM if measured.within else Tone.ALERT)
