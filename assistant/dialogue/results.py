"""What follows from the readings that stand: worked-out values, verdicts, chosen parts.

Nothing here is kept. Each time it is asked, it is worked out anew from the readings of the job that
are in effect, so that a corrected, withdrawn or repeated reading can leave nothing stale behind.
What was told of it at the time is in the record as evidence (`ValueWorkedOut` and its like), and
nothing is decided on that.

A set of readings is judged by its worst: where a reading was taken several times, or a value is
worked out from such readings, every combination of their least and greatest has to be within the
limits.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from assistant.dialogue import events, facts
from assistant.errors import AssistantError
from assistant.procedure import arithmetic
from assistant.procedure.model import Choice, Derived, Fluid, Leak, Limits, Reading, Step
from assistant.trade import fluids, leak, measure, units

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

E = TypeVar("E", bound=events.Base)


class Standing(Protocol):
    """What is asked of the job: its readings that stand, and the steps that apply."""

    @property
    def answers(self) -> dict[str, str]:
        """The answers to the steps' questions, by name."""

    def route(self) -> tuple[Step, ...]:
        """Return the steps that apply, in order."""

    def current(self, kind: type[E]) -> tuple[E, ...]:
        """Return the events of a kind that stand, without earlier sets."""


_MOST_CORNERS = 6
"""Of so many repeated readings in one formula all combinations are tried: 64."""


@dataclass(frozen=True)
class Measured:
    """A reading as it stands: every time that it was taken in its present set."""

    reading: Reading
    step: Step
    taken: tuple[events.ReadingRecorded, ...]

    @property
    def values(self) -> tuple[float, ...]:
        """What was read each time, in the reading's own unit."""
        return tuple(
            units.convert(float(e.value), e.unit, self.reading.unit)
            if units.same_dimension(e.unit, self.reading.unit)
            else float("nan")
            for e in self.taken
        )

    @property
    def complete(self) -> bool:
        """Whether it was taken as often as the procedure asks."""
        return len(self.taken) >= self.reading.times

    @property
    def value(self) -> Decimal:
        """What is worked on with, in the reading's own unit: as said, where it was taken once."""
        if len(self.taken) == 1 and self.taken[0].unit == self.reading.unit:
            return self.taken[0].value
        values = self.values
        if self.reading.use == "mean":
            return plain(sum(values) / len(values))
        return plain(max(values) if self.reading.use == "greatest" else min(values))

    @property
    def within(self) -> bool | None:
        """Whether each is within the limits; None where there are none."""
        if not (self.reading.limits.least or self.reading.limits.most):
            return None
        return all(within(e.value, e.unit, self.reading.limits) for e in self.taken)

    @property
    def worst(self) -> events.ReadingRecorded:
        """The one that is furthest beyond a limit; where all are within, the last."""
        return max(self.taken, key=lambda e: excess(e.value, e.unit, self.reading.limits))


@dataclass(frozen=True)
class WorkedOut:
    """A value that follows from readings."""

    derived: Derived
    step: Step
    value: Decimal
    unit: str
    uncertainty: Decimal | None
    """Expanded (k = 2), in `unit`, from the instruments' resolutions; None: not known."""
    within: bool | None
    """None where there are no limits."""
    too_close: bool
    inputs: tuple[str, ...]
    """The readings and values that went in, by name."""


@dataclass(frozen=True)
class PartChosen:
    """The part that a value calls for."""

    choice: Choice
    step: Step
    part: str | None
    """None: no row of the choice holds the value."""
    note: str | None
    unsure: str | None
    """Another part that it might be as well, for all that the instrument tells."""
    value: Decimal
    unit: str
    failed: bool
    """Whether it was chosen from a value that does not meet its own requirement."""


@dataclass(frozen=True)
class LeakVerdict:
    """How a hold test of pressure or vacuum came out; pressures in `unit`."""

    test: Leak
    step: Step
    outcome: leak.Outcome
    measured: Decimal
    thermal: Decimal
    lost: Decimal
    unit: str
    rate: Decimal | None
    """mbar·l/s, where the volume is known."""
    no_temperatures: bool
    """Whether nothing is known of the temperature, which then may explain any of it."""

    @property
    def within(self) -> bool:
        """Whether it passed."""
        return self.outcome is leak.Outcome.PASS


@dataclass(frozen=True)
class FluidVerdict:
    """What came out or went in against what the machine holds; all in `unit`."""

    fluid: Fluid
    step: Step
    value: Decimal
    capacity: Decimal
    missing: Decimal
    """Capacity less value; negative for too much."""
    unit: str
    within: bool


