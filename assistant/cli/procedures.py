"""`assistant check` and `assistant samples`: procedure files, before anyone works from them."""

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
        "run and check. With --copy they are put into a folder, to be changed into one's own.",
        "example:\n  assistant samples --copy my-procedures",
    )
    samples.add_argument(
        "--copy", type=Path, metavar="FOLDER", help="copy them there; the folder is made if needed"
    )
    files.force_option(samples)
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

    if args.copy is not None:
        return _copied(args.copy, args.force)
    for name, path in reading.samples().items():
        procedure = reading.read(path)
        print(f"{name:20} {procedure.title}, {len(procedure.steps)} steps")
    return 0


def _copied(folder: Path, force: bool) -> int:
    """Copy the samples; none where one of them is there already, so that no half is left."""
    from assistant.procedure import reading

    samples = reading.samples()
    there = [path.name for path in samples.values() if (folder / path.name).exists()]
    if there and not force:
        raise AssistantError(
            f"There is {', '.join(there)} in {folder} already. Give another folder, or --force to "
            "write over it."
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise AssistantError(f"Cannot make the folder {folder}: {error.strerror}.") from error
    for path in samples.values():
        files.write(folder / path.name, path.read_text(encoding="utf-8"), force)
        print(plain(str(folder / path.name)))
    return 0
