"""`assistant export` and `import`: one job as one file, out of a journal and into another."""

from __future__ import annotations

import argparse
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_journal
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands
    from assistant.journal.archive import Archive
    from assistant.journal.store import Journal

_log = logging.getLogger(__name__)


def add_parsers(commands: Commands) -> None:
    """Add the commands."""
    export = add_command(
        commands,
        "export",
        "put a job into one file, to keep or to take elsewhere",
        "Write one ZIP archive with all of a job: its events as JSON lines with their hashes, its "
        "clips and photos, the procedure as it was worked from, and the report. It can be read "
        "without this program, and import and verify accept it on any other machine.",
        "example:\n  assistant export 3 -o /media/stick/job-3.zip",
    )
    export.add_argument("job", type=int, metavar="JOB")
    export.add_argument(
        "-o", "--out", type=Path, metavar="FILE", help="where to (default: job-N.zip)"
    )
    journal_option(export)
    export.set_defaults(run=_export)

    take_in = add_command(
        commands,
        "import",
        "take in a job that was exported elsewhere",
        "Take the job of an archive into this journal if its chain, clips and photos verify; "
        "otherwise name the first fault and take in nothing. The job gets a number of this journal "
        "and stays the same job: a second import finds it there already.",
        "example:\n  assistant import job-3.zip && assistant jobs",
    )
    take_in.add_argument("file", type=Path, metavar="FILE")
    journal_option(take_in)
    take_in.set_defaults(run=_import)


def _export(args: argparse.Namespace) -> int:
    from assistant.dialogue.replaying import procedure_of
    from assistant.journal import archive
    from assistant.report import page, record

    journal = open_journal(args)
    events = journal.events(args.job)
    built = record.kept(journal, args.job, events, procedure_of(events, args.job))
    out = args.out or Path(f"job-{args.job}.zip")
    shown = page.html(built, journal.clips(events), photos=dict(journal.pictures(args.job)))
    archive.write(journal, args.job, out, shown)
    print(out)
    return 0


def _import(args: argparse.Namespace) -> int:
    from assistant.journal.archive import Archive

    with Archive(args.file) as archive:
        journal = open_journal(args, create=True)
        number = archive.take_in(journal)
        if number is None:
            return _here_already(journal, archive)
        who, head = archive.who, archive.head
        print(plain(f"Job {number}: {who.title}, {head.place} events, from {who.bench}"))
        return 0


def _here_already(journal: Journal, archive: Archive) -> int:
    """Add what the parts desk entered since, if it is the same job at the same event."""
    number = journal.number_of(archive.who.uid) or 0
    here = journal.head(number)
    if here is not None and here.hash == archive.head.hash:
        new = archive.add_to(journal, number) if here.closed else 0
        later = f" What was entered after closing was added: {new}." if new else ""
        print(f"It is here already, as job {number}.{later}")
        return 0
    count = here.place if here is not None else 0
    _log.warning(
        "It is here already, as job %d, but with %d events, and the archive has %d. "
        "Nothing was changed.",
        number,
        count,
        archive.head.place,
    )
    return 1
