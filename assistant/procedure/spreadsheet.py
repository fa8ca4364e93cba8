"""Reads tables that other programs saved, CSV, XLSX or ODS, as rows of text with their places.

A CSV file may be divided by commas, semicolons or tabs, and be in UTF-8, UTF-16 with its mark, or
Windows-1252; which of them is found out. Of a workbook the values are read, never the formulas.
Files come from outside, so their size is bounded, and only an AssistantError may come out.
"""

from __future__ import annotations

import codecs
import csv
import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.errors import AssistantError
from assistant.procedure import opendocument, table, workbook
from assistant.procedure.table import Row, Table

MOST_BYTES = 10_000_000
"""Largest file."""
_MOST_UNPACKED = 100_000_000
"""Largest size of a workbook's parts together, bytes. A small file can unpack to any size."""
_DELIMITERS = ",;\t"
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True)
class Book:
    """A file with what may be the table in it."""

    tables: tuple[Table, ...]
    """The likeliest first: its visible sheets, or a CSV file as each delimiter divides it."""
    hidden: tuple[str, ...] = ()
    """The names of hidden sheets, which are not read."""


def tables(path: Path) -> tuple[Table, ...]:
    """Return what may be the table in a file, the likeliest first: visible sheets, or delimiters.

    Raises AssistantError, with the file and where possible the line, if it cannot be read.
    """
    return book(path).tables


def book(path: Path) -> Book:
    """Return what may be the table in a file, and which sheets are hidden. Raises as `tables`."""
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
    if data.startswith(_ZIP):
        return _workbook(path, data)
    return Book(_divided(path, decoded(path, data)))


def _workbook(path: Path, data: bytes) -> Book:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            unpacked = sum(part.file_size for part in packed.infolist())
            if unpacked > _MOST_UNPACKED:
                raise AssistantError(
                    f"{path}: larger than a workbook can be ({_MOST_UNPACKED} bytes unpacked)."
                )
            kind = opendocument if opendocument.is_one(packed) else workbook
            return Book(*kind.sheets(path, data, packed))
    except AssistantError:
        raise
    except Exception:
        # A damaged or foreign file fails in whatever way the library's parts do.
        raise AssistantError(
            f"{path}: cannot be read as a workbook. Save it again as .xlsx or .ods, or as .csv."
        ) from None


def decoded(path: Path, data: bytes) -> str:
    """Return the text in a file's bytes. Raises AssistantError where it is none."""
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
                table.bounded(path, line, len(rows))
                rows.append(table.row(line, cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise AssistantError(f"{path}:{line}: this line cannot be read as CSV: {error}.") from None
    return tuple(rows)
