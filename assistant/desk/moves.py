"""What the parts desk enters: a job's ordered parts moved to another state.

The entry is an event in the job's own record, where the bench reads it and says it. The record of
a closed job is sealed, so there the entry is an addition beside it.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.desk import entering
from assistant.dialogue import events, ledger, supplying
from assistant.dialogue.events import Event
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal.clock import local_now
from assistant.journal.store import Journal
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

    def made(history: tuple[Event, ...]) -> events.OrderMoved:
        lines = ledger.lines((*history, *journal.additions(job)))
        orders = _orders_of(procedure_of(history, job), lines, part, job)
        return events.OrderMoved(
            at=local_now(),
            turn=entering.turn(history),
            by=by,
            count=_count(orders, state, count),
            state=state,
            at_desk=True,
            **supplying.names(orders),
        )

    return entering.enter(journal, job, made)


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
