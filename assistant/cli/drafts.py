"""`assistant draft`: a written procedure from jobs that had none."""

from __future__ import annotations

import argparse
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli import files
from assistant.cli.options import add_command, journal_option, open_records
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)

_EPILOG = """\
what becomes of what the record tells:
  what came off           a step each, with its count, size and bag, in that order
  what went on again      a step each, in the order in which it went on; what never
                          did comes last, the last off first
  the kit                 new parts, with their numbers; they go on in place of the old
  a torque that was set   the torque of the step; what it was tightened to, a comment
  thread-locker found     a comment: what was found is no instruction
  notes                   comments, spoken ones with their transcripts
  findings, orders        left out: they are about that machine, not the next

Transcripts are made at the bench, or afterwards with: assistant transcribe JOB

examples:
  assistant draft 3 -o capstan.yaml
  assistant draft 3 7 9 -o capstan.yaml     written from job 3, compared with 7 and 9
  assistant check capstan.yaml
  assistant run capstan.yaml --typed"""


def add_parser(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands,
        "draft",
        "write a procedure from a job that had none",
        "Write a procedure from the record of a job that was begun with 'run --unwritten': its "
        "strip-down, its build-up, and in comments what else was said. It is a draft that nobody "
        "has approved, and says so: read its comments, correct it, and give it a revision before "
        "anyone works from it. 'check' finds nothing wrong with it, and it can be tried typed.\n\n"
        "Several jobs on like machines can be drafted together. The procedure is written from the "
        "first one; where the others differ in counts, sizes, torques, order or kit, a comment in "
        "the file and a line here say so.",
        _EPILOG,
    )
    parser.add_argument("jobs", nargs="+", type=int, metavar="JOB")
    parser.add_argument(
        "-o", "--out", type=Path, metavar="FILE", required=True, help="the procedure to write"
    )
    files.force_option(parser)
    journal_option(parser, shop=True)
    parser.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from assistant.authoring import drafting, wording, worked

    records = open_records(args)
    numbers = list(dict.fromkeys(args.jobs))
    draft = drafting.draft([worked.read(records, number) for number in numbers])
    files.write(args.out, draft.text, args.force)
    for told in draft.differences:
        _log.warning("%s", told)
    print(plain(wording.done(str(args.out), draft.steps, numbers)))
    return 0
