"""Writes the reference of a procedure file's keys, a guide, from the model itself.

``python -m assistant.procedure.reference`` writes it again after a change of the model. What a key
means is its docstring in `model.py`, read from the source; `_PLAIN` has the meaning of those that
have none.
"""

from __future__ import annotations

import ast
import inspect
import types
from collections.abc import Iterator
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic.fields import FieldInfo

from assistant.procedure import model

PLACE = Path(__file__).parents[1] / "guide" / "procedure-keys.md"

_HEAD = """\
# Every key of a procedure file

For whoever writes procedures: each part of the file, what may be written there, and what it means.

This page is made from the program's own model, so it is complete. *Required* keys have to be
there; the others may be left out. How they are used is told in
[Writing procedures](writing-procedures.md).

The words in the second column:

- **name**: small letters, digits and hyphens, such as `fit-top-cover`;
- **words**: said aloud to name a thing, so letters and spaces only, numbers spelt out;
- **text**: one or two sentences to be spoken, at most 400 characters;
- **characters**: written down and not spoken, such as a part number;
- **quantity**: a number and a unit, such as `14 N·m`, `0.05 mm`, `24 h`;
- **list**: several of the kind, each on a line that begins with a hyphen, or in `[ ]`;
- a word in `code`: a part with keys of its own, listed under that heading.
"""

_PLAIN = {
    "hazards": "What can hurt or spoil something. Spoken, and affirmed where it can hurt.",
    "tools": "What to have at hand.",
    "readings": "What is measured here.",
    "id": "The step's own name in this file; other steps refer to it.",
    "detail": "What is told to “more detail”.",
    "say": "What is spoken.",
    "signal": "How badly it can hurt.",
    "name": "What it is called.",
    "count": "How many.",
    "amount": "How much of it.",
    "length": "Its length.",
    "position": "Where in the joint it goes.",
    "new": "Whether a new one is fitted.",
    "bag": "The bag that it is in, where the step's own bag is not meant.",
    "strength": "Its strength class.",
    "note": "What more is said of it.",
    "fastener": "Which of the step's fasteners.",
    "torque": "The final torque.",
    "lubricated": "State of the threads.",
    "locker": "Its thread-locker.",
    "part": "Which part of the list.",
    "discard": "Whether it is thrown away and goes into no bag.",
    "unit": "The unit that it is said in.",
    "answers": "The answers that there are.",
    "limits": "The values that are good.",
    "least": "The smallest value.",
    "most": "The largest value.",
    "rows": "The rows, each with its range and its part.",
    "over": "The row holds values above this.",
    "up_to": "The row holds values up to this, itself included.",
    "gap": "The gap that it has to fill.",
    "primer": "Whether a primer was used.",
    "purpose": "What is waited for; it names the timer.",
    "time": "How long.",
    "final_temperature": "Name of the reading of the temperature at last.",
    "start_temperature": "Name of the reading of the temperature at first.",
    "final": "Name of the reading of the pressure at last.",
    "capacity": "What it holds when it is full.",
    "first": "The first fluid.",
    "second": "The second fluid.",
    "step": "A step that has to be done first.",
    "affirm": "A question that has to be affirmed first.",
    "before": "What must be so before this step begins.",
    "fasteners": "The screws, bolts and nuts of this step.",
    "remove": "Parts that come off.",
    "fit": "Parts that go on.",
    "question": "A question about what is found; the answer can choose the way.",
    "derived": "Values worked out from readings.",
    "choice": "A part chosen by a value.",
    "tighten": "Fasteners that are tightened.",
    "loosen": "Fasteners that are loosened.",
    "wait": "A time to wait.",
    "leak": "A pressure or vacuum hold.",
    "fluid": "A fluid that is drained or filled.",
    "mix": "A mixture to make up.",
    "steps": "Its steps, in order.",
    "kind": "What kind of machine it is.",
    "maker": "Who made it.",
    "model": "The maker's name for it.",
    "interval_months": "How many months a calibration holds.",
    "plural": "How several of them are said, where an s at the end is not enough.",
    "also": "Other ways to say it.",
    "washer": "Thickness of the washer under the head.",
    "Answer.say": "What the technician says to give this answer.",
    "Reading.say": "What is spoken to ask for it, in place of its name.",
    "Question.say": "What is spoken to ask.",
    "Loosen.rows": "As for tightening.",
    "engaged_in": "What the thread in the hole is cut into.",
    "graduation": "The smallest division of its scale.",
    "procedure": "The procedure's own name.",
    "title": "What the job is called aloud and in lists.",
    "revision": "Which issue of the text this is; kept with each job.",
    "equipment": "The machine that it is for.",
    "consumables": "What is used up: oil, thread-locker, cleaner.",
    "parts": "All parts that can be named at the bench.",
    "stages": "The stages of the job, in order.",
    "how": "How it goes in: which way round, what it is oiled with.",
}


def markdown() -> str:
    """Return the whole reference. Raises KeyError for a key that nothing explains."""
    documented = _docstrings()
    parts = [_HEAD]
    for cls in _classes(model.Procedure):
        about = " ".join(inspect.cleandoc(cls.__doc__ or "").split())
        parts.append(f"## {cls.__name__}\n\n{about}\n")
        hints = get_type_hints(cls, include_extras=True)
        rows = [
            "| key | what is written | if it is left out | what it means |",
            "|---|---|---|---|",
        ]
        for key, field in cls.model_fields.items():
            inherited = (documented.get((base.__name__, key)) for base in cls.__mro__)
            meaning = next(filter(None, inherited), None)
            meaning = meaning or _PLAIN.get(f"{cls.__name__}.{key}") or _PLAIN[key]
            written = _kind(hints[key]) + _bounds(field.metadata)
            rows.append(f"| `{key}` | {written} | {_default(field)} | {meaning} |")
        parts.append("\n".join(rows) + "\n")
    return "\n".join(parts)


def _docstrings() -> dict[tuple[str, str], str]:
    """Return the docstring of each attribute of the model's classes that has one."""
    found = {}
    for cls in ast.parse(inspect.getsource(model)).body:
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


def _classes(top: type[model.Model]) -> Iterator[type[model.Model]]:
    """Yield the model's parts: each after the one that first holds it, breadth first."""
    seen: list[type[model.Model]] = [top]
    for cls in seen:
        yield cls
        for hint in get_type_hints(cls).values():
            for inner in _parts(hint):
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
