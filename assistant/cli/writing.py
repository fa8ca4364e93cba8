"""`assistant new`: a procedure begun."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli import files
from assistant.cli.options import add_command
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands


def add_parser(commands: Commands) -> None:
    """Add the command."""
    new = add_command(
        commands,
        "new",
        "begin a procedure: a file with comments on how to go on",
        "Write the skeleton of a procedure. At a terminal it asks for what the options do not "
        "tell. 'check' finds nothing wrong with it; nobody has approved it, and it says so. The "
        "schema by which editors complete and explain keys is put beside it.",
        "examples:\n"
        "  assistant new -o my-pump.yaml\n"
        "  assistant new -o my-pump.yaml --title 'Oil pump overhaul' --machine 'gear oil pump' \\\n"
        "      --steps 'strip-down:' 'Take off the cover.' 'build-up:' 'Fit the cover.'",
    )
    new.add_argument("-o", "--out", type=Path, metavar="FILE", required=True)
    new.add_argument("--title", metavar="TEXT", help="what the job is called")
    new.add_argument("--machine", metavar="KIND", help="what kind of machine it is for")
    new.add_argument("--maker", metavar="NAME", help="who made the machine")
    new.add_argument("--model", metavar="NAME", help="what its maker calls it")
    new.add_argument("--author", metavar="NAME", help="who writes it")
    new.add_argument(
        "--steps",
        nargs="+",
        metavar="TEXT",
        help="what to do, a sentence a step; one that ends with a colon begins a stage",
    )
    files.force_option(new)
    new.set_defaults(run=_new)


def _new(args: argparse.Namespace) -> int:
    from assistant.authoring import schema, skeleton, wording

    asks = sys.stdin.isatty()
    if args.out.exists() and not args.force:
        files.write(args.out, "", force=False)  # Refused before anything is asked.
    told = skeleton.Told(
        title=args.title or _asked(asks, wording.ASK_TITLE, "--title"),
        machine=args.machine or _asked(asks, wording.ASK_MACHINE, "--machine"),
        steps=tuple(args.steps or (_lines(wording.ASK_STEPS) if asks else ())),
        maker=args.maker,
        model=args.model,
        author=args.author,
    )
    files.write(args.out, skeleton.write(told), args.force)
    beside = args.out.with_name(schema.FILE)
    if not beside.exists():
        files.write(beside, schema.text(), force=False)
    print(plain(f"{args.out}: begun. Go on in your editor, then: assistant check {args.out}"))
    return 0


def _asked(asks: bool, question: str, option: str) -> str:
    """Ask at the terminal until there is an answer; without one, say which option tells it."""
    if not asks:
        raise AssistantError(f"Give {option}, or run this at a terminal, where it asks.")
    while True:
        answer = _line(f"{question}\n> ")
        if answer is None:
            raise AssistantError("Nothing was written.")
        if answer:
            return answer


def _lines(question: str) -> list[str]:
    """Ask for lines until an empty one, or the end of what is typed."""
    print(question)
    found = []
    while line := _line("> "):
        found.append(line)
    return found


def _line(prompt: str) -> str | None:
    try:
        return input(prompt).strip()
    except EOFError:
        return None
