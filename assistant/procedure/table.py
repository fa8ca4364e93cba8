"""Tables as they come out of files of other programs: rows of text, each with its place.

The readers of the formats (`spreadsheet`, `workbook`, `opendocument`) make these; what the columns
mean is for whoever reads the table. Files come from outside, so rows, columns and cells are
bounded here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assistant.errors import AssistantError
from assistant.text import plain

MOST_ROWS = 30_000
MOST_COLUMNS = 100
"""Columns that are looked at."""
_LONGEST_CELL = 32_767
"""Characters. No workbook holds more in one cell."""

ERRORS = ("#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NUM!", "#NULL!")
DATE = "holds a date or time; format the column as text and enter it again"
NOT_WORKED_OUT = (
    "holds a formula whose value was never saved; open the file, save it, and try again"
)


@dataclass(frozen=True)
class Row:
    """One row that is not empty."""

    line: int
    """Where it begins: its line of the file or row of the sheet, from 1."""
    cells: tuple[str, ...]
    """What is in its columns, on one line each and without blanks around; "" for nothing."""
    faults: Mapping[int, str] = field(default_factory=dict)
    """What is wrong with a cell, by its column from 0: it holds an error, a date, or a formula
    without a value."""
    texts: Mapping[int, str] = field(default_factory=dict)
    """The cells with more than one line, by their columns, with the line ends kept."""
    shared: Mapping[int, str] = field(default_factory=dict)
    """What a merged cell that began in a row above holds, by the columns that it covers here."""

    def cell(self, column: int | None) -> str:
        """Return the text in a column, "" where the row ends before it or there is no column."""
        return self.cells[column] if column is not None and column < len(self.cells) else ""

    def text(self, column: int | None) -> str:
        """Return the text in a column with its line ends."""
        return self.texts.get(-1 if column is None else column) or self.cell(column)


@dataclass(frozen=True)
class Table:
    """The rows of one sheet, or of a CSV file as one delimiter divides it."""

    rows: tuple[Row, ...]
    sheet: str | None = None
    """The sheet's name; None for a CSV file."""
    hidden: tuple[int, ...] = ()
    """The lines of hidden rows, which are not among the rows."""
    hidden_columns: tuple[int, ...] = ()
    """Hidden columns that hold something, from 0. The rows have nothing in them."""

    def column(self, number: int) -> str:
        """Return what a column, from 0, is called for people: "column 3", or "column C"."""
        return f"column {number + 1 if self.sheet is None else letters(number)}"

    def place(self, row: Row, column: int) -> str:
        """Return what a cell is called for people: "line 5, column 3", or "Sheet C5"."""
        if self.sheet is None:
            return f"line {row.line}, column {column + 1}"
        return f"{self.sheet} {letters(column)}{row.line}"


def letters(column: int) -> str:
    """Return the letters of a column, from 0: A, Z, AA."""
    from openpyxl.utils import get_column_letter

    return str(get_column_letter(column + 1))


def row(line: int, values: Sequence[str], **more: Mapping[int, str]) -> Row:
    """Return a row of cells as they are in the file, made safe and bounded."""
    kept = [plain(value, "\n")[:_LONGEST_CELL] for value in values[:MOST_COLUMNS]]
    lines = {
        column: "\n".join(filter(None, (" ".join(one.split()) for one in text.split("\n"))))
        for column, text in enumerate(kept)
        if "\n" in text.strip()
    }
    return Row(line, tuple(" ".join(text.split()) for text in kept), texts=lines, **more)


def bounded(path: Path, line: int, rows: int) -> None:
    """Raise AssistantError for a row too many."""
    if rows >= MOST_ROWS:
        raise AssistantError(f"{path}:{line}: more than {MOST_ROWS} rows; is it the right file?")


def number_as_seen(value: float, form: str = "") -> str:
    """Return a number as people see it where that matters, in its format of the workbook.

    3.0 is 3, leading zeros are as formatted, and a unit that the format adds is there.
    """
    text = str(int(value)) if value == int(value) and abs(value) < 1e15 else f"{value:.15g}"
    if value >= 0 and form and set(form) == {"0"}:
        return text.zfill(len(form))
    added = re.fullmatch(r'[#0.,]+\s*"([^"]{1,20})"', form)
    return f"{text} {added[1].strip()}" if added else text


def column_name(cell: str) -> str:
    """Return a column's name for comparing: small letters, digits and single blanks."""
    return " ".join(re.sub(r"[\W_]+", " ", cell.replace("#", " no ").lower()).split())


def best_column(
    names: Sequence[str], known: Sequence[str], taken: Sequence[int | None] = ()
) -> int | None:
    """Return the column that has the first possible of the `known` names and is not `taken`."""
    for name in known:
        for column, found in enumerate(names):
            if found == name and column not in taken:
                return column
    return None
