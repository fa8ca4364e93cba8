"""`assistant customer`: extra work that customers have to agree to, and what they answered."""

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
    from assistant.desk.customer import Asked
    from assistant.dialogue import facts

_log = logging.getLogger(__name__)

_ANSWERS: tuple[facts.CustomerAnswer, ...] = ("agrees", "declines", "waiting")


def add_parser(commands: Commands) -> None:
    """Add the command."""
    customer = add_command(
        commands,
        "customer",
        "list the extra work that customers have to agree to, and enter what they answer",
        "List what was said with “ask customer” in all jobs, the oldest first: what was found and "
        "what it needs, for which job, and whether the customer agrees, declines, or has still to "
        "answer.\n\n"
        "With a job and one of 'agrees' and 'declines', enter the customer's answer: to the only "
        "question that waits, or to the one that --event gives. 'waiting' takes back a wrong "
        "entry. It goes into the job's own record, where the assistant says it at the bench. What "
        "is entered after a job was closed is kept beside its sealed record, which proves nothing "
        "of it.",
        "examples:\n  assistant customer --open                    what waits for an answer\n"
        "  assistant customer 3 agrees --name 'Mrs Hale' --by kim\n"
        "  assistant customer 3 declines --event 41 --name 'Mrs Hale' --note 'after the season'",
    )
    customer.add_argument(
        "entry", nargs="*", metavar="JOB ANSWER", help="a job's number, and the answer"
    )
    customer.add_argument(
        "--event", type=int, metavar="N", help="the question, by its number in the list"
    )
    customer.add_argument("--name", metavar="NAME", help="who answered for the customer")
    customer.add_argument("--note", metavar="TEXT", help="such as the number of their order")
    customer.add_argument("--by", metavar="NAME", help="who enters it; recorded with it")
    customer.add_argument("--open", action="store_true", help="only what waits for an answer")
    customer.add_argument("--job", type=int, metavar="N", help="only of this job")
    customer.add_argument("--json", action="store_true", help="one JSON object a line")
    journal_option(customer, shop=True)
    customer.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    return _enter(args) if args.entry else _list(args)


def _list(args: argparse.Namespace) -> int:
    from assistant.desk.customer import Asked, Unreadable, listed

    if any(one is not None for one in (args.event, args.name, args.note, args.by)):
        raise AssistantError("--event, --name, --note and --by go with a job and an answer.")
    found = list(listed(open_records(args), args.job))
    asked = [
        one for one in found if isinstance(one, Asked) and (one.question.open or not args.open)
    ]
    for one in asked:
        print(escaped(json.dumps(_row(one), ensure_ascii=False)) if args.json else _line(one))
    if not asked and not args.json:
        waits = "No customer has still to answer."
        print(waits if args.open else "No customer was to be asked about anything.")
    unreadable = [one.job for one in found if isinstance(one, Unreadable)]
    for job in unreadable:
        _log.warning("Job %d cannot be read; see: assistant verify %d", job, job)
    return 1 if unreadable else 0


def _line(of: Asked) -> str:
    from assistant.report import wording

    question, job = of.question, of.job
    stand = "waiting" if question.answer is None else wording.answered(question.answer)
    about = [
        job.title,
        job.unit,
        question.asked.step and f"at {question.asked.step}",
        question.asked.by and f"by {question.asked.by}",
        "job closed" if job.closed else None,
    ]
    return plain(
        f"{job.job:5}  event {of.number:<4}  {question.asked.at:%Y-%m-%d %H:%M}  "
        f"{wording.extra_work(question.work)}: "
        f"{'taken back at the bench' if question.about is None else stand}  "
        f"({', '.join(text for text in about if text)})"
    )


def _row(of: Asked) -> dict[str, str | int | None]:
    from assistant.report import wording

    asked, answer = of.question.asked, of.question.answer
    stand = "waiting" if of.question.about is not None else "taken back"
    return {
        "job": of.job.job,
        "bench": of.job.bench,
        "title": of.job.title,
        "unit": of.job.unit,
        "closed": "yes" if of.job.closed else "no",
        "event": of.number,
        "step": asked.step,
        "time": asked.at.isoformat(),
        "by": asked.by,
        "what": wording.extra_work(of.question.work),
        "stand": stand if answer is None else answer.answer,
        "name": answer.name if answer else None,
        "answered": answer.at.isoformat() if answer else None,
        "entered by": answer.by if answer else None,
        "note": answer.note if answer else None,
    }


def _enter(args: argparse.Namespace) -> int:
    from assistant.desk import customer
    from assistant.report import wording

    answer = next((one for one in _ANSWERS if args.entry[1:] == [one]), None)
    if answer is None or not args.entry[0].isdecimal():
        raise AssistantError(
            f"Give a job and one of {', '.join(_ANSWERS)}, as in: assistant customer 3 agrees "
            "--name 'Mrs Hale'. Without any of them, the questions are listed."
        )
    if args.open or args.json or args.job is not None:
        raise AssistantError("--open, --job and --json are for the list.")
    job = int(args.entry[0])
    if isinstance(args.journal, str):
        bench = open_records(args).identity(job).bench
        raise AssistantError(
            f"The shop's database is only read here. The record of job {job} is kept at {bench}: "
            "enter it there, in its journal; the next publish brings it here."
        )
    event = customer.enter(
        open_journal(args), job, answer, args.event, name=args.name, note=args.note, by=args.by
    )
    print(plain(f"Job {job}: {wording.event(event)}."))
    return 0