@dataclass(frozen=True)
class CannotWorkOut:
    """Something that should follow and does not: a division by nothing, units that do not go."""

    name: str
    step: Step
    why: str


Followed = WorkedOut | PartChosen | LeakVerdict | FluidVerdict | CannotWorkOut


@dataclass(frozen=True)
class Results:
    """All readings that stand, and all that follows from them."""

    readings: Mapping[str, Measured] = field(default_factory=dict)
    """By name."""
    followed: tuple[Followed, ...] = ()
    """In the order of the steps."""

    def values(self) -> dict[str, tuple[Decimal, str]]:
        """Return every reading and worked-out value by name, with its unit."""
        found = {name: (m.value, m.reading.unit) for name, m in self.readings.items()}
        for each in self.followed:
            if isinstance(each, WorkedOut):
                found[each.derived.name] = (each.value, each.unit)
        return found

    def at(self, step: str) -> tuple[Followed, ...]:
        """Return what follows at a step."""
        return tuple(each for each in self.followed if each.step.id == step)

    def chosen_by(self, value: str) -> PartChosen | None:
        """Return what was chosen by a reading or worked-out value."""
        found = (f for f in self.followed if isinstance(f, PartChosen) and f.choice.of == value)
        return next(found, None)


def key(of: Followed) -> tuple[str, str, str]:
    """Return what a result is of: its kind, its step and its name."""
    match of:
        case WorkedOut():
            return "value", of.step.id, of.derived.name
        case PartChosen():
            return "choice", of.step.id, of.choice.of
        case LeakVerdict():
            return "leak test", of.step.id, of.test.final
        case FluidVerdict():
            return "fluid", of.step.id, of.fluid.name
        case CannotWorkOut():
            return "failed", of.step.id, of.name


Evidence = events.ValueWorkedOut | events.PartChosen | events.LeakJudged | events.FluidMeasured


def as_event(of: Followed, at: datetime, turn: int, by: str | None = None) -> Evidence | None:
    """Return a result as the event that is evidence of what was told; None where nothing could be
    worked out.
    """
    base: dict[str, Any] = {"at": at, "turn": turn, "by": by, "step": of.step.id}
    match of:
        case WorkedOut():
            return events.ValueWorkedOut(
                **base,
                name=of.derived.name,
                value=of.value,
                unit=of.unit,
                limits=facts.Bounds.of(of.derived.limits),
                within=of.within,
                too_close=of.too_close,
                uncertainty=of.uncertainty,
                inputs=of.inputs,
            )
        case PartChosen():
            return events.PartChosen(
                **base,
                part=of.part,
                chosen_by=of.choice.of,
                value=of.value,
                unit=of.unit,
                note=of.note,
                unsure=of.unsure,
                failed=of.failed,
            )
        case LeakVerdict():
            return events.LeakJudged(
                **base,
                outcome=of.outcome.value,
                measured=of.measured,
                thermal=of.thermal,
                lost=of.lost,
                allowed=of.test.allowed.value,
                unit=of.unit,
                rate=of.rate,
                no_temperatures=of.no_temperatures,
                within=of.within,
            )
        case FluidVerdict():
            return events.FluidMeasured(
                **base,
                fluid=of.fluid.name,
                value=of.value,
                capacity=of.capacity,
                missing=of.missing,
                unit=of.unit,
                drained=of.fluid.drains,
                within=of.within,
            )
        case CannotWorkOut():
            return None


def follow(state: Standing) -> Results:
    """Work out all that follows from the readings that stand, for the steps that apply."""
    taken: dict[tuple[str | None, str], list[events.ReadingRecorded]] = {}
    for event in state.current(events.ReadingRecorded):
        taken.setdefault((event.step, event.name), []).append(event)
    work = _Work()
    followed: list[Followed] = []
    for step in state.route():
        for reading in step.readings:
            events_of = taken.get((step.id, reading.name))
            if events_of and reading.applies(state.answers):
                work.readings[reading.name] = Measured(reading, step, _as_left(events_of))
        for derived in step.derived:
            if derived.applies(state.answers):
                followed.extend(work.derive(derived, step))
        followed.extend(work.choose(step))
        followed.extend(work.judge_leak(step))
        followed.extend(work.judge_fluid(step))
    return Results(work.readings, tuple(followed))


def _as_left(
    taken: Sequence[events.ReadingRecorded],
) -> tuple[events.ReadingRecorded, ...]:
    """Return the readings that count: not those said to be as found, once there is another. What
    was found before the work stays in the record.
    """
    return tuple(e for e in taken if e.taken != "as found") or tuple(taken)


