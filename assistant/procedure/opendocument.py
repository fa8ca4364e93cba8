"""Reads the sheets of an OpenDocument spreadsheet (ODS), as people see them."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.procedure import table
from assistant.procedure.table import MOST_COLUMNS, Row, Table

if TYPE_CHECKING:
    from odfdo import Element

_KIND = b"application/vnd.oasis.opendocument.spreadsheet"
_NUMBERS = ("float", "currency")


def is_one(packed: zipfile.ZipFile) -> bool:
    """Whether a file says that it is such a spreadsheet (OpenDocument 1.3, part 2, 3.3)."""
    return "mimetype" in packed.namelist() and packed.read("mimetype").startswith(_KIND)


def sheets(
    path: Path, data: bytes, packed: zipfile.ZipFile
) -> tuple[tuple[Table, ...], tuple[str, ...]]:
    """Return the visible sheets, and the names of the others.

    Raises whatever the library does for a damaged file, and AssistantError for too many rows.
    """
    from odfdo import Document

    content = Document(io.BytesIO(data)).content
    not_shown = {
        style.get_attribute_string("style:name")
        for style in content.get_elements("//style:style[style:table-properties]")
        if any(
            one.get_attribute_string("table:display") == "false"
            for one in style.get_elements("style:table-properties")
        )
    }
    found: list[Table] = []
    hidden: list[str] = []
    for sheet in content.get_elements("//office:spreadsheet/table:table"):
        name = sheet.get_attribute_string("table:name") or "Sheet"
        if sheet.get_attribute_string("table:style-name") in not_shown:
            hidden.append(name)
        else:
            found.append(_sheet(path, sheet, name))
    return tuple(found), tuple(hidden)


def _sheet(path: Path, sheet: Element, name: str) -> Table:
    hidden_columns = _hidden_columns(sheet)
    rows: list[Row] = []
    hidden: list[int] = []
    held: set[int] = set()
    merged: dict[int, tuple[int, str]] = {}
    line = 1
    for element in sheet.get_elements("descendant::table:table-row"):
        times = _number(element, "table:number-rows-repeated")
        cells = _cells(element)
        held |= cells.keys() & hidden_columns
        shown = {column: cell for column, cell in cells.items() if column not in hidden_columns}
        for at in range(line, line + times) if shown else ():
            if _hidden(element):
                hidden.append(at)
                table.bounded(path, at, len(hidden))
                continue
            table.bounded(path, at, len(rows))
            texts = [_shown(shown.get(column)) for column in range(max(shown) + 1)]
            faults = {column: fault for column, cell in shown.items() if (fault := _fault(cell))}
            shared = {column: text for column, (last, text) in merged.items() if at <= last}
            made = table.row(at, texts, faults=faults, shared=shared)
            if any(made.cells) or faults:
                rows.append(made)
        for column, cell in shown.items():
            down = _number(cell, "table:number-rows-spanned")
            if down > 1:
                merged[column] = (line + down - 1, _shown(cell))
        line += times
    return Table(tuple(rows), name, tuple(hidden), tuple(sorted(held)))


def _number(element: Element, attribute: str) -> int:
    return max(1, int(element.get_attribute_string(attribute) or 1))


def _hidden(element: Element) -> bool:
    return element.get_attribute_string("table:visibility") in ("collapse", "filter")


def _hidden_columns(sheet: Element) -> set[int]:
    found: set[int] = set()
    column = 0
    for element in sheet.get_elements("descendant::table:table-column"):
        times = _number(element, "table:number-columns-repeated")
        if _hidden(element):
            found |= set(range(column, min(column + times, MOST_COLUMNS)))
        column += times
    return found


def _cells(row: Element) -> dict[int, Any]:
    """Return the cells of a row that hold something, by their columns, from 0."""
    found: dict[int, Any] = {}
    column = 0
    for cell in row.get_elements("table:table-cell|table:covered-table-cell"):
        times = _number(cell, "table:number-columns-repeated")
        if cell.tag == "table:table-cell" and (_shown(cell) or _fault(cell)):
            found |= dict.fromkeys(range(column, min(column + times, MOST_COLUMNS)), cell)
        column += times
        if column >= MOST_COLUMNS:
            break
    return found


def _kind(cell: Element) -> str | None:
    kind = cell.get_attribute_string("calcext:value-type")
    return kind or cell.get_attribute_string("office:value-type")


def _fault(cell: Element) -> str | None:
    kind, text = _kind(cell), _words(cell)
    if kind in ("date", "time"):
        return table.DATE
    if text in table.ERRORS:
        return f"holds the error {text}"
    if kind is None and not text and cell.get_attribute_string("table:formula"):
        return table.NOT_WORKED_OUT
    return None


def _shown(cell: Element | None) -> str:
    if cell is None:
        return ""
    text = _words(cell)
    if _kind(cell) not in _NUMBERS:
        return text or cell.get_attribute_string("office:string-value") or ""
    value = float(cell.get_attribute_string("office:value") or 0)
    # Leading zeros, and a unit that the cell's format adds, are in what is shown.
    kept = text.isdigit() or (text[:1].isdigit() and text[-1:].isalpha())
    return text if kept else table.number_as_seen(value)


def _words(cell: Element) -> str:
    """Return the lines that a cell shows, without its notes."""
    return "\n".join(
        paragraph.text_recursive if hasattr(paragraph, "text_recursive") else str(paragraph)
        for paragraph in cell.get_elements("text:p")
    )
