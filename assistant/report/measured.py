"""The record's readings, worked-out values and torques, with what was asked for beside each."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.dialogue import events, facts
from assistant.procedure.model import Tighten
from assistant.report import figures
from assistant.report.entries import E, Sources
from assistant.report.model import Torque
from assistant.trade import units


def measured(
    of: Sources,
    kind: type[E],
    event_kind: type[events.ReadingRecorded] | type[events.ValueWorkedOut],
) -> Iterator[E]:
    """Yield an entry for each value of a kind, with its limits also as numbers in its unit."""
    for event in of.state.of_job(event_kind):
        limits = event.limits or facts.Bounds()
        yield of.entry(
            kind,
            event,
            least=figures.in_unit(limits.least, event.unit),
            most=figures.in_unit(limits.most, event.unit),
        )


def torques(of: Sources) -> Iterator[Torque]:
    """Yield each torque with what it was asked to be, and with what it was set on the wrench."""
    called = of.state.of_job(events.BoltCalled)
    for event in of.state.of_job(events.TorqueRecorded):
        tighten = _tighten(of, event)
        setting = figures.setting(event, tighten, of.procedure) if tighten else None
        this_pass = [
            bolt.bolt
            for bolt in called
            if (bolt.step, bolt.fastener, bolt.stage) == (event.step, event.fastener, event.stage)
        ]
        yield of.entry(
            Torque,
            event,
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
