"""The command line: puts the commands together, runs one, and words what goes wrong.

A command's module adds its parser when the program starts, and imports what it needs when the
command runs, so that help is quick.
"""

from __future__ import annotations

import argparse
import logging
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from assistant import __version__
from assistant.cli import (
    archives,
    compare,
    customer,
    devices,
    diagnostics,
    drafts,
    guide,
    orders,
    pages,
    photos,
    preview,
    procedures,
    publication,
    records,
    recurring,
    reports,
    run,
    sheets,
    sign_off,
    sound,
    sums,
    transcripts,
    verification,
    writing,
)
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)

_DESCRIPTION = (
    "A hands-free bench assistant: it reads a procedure aloud step by step, understands what the "
    "technician says, and keeps the record."
)
_EPILOG = """\
a first look:
  assistant demo                          a whole overhaul by voice, from recordings
  assistant demo --unwritten              a machine that nobody has written up, likewise
  assistant run pump-rebuild --typed      the same conversation, typed, without any sound
  assistant run winch-gearbox             by microphone
  assistant resume                        go on with the latest open job
  assistant listen                        choose jobs by voice, from power-on
  assistant report 1 -o job.html          the record of job 1 as a page
  assistant guide                         the guides, for each who uses it

The assistant reads out a shop's own procedures; it does not replace them. The maker's current
data, local codes and licensed practice come first.
"""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; return its exit status: 0 done, 1 done in part, 2 not done."""
    diagnostics.configure()
    parser, commands = _parser()
    words = list(sys.argv[1:] if arguments is None else arguments)
    if words[:1] == ["sum"]:
        words = sums.joined(words)
    try:
        _check_command(words, commands)
        args = parser.parse_args(words)
        if args.command is None:
            parser.print_help()
            return 2
        return int(args.run(args))
    except AssistantError as error:
        _log.error("%s", error)
        return 2
    except KeyboardInterrupt:
        _log.info("\nStopped. What was recorded is kept.")
        return 130
    except BrokenPipeError:
        # Whoever read our output (head, less) has gone; that is no error of ours.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _check_command(words: Sequence[str], commands: Commands) -> None:
    """Raise AssistantError for a command that there is not, with the one that may be meant."""
    name = words[0] if words else "-"
    if name.startswith("-") or name in commands.choices:
        return
    from assistant.text import did_you_mean

    raise AssistantError(
        f"There is no command {name}.{did_you_mean(name, commands.choices)} "
        "List them with: assistant --help"
    )


def _parser() -> tuple[argparse.ArgumentParser, Commands]:
    parser = argparse.ArgumentParser(
        prog="assistant",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"assistant {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    run.add_parsers(commands)
    records.add_parsers(commands)
    reports.add_parsers(commands)
    recurring.add_parser(commands)
    verification.add_parser(commands)
    archives.add_parsers(commands)
    orders.add_parser(commands)
    customer.add_parser(commands)
    sign_off.add_parser(commands)
    photos.add_parser(commands)
    publication.add_parser(commands)
    transcripts.add_parser(commands)
    pages.add_parser(commands)
    sound.add_parsers(commands)
    devices.add_parser(commands)
    procedures.add_parsers(commands)
    drafts.add_parser(commands)
    writing.add_parser(commands)
    preview.add_parser(commands)
    compare.add_parser(commands)
    sheets.add_parser(commands)
    sums.add_parser(commands)
    guide.add_parser(commands)
    return parser, commands
