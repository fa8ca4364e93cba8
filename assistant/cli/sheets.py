"""`assistant sheet`: a procedure from a spreadsheet or from numbered text, and back for review."""

from __future__ import annotations

import argparse
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli import files
from assistant.cli.options import add_command
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.authoring.importing import Written
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)

_EPILOG = """\
columns are found by their headings, in any order:
  step, task, detail, why, stage       what to do; a row a step
  fastener, qty, size, grade           "cap bolts", 4, "M8x30", 8.8; a further row
                                       without a task is one more of the same step
  torque (Nm), thread-locker, order    "25Nm", "18 ft-lb", "20/40/60 Nm", "40 Nm + 90°"
  remove, fit, part no., new, bag      "2 x oil seal", yes, 3
  measure, limits                      "0.05 mm max", "33-37", "35 ±0.01 mm"
  caution, warning, danger, tools, wait

What can mean two things ("8-10 Nm", a date made of "3-4") is never guessed. It is
listed here with its cell, and stands in the file as a comment that begins TO DO.

exit status: 0 all was read, 1 something was not, 2 nothing was written

examples:
  assistant sheet steps.xlsx -o my-pump.yaml
  assistant sheet page.txt -o my-pump.yaml       numbered steps, as pasted from a manual
  assistant check my-pump.yaml
  assistant sheet my-pump.yaml -o review.xlsx    for review; every key is in it
  assistant sheet review.xlsx -o my-pump.yaml --force"""


def add_parser(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands,
        "sheet",
        "make a procedure of a spreadsheet, or a spreadsheet of a procedure",
        "Make a procedure of the sheet of steps that a shop has (XLSX, ODS, CSV), or of numbered "
        "steps in a text file; or write a procedure into sheets for review, and take it back from "
        "there without loss.\n\n"
        "What is made of a shop's own sheet or text is a draft that nobody has approved. Check it, "
        "settle what is listed, and give it a revision before anyone works from it.",
        _EPILOG,
    )
    parser.add_argument(
        "source", metavar="FILE", help="a sheet, a text (.txt), or a procedure or sample"
    )
    parser.add_argument(
        "-o", "--out", type=Path, metavar="FILE", required=True, help="the file to write"
    )
    files.force_option(parser)
    parser.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from assistant.authoring import importing
    from assistant.procedure import reading

    ending, source = args.out.suffix.casefold(), Path(args.source)
    to_procedure = source.suffix.casefold() in importing.READ
    if to_procedure and ending in importing.PROCEDURES:
        written = importing.procedure_from(source)
    elif not to_procedure and ending in importing.SHEETS:
        written = importing.sheets_from(reading.find(args.source), ending)
    else:
        raise AssistantError(
            f"Cannot make {args.out} of {args.source}. A sheet (.xlsx, .ods, .csv) or a text "
            "(.txt) becomes a procedure (.yaml), and a procedure becomes a sheet."
        )
    files.write(args.out, written.contents, args.force)
    _tell(written, args.out, to_procedure)
    return 1 if written.left_to_do else 0


def _tell(written: Written, out: Path, is_procedure: bool) -> None:
    for told in written.told:
        _log.warning("%s", plain(told))
    steps = f"{written.steps} step{'s' if written.steps != 1 else ''}"
    print(plain(f"{out}: {steps}."))
    if written.left_to_do:
        print(plain(f"{written.left_to_do} to settle; each is in the file as a comment: TO DO."))
    if is_procedure:
        print(plain(f"Now: assistant check {out}"))
