"""Checks procedure files for their writers: one file or a thousand, with advice on hearing.

A `Checked` is plain data, so files can be checked by several processes at once.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from assistant.dialogue import answers
from assistant.errors import AssistantError
from assistant.procedure import reading
from assistant.procedure.problems import Problem, Severity, errors, in_order

_FEW = 4
"""Up to so many files are checked in this process: to start another takes as long."""


@dataclass(frozen=True)
class Checked:
    """What checking found in one file."""

    source: str
    """The file, or the sample's name, as it was given."""
    revision: str
    """Empty where the file has errors, and so are the counts."""
    steps: int
    stages: int
    problems: tuple[Problem, ...]
    """In the order of the lines."""

    @property
    def good(self) -> bool:
        """Whether nothing keeps it from being worked from."""
        return not errors(self.problems)

    def data(self) -> dict[str, Any]:
        """Return it as the plain data of `assistant check --json`."""
        return {
            "file": self.source,
            "good": self.good,
            "revision": self.revision or None,
            "stages": self.stages,
            "steps": self.steps,
            "problems": [
                {
                    "file": one.source or self.source,
                    "line": one.line,
                    "severity": str(one.severity),
                    "rule": one.rule,
                    "text": one.text,
                }
                for one in self.problems
            ],
        }


def check(name: str, hearing: bool = True) -> Checked:
    """Check one procedure, given as a path or by the name of a sample; never raises."""
    try:
        path = reading.find(name)
        found = reading.inspect(path, answers.that_are_commands)
    except AssistantError as error:
        return Checked(name, "", 0, 0, (Problem(1, str(error), Severity.ERROR, "file"),))
    problems = list(found.problems)
    procedure = found.procedure
    if procedure is None:
        return Checked(str(path), "", 0, 0, tuple(problems))
    if hearing:
        from assistant.authoring.hearing import hints

        problems += [
            found.problem("hearing", severity, fault) for fault, severity in hints(procedure)
        ]
    return Checked(
        str(path),
        procedure.revision,
        len(procedure.steps),
        len(procedure.stages),
        in_order(problems),
    )


def check_all(names: Sequence[str], hearing: bool = True) -> Iterator[Checked]:
    """Yield each file checked, in the order given; many are shared among the processors."""
    of_one = partial(check, hearing=hearing)
    if len(names) <= _FEW:
        yield from map(of_one, names)
        return
    workers = min(len(names), os.cpu_count() or 1)
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(of_one, names, chunksize=max(1, min(8, len(names) // workers)))


def uri(source: str) -> str:
    """Return the address of a file for other programs: relative to where we are, if it is below."""
    path = Path(source)
    try:
        return path.resolve().relative_to(Path.cwd()).as_posix()
    except ValueError:
        return path.resolve().as_uri()
