"""`assistant orders`: the parts desk's list, and what it enters."""

from __future__ import annotations

import argparse
import json
import logging
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_journal, open_records
from assistant.errors import AssistantError
from assistant.text import escaped, plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)


def add_parser(commands: Commands) -> None:
    """Add the command."""
    orders = add_command(
        commands,
        "orders",
        "list what was ordered in all jobs, and enter what became of it",
        "List the orders of all jobs, the oldest first: how many, of what, for which job and step, "
        "asked for by whom and when, and what became of them: asked, ordered, received, fitted or "
        "cancelled.\n\n"
        "With a job, a part and one of these words, enter that: for all that can come to that "
        "state, or for --count of them. 'asked' takes back a wrong entry. It goes into the job's "
        "own record, where the assistant says it at the bench. What is entered after a job was "
        "closed is kept beside its sealed record, which proves nothing of it.",
        "examples:\n  assistant orders --open                      what is still to come\n"
        "  assistant orders --csv > orders.csv\n"
        "  assistant orders 3 'drain plug' ordered      placed with the supplier\n"
        "  assistant orders 3 'drain plug' received --count 2 --by kim",
    )
    orders.add_argument(
        "entry",
        nargs="*",
        metavar="JOB PART STATE",
        help="a job's number, a part (its name or number), and what became of it",
    )
    orders.add_argument("--count", type=int, metavar="N", help="how many (default: all)")
    orders.add_argument("--by", metavar="NAME", help="who enters it; recorded with it")
    orders.add_argument("--open", action="store_true", help="only what is still to come")
    orders.add_argument("--job", type=int, metavar="N", help="only of this job")
    form = orders.add_mutually_exclusive_group()
    form.add_argument("--csv", action="store_true", help="as CSV")
    form.add_argument("--json", action="store_true", help="one JSON object a line")
    journal_option(orders, shop=True)
    orders.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    return _enter(args) if args.entry else _list(args)


def _list(args: argparse.Namespace) -> int:
    from assistant.desk.orders import Order, Unreadable, as_line, as_row, listed

    if args.count is not None or args.by is not None:
        raise AssistantError("--count and --by go with a job, a part and what became of it.")
    found = list(listed(open_records(args), args.job))
    orders = [one for one in found if isinstance(one, Order) and (one.to_come or not args.open)]
    if args.csv:
        from assistant.report import tables

        print(tables.orders({**as_row(order)} for order in orders), end="")
    elif args.json:
        for order in orders:
            print(escaped(json.dumps(as_row(order), ensure_ascii=False)))
    elif orders:
        print(*map(as_line, orders), sep="\n")
    else:
        print("Nothing is still to come." if args.open else "Nothing was ordered.")
    unreadable = [one.job for one in found if isinstance(one, Unreadable)]
    for job in unreadable:
        _log.warning("Job %d cannot be read; see: assistant verify %d", job, job)
    return 1 if unreadable else 0


def _enter(args: argparse.Namespace) -> int:
    from assistant.desk import moves
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
    event = moves.enter(open_journal(args), job, part, state, args.count, args.by)
    print(plain(f"Job {job}: {wording.event(event)}."))
    return 0
