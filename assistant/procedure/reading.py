"""Reads a procedure file and checks it; names the line of every fault.

The text is parsed as YAML, validated by the model, then checked as a whole by `checking`. All
faults of a stage are reported together, so that the writer can mend them in one go. Fragments are
put into the text first (`fragments`); a fault is told where its line was written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import ValidationError
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from assistant import plain_yaml, resources
from assistant.errors import AssistantError
from assistant.procedure import checking, fragments
from assistant.procedure.model import Procedure
from assistant.text import did_you_mean

_ENDINGS = (".yaml", ".yml")


class ProcedureError(AssistantError):
    """A procedure file that cannot be used. Its text has one line for each fault: FILE:LINE: …"""


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
class Loaded:
    """A procedure file, read once: the procedure, its text, and warnings about it."""

    procedure: Procedure
    text: str
    warnings: tuple[str, ...]
    """Each as "FILE:LINE: warning: …", in the order of the lines."""


def load(path: Path) -> Loaded:
    """Read and check the procedure in `path`, with its text and warnings.

    Its text has the steps of the fragments that it includes. Raises ProcedureError naming the file,
    the line and what was expected for every fault, and AssistantError as `fragments.resolved` does.
    """
    source, whole = str(path), fragments.resolved(_text(path), path, _text)
    try:
        loaded = _loaded(whole.text, source)
    except ProcedureError as error:
        raise ProcedureError(whole.told(str(error))) from None
    return replace(loaded, warnings=tuple(map(whole.told, loaded.warnings)))


def _loaded(text: str, source: str) -> Loaded:
    tree = _tree(text, source)
    procedure = _validated(tree, source)
    if procedure.unwritten is not None:
        wrong = "the program writes this key itself, for a job without a procedure; leave it out"
        raise _error(source, tree, [(("unwritten",), wrong)])
    found = sorted((_line(tree, where), what) for where, what in checking.warnings(procedure))
    warnings = tuple(f"{source}:{line}: warning: {_ended(what)}" for line, what in found)
    return Loaded(procedure, text, warnings)


def read(path: Path) -> Procedure:
    """Read and check the procedure in `path`. Raises ProcedureError as `load` does."""
    return load(path).procedure


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > plain_yaml.MOST_BYTES:
            raise ProcedureError(
                f"{path}:1: larger than a procedure can be ({plain_yaml.MOST_BYTES} bytes)."
            )
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise AssistantError(f"Cannot read {path}: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise ProcedureError(
            f"{path}: not UTF-8 text (byte {error.start}). Save the file as UTF-8."
        ) from error


def parse(text: str, source: str, *, stored: bool = False) -> Procedure:
    """Read a procedure from its text. Raises ProcedureError, with `source` as the file's name.

    `stored` is for the text kept with a job. It was checked when the job began, so unknown keys are
    ignored and the checks of the whole are left out: a newer version of this program must not lock
    a technician out of a job.
    """
    return _validated(_tree(text, source), source, stored)


def _validated(tree: CommentedMap, source: str, stored: bool = False) -> Procedure:
    try:
        procedure = Procedure.model_validate(_plain(tree), context={"stored": stored})
    except ValidationError as error:
        faults = []
        found = error.errors()
        for fault in found:
            inner = len(fault["loc"])
            if fault["type"] == "too_short" and any(
                other is not fault and other["loc"][:inner] == fault["loc"] for other in found
            ):
                # The list is short only because its bad entries do not count; they are reported.
                continue
            where: tuple[Any, ...] = tuple(fault["loc"])
            if fault["type"] == "unknown_key":
                where += (fault["ctx"]["key"],)
            faults.append((where, _expected(fault)))
        raise _error(source, tree, faults) from None
    faults = [] if stored else list(checking.faults(procedure))
    if faults:
        raise _error(source, tree, faults)
    return procedure


def _tree(text: str, source: str) -> CommentedMap:
    try:
        tree = plain_yaml.load(text)
    except MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        problem = (error.problem or "not YAML").splitlines()[0]
        raise ProcedureError(f"{source}:{line}: {problem}.") from None
    except YAMLError as error:
        raise ProcedureError(f"{source}:1: {str(error).splitlines()[0]}.") from None
    if not isinstance(tree, CommentedMap):
        raise ProcedureError(
            f"{source}:1: expected a procedure, starting with a line such as procedure: my-pump."
        )
    return tree


def _plain(node: Any) -> Any:
    """Return the YAML tree as plain dicts and lists."""
    if isinstance(node, CommentedMap):
        return {str(key): _plain(value) for key, value in node.items()}
    if isinstance(node, CommentedSeq):
        return [_plain(value) for value in node]
    return node


def _expected(fault: Any) -> str:
    kind, message = fault["type"], str(fault["msg"])
    if kind == "missing":
        return f"the key '{fault['loc'][-1]}' is missing here"
    message = message.removeprefix("Value error, ")
    if kind == "string_pattern_mismatch":
        if "'" in fault["ctx"]["pattern"]:
            message = "expected words to be said aloud (letters only, numbers spelt out)"
        else:
            message = "expected a short name of small letters, digits and hyphens"
    value = fault.get("input")
    if isinstance(value, str | int | float) and repr(value) not in message:
        shown = repr(value)
        message += f", not {shown if len(shown) <= 80 else shown[:77] + '…'}"
    return message[0].lower() + message[1:]


def _error(
    source: str, tree: CommentedMap, faults: Sequence[tuple[tuple[Any, ...], str]]
) -> ProcedureError:
    lines = sorted((_line(tree, where), _path(where), message) for where, message in faults)
    return ProcedureError(
        "\n".join(f"{source}:{line}: {_ended(path + message)}" for line, path, message in lines)
    )


def _ended(text: str) -> str:
    return text if text[-1] in ".?" else f"{text}."


def _path(where: Sequence[Any]) -> str:
    names = [str(part) for part in where if isinstance(part, str)]
    return f"{names[-1]}: " if names else ""


def _line(tree: Any, where: Sequence[Any]) -> int:
    """Return the line, from 1, of the deepest part of `where` that the file holds."""
    node, line = tree, 1
    for part in where:
        if isinstance(node, CommentedMap) and part in node:
            line = node.lc.key(part)[0] + 1
        elif isinstance(node, CommentedSeq) and isinstance(part, int) and part < len(node):
            line = node.lc.item(part)[0] + 1
        else:
            # pydantic adds the branch of a union to the place; the file has no such key.
            continue
        node = node[part]
    return line
