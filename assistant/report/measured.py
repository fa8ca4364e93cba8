"""The record's readings and torques with what was asked beside each, and what follows from them.

Readings and torques are shown with the set that they belong to; what follows from readings is
worked out from those that stand and from no others (`assistant.dialogue.results`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar

from assistant.dialogue import events, facts, results
from assistant.dialogue.results import plain
from assistant.procedure.model import Taken, Tighten
from assistant.report import figures
from assistant.report.entries import Sources
from assistant.report.model import (
    Fluid,
    LeakTest,
    Pair,
    PartChosen,
    Reading,
    ReadingSet,
    Torque,
    WorkedOut,
)
from assistant.trade import units

B = TypeVar("B", bound=events.Base)


def readings(of: Sources) -> Iterator[Reading]:
    """Yield each reading that was not taken back, those of earlier sets too."""
    numbers: Counter[tuple[str | None, str, str]] = Counter()
    for event, name, stands in _by_set(of, events.ReadingRecorded):
        step = of.step(event)
        asked = next((r for r in step.readings if r.name == event.name), None) if step else None
        numbers[event.step, event.name, name] += 1
        limits = event.limits or facts.Bounds()
        yield of.entry(
            Reading,
            event,
            taken=of.taken(event, asked),
            set=name,
            stands=stands,
            nth=numbers[event.step, event.name, name],
            least=figures.in_unit(limits.least, event.unit),
            most=figures.in_unit(limits.most, event.unit),
        )


def _by_set(of: Sources, kind: type[B]) -> Iterator[tuple[B, str, bool]]:
    """Yield each event of a kind with the set that it belongs to, and whether that is the present
    one. A retest or rework that opens a step begins a new set there.
    """
    sets: dict[str, list[str]] = {}
    for place, event in enumerate(of.state.history):
        if isinstance(event, events.RetestBegun | events.ReworkBegun):
            name = "retest" if isinstance(event, events.RetestBegun) else "rework"
            for step in event.steps:
                sets.setdefault(step, []).append(name)
        if isinstance(event, kind):
            begun = sets.get(event.step or "", [])
            number = begun.count(begun[-1]) if begun else 0
            name = "first" if not begun else begun[-1] + (f" {number}" if number > 1 else "")
            yield event, name, place >= of.state.since.get(event.step or "", 0)


def sets(of: Sources, taken: Sequence[Reading]) -> Iterator[ReadingSet]:
    """Yield what several readings of one thing come to, where there are several that stand."""
    for measured in of.state.results.readings.values():
        asked = measured.reading
        if len(measured.taken) < 2:
            continue
        last = next(
            r for r in reversed(taken) if (r.step, r.name) == (measured.step.id, asked.name)
        )
        values = measured.values
        yield ReadingSet(
            step=measured.step.id,
            number=of.numbers[measured.step.id],
            name=asked.name,
            taken=last.taken,
            set=last.set,
            count=len(values),
            asked=asked.times,
            unit=asked.unit,
            ucum=units.ucum(asked.unit),
            mean=plain(sum(values) / len(values)),
            least=plain(min(values)),
            greatest=plain(max(values)),
            use=asked.use,
            value=measured.value,
            within=measured.within,
        )


def worked_out(of: Sources) -> Iterator[WorkedOut]:
    """Yield each value that follows from the readings that stand."""
    for each in of.state.results.followed:
        if isinstance(each, results.WorkedOut):
            limits = facts.Bounds.of(each.derived.limits) or facts.Bounds()
            event = of.told(each)
            yield of.entry(
                WorkedOut,
                event,
                taken=of.taken(event, each.derived),
                least=figures.in_unit(limits.least, each.unit),
                most=figures.in_unit(limits.most, each.unit),
            )


def chosen(of: Sources) -> Iterator[PartChosen]:
    """Yield each part that follows from a value that stands."""
    for each in of.state.results.followed:
        if isinstance(each, results.PartChosen):
            yield of.entry(PartChosen, of.told(each))


def leak_tests(of: Sources) -> Iterator[LeakTest]:
    """Yield each leak test, judged by the readings that stand."""
    for each in of.state.results.followed:
        if isinstance(each, results.LeakVerdict):
            event = of.told(each)
            yield of.entry(LeakTest, event, taken=of.taken(event, each.test))


def fluids(of: Sources) -> Iterator[Fluid]:
    """Yield each fluid that came out or went in, judged by the readings that stand."""
    for each in of.state.results.followed:
        if isinstance(each, results.FluidVerdict):
            event = of.told(each)
            yield of.entry(Fluid, event, taken=of.taken(event, each.fluid))


_WHEN_TAKEN = frozenset({"as", "found", "left", "before", "after"})
"""Words of a name that say when it was taken, and not what it is of."""


def pairs(of: Sources, values: Sequence[WorkedOut]) -> Iterator[Pair]:
    """Yield what was measured as found and as left under one name, such as "found backlash" and
    "backlash". Readings and worked-out values alike, those that stand.
    """
    found: dict[tuple[str, ...], _Value] = {}
    left: dict[tuple[str, ...], _Value] = {}
    for taken, one in _values(of, values):
        words = tuple(word for word in one.name.split() if word not in _WHEN_TAKEN)
        if words:
            (found if taken == "as found" else left)[words] = one
    for words, before in found.items():
        after = left.get(words)
        if after is not None and units.same_dimension(before.unit, after.unit):
            yield Pair(
                name=" ".join(words),
                found=before.value,
                found_unit=before.unit,
                found_number=before.number,
                found_within=before.within,
                left=after.value,
                left_unit=after.unit,
                left_number=after.number,
                left_within=after.within,
            )


@dataclass(frozen=True)
class _Value:
    name: str
    value: Decimal
    unit: str
    number: int
    within: bool | None


def _values(of: Sources, worked: Sequence[WorkedOut]) -> Iterator[tuple[Taken, _Value]]:
    for one in of.state.results.readings.values():
        number = of.numbers[one.step.id]
        taken = of.procedure.taken(one.step.id, one.reading)
        yield taken, _Value(one.reading.name, one.value, one.reading.unit, number, one.within)
    for value in worked:
        yield (
            value.taken,
            _Value(value.name, value.value, value.unit, value.number or 0, value.within),
        )


def torques(of: Sources) -> Iterator[Torque]:
    """Yield each torque with what it was asked to be, and with what it was set on the wrench."""
    called = list(_by_set(of, events.BoltCalled))
    for event, name, stands in _by_set(of, events.TorqueRecorded):
        tighten = _tighten(of, event)
        setting = figures.setting(event, tighten, of.procedure) if tighten else None
        this_pass = [
            bolt.bolt
            for bolt, its_set, _ in called
            if its_set == name
            and (bolt.step, bolt.fastener, bolt.stage) == (event.step, event.fastener, event.stage)
        ]
        yield of.entry(
            Torque,
            event,
            taken=of.taken(event, tighten),
            set=name,
            stands=stands,
            asked_ucum=units.ucum(event.asked_unit),
            tolerance=tighten.tolerance if tighten else None,
            setting=setting.number if setting else None,
            setting_unit=setting.unit if setting else None,
            setting_ucum=units.ucum(setting.unit) if setting else None,
            wrench=event.wrench or (setting.wrench if setting else None),
            bolts=_bolts(of, event),
            bolts_called=tuple(dict.fromkeys(this_pass)),
        )


def _tighten(of: Sources, event: events.TorqueRecorded) -> Tighten | None:
    """Return the tightening that a torque was recorded for."""
    step = of.step(event)
    asked = of.state.targets_of(step) if step else ()
    named = (t.tighten for t in asked if t.tighten.fastener == event.fastener)
    return next(named, None)


def _bolts(of: Sources, event: events.TorqueRecorded) -> int | None:
    step = of.step(event)
    named = [f for f in step.fasteners if f.name == event.fastener] if step else []
    applying = [f for f in named if f.applies(of.state.answers)]
    return next((f.count for f in applying or named), None)
