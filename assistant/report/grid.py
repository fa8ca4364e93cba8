"""Tables as data: columns, rows and what stands in a cell, for the page and the PDF alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from assistant.report import svg
from assistant.report.model import Entry, Photo


@dataclass(frozen=True)
class Column:
    """A column's head, and what it holds: words take what room there is, the rest what it needs."""

    head: str
    kind: Literal["text", "words", "number", "when", "plot"] = "text"


@dataclass(frozen=True)
class Cell:
    """What stands in a cell, from top to bottom; each may be left out."""

    struck: str = ""
    """Taken back."""
    text: str = ""
    strong: bool = False
    """Whether it names its row."""
    flag: str = ""
    """What has to be looked at."""
    at: datetime | None = None
    plot: svg.Drawing | None = None
    small: tuple[str, ...] = ()
    lines: tuple[tuple[str, str], ...] = ()
    """A list in small print, each with why it no longer stands, or nothing."""
    entry: Entry | None = None
    """Whose clip is played here."""
    photo: Photo | None = None
    """A photo, shown small."""
    grave: bool = False
    """Whether its flag says that something is open, and not only to be looked at."""


@dataclass(frozen=True)
class Row:
    """A row; one with a `group` alone heads the rows that follow."""

    cells: tuple[Cell, ...] = ()
    group: str = ""
    faint: bool = False


@dataclass(frozen=True)
class Table:
    """A table with its caption; it has at least one row."""

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Section:
    """A headed part of the record, and what stands in it where there are no tables."""

    name: str
    title: str
    tables: tuple[Table, ...]
    otherwise: str = ""


WHEN = Column("When", "when")
DRAWN = Column("Drawn", "plot")


def words(head: str) -> Column:
    """Return a column of words, which takes what room there is."""
    return Column(head, "words")


def number(head: str) -> Column:
    """Return a column of numbers."""
    return Column(head, "number")


def table(name: str, caption: str, heads: Iterable[str | Column], rows: Iterable[Row]) -> Table:
    """Return a table; a head alone is a column of text."""
    columns = (head if isinstance(head, Column) else Column(head) for head in heads)
    return Table(name, caption, tuple(columns), tuple(rows))


def full(*tables: Table) -> tuple[Table, ...]:
    """Return the tables that have rows."""
    return tuple(table for table in tables if table.rows)
