"""Steps that are written once and included in several procedures: a leak test, an isolation.

At the place of a step stands the name of a fragment's file. Its steps are put there before the
procedure is read, as text, with the values filled in that were given. So what is kept with a job is
the whole text that was worked from, and nobody needs the fragment's file to read it again. Where
each line came from is known (`Whole`), so that a fault is told at the place where it can be mended.

A file is taken only where its name ends as a procedure's does and is not absolute; includes in a
circle are refused, and so is more than a procedure can hold.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Annotated, NoReturn

from pydantic import Field
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import YAMLError

from assistant import plain_yaml, resources
from assistant.errors import AssistantError
from assistant.procedure import yaml_lines
from assistant.procedure.model import Ident, Model, Spoken, Step
from assistant.procedure.origins import Origin, Whole, under
from assistant.text import did_you_mean, plain

ENDINGS = (".yaml", ".yml")
_MOST = 500
"""Most includes in one procedure, those in fragments counted each time."""
_DEEPEST = 10
"""Most fragments in each other."""
_BLANK = re.compile(r"<([a-z][a-z0-9-]*)>")
"""A value to fill in, as it stands in a fragment."""
_VALUE = re.compile(r"<[a-z][a-z0-9-]*>|(?:[+-](?=\d))?[^\W_](?:[\w ./·°²³µ%+-]*[\w.%°²³])?")
"""What can be filled in: it can be no YAML, wherever it stands."""


class Include(Model):
    """Steps from a fragment, in the place of a step of a stage."""

    include: Annotated[str, Field(max_length=200)]
    """The fragment's file, as seen from this one: `shared/leak-test.yaml`."""
    values: dict[Ident, str | int | float] = Field(default_factory=dict)
    """What to fill in, each `name: value`, for what stands as `<name>` in the fragment."""


class Fragment(Model):
    """A file of steps to be included in procedures. It is nothing to work from by itself."""

    fragment: Ident
    """The fragment's own name."""
    about: Spoken | None = None
    """What it is for, for whoever writes procedures; it is not spoken."""
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=500)]
    """Its steps, in order, or further fragments to include. `<name>` stands for a value that is
    told where it is included."""


PARTS: tuple[type[Model], ...] = (Include, Fragment)
"""What a file has of this, for the reference of its keys."""


class IncludeError(AssistantError):
    """An include that cannot be followed. Its text is FILE:LINE: include: …"""

    def __init__(self, source: str, line: int, told: str) -> None:
        self.source, self.line, self.told = source, line, told
        super().__init__(f"{source}:{line}: include: {told}.")


def resolved(
    text: str, tree: CommentedMap | None, path: Path, read: Callable[[Path], str]
) -> Whole:
    """Return a procedure's text with the steps of its fragments in their places.

    `tree` is the text as read, None where it is no YAML. `read` reads a file. Raises IncludeError
    for an include that cannot be followed, and for a fragment that is read as if it were a
    procedure.
    """
    if tree is None:
        return Whole(str(path), text)
    if "fragment" in tree and "procedure" not in tree:
        told = "this is a fragment; check or run a procedure that includes it"
        raise IncludeError(str(path), tree.lc.key("fragment")[0] + 1, told)
    return _Resolver(read).whole(text, tree, path, (path,))


class _Resolver:
    """Puts fragments in their places, and counts them."""

    def __init__(self, read: Callable[[Path], str]) -> None:
        self._read = read
        self._count = self._size = 0

    def whole(self, text: str, tree: CommentedMap, path: Path, through: tuple[Path, ...]) -> Whole:
        """Return a file's text with its fragments; `through` are the files that led here."""
        lines = text.splitlines()
        found: list[str] = []
        origins: list[Origin] = []
        done = 0
        for entry, start in _includes(tree):
            here = Origin(str(path), start + 1)
            if not lines[start].lstrip().startswith("- "):
                _refuse(here, "begin it on a line of its own, as in - include: leak-test.yaml")
            margin = " " * yaml_lines.indent(lines[start])
            inside = self._steps(entry, here, through)
            found += lines[done:start]
            origins += [Origin(here.source, n + 1) for n in range(done, start)]
            found += [margin + line if line else "" for line, _ in inside]
            origins += [under(origin, here) for _, origin in inside]
            done = yaml_lines.end_of_entry(lines, start)
        if not found:
            return Whole(str(path), text)
        found += lines[done:]
        origins += [Origin(str(path), n + 1) for n in range(done, len(lines))]
        whole = "\n".join(found) + "\n"
        if len(whole) > plain_yaml.MOST_BYTES:
            _refuse(Origin(str(path), 1), "with its fragments it is larger than a file can be")
        return Whole(str(path), whole, tuple(origins))

    def _steps(
        self, entry: CommentedMap, here: Origin, through: tuple[Path, ...]
    ) -> list[tuple[str, Origin]]:
        """Return the lines of a fragment's steps, from the margin, each with its origin."""
        name, values = _checked(entry, here)
        path = through[-1].parent / name
        if not resources.is_file(path):
            _refuse(here, f"there is no file {path}")
        if path.resolve() in [one.resolve() for one in through]:
            round_again = ", which includes ".join(str(one) for one in (*through, path))
            _refuse(here, f"a circle of fragments: {round_again}")
        if len(through) > _DEEPEST:
            _refuse(here, f"fragments in each other more than {_DEEPEST} deep")
        text = self._read(path)
        self._count += 1
        self._size += len(text)
        if self._count > _MOST or self._size > plain_yaml.MOST_BYTES:
            _refuse(
                here, f"more than {_MOST} fragments, or than {plain_yaml.MOST_BYTES} characters"
            )
        whole = self.whole(text, _fragment(text, path), path, (*through, path))
        lines = _filled(_body(whole), values, here, name)
        name = plain(name)
        head = f"# From {name}:" if not values else f"# From {name}, with {_listed(values)}:"
        return [(head, here), *lines]


