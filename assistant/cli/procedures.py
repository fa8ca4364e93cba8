"""`assistant check` and `assistant samples`: procedure files, before anyone works from them."""

from __future__ import annotations

import argparse
import logging
from typing import TYPE_CHECKING

from assistant.cli.options import add_command
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)


def add_parsers(commands: Commands) -> None:
    """Add the commands."""
    check = add_command(
        commands,
        "check",
        "check procedure files before anyone works from them",
        "Read procedures and report every fault with its file and line.",
        "examples:\n  assistant check pump-rebuild\n  assistant check procedures/*.yaml",
    )
    check.add_argument("procedures", nargs="+", metavar="PROCEDURE")
    check.set_defaults(run=_check)

    samples = add_command(
        commands,
        "samples",
        "list the sample procedures",
        "List the invented procedures that come with the assistant. Their names can be given to "
        "run and check.",
    )
    samples.set_defaults(run=_samples)


def _check(args: argparse.Namespace) -> int:
    from assistant.procedure import reading

    faulty = 0
    for name in args.procedures:
        try:
            loaded = reading.load(reading.find(name))
        except AssistantError as error:
            _log.error("%s", error)
            faulty += 1
            continue
        procedure = loaded.procedure
        size = f"{len(procedure.steps)} steps in {len(procedure.stages)} stages"
        for warning in loaded.warnings:
            print(plain(warning))
        print(plain(f"{name}: good, revision {procedure.revision}, {size}"))
    return 2 if faulty else 0


def _samples(args: argparse.Namespace) -> int:
    from assistant.procedure import reading

    for name, path in reading.samples().items():
        procedure = reading.read(path)
        print(f"{name:20} {procedure.title}, {len(procedure.steps)} steps")
    return 0
