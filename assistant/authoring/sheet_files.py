"""Writes sheets of text into a file for spreadsheets: XLSX, ODS, or CSV with the first sheet alone.

Every cell is text, so that no program makes a formula or a date of it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from assistant.authoring.sheets import Sheet

if TYPE_CHECKING:
    from odfdo import Table

ENDINGS = (".xlsx", ".ods", ".csv")
_WIDEST, _NARROWEST = 60, 8
"""Of a column, in characters."""


def contents(sheets: Sequence[Sheet], ending: str) -> bytes:
    """Return the bytes of a file with these sheets. A CSV file has only the first one."""
    if ending == ".csv":
        return _csv(sheets[0])
    return _xlsx(sheets) if ending == ".xlsx" else _ods(sheets)


def _csv(sheet: Sheet) -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out).writerows(sheet.rows)
    # With its mark, because without it spreadsheets take UTF-8 for the computer's own encoding.
    return out.getvalue().encode("utf-8-sig")


def _width(sheet: Sheet, column: int) -> int:
    longest = max(len(row[column]) for row in sheet.rows)
    return max(_NARROWEST, min(_WIDEST, longest + 2))


def _xlsx(sheets: Sequence[Sheet]) -> bytes:
    import openpyxl
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = openpyxl.Workbook()
    book.remove(book.active)
    for sheet in sheets:
        page = book.create_sheet(sheet.name)
        for line, row in enumerate(sheet.rows, 1):
            for column, text in enumerate(row, 1):
                if text:
                    cell = page.cell(line, column)
                    cell.value, cell.data_type = text, "s"
                    cell.number_format = "@"
                    cell.alignment = Alignment(wrap_text=True, vertical="top")
                    cell.font = Font(bold=line == 1)
        for column in range(len(sheet.rows[0])):
            letter = get_column_letter(column + 1)
            page.column_dimensions[letter].width = _width(sheet, column)
        page.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _ods(sheets: Sequence[Sheet]) -> bytes:
    from odfdo import Document

    document = Document("spreadsheet")
    document.body.clear()
    for sheet in sheets:
        document.body.append(_table(sheet))
    out = io.BytesIO()
    document.save(out)
    return out.getvalue()


def _table(sheet: Sheet) -> Table:
    from odfdo import Cell, Row, Table

    table = Table(sheet.name)
    for line in sheet.rows:
        row = Row()
        for text in line:
            row.append(Cell(text, cell_type="string") if text else Cell())
        table.append(row)
    return table
