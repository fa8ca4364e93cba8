"""Reads the sheets of an XLSX workbook, as people see them."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from assistant.procedure import table
from assistant.procedure.table import MOST_COLUMNS, Row, Table


def sheets(
    path: Path, data: bytes, packed: zipfile.ZipFile
) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    """Return the visible sheets, and the names of the others.

    Raises whatever the library does for a damaged file, and AssistantError for too many rows.
    """
    import openpyxl

    with warnings.catch_warnings():
        # About what the library leaves out, such as rules for colours.
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
        formulas = openpyxl.load_workbook(io.BytesIO(data)) if _has_formulas(packed) else None
        visible = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
        read = [
            _sheet(path, sheet, formulas[sheet.title]._cells if formulas else {})
            for sheet in visible
        ]
    hidden = [sheet.title for sheet in book.worksheets if sheet not in visible]
    return tuple(read), tuple(hidden)


def _has_formulas(packed: zipfile.ZipFile) -> bool:
    return any(
        b"<f>" in part or b"<f " in part
        for name in packed.namelist()
        if name.startswith("xl/worksheets/")
        for part in (packed.read(name),)
    )


def _sheet(path: Path, sheet: Any, formulas: Mapping[tuple[int, int], Any]) -> Table:
    hidden_columns = {
        number - 1
        for dimension in sheet.column_dimensions.values()
        if dimension.hidden
        for number in range(dimension.min, min(dimension.max, MOST_COLUMNS) + 1)
    }
    rows: list[Row] = []
    hidden: list[int] = []
    held: set[int] = set()
    by_row: dict[int, dict[int, Any]] = {}
    # Only cells that exist: a stray one in the last corner of the sheet would make billions.
    for place, cell in sheet._cells.items():
        line, column = place[0], place[1] - 1
        formula = formulas.get(place)
        without_value = cell.value is None and formula is not None and formula.value is not None
        if (cell.value is None and not without_value) or column >= MOST_COLUMNS:
            continue
        if column in hidden_columns:
            held.add(column)
        else:
            by_row.setdefault(line, {})[column] = None if without_value else cell
    shared = _shared(sheet)
    for line, cells in sorted(by_row.items()):
        if sheet.row_dimensions[line].hidden:
            hidden.append(line)
            continue
        table.bounded(path, line, len(rows))
        faults = {column: fault for column, cell in cells.items() if (fault := _fault(cell))}
        texts = [_shown(cells.get(column)) for column in range(max(cells) + 1)]
        made = table.row(line, texts, faults=faults, shared=shared.get(line, {}))
        if any(made.cells) or faults:
            rows.append(made)
    return Table(tuple(rows), sheet.title, tuple(hidden), tuple(sorted(held)))


def _shared(sheet: Any) -> dict[int, dict[int, str]]:
    """Return what merged cells hold, by the lines below their first and the columns."""
    found: dict[int, dict[int, str]] = {}
    for area in sheet.merged_cells.ranges:
        text = _shown(sheet.cell(area.min_row, area.min_col))
        last = min(area.max_row, area.min_row + table.MOST_ROWS)
        for line in range(area.min_row + 1, last + 1) if text else ():
            found.setdefault(line, {})[area.min_col - 1] = text
    return found


def _fault(cell: Any) -> str | None:
    if cell is None:
        return table.NOT_WORKED_OUT
    if isinstance(cell.value, str) and cell.value in table.ERRORS:
        return f"holds the error {cell.value}"
    if isinstance(cell.value, datetime | date | time | timedelta):
        return table.DATE
    return None


def _shown(cell: Any) -> str:
    value = None if cell is None else cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return table.number_as_seen(value, str(cell.number_format or ""))
    return str(value)
