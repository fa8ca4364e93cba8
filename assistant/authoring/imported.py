"""A procedure as it comes out of another file, with what was noticed in reading it.

The readers of sheets and of plain text fill an `Imported`; `settled` takes out what the model
refuses, so that it stands in the file as a comment and not as a value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import ValidationError

from assistant.procedure.model import Procedure
from assistant.text import did_you_mean

Path = tuple[str | int, ...]
"""Where something stands in a procedure: keys and numbers in lists, from 0."""


@dataclass(frozen=True)
class Remark:
    """Something that a person has to look at."""

    text: str
    """A sentence without its full stop, or with a question mark."""
    place: str = ""
    """The cell or line that it is about, "" if it is about the whole."""
    at: Path = ()
    """Where it is marked in the file. () for its top."""
    lost: bool = True
    """Whether something of what was written could not be read. If not, it was taken as told."""

    def __str__(self) -> str:
        return f"{self.place}: {self.text}" if self.place else self.text


@dataclass
class Imported:
    """What was read."""

    tree: dict[str, Any] = field(default_factory=dict)
    """The procedure as plain maps, lists and values, as its file has it."""
    places: dict[Path, str] = field(default_factory=dict)
    """What cell or line each value comes from."""
    remarks: list[Remark] = field(default_factory=list)
    notes: list[tuple[Path, str]] = field(default_factory=list)
    """What else was written beside a step: it only stands in the file, as a comment."""

    def tell(self, text: str, place: str = "", at: Path = (), *, lost: bool = True) -> None:
        """Add a remark."""
        self.remarks.append(Remark(text, place, at, lost))

    def place(self, at: Path) -> str:
        """Return what cell or line a value, or what it is part of, comes from; "" if from none."""
        for end in range(len(at), 0, -1):
            if at[:end] in self.places:
                return self.places[at[:end]]
        return ""

    @property
    def steps(self) -> int:
        """How many steps it has."""
        return sum(len(stage["steps"]) for stage in self.tree.get("stages", []))


def settled(read: Imported) -> Imported:
    """Take out each value that the model refuses, and say so. What is needed is left where it
    stands, for `check` to name.
    """
    told: set[Path] = set()
    for _ in range(len(read.places) + 1):
        taken_out = False
        for fault in _faults(read.tree):
            at = _known(read.tree, fault["loc"])
            if at in told:
                continue
            told.add(at)
            missing = fault["type"] == "missing"
            where = (*at, fault["loc"][-1]) if missing else at
            read.tell(_said(read.tree, at, fault), read.place(where), at)
            if not missing and at and not _needed(read.tree, at):
                del _parent(read.tree, at)[at[-1]]
                taken_out = True
                # The numbers of what follows in a list have changed.
                if isinstance(at[-1], int):
                    break
        if not taken_out:
            break
    return read


def _faults(tree: dict[str, Any]) -> Sequence[Any]:
    try:
        Procedure.model_validate(tree)
    except ValidationError as error:
        found = error.errors()
        # A list is also said to be too short if its bad entries do not count; they are reported.
        return [
            fault
            for fault in found
            if fault["type"] != "too_short"
            or not any(
                other is not fault and other["loc"][: len(fault["loc"])] == fault["loc"]
                for other in found
            )
        ]
    return ()


def _known(tree: Any, location: Sequence[str | int]) -> Path:
    """Return the part of a fault's location that the tree has; pydantic adds the branches of
    unions to it.
    """
    found: list[str | int] = []
    for part in location:
        known = (
            part in tree
            if isinstance(tree, dict)
            else isinstance(tree, list) and isinstance(part, int) and part < len(tree)
        )
        if known:
            found.append(part)
            tree = tree[part]
    return tuple(found)


def _parent(tree: Any, at: Path) -> Any:
    for part in at[:-1]:
        tree = tree[part]
    return tree


def _needed(tree: dict[str, Any], at: Path) -> bool:
    """Whether without this value something is missing."""
    parent = _parent(tree, at)
    if isinstance(parent, list):
        return len(parent) == 1
    before = dict(parent)
    del parent[at[-1]]
    missing = any(
        fault["type"] == "missing" and _known(tree, fault["loc"]) == at[:-1]
        and fault["loc"][-1] == at[-1]
        for fault in _faults(tree)
    )  # fmt: skip
    parent.clear()
    parent.update(before)  # in the order in which it was
    return missing


def _said(tree: dict[str, Any], at: Path, fault: Any) -> str:
    if fault["type"] == "missing":
        of = _parent(tree, (*at, ""))
        name = next((of[key] for key in ("name", "part", "fastener") if key in of), None)
        return f"{f'{name}: ' if name else ''}'{fault['loc'][-1]}' is missing; write it"
    message = str(fault["msg"]).removeprefix("Value error, ")
    message = message[:1].lower() + message[1:]
    if fault["type"] == "string_pattern_mismatch":
        message = (
            "expected words to be said aloud (letters only, numbers spelt out)"
            if "'" in fault["ctx"]["pattern"]
            else "expected a short name of small letters, digits and hyphens"
        )
    elif fault["type"] == "literal_error":
        value = str(_parent(tree, at)[at[-1]]) if at else ""
        known = [
            one.strip("'") for one in fault["ctx"]["expected"].replace(" or ", ", ").split(", ")
        ]
        message += did_you_mean(value, known)
    value = _parent(tree, at)[at[-1]] if at else ""
    name = next((part for part in reversed(at) if isinstance(part, str)), "")
    shown = f" {str(value)[:60]!r}" if isinstance(value, str | int | float) else ""
    return f"{name}{shown}: {message}"
