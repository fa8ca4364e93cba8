"""`assistant check` and `assistant samples`: procedure files, before anyone works from them."""

from __future__ import annotations

import argparse
import json
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli import files
from assistant.cli.options import add_command
from assistant.errors import AssistantError
from assistant.procedure.problems import Severity
from assistant.text import escaped, plain

if TYPE_CHECKING:
    from assistant.authoring.checks import Checked
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)

_CHECK_EPILOG = """\
exit status:
  0  nothing keeps any of them from being run
  1  with --strict: there are warnings, and no errors
  2  at least one has an error or cannot be read

examples:
  assistant check pump-rebuild
  assistant check procedures/*.yaml
  assistant check --strict --sarif procedures/*.yaml > check.sarif
"""


def add_parsers(commands: Commands) -> None:
    """Add the commands."""
    check = add_command(
        commands,
        "check",
        "check procedure files before anyone works from them",
        "Read procedures and report every fault with its file and line, and what to write instead."
        "\n\nAn error keeps a procedure from being run. A warning does not, and is probably a "
        "mistake. A note says how something is taken.",
        _CHECK_EPILOG,
    )
    check.add_argument("procedures", nargs="+", metavar="PROCEDURE")
    check.add_argument(
        "--no-hearing",
        dest="hearing",
        action="store_false",
        help="leave out whether names can be told apart by ear",
    )
    check.add_argument("--strict", action="store_true", help="count warnings as a failure (1)")
    output = check.add_mutually_exclusive_group()
    output.add_argument("--json", action="store_true", help="one JSON object on standard output")
    output.add_argument(
        "--sarif", action="store_true", help="SARIF 2.1.0 on standard output, for editors and CI"
    )
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
    from assistant.authoring import checks

    found = []
    for name, checked in zip(
        args.procedures, checks.check_all(args.procedures, args.hearing), strict=True
    ):
        found.append(checked)
        if not (args.json or args.sarif):
            _print(name, checked)
    if args.json:
        _print_json({"version": "1.0", "files": [one.data() for one in found]})
    elif args.sarif:
        from assistant import __version__
        from assistant.authoring import sarif

        _print_json(sarif.log(found, __version__))
    if not all(one.good for one in found):
        return 2
    warned = any(each.severity is Severity.WARNING for one in found for each in one.problems)
    return 1 if args.strict and warned else 0


def _print(name: str, checked: Checked) -> None:
    for problem in checked.problems:
        shown = problem.shown(checked.source)
        if problem.severity is Severity.ERROR:
            _log.error("%s", shown)
        else:
            print(plain(shown))
    if checked.good:
        size = f"{checked.steps} steps in {checked.stages} stages"
        print(plain(f"{name}: good, revision {checked.revision}, {size}"))


def _print_json(data: object) -> None:
    print(escaped(json.dumps(data, ensure_ascii=False, indent=1)))


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
