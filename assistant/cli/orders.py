"""The parts desk: the orders of all jobs in one list, and what became of them.

The list is read from a bench's journal, or from the shop's database. What the desk enters goes into
the job's own record at its bench, as an event; of a closed job, which is sealed, it is kept beside.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.text import escaped, plain

if TYPE_CHECKING:
    from assistant.dialogue import events
    from assistant.dialogue.ledger import Line
    from assistant.journal.shop import Shop
    from assistant.journal.store import JobSummary, Journal
    from assistant.report.tables import Row


def add_parser(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    journal_option: Callable[..., None],
    open_journal: Callable[..., Journal],
    open_records: Callable[[argparse.Namespace], Journal | Shop],
) -> None:
    """Add the command; `open_records(args)` also opens the shop's database, for reading."""
    orders = commands.add_parser(
        "orders",
        help="list what was ordered in all jobs, and enter what became of it",
        description="List the orders of all jobs, the oldest first: how many, of what, for which "
        "job and step, asked for by whom and when, and what became of them: asked, ordered, "
        "received, fitted or cancelled.\n\n"
        "With a job, a part and one of these words, enter that: all that can come to that state, "
        "or --count of them. 'asked' takes back what was entered wrongly. It goes into the job's "
        "own record, at the bench, where the assistant says it; what is entered after a job was "
        "closed is kept beside its sealed record, which proves nothing of it.",
        epilog="examples:\n  assistant orders --open                      what is still to come\n"
        "  assistant orders --csv > orders.csv\n"
        "  assistant orders 3 'drain plug' ordered      placed with the supplier\n"
        "  assistant orders 3 'drain plug' received --count 2 --by kim",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    orders.add_argument(
        "entry",
        nargs="*",
        metavar="JOB PART STATE",
        help="a job's number, a part (its name or number), and what became of it",
    )
    orders.add_argument("--count", type=int, metavar="N", help="so many (default: all)")
    orders.add_argument("--by", metavar="NAME", help="who enters it; kept with it")
    orders.add_argument("--open", action="store_true", help="only what is still to come")
    orders.add_argument("--job", type=int, metavar="N", help="only of this job")
    form = orders.add_mutually_exclusive_group()
    form.add_argument("--csv", action="store_true", help="as CSV")
    form.add_argument("--json", action="store_true", help="one JSON object a line")
    journal_option(orders, shop=True)
    orders.set_defaults(run=lambda args: _run(args, open_journal, open_records))


def _run(
    args: argparse.Namespace,
    open_journal: Callable[..., Journal],
    open_records: Callable[[argparse.Namespace], Journal | Shop],
) -> int:
    if args.entry:
        return _enter(args, open_journal, open_records)
    if args.count is not None or args.by is not None:
        raise AssistantError("--count and --by go with a job, a part and what became of it.")
    records = open_records(args)
    if args.job is not None:
        records.identity(args.job)  # An unknown job is told.
    unreadable: list[int] = []
    found = listed(records, args.job, unreadable)
    wanted = [order for order in found if order.line.to_come or not args.open]
    if args.csv:
        from assistant.report import tables

        print(tables.orders(map(as_row, wanted)), end="")
    elif args.json:
        for order in wanted:
            print(escaped(json.dumps(as_row(order), ensure_ascii=False)))
    elif wanted:
        print(*wanted, sep="\n")
    else:
        print("Nothing is still to come." if args.open else "Nothing was ordered.")
    for job in unreadable:
        print(f"Job {job} cannot be read; see: assistant verify {job}", file=sys.stderr)
    return 1 if unreadable else 0


# The list


@dataclass(frozen=True)
class Order:
    """One order, and the job that it is for."""

    job: JobSummary
    line: Line

    def __str__(self) -> str:
        from assistant.dialogue import ledger
        from assistant.report import wording

        order, counts = self.line.order, self.line.counts
        states = [(counts[state], state) for state in ledger.STATES if counts[state]]
        became = ", ".join(
            state if number == order.count else f"{number} {state}" for number, state in states
        )
        number = f" ({order.part_number})" if order.part_number else ""
        unit = f", {self.job.unit}" if self.job.unit else ""
        step = f", at {order.step}" if order.step else ""
        by = f", by {order.by}" if order.by else ""
        closed = ", job closed" if self.job.closed else ""
        return plain(
            f"{self.job.job:5}  {order.at:%Y-%m-%d %H:%M}  {wording.parts(order.parts)}{number}: "
            f"{became}  ({self.job.title}{unit}{step}{by}{closed})"
        )


def listed(
    records: Journal | Shop, job: int | None = None, unreadable: list[int] | None = None
) -> Iterator[Order]:
    """Yield the orders of all jobs, or of one, in the order of jobs and of what was said.

    Jobs that hold what cannot be read are left out, and their numbers added to `unreadable`.
    """
    from assistant.dialogue import ledger

    jobs: dict[int, JobSummary] = {}
    for number, rows in groupby(records.orders(job), key=lambda row: row[0]):
        bodies = [body for _, body in rows]
        if not any('"kind":"part ordered"' in body for body in bodies):
            continue
        try:
            lines = ledger.lines(_events(bodies))
        except ValueError:
            if unreadable is not None:
                unreadable.append(number)
            continue
        jobs = jobs or {summary.job: summary for summary in records.jobs()}
        yield from (Order(jobs[number], line) for line in lines)


def _events(bodies: Sequence[str]) -> Iterator[events.Event]:
    from assistant.dialogue import events

    return (events.EVENT.validate_json(body) for body in bodies)


def as_row(order: Order) -> Row:
    """Return an order as plain cells, by the names of `tables.ORDER_COLUMNS`."""
    said, counts = order.line.order, order.line.counts
    cells: Row = {
        "job": order.job.job,
        "bench": order.job.bench,
        "title": order.job.title,
        "unit": order.job.unit,
        "closed": "yes" if order.job.closed else "no",
        "step": said.step,
        "time": said.at.isoformat(),
        "by": said.by,
        "part": order.line.name,
        "part number": said.part_number,
        "count": said.count,
    }
    return cells | {str(state): number for state, number in counts.items()}


# What the desk enters


def _enter(
    args: argparse.Namespace,
    open_journal: Callable[..., Journal],
    open_records: Callable[[argparse.Namespace], Journal | Shop],
) -> int:
    from assistant.dialogue import ledger
    from assistant.report import wording

    states = ", ".join(ledger.STATES)
    if len(args.entry) != 3 or not args.entry[0].isdecimal() or args.entry[2] not in ledger.STATES:
        raise AssistantError(
            f"Give a job, a part and one of {states}, as in: assistant orders 3 'drain plug' "
            "received. Without any of them, orders are listed."
        )
    if args.open or args.csv or args.json or args.job is not None:
        raise AssistantError("--open, --job, --csv and --json are for the list.")
    job, part, state = int(args.entry[0]), args.entry[1], args.entry[2]
    if isinstance(args.journal, str):
        bench = open_records(args).identity(job).bench
        raise AssistantError(
            f"The shop's database is only read here. The record of job {job} is kept at {bench}: "
            "enter it there, in its journal; the next publish brings it here."
        )
    event = enter(open_journal(args), job, part, state, args.count, args.by)
    print(plain(f"Job {job}: {wording.event(event)}."))
    return 0


def enter(
    journal: Journal,
    job: int,
    part: str,
    state: events.OrderState,
    count: int | None = None,
    by: str | None = None,
) -> events.OrderMoved:
    """Record what became of a job's orders of a part; return what was recorded.

    `count` is how many of them, None all that can come to that state. Raises AssistantError where
    they cannot, where the job has no such order, and where nothing can be written.
    """
    from assistant.bench.job import local_now, procedure_of
    from assistant.dialogue import events, ledger, supplying
    from assistant.journal.store import CannotRecord

    history = journal.events(job)
    procedure = procedure_of(history, job)
    lines = ledger.lines(_events([body for _, body in journal.orders(job)]))
    known = procedure.part(part.casefold())
    orders = tuple(
        line
        for line in lines
        if part.casefold() in (line.name, (line.order.part_number or "").casefold())
        or (known is not None and procedure.part(line.name) is known)
    )
    if not orders:
        there = ", ".join(dict.fromkeys(line.name for line in lines))
        raise AssistantError(
            f"Job {job} has no order of {part}. "
            + (f"It has orders of: {there}." if there else "It has no orders.")
        )
    most = ledger.movable(orders, state)
    count = most if count is None else count
    if not 0 < count <= most:
        stand = ", ".join(
            f"{ledger.total(orders, [s])} {s}" for s in ledger.STATES if ledger.total(orders, [s])
        )
        first = " Enter received first." if state == "fitted" else ""
        raise AssistantError(
            f"{orders[0].name}: {stand}. {most or 'None'} can be entered as {state}.{first}"
        )
    event = events.OrderMoved(
        at=local_now(),
        turn=max(e.turn for e in history) + 1,
        by=by,
        count=count,
        state=state,
        at_desk=True,
        **supplying.names(orders),
    )
    if journal.seal(job) is not None:
        journal.add_afterwards(job, event)
        return event
    try:
        journal.append(job, len(history), [event])
    except CannotRecord:
        raise
    except AssistantError:
        head = journal.head(job)
        if head is None or head.place == len(history):
            raise
        # Something was said at the bench meanwhile.
        return enter(journal, job, part, state, count, by)
    return event
