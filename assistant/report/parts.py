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
        of_part = [one for one in fitted if one.part == name and one.at >= event.at]
        yield of.entry(
            Finding,
            event,
            taken=of.taken(event),
            judgement=judge(event, ordered, of_part),
            done=tuple(_done(of, name, of_part)),
        )


def _done(of: Sources, part: str, fitted: Sequence[Fitted]) -> Iterator[str]:
    """Yield what was done about a part that was found in some condition."""
    for one in fitted:
        yield f"{'new one fitted' if one.new else 'refitted'} at step {one.number}"
    stand = _stand(of.lines_of(part, of.ledger))
    counts = ", ".join(f"{number} {state}" for state, number in stand.items() if number)
    if counts:
        yield f"of its orders {counts}"


def fitted(of: Sources, steps: tuple[StepRecord, ...]) -> Iterator[Fitted]:
    """Yield each part that a step fits which is done."""
    for step, record in zip(of.procedure.steps, steps, strict=True):
        if record.done is None:
            continue
        done = of.state.of_step(events.StepDone, step.id)[-1]
        fits = [fit for fit in step.fit if fit.applies(of.state.answers)]
        # A part that a value chose is named in the event; the rest of it is as the step says.
        for parts, fit in zip(done.fitted, fits, strict=False):
            known = of.procedure.part(parts.name)
            yield Fitted(
                at=record.done,
                step=step.id,
                number=record.number,
                by=done.by,
                part=of.part(parts.name),
                part_number=known.number if known else None,
                count=parts.count,
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
