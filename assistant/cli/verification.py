"""`assistant verify`: whether the record is as it was made."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_records
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.cli.options import Commands
    from assistant.journal.verification import Verdict

_LEAST_SEAL = 16
"""How many digits of a seal have to be given; nobody types 64 off a printed report."""


def add_parser(commands: Commands) -> None:
    """Add the command."""
    verify = add_command(
        commands,
        "verify",
        "find out whether the record is as it was made",
        "Check every event, clip and photo of a job, of all jobs, or of an archive. Name the first "
        "event that was altered, removed, moved or put in, and any clip or photo that is not the "
        "one that was kept. The exit status is 1 if there is a fault.\n\n"
        "Each event carries a hash of itself and of the event before it; closing a job seals it "
        "with the last hash. A hash inside the journal cannot show that somebody made the whole "
        "chain anew. To find that out, compare the seal with one kept elsewhere, such as the one "
        "on a printed report, with --seal. Nor can a hash show that the last events of an open job "
        "were removed by somebody who knew what else to change.",
        "examples:\n  assistant verify\n  assistant verify 3\n"
        "  assistant verify 3 --seal '9f2c 81d0 47aa 3b6e'      from the printed report\n"
        "  assistant verify job-3.zip                           an archive",
    )
    verify.add_argument(
        "what", nargs="?", metavar="JOB", help="a job's number, or an archive (default: all jobs)"
    )
    verify.add_argument(
        "--seal", metavar="HASH", help="the seal printed on a report, or its first 16 digits"
    )
    journal_option(verify, shop=True)
    verify.set_defaults(run=_verify)


def _verify(args: argparse.Namespace) -> int:
    from assistant.journal import verification
    from assistant.journal.archive import Archive

    seal = _seal(args)
    if args.what is not None and not args.what.isdecimal():
        with Archive(Path(args.what)) as archive:
            return _report(args.what, archive.verify(), seal)
    records = open_records(args)
    if args.what is not None:
        number = int(args.what)
        return _report(f"Job {number}", verification.job(records, number), seal)
    faults = 0
    for stray in records.strays():
        print(f"FAULT: {stray}.")
        faults = 1
    numbers = records.numbers()
    for number in numbers:
        if _report(f"Job {number}", verification.job(records, number), None):
            faults = 1
    if not numbers and not faults:
        print("No jobs yet.")
    return faults


def _seal(args: argparse.Namespace) -> str | None:
    """Return the digits of a seal that was given."""
    if args.seal is None:
        return None
    if args.what is None:
        raise AssistantError("Say which job the seal is of: assistant verify JOB --seal HASH")
    seal = "".join(args.seal.lower().split())
    if len(seal) < _LEAST_SEAL or set(seal) - set("0123456789abcdef"):
        raise AssistantError("A seal is 64 digits 0 to 9 and a to f; give at least the first 16.")
    return seal


def _report(name: str, found: Verdict, seal: str | None) -> int:
    """Print in one line what was found; return 1 for a fault."""
    from assistant.grammar.nouns import counted
    from assistant.report.wording import grouped

    if found.fault is not None:
        print(f"{name}: FAULT ({found.fault.kind}): {found.fault.text}.")
        return 1
    if seal is not None:
        if found.seal is None:
            print(f"{name}: FAULT: it is open, so no report of it can have a seal.")
            return 1
        if not found.seal.startswith(seal):
            print(
                f"{name}: FAULT: another seal, {grouped(found.seal)}. It is not the job reported."
            )
            return 1
    kept = "".join(
        f", {number} {counted(number, what)}"
        for number, what in ((found.clips, "clip"), (found.pictures, "photo"))
        if number
    )
    sealed = f"sealed {grouped(found.seal)}" if found.seal else "open"
    same = ", the same seal" if seal else ""
    print(f"{name}: good, {found.events} events{kept}, {sealed}{same}")
    return 0
