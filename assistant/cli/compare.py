"""`assistant compare`: two revisions of a procedure, step by step."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from assistant.cli.options import add_command
from assistant.text import escaped, plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands


def add_parser(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands,
        "compare",
        "show two revisions of a procedure, step by step",
        "Tell what differs between two revisions: which steps are new, gone, moved or changed, "
        "and what each key was and is now. How a file is laid out, and its comments, do not "
        "matter.",
        "examples:\n  assistant compare old/my-pump.yaml my-pump.yaml\n"
        "  assistant compare old/my-pump.yaml my-pump.yaml --json",
    )
    parser.add_argument("was", help="the earlier revision: a file, or the name of a sample")
    parser.add_argument("now", help="the later one")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from assistant.authoring import revision_wording
    from assistant.procedure import reading, revisions

    was, now = (reading.read(reading.find(name)) for name in (args.was, args.now))
    found = revisions.changes(was, now)
    if args.json:
        print(escaped(revision_wording.as_json(was, now, found)))
        return 0
    for line in revision_wording.lines(was, now, found):
        print(plain(line))
    return 0
