"""Reads tables that other programs saved, CSV or XLSX, as rows of text with their line numbers.

A CSV file may be divided by commas, semicolons or tabs, and be in UTF-8, UTF-16 with its mark, or
Windows-1252; which of them is found out. Of a workbook the values are read, never the formulas.
Files come from outside, so their size is bounded, and only an AssistantError may come out.
"""

from __future__ import annotations

import codecs
import csv
import io
import warnings
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from assistant.errors import AssistantError
from assistant.text import plain

MOST_BYTES = 10_000_000
"""Largest file."""
_MOST_UNPACKED = 100_000_000
"""Largest size of a workbook's parts together, bytes. A small file can unpack to any size."""
MOST_ROWS = 5000
_MOST_COLUMNS = 100
"""Columns that are looked at."""
_LONGEST_CELL = 2000
_DELIMITERS = ",;\t"
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True)
class Row:
    """One row that is not empty."""

    line: int
    """Where it begins: its line of the file or row of the sheet, from 1."""
    cells: tuple[str, ...]
    """What is in its columns, on one line each and without blanks around; "" for nothing."""
    faults: Mapping[int, str] = field(default_factory=dict)
    """What is wrong with a cell, by its column from 0: it holds an error, or a date."""

    def cell(self, column: int | None) -> str:
        """Return the text in a column, "" where the row ends before it or there is no column."""
        return self.cells[column] if column is not None and column < len(self.cells) else ""


@dataclass(frozen=True)
class Table:
    """The rows of one sheet, or of a CSV file as one delimiter divides it."""

    rows: tuple[Row, ...]
    sheet: str | None = None
    """The sheet's name; None for a CSV file."""
    hidden: tuple[int, ...] = ()
    """The lines of hidden rows, which are not among the rows."""

    def column(self, number: int) -> str:
        """Return what a column, from 0, is called for people: "column 3", or "column C"."""
        if self.sheet is None:
            return f"column {number + 1}"
        from openpyxl.utils import get_column_letter

        return f"column {get_column_letter(number + 1)}"


def tables(path: Path) -> tuple[Table, ...]:
    """Return what may be the table in a file, the likeliest first: visible sheets, or delimiters.

    Raises AssistantError, with the file and where possible the line, if it cannot be read.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise AssistantError(f"{path}: larger than a list can be ({MOST_BYTES} bytes).")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise AssistantError(f"{path}: cannot read this list: {why}.") from None
    if data.startswith(_OLE):
        raise AssistantError(
            f"{path}: an old workbook (.xls), or one with a password. Save it as .xlsx or .csv."
        )
    return _workbook(path, data) if data.startswith(_ZIP) else _divided(path, _decoded(path, data))


def _decoded(path: Path, data: bytes) -> str:
    for mark, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if data.startswith(mark):
            encodings: Sequence[str] = (encoding,)
            break
    else:
        encodings = ("utf-8", "cp1252")
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError as error:
            line = data[: error.start].count(b"\n") + 1
            continue
        if "\0" in text:
            raise AssistantError(f"{path}: not text. Save the list as .csv or .xlsx.")
        return text
    raise AssistantError(
        f"{path}:{line}: neither UTF-8 nor Windows-1252 text. Save the file as UTF-8."
    )


def _divided(path: Path, text: str) -> tuple[Table, ...]:
    found = []
    faults = []
    for delimiter in _DELIMITERS:
        try:
            found.append(Table(_csv_rows(path, text, delimiter)))
        except AssistantError as error:
            faults.append(error)
    if not found:
        raise faults[0]
    return tuple(found)


def _csv_rows(path: Path, text: str, delimiter: str) -> tuple[Row, ...]:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows: list[Row] = []
    line = 1
    try:
        for cells in reader:
            # "sep=;" on the first line is for one program's eyes.
            if any(cell.strip() for cell in cells) and not (
                line == 1 and "".join(cells).lower().startswith("sep=")
            ):
                _bounded(path, line, len(rows))
                rows.append(Row(line, tuple(_text(cell) for cell in cells[:_MOST_COLUMNS])))
            line = reader.line_num + 1
    except csv.Error as error:
        raise AssistantError(f"{path}:{line}: this line cannot be read as CSV: {error}.") from None
    return tuple(rows)


def _bounded(path: Path, line: int, rows: int) -> None:
    if rows >= MOST_ROWS:
        raise AssistantError(f"{path}:{line}: more than {MOST_ROWS} rows; is it the right list?")


def _text(value: str) -> str:
    return " ".join(plain(value).split())[:_LONGEST_CELL]


def _workbook(path: Path, data: bytes) -> tuple[Table, ...]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
        if unpacked > _MOST_UNPACKED:
            raise AssistantError(
                f"{path}: larger than a workbook can be ({_MOST_UNPACKED} bytes unpacked)."
            )
        import openpyxl

        with warnings.catch_warnings():
            # About what the library leaves out, such as rules for colours.
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
            sheets = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
            return tuple(_sheet(path, sheet) for sheet in sheets)
    except AssistantError:
        raise
    except Exception:
        # A damaged or foreign file fails in whatever way the library's parts do.
        raise AssistantError(
            f"{path}: cannot be read as a workbook. Save it again as .xlsx, or as .csv."
        ) from None


def _sheet(path: Path, sheet: Any) -> Table:
    hidden_columns = {
        number
        for dimension in sheet.column_dimensions.values()
        if dimension.hidden
        for number in range(dimension.min, min(dimension.max, _MOST_COLUMNS) + 1)
    }
    rows: list[Row] = []
    hidden: list[int] = []
    by_row: dict[int, dict[int, Any]] = {}
    # Only cells that exist: a stray one in the last corner of the sheet would make billions.
    for (line, column), cell in sheet._cells.items():
        if cell.value is not None and column <= _MOST_COLUMNS and column not in hidden_columns:
            by_row.setdefault(line, {})[column - 1] = cell
    for line, cells in sorted(by_row.items()):
        if sheet.row_dimensions[line].hidden:
            hidden.append(line)
            continue
        _bounded(path, line, len(rows))
        faults = {column: fault for column, cell in cells.items() if (fault := _fault(cell.value))}
        texts = tuple(
            _shown(cells[column]) if column in cells else "" for column in range(max(cells) + 1)
        )
        if any(texts):
            rows.append(Row(line, texts, faults))
    return Table(tuple(rows), sheet.title, tuple(hidden))


_ERRORS = ("#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NUM!", "#NULL!")


def _fault(value: Any) -> str | None:
    if isinstance(value, str) and value in _ERRORS:
        return f"holds the error {value}"
    if isinstance(value, datetime | date | time | timedelta):
        return "holds a date or time; format the column as text and enter it again"
    return None


def _shown(cell: Any) -> str:
    """Return a cell as people see it where that matters: 3.0 as 3, leading zeros as formatted."""
    value = cell.value
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        value = int(value)
    text = _text(str(value))
    form = str(cell.number_format or "")
    if isinstance(value, int) and value >= 0 and set(form) == {"0"}:
        return text.zfill(len(form))
    return text
