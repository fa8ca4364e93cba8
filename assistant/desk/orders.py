"""The parts desk's list: the orders of all jobs, and how many of each are in which state."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from assistant.dialogue import events, ledger
from assistant.grammar import nouns
from assistant.journal.records import JobSummary, Records
from assistant.text import plain


@dataclass(frozen=True)
class Order:
    """One order, and the job that it is for."""

    job: JobSummary
    line: ledger.Line

    @property
    def to_come(self) -> bool:
        """Whether some of it is neither received nor cancelled."""
        return self.line.to_come > 0


@dataclass(frozen=True)
class Unreadable:
    """A job whose orders cannot be read."""

    job: int


def listed(records: Records, job: int | None = None) -> Iterator[Order | Unreadable]:
    """Yield the orders of all jobs, or of one, the oldest job first, as they were spoken.

    Reads only the events that tell of orders. A job in which one of them cannot be read yields an
    `Unreadable` and none of its orders.
    """
    jobs = {summary.job: summary for summary in _with_orders(records, job)}
    for number, rows in groupby(records.orders(job), key=lambda row: row[0]):
        if number not in jobs:
            continue  # Withdrawals alone.
        try:
            lines = ledger.lines([events.EVENT.validate_json(body) for _, body in rows])
        except ValueError:
            yield Unreadable(number)
            continue
        yield from (Order(jobs[number], line) for line in lines)


def _with_orders(records: Records, job: int | None) -> tuple[JobSummary, ...]:
    return records.jobs(ordered=True) if job is None else (records.summary(job),)


def as_line(order: Order) -> str:
    """Return an order as one line for a terminal."""
    said, counts, job = order.line.order, order.line.counts, order.job
    states = [(counts[state], state) for state in ledger.STATES if counts[state]]
    became = ", ".join(
        state if number == said.count else f"{number} {state}" for number, state in states
    )
    number = f" ({said.part_number})" if said.part_number else ""
    called = nouns.counted(said.count, said.part, said.plural)
    about = [
        job.title,
        job.unit,
        said.step and f"at {said.step}",
        said.by and f"by {said.by}",
        "job closed" if job.closed else None,
    ]
    return plain(
        f"{job.job:5}  {said.at:%Y-%m-%d %H:%M}  {said.count} {called}{number}: {became}  "
        f"({', '.join(text for text in about if text)})"
    )


def as_row(order: Order) -> dict[str, str | int | None]:
    """Return an order as plain cells: who asked for what for which job, and a count by state."""
    said = order.line.order
    cells: dict[str, str | int | None] = {
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
    return cells | {str(state): number for state, number in order.line.counts.items()}
