"""Reads the sheets that `sheets` writes, also after somebody has gone over them.

Sheets, columns and keys are found by their names, in any order. Nothing is lost in silence: a
column or a key that is not known is told, and so is a row that belongs to no step.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from assistant.authoring import cells, layout, typed, typed_sizes
from assistant.authoring.imported import Imported, Path
from assistant.authoring.layout import Column, Further
from assistant.errors import AssistantError
from assistant.procedure.table import Row, Table, column_name

_HEADINGS_WITHIN = 10
"""Rows from the top. Somebody may have put a title above."""
_Columns = dict[str, int]
"""The columns of a sheet, from 0, by their names for comparing."""


def table_of_steps(tables: Sequence[Table]) -> Table | None:
    """Return the sheet of steps from its headings on, if `sheets` has written it."""
    for table in tables:
        for place, row in enumerate(table.rows[:_HEADINGS_WITHIN]):
            if {column_name(layout.STEP_ID), "task"} <= _columns(row).keys():
                return replace(table, rows=table.rows[place:])
    return None


def read(tables: Sequence[Table], name: str) -> Imported:
    """Return the procedure in these sheets; `name` is what it is called if they do not say.

    Raises AssistantError if there are no steps in them.
    """
    steps = table_of_steps(tables)
    if steps is None or len(steps.rows) < 2:
        raise AssistantError("There are no steps in the sheet of steps.")
    return _Reader(tables, steps).read(name)


def _columns(header: Row) -> _Columns:
    return {column_name(text): at for at, text in enumerate(header.cells) if text}


class _Reader:
    def __init__(self, tables: Sequence[Table], steps: Table) -> None:
        self.found = Imported()
        self.steps_table = steps
        self.tables = {
            column_name(table.sheet): table
            for table in tables
            if table.sheet is not None and table.sheet != steps.sheet
        }
        self.paths: dict[str, Path] = {}
        """Where each step is, by its id."""

    def read(self, name: str) -> Imported:
        self._once(name)
        stages = self.tables.get(column_name(layout.STAGES))
        begins = {row.cell(0) for row in stages.rows[1:]} if stages else set()
        self._steps(begins)
        if stages:
            self._of_stages(stages)
        known = {column_name(one) for one in (layout.PROCEDURE, layout.STAGES, layout.CHECK)}
        for further in layout.furthers():
            known.add(column_name(further.name))
            table = self.tables.get(column_name(further.name))
            if table is not None and table.rows:
                self._further(table, further)
        for title, table in self.tables.items():
            if title and title not in known:
                self.found.tell(f"the sheet {table.sheet!r} is not known, so it is left out")
        return self.found

    def _once(self, name: str) -> None:
        table = self.tables.get(column_name(layout.PROCEDURE))
        keys = {column_name(column.heading): column for column in layout.procedure_keys()}
        for row in table.rows[1:] if table else ():
            column = keys.get(column_name(row.cell(0)))
            if column is None:
                at = table.place(row, 0) if table else ""
                self.found.tell(f"the key {row.cell(0)!r} is not known, so it is left out", at)
            elif table is not None:
                self._put(self.found.tree, (), column, table, row, 1)
        tree = self.found.tree
        if "procedure" not in tree:
            self.found.tell("nothing says what the procedure is called or for which machine",
                            lost=False)  # fmt: skip
        tree.setdefault("procedure", name)
        tree.setdefault("title", name.replace("-", " ").capitalize())
        tree.setdefault("revision", "draft")
        tree.setdefault("equipment", {}).setdefault("kind", tree["title"])

    def _steps(self, begins: set[str]) -> None:
        table, tree = self.steps_table, self.found.tree
        columns = _columns(table.rows[0])
        known = layout.step_columns()
        self._unknown(
            table,
            columns,
            [layout.STAGE, layout.STEP_ID, *(column.heading for _, column in known)],
        )
        stages: list[dict[str, Any]] = tree.setdefault("stages", [])
        at: Path = ()
        for row in table.rows[1:]:
            if row.cells == table.rows[0].cells:
                continue
            stage = cells.read(row.cell(columns.get(column_name(layout.STAGE))), "text")
            identity = row.cell(columns[column_name(layout.STEP_ID)])
            task = row.cell(columns.get("task"))
            new_stage = stage is not None and (not stages or stage != stages[-1]["name"])
            if new_stage or not stages or identity in begins:
                name = stage or (stages[-1]["name"] if stages else "Steps")
                stages.append({"name": name, "steps": []})
            steps = stages[-1]["steps"]
            if (identity and (not at or identity != self._id(at))) or (task and not identity):
                at = ("stages", len(stages) - 1, "steps", len(steps))
                steps.append({"id": identity or self._new_id(task)})
                self.found.places[at] = table.place(row, columns[column_name(layout.STEP_ID)])
                self.paths.setdefault(steps[-1]["id"], at)
            if not at:
                self.found.tell("this row belongs to no step, so it is left out",
                                table.place(row, 0))  # fmt: skip
                continue
            self._line(table, row, columns, known, at)
        tree["stages"] = [stage for stage in stages if stage["steps"]]

    def _id(self, at: Path) -> str:
        return str(self._get(at)["id"])

    def _new_id(self, task: str) -> str:
        return typed_sizes.identifier(task, set(self.paths), "step")

    def _line(
        self,
        table: Table,
        row: Row,
        columns: _Columns,
        known: Sequence[tuple[str, Column]],
        at: Path,
    ) -> None:
        step = self._get(at)
        entries: dict[str, dict[str, Any]] = {}
        for group, column in known:
            number = columns.get(column_name(column.heading))
            if number is None or not (row.cell(number) or number in row.faults):
                continue
            if not group:
                self._put(step, at, column, table, row, number)
                continue
            if group not in entries:
                entries[group] = {}
                step.setdefault(group, []).append(entries[group])
            inner = (*at, group, len(step[group]) - 1)
            self.found.places.setdefault(inner, table.place(row, number))
            self._put(entries[group], inner, column, table, row, number)
        tighten = entries.get("tighten")
        if tighten is None:
            return
        if tighten.keys() <= {"lubricated"}:
            step["tighten"].pop()
            return
        if "name" in entries.get("fasteners", {}):
            tighten["fastener"] = entries["fasteners"]["name"]
        if "lubricated" not in tighten:
            tighten["lubricated"] = "not stated"
            what = "nothing is stated; write dry, oil, grease, paste or thread-locker"
            self.found.tell(f"{layout.THREADS}: {what}", table.place(row, 0), at)

    def _of_stages(self, table: Table) -> None:
        columns = _columns(table.rows[0])
        headings = [layout.FIRST_STEP, *(column.heading for column in layout.stage_columns())]
        self._unknown(table, columns, headings)
        for row in table.rows[1:]:
            path = self.paths.get(row.cell(columns.get(column_name(layout.FIRST_STEP))))
            if path is None:
                self.found.tell("no step has this name, so the row is left out",
                                table.place(row, 0))  # fmt: skip
                continue
            stage = self._get(path[:2])
            for column in layout.stage_columns():
                number = columns.get(column_name(column.heading))
                if number is not None:
                    self._put(stage, path[:2], column, table, row, number)

    def _further(self, table: Table, further: Further) -> None:
        record, columns = further.record, _columns(table.rows[0])
        inner = [column for _, several in record.within for column in several]
        headings = [column.heading for column in (*record.columns, *inner)]
        self._unknown(table, columns, [*headings, *([layout.STEP_ID] if further.of_step else [])])
        at: Path = ()
        for row in table.rows[1:]:
            identity = row.cell(columns.get(column_name(layout.STEP_ID)))
            if identity or not further.of_step:
                step = self.paths.get(identity, ()) if further.of_step else ()
                if further.of_step and not step:
                    self.found.tell(f"there is no step {identity!r}, so the row is left out",
                                    table.place(row, 0))  # fmt: skip
                    at = ()
                    continue
                at = self._entry(step, further)
                self.found.places[at] = table.place(row, 0)
                for column in record.columns:
                    number = columns.get(column_name(column.heading))
                    if number is not None:
                        self._put(self._get(at), at, column, table, row, number)
            elif not at:
                self.found.tell("this row belongs to no step, so it is left out",
                                table.place(row, 0))  # fmt: skip
                continue
            for field, several in record.within:
                self._within(at, field, several, table, row, columns)

    def _entry(self, of: Path, further: Further) -> Path:
        parent = self._get(of)
        if not further.several:
            parent[further.field] = {}
            return (*of, further.field)
        entries = parent.setdefault(further.field, [])
        entries.append({})
        return (*of, further.field, len(entries) - 1)

    def _within(
        self,
        at: Path,
        field: str,
        several: Sequence[Column],
        table: Table,
        row: Row,
        columns: _Columns,
    ) -> None:
        found = {
            column: columns[name]
            for column in several
            if (name := column_name(column.heading)) in columns and row.cell(columns[name])
        }
        if not found:
            return
        entries = self._get(at).setdefault(field, [])
        entries.append({})
        inner = (*at, field, len(entries) - 1)
        for column, number in found.items():
            self._put(entries[-1], inner, column, table, row, number)

    # What several of them need

    def _get(self, at: Path) -> Any:
        found: Any = self.found.tree
        for part in at:
            found = found[part]
        return found

    def _put(
        self, into: dict[str, Any], at: Path, column: Column, table: Table, row: Row, number: int
    ) -> None:
        """Put the value of a cell where it belongs."""
        place = table.place(row, number)
        if number in row.faults:
            self.found.tell(f"{column.heading}: {row.faults[number]}", place, at)
            return
        value = cells.read(row.text(number), column.kind)
        if value is None:
            return
        if column.kind == "amount" and isinstance(value, str):
            value = self._amount(value, column, place, at)
        for key in column.path[:-1]:
            into = into.setdefault(key, {})
        into[column.path[-1]] = value
        self.found.places[(*at, *column.path)] = place

    def _amount(self, text: str, column: Column, place: str, at: Path) -> str:
        """Return an amount as a procedure has it; text that is none stays, for the model."""
        try:
            amount = typed.amount(text)
        except typed.Unreadable as error:
            if typed.looks_like_several(text):
                self.found.tell(f"{column.heading}: {error}", place, at)
            return text
        if amount.noticed:
            self.found.tell(f"{column.heading}: {amount.noticed}", place, at, lost=False)
        return str(amount)

    def _unknown(self, table: Table, columns: Mapping[str, int], known: Sequence[str]) -> None:
        names = {column_name(one) for one in known}
        for name, number in columns.items():
            if name not in names:
                self.found.tell(
                    f"the column {table.rows[0].cell(number)!r} is not known, so it is left out",
                    table.place(table.rows[0], number),
                )
