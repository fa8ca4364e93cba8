"""The commands that look after the record: verify it, take a job out as a file, take one in."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.journal.shop import Shop
    from assistant.journal.store import Journal
    from assistant.journal.verifying import Verdict

_LEAST_SEAL = 16
"""So many digits of a seal that was typed off paper are enough to compare."""


def add_parsers(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    journal_option: Callable[..., None],
    open_journal: Callable[..., Journal],
    open_records: Callable[[argparse.Namespace], Journal | Shop],
) -> None:
    """Add the commands; `open_journal(args, create=False)` opens what `--journal` says.

    `open_records` also opens the shop's database, for reading.
    """
    verify = commands.add_parser(
        "verify",
        help="find out whether the record is as it was made",
        description="Look through every event and clip of a job, of all jobs, or of an archive, "
        "and name the first event that was altered, removed, moved or put in, and any clip that "
        "is not the one that was heard. Exits with 1 where there is a fault.\n\n"
        "Each event carries a hash of itself and of the event before it; closing a job seals it "
        "with the last. A hash inside the journal cannot show that somebody made the whole "
        "chain anew: for that, compare the seal with one kept elsewhere, such as the one printed "
        "on a report, with --seal. Nor can it show that the last events of an open job were "
        "removed by somebody who knew what else to change.",
        epilog="examples:\n  assistant verify\n  assistant verify 3\n"
        "  assistant verify 3 --seal '9f2c 81d0 47aa 3b6e'      from the printed report\n"
        "  assistant verify job-3.zip                           an archive",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    verify.add_argument(
        "what", nargs="?", metavar="JOB", help="a job's number, or an archive (default: all jobs)"
    )
    verify.add_argument(
        "--seal", metavar="HASH", help="the seal printed on a report, or its first 16 digits"
    )
    journal_option(verify, shop=True)
    verify.set_defaults(run=lambda args: _verify(args, open_records))

    export = commands.add_parser(
        "export",
        help="put a job into one file, to keep or to take elsewhere",
        description="Write one ZIP archive with all of a job: its events as JSON lines with their "
        "hashes, its clips, the procedure as it was worked from, and the report. It can be read "
        "without this program, and import and verify accept it on any other machine.",
        epilog="example:\n  assistant export 3 -o /media/stick/job-3.zip",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    export.add_argument("job", type=int, metavar="JOB")
    export.add_argument(
        "-o", "--out", type=Path, metavar="FILE", help="where to (default: job-N.zip)"
    )
    journal_option(export)
    export.set_defaults(run=lambda args: _export(args, open_journal))

    take_in = commands.add_parser(
        "import",
        help="take in a job that was exported elsewhere",
        description="Take the job of an archive into this journal, where its chain and its clips "
        "verify; otherwise the first fault is named and nothing is taken in. The job gets a "
        "number of this journal and stays the same job: taken in again, it is there already.",
        epilog="example:\n  assistant import job-3.zip && assistant jobs",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    take_in.add_argument("file", type=Path, metavar="FILE")
    journal_option(take_in)
    take_in.set_defaults(run=lambda args: _import(args, open_journal))


def _verify(
    args: argparse.Namespace, open_records: Callable[[argparse.Namespace], Journal | Shop]
) -> int:
    from assistant.journal import verifying
    from assistant.journal.archive import Archive

    seal = None if args.seal is None else "".join(args.seal.lower().split())
    if seal is not None and args.what is None:
        raise AssistantError("Say which job the seal is of: assistant verify JOB --seal HASH")
    if seal is not None and (len(seal) < _LEAST_SEAL or set(seal) - set("0123456789abcdef")):
        raise AssistantError("A seal is 64 digits 0 to 9 and a to f; give at least the first 16.")
    if args.what is not None and not args.what.isdecimal():
        with Archive(Path(args.what)) as archive:
            return _told(args.what, archive.verify(), seal, archive.who.late)
    journal = open_records(args)
    if args.what is not None:
        number = int(args.what)
        who = journal.identity(number)
        return _told(f"Job {number}", verifying.job(journal, number), seal, who.late)
    faults = 0
    for stray in journal.strays():
        print(f"FAULT: {stray}.")
        faults = 1
    numbers = journal.numbers()
    for number in numbers:
        found = verifying.job(journal, number)
        if _told(f"Job {number}", found, None, journal.identity(number).late):
            faults = 1
    if not numbers and not faults:
        print("No jobs yet.")
    return faults


def _told(name: str, found: Verdict, seal: str | None, late: int) -> int:
    """Print what was found, in one line; return 1 for a fault."""
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
    clips = f", {found.clips} clip{'' if found.clips == 1 else 's'}" if found.clips else ""
    sealed = f"sealed {grouped(found.seal)}" if found.seal else "open"
    same = ", the same seal" if seal else ""
    first = "the first " if late < found.events else "all "
    since = (
        f"; {first}{late} of them chained when an older journal was brought up to date"
        if late
        else ""
    )
    print(f"{name}: good, {found.events} events{clips}, {sealed}{same}{since}")
    return 0


def _export(args: argparse.Namespace, open_journal: Callable[..., Journal]) -> int:
    from assistant.bench.job import procedure_of
    from assistant.journal import archive
    from assistant.report import page, record

    journal = open_journal(args)
    events = journal.events(args.job)
    built = record.kept(journal, args.job, events, procedure_of(events, args.job))
    out = args.out or Path(f"job-{args.job}.zip")
    archive.write(journal, args.job, out, page.html(built, journal.clips(events)))
    print(out)
    return 0


def _import(args: argparse.Namespace, open_journal: Callable[..., Journal]) -> int:
    from assistant.journal.archive import Archive

    with Archive(args.file) as archive:
        journal = open_journal(args, create=True)
        number = archive.take_in(journal)
        who, head = archive.who, archive.head
        if number is not None:
            print(plain(f"Job {number}: {who.title}, {head.place} events, from {who.bench}"))
            return 0
        number = journal.number_of(who.uid) or 0
        here = journal.head(number)
        if here is not None and here.hash == head.hash:
            new = journal.take_in_afterwards(number, archive.entries()) if here.closed else 0
            later = f" What it has of orders after closing was added: {new}." if new else ""
            print(f"It is here already, as job {number}.{later}")
            return 0
        count = here.place if here is not None else 0
        print(
            f"It is here already, as job {number}, but with {count} events, and the archive has "
            f"{head.place}. Nothing was changed.",
            file=sys.stderr,
        )
        return 1
