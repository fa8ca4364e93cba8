"""Which sheets and columns hold a procedure, worked out from the model.

The sheet of steps has a row for each line of a step: its first hazard, part and fastener stand in
the row of the step, the second ones in the row below, and so on. What does not fit such a row has a
sheet of its own, and what there is once in a procedure stands in the sheet "Procedure" as keys and
values. A key that the model gets finds its place here by itself.
"""

from __future__ import annotations

import types
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from assistant.procedure.model import Model, Procedure, Quantity, Stage, Step

Kind = Literal["text", "whole", "yes or no", "amount", "list", "pairs", "order", "data"]
"""How a value is written in a cell; `data` is JSON, for what has no simpler form."""

STEPS, STAGES, PROCEDURE, TIGHTEN = "Steps", "Stages", "Procedure", "Tighten"
STEP_ID, STAGE, FIRST_STEP, KEY, VALUE = "Step id", "Stage", "First step", "Key", "Value"
THREADS = "Threads are"
CHECK = "Check"
"""The sheet with what `check` says of the file. It is only written."""

IN_ROWS = ("hazards", "remove", "fit", "fasteners")
"""The lists of a step whose entries stand in the rows of the sheet of steps."""

_HEADINGS = {
    ("step", "say"): "Task",
    ("hazards", "signal"): "Signal",
    ("hazards", "say"): "Caution",
    ("remove", "part"): "Take off",
    ("remove", "count"): "Take off: qty",
    ("fit", "part"): "Fit",
    ("fit", "count"): "Fit: qty",
    ("fasteners", "name"): "Fastener",
    ("fasteners", "count"): "Qty",
    ("fasteners", "thread"): "Thread",
    ("fasteners", "length"): "Length",
    ("fasteners", "grade"): "Grade",
    ("tighten", "torque"): "Torque",
    ("tighten", "angle"): "Angle",
    ("tighten", "order"): "Order",
    ("tighten", "lubricated"): THREADS,
    ("tighten", "locker strength"): "Thread-locker",
}
"""Headings in the words of the trade; the others are made from the keys."""


@dataclass(frozen=True)
class Column:
    """One column: a key of the model, or of a part of it that there is once."""

    heading: str
    path: tuple[str, ...]
    kind: Kind


@dataclass(frozen=True)
class Record:
    """How the entries of one list are laid out in rows."""

    columns: tuple[Column, ...]
    within: tuple[tuple[str, tuple[Column, ...]], ...]
    """Lists within an entry, each with its columns: their entries stand in the rows below."""


@cache
def record(model: type[Model], group: str = "", without: tuple[str, ...] = ()) -> Record:
    """Return the layout of a model's entries; `group` stands before the headings."""
    own: list[Column] = []
    within: list[tuple[str, tuple[Column, ...]]] = []
    for name, path, annotation in _leaves(model, ()):
        if path[0] in without:
            continue
        inner = _model_in_list(annotation)
        if inner is not None and len(path) == 1 and not group:
            columns = record(inner, name).columns
            within.append((name, columns))
        else:
            own.append(Column(_heading(group, name), path, _kind(annotation)))
    return Record(tuple(own), tuple(within))


def _leaves(
    model: type[Model], before: tuple[str, ...]
) -> Iterator[tuple[str, tuple[str, ...], Any]]:
    # What a model shares with others, such as `when`, comes last.
    for name in sorted(model.model_fields, key=lambda name: name not in model.__annotations__):
        path = (*before, name)
        annotation = _bare(model.model_fields[name].annotation)
        if _is_model(annotation):
            yield from _leaves(annotation, path)
        else:
            yield " ".join(path).replace("_", " "), path, annotation


def _heading(group: str, name: str) -> str:
    heading = _HEADINGS.get((group, name)) or (f"{group}: {name}" if group else name)
    return heading[:1].upper() + heading[1:]


def _bare(annotation: Any) -> Any:
    """Return a type without what may be None and without what it is checked by."""
    if get_origin(annotation) is Annotated:
        return _bare(get_args(annotation)[0])
    if get_origin(annotation) in (Union, types.UnionType):
        some = [one for one in get_args(annotation) if one is not types.NoneType]
        if len(some) == 1:
            return _bare(some[0])
    return annotation


def _is_model(annotation: Any) -> bool:
    return (
        isinstance(annotation, type)
        and issubclass(annotation, Model)
        and not issubclass(annotation, Quantity)
    )


def _model_in_list(annotation: Any) -> type[Model] | None:
    if get_origin(annotation) is not tuple:
        return None
    inner = _bare(get_args(annotation)[0])
    return inner if _is_model(inner) else None


def _kind(annotation: Any) -> Kind:
    origin = get_origin(annotation)
    if annotation is Quantity:
        return "amount"
    if annotation is bool:
        return "yes or no"
    if annotation is int:
        return "whole"
    if origin is dict:
        return "data" if get_args(annotation)[1] is Any else "pairs"
    if origin is tuple:
        return "data" if _model_in_list(annotation) else "list"
    if origin in (Union, types.UnionType) and any(
        get_origin(one) is tuple for one in get_args(annotation)
    ):
        return "order"
    return "text"


@dataclass(frozen=True)
class Further:
    """A sheet for one list, or one part, of the steps or of the procedure."""

    name: str
    field: str
    of_step: bool
    several: bool
    """Whether it is a list. If not, a step has one entry at most."""
    record: Record


def _furthers(model: type[Model], of_step: bool, without: tuple[str, ...]) -> Iterator[Further]:
    for field, info in model.model_fields.items():
        annotation = _bare(info.annotation)
        inner = _model_in_list(annotation)
        single = annotation if _is_model(annotation) else None
        if field in without or (inner or single) is None or (single and not of_step):
            continue
        of = inner or single
        assert of is not None
        name = field[:1].upper() + field[1:].replace("_", " ")
        yield Further(name, field, of_step, inner is not None, record(of))


@cache
def furthers() -> tuple[Further, ...]:
    """Return the sheets beside those of the steps and the procedure."""
    return (
        *_furthers(Procedure, False, ("stages", "unwritten")),
        *_furthers(Step, True, IN_ROWS),
    )


@cache
def step_columns() -> tuple[tuple[str, Column], ...]:
    """Return the columns of the sheet of steps, each with the list that it belongs to; "" for the
    step itself.
    """
    apart = tuple(one.field for one in furthers() if one.of_step)
    own = record(Step, "", ("id", *apart, *IN_ROWS)).columns
    found = [
        ("", replace(column, heading=_HEADINGS.get(("step", column.path[0]), column.heading)))
        for column in own
    ]
    for field in IN_ROWS:
        inner = _model_in_list(_bare(Step.model_fields[field].annotation))
        assert inner is not None
        found += [(field, column) for column in record(inner, field).columns]
    tighten = _model_in_list(_bare(Step.model_fields["tighten"].annotation))
    assert tighten is not None
    found += [("tighten", column) for column in record(tighten, "tighten", ("fastener",)).columns]
    return tuple(found)


@cache
def stage_columns() -> tuple[Column, ...]:
    """Return what there is to say of a stage beside its name and steps."""
    return record(Stage, "", ("name", "steps")).columns


@cache
def procedure_keys() -> tuple[Column, ...]:
    """Return what there is once in a procedure."""
    apart = tuple(one.field for one in furthers() if not one.of_step)
    return record(Procedure, "", ("stages", "unwritten", *apart)).columns
