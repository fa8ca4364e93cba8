"""What the parts desk enters: a job's ordered parts moved to another state.

The entry is an event in the job's own record, where the bench reads it and says it. The record of
a closed job is sealed, so there the entry is an addition beside it.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import events, ledger, supplying
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal.clock import local_now
from assistant.journal.store import CannotRecord, Journal
from assistant.procedure.model import Procedure


def enter(
    journal: Journal,
    job: int,
    part: str,
    state: events.OrderState,
    count: int | None = None,
    by: str | None = None,
) -> events.OrderMoved:
    """Record what became of a job's orders of a part; return what was recorded.

    `part` is a part's name or number; `count` is how many of them, None for all that can come to
    that state. Raises AssistantError where they cannot, where the job has no such order, and where
    nothing can be written.
    """
    history = journal.events(job)
    procedure = procedure_of(history, job)
    orders = _orders_of(procedure, ledger.lines(history + journal.additions(job)), part, job)
    moved = _count(orders, state, count)
    event = events.OrderMoved(
        at=local_now(),
        turn=max(event.turn for event in history) + 1,
        by=by,
        count=moved,
        state=state,
        at_desk=True,
        **supplying.names(orders),
    )
    if journal.seal(job) is not None:
        journal.add(job, event)
        return event
    try:
        journal.append(job, len(history), [event])
    except CannotRecord:
        raise
    except AssistantError:
        head = journal.head(job)
        if head is None or head.place == len(history):
            raise
        # Something was recorded at the bench meanwhile: look again.
        return enter(journal, job, part, state, count, by)
    return event


def _orders_of(
    procedure: Procedure, lines: Sequence[ledger.Line], part: str, job: int
) -> tuple[ledger.Line, ...]:
    wanted = part.casefold()
    known = procedure.part(wanted)
    orders = tuple(
        line
        for line in lines
        if wanted in (line.name, (line.order.part_number or "").casefold())
        or (known is not None and procedure.part(line.name) is known)
    )
    if not orders:
        there = ", ".join(dict.fromkeys(line.name for line in lines))
        raise AssistantError(
            f"Job {job} has no order of {part}. "
            + (f"It has orders of: {there}." if there else "It has no orders.")
        )
    return orders


def _count(orders: tuple[ledger.Line, ...], state: events.OrderState, count: int | None) -> int:
    """Return how many are moved. Raises AssistantError where so many cannot be."""
    most = ledger.movable(orders, state)
    if count is None:
        count = most
    if 0 < count <= most:
        return count
    stand = ", ".join(
        f"{ledger.total(orders, [s])} {s}" for s in ledger.STATES if ledger.total(orders, [s])
    )
    first = " Enter received first." if state == "fitted" else ""
    raise AssistantError(
        f"{orders[0].name}: {stand}. {most or 'None'} can be entered as {state}.{first}"
    )
