"""Reads a procedure file and checks it; names the line of every fault.

The text is parsed as YAML, validated by the model, then checked as a whole by `checking`. So that
the writer can mend all faults in one go, reading goes on after each: a mistake in YAML is mended
for the next stage (`mending`), and a step with a bad value is left out of it. Fragments are put
into the text first (`fragments`); a fault is told where its line was written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from ruamel.yaml.comments import CommentedMap
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from assistant import plain_yaml, resources
from assistant.errors import AssistantError
from assistant.procedure import (
    checking,
    cut_short,
    encodings,
    explaining,
    fragments,
    mending,
    trees,
)
from assistant.procedure.model import Procedure
from assistant.procedure.origins import Whole
from assistant.procedure.problems import Fault, Place, Problem, Severity, ended, errors, in_order
from assistant.text import did_you_mean

_ENDINGS = (".yaml", ".yml")
_MOST_MENDS = 20
"""Most mistakes in YAML that are told of in one file; each is another reading of the file."""
_MOST_READ_AGAIN = 1_000_000
"""Most characters that are read for them in all, so that a long file is soon told of."""
Check = Callable[[Procedure], Iterable[Fault]]
"""A further check of a whole procedure, which this floor cannot do itself."""


class ProcedureError(AssistantError):
    """A procedure file that cannot be used. Its text has one line for each fault: FILE:LINE: …"""

    def __init__(self, source: str, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(one.shown(source) for one in problems))
        self.problems = tuple(problems)


def find(name: str) -> Path:
    """Return the file of a procedure, given as a path or by the name of a sample.

    Raises AssistantError, with the samples' names, if there is no such file.
    """
    try:
        path = Path(name).expanduser()
        if path.is_file():
            return path
    except (OSError, RuntimeError) as error:
        # A name too long for the file system, a folder without permission, an unknown ~user.
        raise AssistantError(f"Cannot look for the procedure {name[:80]}: {error}.") from error
    if path.suffix in _ENDINGS or len(path.parts) > 1:
        raise AssistantError(f"There is no procedure file {name}. Check the path.")
    known = samples()
    if name in known:
        return known[name]
    raise AssistantError(
        f"There is no procedure file or sample called {name}.{did_you_mean(name, known)} "
        f"The samples are {', '.join(known)}; or give a path such as ./{name}.yaml."
    )


def samples() -> dict[str, Path]:
    """Return the sample procedures that ship with the assistant, by name."""
    folder = resources.folder("procedures")
    return {path.stem: path for path in sorted(folder.glob("*.yaml"))}


@dataclass(frozen=True)
class Inspection:
    """All that reading a file found."""

    source: str
    """The file, as it was named."""
    text: str
    procedure: Procedure | None
    """The procedure; None where there is an error."""
    problems: tuple[Problem, ...]
    """In the order of the lines."""
    line: Callable[[Place], int]
    """Gives the line of a place in the text."""
    whole: Whole
    """Where the lines of the text were written."""

    def problem(self, rule: str, severity: Severity, fault: Fault) -> Problem:
        """Return what a further check found, with the place where it was written."""
        where, what = fault
        text = ended(_path(where) + what)
        return _written(Problem(self.line(where), text, severity, rule), self.whole)


@dataclass(frozen=True)
class Loaded:
    """A procedure file, read once: the procedure, its text, and warnings about it."""

    procedure: Procedure
    text: str
    warnings: tuple[str, ...]
    """Each as "FILE:LINE: warning: …", in the order of the lines."""
    path: Path | None = None
    """The file that it was read from."""


def load(path: Path, refused: Check | None = None) -> Loaded:
    """Read and check the procedure in `path`, with its text and warnings.

    Its text has the steps of the fragments that it includes. `refused` is a further check, whose
    faults are errors under the rule "commands". Raises ProcedureError naming the file, the line and
    what was expected for every fault.
    """
    found = inspect(path, refused)
    wrong = errors(found.problems)
    if wrong or found.procedure is None:
        raise ProcedureError(found.source, wrong)
    warnings = (one for one in found.problems if one.severity is Severity.WARNING)
    told = tuple(one.shown(found.source) for one in warnings)
    return Loaded(found.procedure, found.text, told, path)


def inspect(path: Path, refused: Check | None = None) -> Inspection:
    """Read the procedure in `path` and return all that is wrong with it.

    Raises AssistantError where the file cannot be read at all.
    """
    source = str(path)
    try:
        own = _Reader(_text(path))
        # With what is wrong in the YAML mended, so that the fragments are found all the same.
        whole = fragments.resolved(own.text, own.tree, path, _text)
    except ProcedureError as error:
        return _unread(source, error.problems)
    except fragments.IncludeError as error:
        where = "" if error.source == source else error.source
        told = Problem(
            error.line, f"include: {ended(error.told)}", Severity.ERROR, "references", where
        )
        return _unread(source, in_order([*own.problems, told]))
    reader = _Reader(whole.text) if whole.origins else own
    procedure = reader.procedure()
    if procedure is not None:
        if procedure.unwritten is not None:
            wrong = (
                "the program writes this key itself, for a job without a procedure; leave it out"
            )
            reader.add("keys", [(("unwritten",), wrong)])
        for rule, severity, found in checking.all_of(procedure):
            reader.add(rule, found, severity)
        if refused is not None:
            reader.add("commands", refused(procedure))
        reader.add("hearing", trees.names_with_figures(reader.tree), Severity.NOTE)
    written = [_written(one, whole) for one in reader.problems]
    problems = in_order([*written, *(() if reader is own else own.problems)])
    if errors(problems):
        procedure = None
    return Inspection(source, whole.text, procedure, problems, reader.line, whole)


def _unread(source: str, problems: tuple[Problem, ...]) -> Inspection:
    """Return what there is of a file whose text cannot be had."""
    return Inspection(source, "", None, problems, lambda place: 1, Whole(source, ""))


def _written(problem: Problem, whole: Whole) -> Problem:
    """Return a problem of a whole text with the place where its line was written."""
    if not whole.origins:
        return problem
    origin = whole.origin(problem.line)
    source = "" if origin.source == whole.source else origin.source
    return replace(problem, line=origin.line, text=problem.text + origin.by_way_of, source=source)


def read(path: Path) -> Procedure:
    """Read and check the procedure in `path`. Raises ProcedureError as `load` does."""
    return load(path).procedure


def parse(text: str, source: str, *, stored: bool = False) -> Procedure:
    """Read a procedure from its text. Raises ProcedureError, with `source` as the file's name.

    Only what keeps it from being read as a whole is refused here; `load` refuses what is dangerous,
    too. `stored` is for the text kept with a job. It was checked when the job began, so unknown
    keys are ignored and the checks of the whole are left out: a newer version of this program must
    not lock a technician out of a job.
    """
    reader = _Reader(text, stored=stored)
    procedure = reader.procedure()
    if procedure is not None and not stored:
        reader.add("references", checking.faults(procedure))
    if procedure is None or reader.problems:
        raise ProcedureError(source, in_order(reader.problems))
    return procedure


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > plain_yaml.MOST_BYTES:
            raise _refused(path, f"larger than a procedure can be ({plain_yaml.MOST_BYTES} bytes)")
        found = encodings.decoded(path.read_bytes())
    except OSError as error:
        raise AssistantError(f"Cannot read {path}: {error.strerror}.") from error
    except encodings.UnknownEncoding as error:
        raise _refused(path, str(error), error.line) from error
    return found


def _refused(path: Path, what: str, line: int = 1) -> ProcedureError:
    problem = Problem(line, ended(what), Severity.ERROR, "file", str(path))
    return ProcedureError(str(path), [problem])


class _Reader:
    """Reads one text and collects what is wrong with it."""

    def __init__(self, text: str, *, stored: bool = False) -> None:
        self.problems: list[Problem] = []
        self._stored = stored
        self.text = text
        """With the mistakes in its YAML mended that could be."""
        self.tree = self._read()

    def line(self, place: Place) -> int:
        """Return the line, from 1, of the deepest part of a place that the file holds."""
        return trees.line(self.tree, place)

    def add(self, rule: str, faults: Iterable[Fault], severity: Severity = Severity.ERROR) -> None:
        """Keep faults as problems, each with its line."""
        for where, what in faults:
            text = ended(_path(where) + what)
            self.problems.append(Problem(self.line(where), text, severity, rule))

    def procedure(self) -> Procedure | None:
        """Return the procedure as the model takes it; None where it refuses something."""
        if self.tree is None:
            return None
        plain = trees.plain(self.tree)
        try:
            return Procedure.model_validate(plain, context={"stored": self._stored})
        except ValidationError as error:
            refused = list(explaining.faults(error))
        self.add("keys", refused)
        if not self._stored:
            self._go_on(plain, refused)
        return None

    def _go_on(self, plain: Any, refused: Sequence[Fault]) -> None:
        """Check the steps that the model takes, without those in which it refuses something."""
        if any(where[:1] != ("stages",) or len(where) < 5 for where, _ in refused):
            return
        for stage, step in {(where[1], where[3]) for where, _ in refused}:
            # A step of which nothing is known but that it is there keeps the others in their place.
            plain["stages"][stage]["steps"][step] = {"id": f"left-out-{stage}-{step}", "say": "…"}
        try:
            rest = Procedure.model_validate(plain)
        except ValidationError:
            return
        for rule, severity, found in checking.of_single_steps(rest):
            self.add(rule, found, severity)

    def _read(self) -> CommentedMap | None:
        mends = min(_MOST_MENDS, _MOST_READ_AGAIN // (len(self.text) + 1))
        for _ in range(1 if self._stored else max(1, mends)):
            try:
                tree = plain_yaml.load(self.text)
            except MarkedYAMLError as error:
                found = mending.mend(self.text, error)
                self._yaml(found.line, found.text)
                if found.mended is None or found.mended == self.text:
                    return None
                self.text = found.mended
                continue
            except YAMLError as error:
                self._yaml(1, str(error).splitlines()[0])
                return None
            if not isinstance(tree, CommentedMap):
                self._yaml(
                    1, "expected a procedure, starting with a line such as procedure: my-pump"
                )
                return None
            if not self._stored:
                for line, what, severity in cut_short.found(tree, self.text):
                    self._yaml(line, what, severity)
            return tree
        return None

    def _yaml(self, line: int, what: str, severity: Severity = Severity.ERROR) -> None:
        self.problems.append(Problem(line, ended(what), severity, "yaml"))


def _path(where: Place) -> str:
    names = [str(part) for part in where if isinstance(part, str)]
    return f"{names[-1]}: " if names else ""