class _Work:
    """The arithmetic of one pass over the steps, on what is known so far."""

    def __init__(self) -> None:
        self.readings: dict[str, Measured] = {}
        self._worked: dict[str, WorkedOut] = {}

    def _names(self) -> set[str]:
        """Return the names of all that is known so far."""
        return self.readings.keys() | self._worked.keys()

    def _value(self, name: str) -> tuple[Decimal, str]:
        """Return a reading or a worked-out value that is known, with its unit."""
        if name in self._worked:
            return self._worked[name].value, self._worked[name].unit
        return self.readings[name].value, self.readings[name].reading.unit

    def _quantity(self, name: str) -> Quantity:
        value, unit = self._value(name)
        return units.quantity(float(value), unit)

    def _resolution(self, name: str) -> Quantity | None:
        """Return how finely a value is known, as an instrument's resolution; None: not known."""
        worked = self._worked.get(name)
        if worked is not None and worked.uncertainty is not None:
            # The resolution that would give a reading the uncertainty of the worked-out value.
            uncertainty = units.quantity(float(worked.uncertainty), worked.unit)
            one = measure.expanded_uncertainty(units.quantity(1, worked.unit))
            ratio = units.number_like(units.as_difference(uncertainty), one)
            return units.quantity(ratio / float(one.magnitude), worked.unit)
        known = self.readings.get(name)
        return arithmetic.maybe(known.reading.resolution) if known else None

    def derive(self, derived: Derived, step: Step) -> Iterator[Followed]:
        there = self._names()
        names = [
            name
            for name in (n.replace("_", " ") for n in measure.names_in(derived.formula))
            if name in there or not units.is_unit(name)
        ]
        if not there.issuperset(names) or not self._complete(names):
            return
        values = {name: self._quantity(name) for name in names}
        resolutions = {n: r for n in names if (r := self._resolution(n)) is not None}
        try:
            number = units.express(measure.evaluate(derived.formula, values), derived.unit)
            corners = [
                plain(units.express(measure.evaluate(derived.formula, corner), derived.unit))
                for corner in self._corners(values)
            ]
            doubt = measure.uncertainty_of(derived.formula, values, resolutions)
        except AssistantError as error:
            yield CannotWorkOut(derived.name, step, str(error))
            return
        limits = derived.limits
        limited = bool(limits.least or limits.most)
        value = plain(number)
        ends = (value, *corners)
        judged = all(within(one, derived.unit, limits) for one in ends) if limited else None
        found = self._worked[derived.name] = WorkedOut(
            derived,
            step,
            value,
            derived.unit,
            None if doubt is None else _difference(doubt, derived.unit),
            judged,
            too_close(value, derived.unit, limits, doubt, Limits()),
            tuple(names),
        )
        yield found

    def _complete(self, names: Sequence[str]) -> bool:
        """Whether every reading among them was taken as often as it is to be."""
        return all(self.readings[name].complete for name in names if name in self.readings)

    def _corners(self, values: Mapping[str, Quantity]) -> Iterator[dict[str, Quantity]]:
        """Yield the values with every combination of the ends of the repeated readings."""
        readings = self.readings
        repeated = [n for n in values if n in readings and len(readings[n].taken) > 1]
        ends = [(min(readings[n].values), max(readings[n].values)) for n in repeated]
        for corner in itertools.product(*ends[:_MOST_CORNERS]):
            moved = {
                name: units.quantity(value, readings[name].reading.unit)
                for name, value in zip(repeated, corner, strict=False)
            }
            yield {**values, **moved}

    def choose(self, step: Step) -> Iterator[Followed]:
        choice = step.choice
        if choice is None or choice.of not in self._names() or not self._complete([choice.of]):
            return
        rows = [
            measure.Row(row.part, arithmetic.maybe(row.over), arithmetic.maybe(row.up_to))
            for row in choice.rows
        ]
        fineness = self._resolution(choice.of)
        doubt = None if fineness is None else measure.expanded_uncertainty(fineness)
        value, unit = self._value(choice.of)
        failed = self._failed(choice.of)
        try:
            found = measure.choose(self._quantity(choice.of), rows, doubt)
        except AssistantError:
            yield PartChosen(choice, step, None, None, None, value, unit, failed)
            return
        note = choice.rows[found.row].note
        yield PartChosen(choice, step, found.part, note, found.unsure, value, unit, failed)

    def _failed(self, name: str) -> bool:
        """Whether a value, or any that it was worked out from, does not meet its requirement."""
        if name in self.readings:
            return self.readings[name].within is False
        worked = self._worked[name]
        return worked.within is False or any(map(self._failed, worked.inputs))

    def judge_leak(self, step: Step) -> Iterator[Followed]:
        test = step.leak
        if test is None:
            return
        names = (test.start, test.final, test.start_temperature, test.final_temperature)
        wanted = [name for name in names if name is not None]
        if not self._names().issuperset(wanted) or not self._complete(wanted):
            return
        known = {name: self._quantity(name) for name in wanted}
        resolution = self._coarser(test.start, test.final)
        fineness = self._coarser(test.start_temperature, test.final_temperature)

        def hold(known: Mapping[str, Quantity]) -> leak.Hold:
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
                resolution=resolution,
                temperature_resolution=fineness,
            )

        unit = test.allowed.unit

        def badness(one: leak.Hold) -> tuple[bool, float]:
            return one.outcome is not leak.Outcome.PASS, abs(units.express(one.lost, unit))

        try:
            found = hold(known)
            ends = list(map(hold, self._corners(known)))
            found = max((found, *ends), key=badness) if ends else found
        except AssistantError as error:
            yield CannotWorkOut("leak test", step, str(error))
            return
        yield LeakVerdict(
            test,
            step,
            found.outcome,
            plain(units.express(found.measured, unit)),
            plain(units.express(found.thermal, unit)),
            plain(units.express(found.lost, unit)),
            unit,
            None if found.rate is None else _rate(found.rate),
            not found.corrected,
        )

    def _coarser(self, *names: str | None) -> Quantity | None:
        """Return the coarser resolution of some readings; None where one is not known."""
        found = [self._resolution(name) for name in names if name is not None]
        coarse = [one for one in found if one is not None]
        return max(coarse, default=None) if len(coarse) == len(found) else None

    def judge_fluid(self, step: Step) -> Iterator[Followed]:
        fluid = step.fluid
        if fluid is None or fluid.of not in self._names() or not self._complete([fluid.of]):
            return
        amount = self._quantity(fluid.of)
        capacity = arithmetic.to_level(fluid)
        unit = fluid.capacity.unit

        def judge(amount: Quantity) -> fluids.Drain:
            return fluids.drain(amount, capacity, float(fluid.tolerance) / 100)

        def badness(one: fluids.Drain) -> tuple[bool, float]:
            return not one.ok, abs(units.express(one.missing, unit))

        try:
            found = judge(amount)
            corners = self._corners({fluid.of: amount})
            found = max((found, *(judge(c[fluid.of]) for c in corners)), key=badness)
        except AssistantError as error:
            yield CannotWorkOut(fluid.name, step, str(error))
            return
        yield FluidVerdict(
            fluid,
            step,
            plain(units.express(found.out, unit)),
            plain(units.express(capacity, unit)),
            plain(units.express(found.missing, unit)),
            unit,
            found.ok,
        )