def _checked(entry: CommentedMap, here: Origin) -> tuple[str, dict[str, str]]:
    for key in entry:
        if key not in Include.model_fields:
            hint = did_you_mean(str(key), Include.model_fields).strip()
            _refuse(here, f"beside it stands only values, not {key}. {hint}".strip())
    name, values = entry["include"], entry.get("values") or {}
    if not isinstance(name, str) or not name.endswith(ENDINGS) or Path(name).is_absolute():
        told = "write the fragment's file as seen from this one, such as shared/leak-test.yaml"
        _refuse(here, told)
    if not isinstance(values, CommentedMap | dict):
        _refuse(here, "write values as pairs, such as values: {pressure: 2 bar}")
    found = {str(key): str(value).strip() for key, value in values.items()}
    for key, value in found.items():
        if not _VALUE.fullmatch(value):
            told = f"{key}: a value is words, numbers and units, such as 25 N·m, not {value!r}"
            _refuse(here, f"{told}; write longer text into the fragment")
    return name, found


def _fragment(text: str, path: Path) -> CommentedMap:
    """Return the tree of a fragment's file; one that is none is refused."""
    top = Origin(str(path), 1)
    try:
        tree = plain_yaml.load(text)
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        problem = getattr(error, "problem", None) or str(error)
        line = mark.line + 1 if mark else 1
        _refuse(Origin(str(path), line), problem.splitlines()[0])
    if not isinstance(tree, CommentedMap) or "fragment" not in tree:
        _refuse(top, "no fragment: one begins with a line such as fragment: leak-test")
    for key in tree:
        if key not in Fragment.model_fields:
            line = tree.lc.key(key)[0] + 1
            hint = did_you_mean(str(key), Fragment.model_fields)
            _refuse(Origin(str(path), line), f"a fragment has no key {key}.{hint}")
    steps = tree.get("steps")
    if not isinstance(steps, CommentedSeq) or not steps or steps.fa.flow_style():
        _refuse(top, "a fragment has steps, each beginning with a hyphen on its own line")
    return tree


def _refuse(at: Origin, told: str) -> NoReturn:
    raise IncludeError(at.source, at.line, told.rstrip("."))


def _filled(
    body: Sequence[tuple[str, Origin]],
    values: Mapping[str, str],
    here: Origin,
    name: str,
) -> Iterator[tuple[str, Origin]]:
    """Yield the lines with the values filled in; comments stay as they are."""
    wanted = {
        blank: None
        for line, _ in body
        if not line.lstrip().startswith("#")
        for blank in _BLANK.findall(line)
    }
    for key in values:
        if key not in wanted:
            _refuse(here, f"{name} has no <{key}> to fill in.{did_you_mean(key, wanted)}")
    missing = [key for key in wanted if key not in values]
    if missing:
        pairs = ", ".join(f"{key}: …" for key in missing)
        _refuse(here, f"{name} has to be told values: {{{pairs}}}")
    for line, origin in body:
        if not line.lstrip().startswith("#"):
            line = _BLANK.sub(lambda blank: values[blank[1]], line)
        yield line, origin


def _includes(tree: CommentedMap) -> list[tuple[CommentedMap, int]]:
    """Return the includes of a procedure or a fragment, each with its line, from 0, in order."""
    stages = tree.get("stages")
    stages = stages if isinstance(stages, CommentedSeq) else ()
    lists = [stage.get("steps") for stage in stages if isinstance(stage, CommentedMap)]
    # By the line, for an alias names the same list once more.
    found = {
        steps.lc.item(number)[0]: entry
        for steps in [*lists, tree.get("steps")]
        if isinstance(steps, CommentedSeq)
        for number, entry in enumerate(steps)
        if isinstance(entry, CommentedMap) and "include" in entry
    }
    return [(found[line], line) for line in sorted(found)]


def _body(whole: Whole) -> list[tuple[str, Origin]]:
    """Return the lines of a fragment's steps, from the margin, each with its origin."""
    lines = whole.text.splitlines()
    first = plain_yaml.load(whole.text)["steps"].lc.item(0)[0]
    margin = yaml_lines.indent(lines[first])
    return [
        (lines[n][min(margin, yaml_lines.indent(lines[n])) :], whole.origin(n + 1))
        for n in range(*yaml_lines.block(lines, first))
    ]


def _listed(values: Mapping[str, str]) -> str:
    return ", ".join(f"{key} {value}" for key, value in values.items())
