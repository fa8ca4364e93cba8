"""`assistant sign-off`: whoever answers for the work signs off a closed job."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_journal, open_records
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands


def add_parser(commands: Commands) -> None:
    """Add the command."""
    sign = add_command(
        commands,
        "sign-off",
        "sign off a closed job, by name",
        "Sign off a closed job: the name, the time and the note stand at the top of its report and "
        "on the board. It is kept beside the sealed record and names its seal. A second "
        "sign-off is added to the first; none is replaced or taken back. A job of which a result "
        "fails takes --despite, and a note that says why; the sign-off then names what failed.",
        "examples:\n  assistant sign-off 3 --by 'Kim Ode'\n"
        "  assistant sign-off 3 --by 'Kim Ode' --despite --note 'customer runs it to the refit'",
    )
    sign.add_argument("job", type=int, metavar="JOB")
    sign.add_argument("--by", metavar="NAME", required=True, help="who signs off")
    sign.add_argument("--note", metavar="TEXT", help="what is to be said with it")
    sign.add_argument(
        "--despite", action="store_true", help="sign it off though results fail; needs --note"
    )
    journal_option(sign)
    sign.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from assistant.desk import sign_off
    from assistant.report import wording

    if isinstance(args.journal, str):
        bench = open_records(args).identity(args.job).bench
        raise AssistantError(
            f"The shop's database is only read here. The record of job {args.job} is kept at "
            f"{bench}: sign it off there, in its journal; the next publish brings it here."
        )
    event = sign_off.enter(open_journal(args), args.job, args.by, args.note, despite=args.despite)
    print(plain(f"Job {args.job}: {wording.signed_off(event)}."))
    return 0