def plain(number: float) -> Decimal:
    """Return a worked-out number as it is kept and said: four decimals at most, no idle noughts."""
    return Decimal(f"{number:.4f}").normalize() + 0


def within(value: Decimal, unit: str, limits: Limits) -> bool:
    """Return whether a value is inside its limits; a limit itself is within."""
    return excess(value, unit, limits) <= 0


def excess(value: Decimal, unit: str, limits: Limits) -> float:
    """Return how far a value is beyond the nearer limit, in that limit's unit.

    Not more than 0 within the limits; a unit of another kind is beyond all of them.
    """
    beyond = float("-inf")
    for limit, sign in ((limits.least, -1), (limits.most, 1)):
        if limit is None:
            continue
        if unit == limit.unit:
            # Exactly, as decimals: a limit itself is within.
            beyond = max(beyond, float((value - limit.value) * sign))
        elif units.same_dimension(unit, limit.unit):
            converted = units.convert(float(value), unit, limit.unit)
            over = (converted - float(limit.value)) * sign
            # A hair's breadth for the rounding of a conversion.
            beyond = max(beyond, 0.0 if abs(over) < _HAIR else over)
        else:
            return float("inf")
    return beyond


_HAIR = 1e-9


def too_close(
    value: Decimal, unit: str, limits: Limits, uncertainty: Quantity | None, plausible: Limits
) -> bool:
    """Return whether the uncertainty leaves open on which side of a limit the value is (ISO
    14253-1). A limit that nothing can plausibly pass, such as a gap of nothing, is not in doubt.
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


def _rate(value: Quantity) -> Decimal:
    # Leak rates span many powers of ten: figures, not places, are what is known of one.
    return Decimal(units.number(units.express(value, "mbar·l/s"), 2))


def _difference(value: Quantity, unit: str) -> Decimal:
    """Return how large a difference is in a unit, to two significant figures."""
    one = units.as_difference(units.quantity(1, unit))
    return Decimal(f"{units.number_like(value, one):.2g}")
