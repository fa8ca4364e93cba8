"""What became of parts: found wanting, fitted, asked for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assistant.dialogue import events, fitting, ledger, parts
from assistant.report import wording
from assistant.report.entries import Sources
from assistant.report.judging import judge
from assistant.report.model import Finding, Fitted, Order, OrderEntry, PartLife, Stand, StepRecord

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
    """Yield what each step that is done has fitted, as was recorded when it was done."""
    for step, record in zip(of.procedure.steps, steps, strict=True):
        if record.done is None:
            continue
        done = of.state.of_step(events.StepDone, step.id)[-1]
        how = {of.part(fit.part): fit.how for fit in fitting.fits_of(of.state, step)}
        for one in done.fitted:
            part = of.procedure.part(one.name)
            yield Fitted(
                at=record.done,
                step=step.id,
                number=record.number,
                by=done.by,
                part=of.part(one.name),
                part_number=part.number if part else None,
                count=one.count,
                new=one.new,
                bag=one.bag,
                how=how.get(of.part(one.name)),
            )


def lives(of: Sources) -> Iterator[PartLife]:
    """Yield for each kind of part where all of it is, in one line."""
    for key, places in parts.everywhere(of.state).items():
        if all(one.place in ("in place", "in the kit") for one in places):
            continue  # Nothing was done with it, and nothing said of it.
        part = of.procedure.part(key.name)
        yield PartLife(
            part=key.name,
            size=key.size,
            part_number=part.number if part else None,
            life=wording.life(places),
        )


def orders(of: Sources, fitted: tuple[Fitted, ...]) -> Iterator[Order]:
    """Yield each part that was ordered, with all its orders."""
    in_place = {one.part for one in fitted if one.new}
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
