"""Writes the reference of the keys of a procedure file, `guide/procedure-keys.md`, from the model.

Run ``python -m assistant.procedure.reference`` after a change of the model. The meaning of a key is
its docstring in `model.py`, read from the source.
"""

from __future__ import annotations

import ast
import inspect
import types
from collections.abc import Iterator
from datetime import date
from enum import StrEnum
from functools import cache
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic.fields import FieldInfo

from assistant.procedure import fragments, model

PLACE = Path(__file__).parents[1] / "guide" / "procedure-keys.md"

OURS = frozenset({"unwritten"})
"""Keys that the program writes, and nobody in a file."""

_HEAD = """\
# Every key of a procedure file

For people who write procedures: each part of the file, what you can write there, and what it means.

This page is made from the program's own model, so it is complete. *Required* keys have to be
there; you may leave out the others. [Writing procedures](writing-procedures.md) shows how to use
them.

The words in the second column:

- **name**: small letters, digits and hyphens, such as `fit-top-cover`;
- **words**: the spoken name of a thing, so letters and spaces only, numbers spelt out;
- **text**: one or two sentences for the assistant to speak, at most 400 characters;
- **characters**: written down and not spoken, such as a part number;
- **quantity**: a number and a unit, such as `14 N·m`, `0.05 mm`, `24 h`;
- **list**: several of the kind, each on a line that begins with a hyphen, or in `[ ]`;
- a word in `code`: a part with keys of its own, listed under that heading.
"""


def markdown() -> str:
    """Return the whole reference as Markdown. Raises KeyError for a key without a docstring."""
    parts = [_HEAD]
    for cls in (*classes(), *fragments.PARTS):
        about = " ".join(inspect.cleandoc(cls.__doc__ or "").split())
        parts.append(f"## {cls.__name__}\n\n{about}\n")
        hints = get_type_hints(cls, include_extras=True)
        rows = [
            "| key | what is written | if it is left out | what it means |",
            "|---|---|---|---|",
        ]
        for key, field in cls.model_fields.items():
            if key in OURS:
                continue
            written = _kind(hints[key]) + _bounds(field.metadata)
            rows.append(f"| `{key}` | {written} | {_default(field)} | {meaning(cls, key)} |")
        parts.append("\n".join(rows) + "\n")
    return "\n".join(parts)


def meaning(cls: type[model.Model], key: str) -> str:
    """Return what a key means, in a sentence or two. Raises KeyError where it has no docstring."""
    documented = _docstrings()
    inherited = (documented.get((base.__name__, key)) for base in cls.__mro__)
    found = next(filter(None, inherited), None)
    if found is None:
        raise KeyError(f"{cls.__name__}.{key} has no docstring in procedure/model.py")
    return found


@cache
def _docstrings() -> dict[tuple[str, str], str]:
    """Return the docstrings of the attributes of the model's classes, by class and attribute."""
    found = {}
    parts = [*ast.parse(inspect.getsource(model)).body]
    parts += ast.parse(inspect.getsource(fragments)).body
    for cls in parts:
        if isinstance(cls, ast.ClassDef):
            for attribute, text in zip(cls.body, cls.body[1:], strict=False):
                if (
                    isinstance(attribute, ast.AnnAssign)
                    and isinstance(attribute.target, ast.Name)
                    and isinstance(text, ast.Expr)
                    and isinstance(text.value, ast.Constant)
                ):
                    found[cls.name, attribute.target.id] = " ".join(str(text.value.value).split())
    return found


def classes(top: type[model.Model] = model.Procedure) -> Iterator[type[model.Model]]:
    """Yield the classes of the model breadth first, each after the class that first uses it."""
    seen: list[type[model.Model]] = [top]
    for cls in seen:
        yield cls
        for key, hint in get_type_hints(cls).items():
            for inner in () if key in OURS else _parts(hint):
                if inner not in seen:
                    seen.append(inner)


def _parts(hint: Any) -> Iterator[type[model.Model]]:
    if isinstance(hint, type) and issubclass(hint, model.Model) and hint is not model.Quantity:
        yield hint
    for inner in get_args(hint):
        yield from _parts(inner)


_KINDS: tuple[tuple[Any, str], ...] = (
    (model.Amount, "quantity"),
    (model.Unit, "unit"),
    (model.Ident, "name"),
    (model.Spoken, "text"),
    (model.Words, "words"),
)


def _kind(hint: Any) -> str:
    for kind, said in _KINDS:
        if hint == kind:
            return said
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Literal:
        return "one of " + ", ".join(f"`{value}`" for value in inner)
    if origin is tuple:
        return f"list of {_kind(inner[0])}"
    if origin is dict:
        return "pairs, each `key: value`"
    if origin in (types.UnionType, Union):
        return " or ".join(dict.fromkeys(_kind(one) for one in inner if one is not type(None)))
    if hasattr(hint, "__metadata__"):
        return _kind(inner[0])
    if issubclass(hint, StrEnum):
        return "one of " + ", ".join(f"`{one.value}`" for one in hint)
    if issubclass(hint, model.Model):
        return f"`{hint.__name__}`"
    plain = {
        bool: "`true` or `false`",
        int: "whole number",
        str: "characters",
        date: "a day, `2031-03-04`",
    }
    return plain.get(hint, "number")


def _bounds(metadata: list[Any]) -> str:
    words = {"ge": "at least", "gt": "more than", "le": "at most", "lt": "less than"}
    return "".join(
        f", {said} {getattr(one, name)}"
        for one in metadata
        for name, said in words.items()
        if hasattr(one, name)
    )


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "*required*"
    value = field.get_default(call_default_factory=True)
    if value is True or value is False:
        return f"`{str(value).lower()}`"
    if value in (None, (), {}) or isinstance(value, model.Model):
        return ""
    return f"`{value}`"


if __name__ == "__main__":
    PLACE.write_text(markdown(), encoding="utf-8")
    print(PLACE)
