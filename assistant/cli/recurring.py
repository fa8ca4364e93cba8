"""`assistant recurring`: parts and conditions by how often they were found, on which models."""

from __future__ import annotations

import argparse
import json
import logging
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_records
from assistant.errors import AssistantError
from assistant.text import escaped, plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands
    from assistant.report.recurring import Recurring

_log = logging.getLogger(__name__)


def add_parser(commands: Commands) -> None:
    """Add the command."""
    recurring = add_command(
        commands,
        "recurring",
        "list what recurs: parts and conditions, by how many jobs found them",
        "List each part and the condition that it was found in, by how many jobs found that: how "
        "many of the part in all, on which models, on which unit more than once, and when last. "
        "What was corrected or withdrawn is not counted, nor what was found clean or sound.",
        "examples:\n  assistant recurring\n  assistant recurring --least 5 --json",
    )
    recurring.add_argument(
        "--least", type=int, default=2, metavar="N", help="found in at least N jobs (default: 2)"
    )
    recurring.add_argument(
        "--limit", type=int, metavar="N", help="look at the latest N jobs only (default: all)"
    )
    recurring.add_argument("--json", action="store_true", help="one JSON object a line")
    journal_option(recurring, shop=True)
    recurring.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from assistant.report import recurring

    for name, value in (("--least", args.least), ("--limit", args.limit)):
        if value is not None and value < 1:
            raise AssistantError(f"{name} is at least 1.")
    records = open_records(args)
    seen, unreadable = recurring.gather(records, records.jobs(args.limit))
    found = recurring.over(seen, args.least)
    for one in found:
        print(escaped(json.dumps(_row(one), ensure_ascii=False)) if args.json else _line(one))
    if not found and not args.json:
        jobs = "one job" if args.least == 1 else f"{args.least} jobs"
        print(f"Nothing was found in at least {jobs}.")
    for job in unreadable:
        _log.warning("Job %d cannot be read; see: assistant verify %d", job, job)
    return 1 if unreadable else 0


def _line(of: Recurring) -> str:
    models = ", ".join(f"{model} in {jobs}" for model, jobs in of.models)
    again = f"; more than once on {', '.join(of.units)}" if of.units else ""
    jobs = "1 job " if len(of.jobs) == 1 else f"{len(of.jobs)} jobs"
    return plain(
        f"{jobs:>9}  {of.count:4} × {of.part} {of.condition}  ({models}{again}; "
        f"last {of.last:%Y-%m-%d}, job {of.jobs[0]})"
    )


def _row(of: Recurring) -> dict[str, object]:
    return {
        "part": of.part,
        "condition": of.condition,
        "severity": of.severity,
        "jobs": list(of.jobs),
        "count": of.count,
        "models": [{"model": model, "jobs": jobs} for model, jobs in of.models],
        "units": list(of.units),
        "last": of.last.isoformat(),
    }
