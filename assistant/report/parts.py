"""What became of parts: found wanting, fitted, asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assistant.dialogue import events, ledger
from assistant.report.entries import Sources
from assistant.report.judging import judge
from assistant.report.model import Finding, Fitted, Order, OrderEntry, Stand, StepRecord

STANDING: tuple[events.OrderState, ...] = ("asked", "ordered", "received", "fitted")
"""Orders that are not cancelled."""


def findings(of: Sources, fitted: tuple[Fitted, ...]) -> Iterator[Finding]:
    """Yield each finding, judged by what was fitted and ordered."""
    for event in of.state.of_job(events.FindingRecorded):
        name = of.part(event.part)
        ordered = ledger.total(of.lines_of(name, of.ledger), STANDING)
        of_part = [one for one in fitted if one.part == name]
        yield of.entry(Finding, event, judgement=judge(event, ordered, of_part))


def fitted(of: Sources, steps: tuple[StepRecord, ...]) -> Iterator[Fitted]:
    """Yield each part that a step fits which is done."""
    for step, record in zip(of.procedure.steps, steps, strict=True):
        if record.done is None:
            continue
        done = of.state.of_step(events.StepDone, step.id)[-1]
        for fit in step.fit:
            if fit.applies(of.state.answers):
                part = of.procedure.part(fit.part)
                yield Fitted(
                    at=record.done,
                    step=step.id,
                    number=record.number,
                    by=done.by,
                    part=of.part(fit.part),
                    part_number=part.number if part else None,
                    count=fit.count,
                    new=fit.new,
                    how=fit.how,
                )


def orders(of: Sources, fitted: tuple[Fitted, ...]) -> Iterator[Order]:
    """Yield each part that was ordered, with all its orders."""
    in_place = {one.part for one in fitted}
    for name in dict.fromkeys(of.part(line.name) for line in of.ledger):
        lines, now = of.lines_of(name, of.ledger), of.lines_of(name, of.ledger_now)
        changed = any(of.part(event.part) == name for event in of.afterwards)
        yield Order(
            part=name,
            part_number=lines[-1].order.part_number,
            count=sum(line.order.count for line in lines),
            now=Stand(**_stand(now)) if changed else None,
            installed_unsaid=name in in_place and ledger.total(now, ["received"]) > 0,
            orders=tuple(of.entry(OrderEntry, line.order) for line in lines),
            **_stand(lines),
        )


def _stand(of: Sequence[ledger.Line]) -> dict[str, int]:
    return {state: ledger.total(of, [state]) for state in ledger.STATES}
