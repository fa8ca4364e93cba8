"""`assistant jobs` and `assistant log`: what is in the record, as lines or JSON."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_records
from assistant.errors import AssistantError
from assistant.text import escaped, plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands
    from assistant.journal.records import JobSummary

_HITS = 5
"""How many of a job's events that a search found are shown."""


def add_parsers(commands: Commands) -> None:
    """Add the commands."""
    jobs = add_command(
        commands,
        "jobs",
        "list the jobs in the journal, or search them",
        "List the jobs, the latest first. A search looks in titles, units, findings, notes, parts, "
        "bags and reasons. A job is found if it has every word or its beginning, and is followed "
        "by the events in which they were found.",
        "examples:\n  assistant jobs --limit 20\n  assistant jobs --search 'gearbox circlip'",
    )
    journal_option(jobs, shop=True)
    jobs.add_argument("--search", metavar="TEXT", help="only jobs in which these words are found")
    jobs.add_argument("--open", action="store_true", help="only jobs that are not closed")
    jobs.add_argument("--limit", type=int, metavar="N", help="at most N jobs")
    jobs.add_argument("--json", action="store_true", help="one JSON object a line")
    jobs.set_defaults(run=_jobs)

    log = add_command(
        commands,
        "log",
        "print everything that happened in a job, in order",
        "Print one line for each event of a job, in the order in which it was recorded: when, at "
        "which step, what, and how it was heard. Ahead of them stands each result that does not "
        "meet its requirement, or did not at some time, the open ones first.",
    )
    log.add_argument("job", type=int, metavar="JOB")
    log.add_argument("--json", action="store_true", help="one JSON object a line, as recorded")
    journal_option(log, shop=True)
    log.set_defaults(run=_log)


def _jobs(args: argparse.Namespace) -> int:
    records = open_records(args)
    if args.limit is not None and args.limit < 1:
        raise AssistantError("--limit is at least 1.")
    jobs = records.jobs(args.limit, args.search, closed=False if args.open else None)
    if args.json:
        for job in jobs:
            print(escaped(json.dumps(asdict(job), default=str, ensure_ascii=False)))
        return 0
    if not jobs:
        print(_none(args))
    several = len({job.bench for job in jobs}) > 1
    for job in jobs:
        print(_line(job, several))
        if args.search is not None:
            for hit in records.search(args.search, job=job.job, limit=_HITS):
                print(plain(f"{'':7}{hit.at:%Y-%m-%d %H:%M}  {hit.kind}: {hit.text}"))
    return 0


def _none(args: argparse.Namespace) -> str:
    if args.search is not None:
        return "No job has these words."
    jobs = "No job is open." if args.open else "No jobs yet."
    return f"{jobs} Start one with: assistant run PROCEDURE"


def _line(job: JobSummary, with_bench: bool) -> str:
    where = "closed" if job.closed else f"open, at {job.step}"
    unit = f", {job.unit}" if job.unit else ""
    bench = f", at {job.bench}" if with_bench else ""
    return plain(f"{job.job:5}  {job.last:%Y-%m-%d %H:%M}  {job.title}{unit}{bench}  ({where})")


def _log(args: argparse.Namespace) -> int:
    from assistant.dialogue.replaying import procedure_of
    from assistant.report import log, record, wording

    records = open_records(args)
    events = records.events(args.job)
    if args.json:
        for event in events:
            print(escaped(event.model_dump_json(exclude={"source"})))
        return 0
    transcripts = records.transcripts(args.job)
    procedure = procedure_of(events, args.job)
    built = record.build(events, procedure, args.job, transcripts=transcripts)
    for line in (*log.failures(built.nonconformities), *log.lines(events, procedure, transcripts)):
        print(line)
    seal = records.seal(args.job)
    if seal is not None:
        print(f"Sealed: {wording.grouped(seal)}")
    signed = list(log.sign_offs(records.sign_offs(args.job)))
    if signed:
        print("After closing, signed off, not under the seal but naming it:", *signed, sep="\n")
    added = list(log.afterwards(records.additions(args.job), events))
    if added:
        print("After closing, entered by the parts desk, not under the seal:", *added, sep="\n")
    return 0
