"""A procedure as sheets of text, for review in a spreadsheet. `from_layout` reads them again."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from itertools import zip_longest
from typing import Any

from assistant.authoring import cells, layout
from assistant.authoring.layout import Column, Further, Record
from assistant.procedure.model import Model, Procedure, Quantity

Tree = dict[str, Any]
"""A procedure as plain maps, lists and values, as its file has it."""


@dataclass(frozen=True)
class Sheet:
    """One sheet."""

    name: str
    rows: tuple[tuple[str, ...], ...]
    """The first has the headings."""


def tree(procedure: Procedure) -> Tree:
    """Return a procedure as its file would have it: without what is left to its default."""
    found: Tree = _tree(procedure)
    if procedure.locker_table is not None:
        table = json.dumps(procedure.locker_table)
        for stage in found["stages"]:
            for step in stage["steps"]:
                cure = step.get("wait", {}).get("locker", {})
                if cure.get("table") == table:
                    del cure["table"]
    return found


def _tree(value: Any) -> Any:
    if isinstance(value, Quantity):
        if value.unit:
            return f"{value.value:f} {value.unit}"
        return {"value": f"{value.value:f}", "unit": value.unit}
    if isinstance(value, Model):
        return {
            name: _tree(one)
            for name, field in type(value).model_fields.items()
            for one in (getattr(value, name),)
            if field.is_required() or one != field.get_default(call_default_factory=True)
        }
    if isinstance(value, tuple | list):
        return [_tree(one) for one in value]
    if isinstance(value, dict):
        return {key: _tree(one) for key, one in value.items()}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal):
        return f"{value:f}"
    return value.isoformat() if isinstance(value, date) else value


def laid_out(procedure: Procedure, checked: Sequence[str] = ()) -> tuple[Sheet, ...]:
    """Return the sheets of a procedure, that of the steps first, and what `check` says of it.

    Raises AssistantError for a value that no cell can hold.
    """
    whole = tree(procedure)
    steps = [step for stage in whole["stages"] for step in stage["steps"]]
    found = [_steps(whole), _once(whole)]
    stages = _stages(whole)
    found += [stages] if stages else []
    for further in layout.furthers():
        rows = [
            (step["id"], entry) if further.of_step else ("", entry)
            for step in (steps if further.of_step else [whole])
            for entry in _entries(step, further)
        ]
        if rows:
            found.append(_further(further, rows))
    if checked:
        found.append(Sheet(layout.CHECK, (("What check found",), *((one,) for one in checked))))
    return tuple(found)


def _entries(of: Tree, further: Further) -> list[Tree]:
    if further.name == layout.TIGHTEN and _beside(of) is not None:
        return []
    entry = of.get(further.field)
    if not further.several:
        return [] if entry is None else [entry]
    return list(entry or [])


def _beside(step: Tree) -> list[Tree | None] | None:
    """Return what tightens each fastener of a step, in the order of the fasteners.

    None if they do not go together one by one, in order: the step's `tighten` then has rows of its
    own.
    """
    left = list(step.get("tighten", []))
    found: list[Tree | None] = []
    for fastener in step.get("fasteners", []):
        fits = bool(left) and left[0]["fastener"] == fastener["name"]
        found.append(left.pop(0) if fits else None)
    return None if left else found


def _steps(whole: Tree) -> Sheet:
    columns = layout.step_columns()
    rows: list[list[str]] = []
    for stage in whole["stages"]:
        for number, step in enumerate(stage["steps"]):
            lists: dict[str, list[Tree | None]] = {
                "": [step],
                **{name: step.get(name, []) for name in layout.IN_ROWS},
                "tighten": _beside(step) or [],
            }
            for line, entries in enumerate(zip_longest(*lists.values())):
                by_list = dict(zip(lists, entries, strict=True))
                head = ["", ""] if line else [stage["name"] if not number else "", step["id"]]
                if head[0]:
                    head[0] = cells.written(head[0], "text")
                rows.append(head + [_cell(by_list[group], column) for group, column in columns])
    headings = [layout.STAGE, layout.STEP_ID, *(column.heading for _, column in columns)]
    return _without_empty(layout.STEPS, headings, rows)


def _cell(entry: Tree | None, column: Column) -> str:
    value: Any = entry
    for key in column.path:
        value = value.get(key) if isinstance(value, Mapping) else None
    if value is None and entry is not None and column.heading == layout.THREADS:
        # Left out it would be read as nothing that was stated.
        value = "dry"
    return cells.written(value, column.kind)


def _stages(whole: Tree) -> Sheet | None:
    """Return the sheet of what there is to say of stages, or where two beside have one name."""
    columns = layout.stage_columns()
    rows = []
    before = None
    for stage in whole["stages"]:
        said = [_cell(stage, column) for column in columns]
        if any(said) or stage["name"] == before:
            rows.append([stage["steps"][0]["id"], *said])
        before = stage["name"]
    headings = [layout.FIRST_STEP, *(column.heading for column in columns)]
    return _without_empty(layout.STAGES, headings, rows) if rows else None


def _once(whole: Tree) -> Sheet:
    rows = [(column.heading, _cell(whole, column)) for column in layout.procedure_keys()]
    return Sheet(layout.PROCEDURE, ((layout.KEY, layout.VALUE), *(row for row in rows if row[1])))


def _further(further: Further, entries: Sequence[tuple[str, Tree]]) -> Sheet:
    record = further.record
    rows = [
        [name if not line else "", *row]
        for name, entry in entries
        for line, row in enumerate(_rows(entry, record))
    ]
    headings = [column.heading for column in record.columns]
    headings += [column.heading for _, columns in record.within for column in columns]
    if not further.of_step:
        return _without_empty(further.name, headings, [row[1:] for row in rows])
    return _without_empty(further.name, [layout.STEP_ID, *headings], rows)


def _rows(entry: Tree, record: Record) -> list[list[str]]:
    within = [(entry.get(name, []), columns) for name, columns in record.within]
    count = max(1, *(len(inner) for inner, _ in within)) if within else 1
    rows = []
    for line in range(count):
        row = [_cell(None if line else entry, column) for column in record.columns]
        for inner, columns in within:
            one = inner[line] if line < len(inner) else None
            row += [_cell(one, column) for column in columns]
        rows.append(row)
    return rows


def _without_empty(name: str, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> Sheet:
    kept = [number for number in range(len(headings)) if any(row[number] for row in rows)]
    return Sheet(name, tuple(tuple(row[number] for number in kept) for row in (headings, *rows)))
