"""`assistant report`, `tags` and `schema`: what a job's record gives to people and programs."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli import files
from assistant.cli.options import add_command, journal_option, open_records
from assistant.errors import AssistantError
from assistant.text import escaped

if TYPE_CHECKING:
    from assistant.cli.options import Commands

# The names and sizes of the label sheets, said here again so that help is quick.
_TAGS_EPILOG = """\
sheets, by columns x rows and the size of a label:
  a4-3x8        70 x 37 mm              letter-3x10   2 5/8 x 1 in
  a4-3x7        63.5 x 38.1 mm          letter-2x5    4 x 2 in
  a4-2x7        99.1 x 38.1 mm
  a4-2x4        99.1 x 67.7 mm

examples:
  assistant tags 3 -o tags.html
  assistant tags 3 --sheet letter-3x10 --skip 6 --pdf tags.pdf
  assistant tags 3 --bag 4 --skip 11        one label, on a sheet of which eleven are used

It needs: pip install '.[pdf]'"""


def add_parsers(commands: Commands) -> None:
    """Add the commands."""
    report = add_command(
        commands,
        "report",
        "write the record of a job for people to read",
        "Write the job's record: a self-contained page, or a PDF, or JSON, or CSV. JSON is the "
        "whole record, CSV one table of all that was recorded. With --list each is one list of the "
        "record, such as findings, readings or torques; 'assistant schema' names the lists and "
        "says how they are laid out.",
        "examples:\n  assistant report 3 -o job3.html\n"
        "  assistant report 3 --pdf job3.pdf --paper letter\n"
        "  assistant report 3 --csv > job3.csv\n"
        "  assistant report 3 --list torques --csv > torques.csv",
    )
    report.add_argument("job", type=int, metavar="JOB")
    report.add_argument(
        "-o", "--out", type=Path, metavar="FILE", help="where to (default for the page: job-N.html)"
    )
    kind = report.add_mutually_exclusive_group()
    kind.add_argument("--json", action="store_true", help="JSON instead of the page")
    kind.add_argument("--csv", action="store_true", help="CSV instead of the page")
    kind.add_argument("--pdf", type=Path, metavar="FILE", help="a PDF; the page only with -o")
    report.add_argument("--paper", choices=("a4", "letter"), default="a4", help="of the PDF")
    report.add_argument(
        "--list", metavar="NAME", help="one list of the record, with --json or --csv"
    )
    journal_option(report, shop=True)
    report.set_defaults(run=_report)

    tags = add_command(
        commands,
        "tags",
        "print labels for the bags of a job",
        "Write labels for a job's bags, on a sheet of labels to be printed at full size: what is "
        "in the bag, its step, the job, and a QR code of plain text that says which bag of which "
        "job it is. A bag that was said back has what was recorded in it and the date; a bag that "
        "the procedure asks for further on has what the procedure says.",
        _TAGS_EPILOG,
    )
    tags.add_argument("job", type=int, metavar="JOB")
    where = tags.add_mutually_exclusive_group()
    where.add_argument(
        "-o", "--out", type=Path, metavar="FILE", help="a page (default: tags-N.html)"
    )
    where.add_argument("--pdf", type=Path, metavar="FILE", help="a PDF instead")
    tags.add_argument("--sheet", default="a4-3x8", metavar="NAME", help="default: a4-3x8")
    tags.add_argument(
        "--bag",
        type=int,
        action="append",
        default=[],
        metavar="N",
        help="only this bag; may be given again",
    )
    tags.add_argument(
        "--skip", type=int, default=0, metavar="N", help="labels already used on the first sheet"
    )
    journal_option(tags, shop=True)
    tags.set_defaults(run=_tags)

    schema = add_command(
        commands,
        "schema",
        "say how reports for other programs are laid out, and procedure files",
        "Print the JSON Schema (2020-12) of the record, of one of its lists, of an event of the "
        "log, or of a procedure file. Without a name, list the names.\n\n"
        "Editors complete and explain the keys of a procedure whose first line is: "
        "# yaml-language-server: $schema=procedure.schema.json",
        "examples:\n  assistant schema\n  assistant schema findings\n"
        "  assistant schema procedure -o procedure.schema.json\n"
        "  assistant report 3 --list findings --json    # is laid out so",
    )
    schema.add_argument("name", nargs="?", metavar="NAME")
    schema.add_argument("-o", "--out", type=Path, metavar="FILE", help="into a file")
    files.force_option(schema)
    schema.set_defaults(run=_schema)


def _report(args: argparse.Namespace) -> int:
    from assistant.dialogue.replaying import procedure_of
    from assistant.report import page, record, tables

    if args.list and not (args.json or args.csv):
        raise AssistantError("--list goes with --json or --csv.")
    records = open_records(args)
    events = records.events(args.job)
    built = record.kept(records, args.job, events, procedure_of(events, args.job))
    if args.pdf:
        from assistant.report import document

        _write(args.pdf, document.pdf(built, args.paper, dict(records.pictures(args.job))))
        if args.out is None:
            return 0
    if args.list:
        from assistant.report import lists

        text = lists.csv(built, args.list) if args.csv else lists.json_text(built, args.list)
    elif args.json:
        text = escaped(built.model_dump_json(indent=2)) + "\n"
    elif args.csv:
        text = tables.csv(built)
    else:
        text = page.html(built, records.clips(events), photos=dict(records.pictures(args.job)))
    out = args.out or (None if args.json or args.csv else Path(f"job-{args.job}.html"))
    if out is None:
        print(text, end="")
        return 0
    # As bytes, so that the tables keep their own line ends.
    return _write(out, text.encode())


def _write(out: Path, content: bytes) -> int:
    try:
        out.write_bytes(content)
    except OSError as error:
        raise AssistantError(f"Cannot write {out}: {error.strerror}.") from error
    print(out)
    return 0


def _tags(args: argparse.Namespace) -> int:
    from assistant.dialogue.replaying import procedure_of, replay_stored
    from assistant.report import record, tags

    sheet = tags.SHEETS.get(args.sheet)
    if sheet is None:
        known = ", ".join(tags.SHEETS)
        raise AssistantError(f"There is no sheet {args.sheet!r}: it is one of {known}.")
    records = open_records(args)
    events = records.events(args.job)
    procedure = procedure_of(events, args.job)
    built = record.build(events, procedure, args.job)
    state = replay_stored(procedure, events)
    made = tags.tags(built, state, records.identity(args.job).uid, args.bag)
    if not made:
        raise AssistantError(f"Job {args.job} has no bags.")
    if args.pdf:
        from assistant.report import document

        laid_out = tags.data(made, sheet, args.skip)
        return _write(args.pdf, document.typeset("tags.typ", laid_out, built.last))
    return _write(
        args.out or Path(f"tags-{args.job}.html"), tags.html(made, sheet, args.skip).encode()
    )


def _schema(args: argparse.Namespace) -> int:
    from assistant.authoring import schema
    from assistant.report import layouts

    if args.name is None:
        for name, about in {**layouts.names(), schema.NAME: schema.ABOUT}.items():
            print(f"{name:14} {about}")
        return 0
    if args.name == schema.NAME:
        text = schema.text()
    else:
        text = json.dumps(layouts.read(args.name), indent=2, ensure_ascii=False) + "\n"
    if args.out is None:
        print(text, end="")
    else:
        files.write(args.out, text, args.force)
    return 0
