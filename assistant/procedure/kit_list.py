"""The list of a kit of parts, as suppliers send them with it: number, name and count of each part.

The columns are found by their names, which may stand below a letterhead; other columns are left
out. Each line gets a name that can be said (`part_names`), and keeps what the supplier wrote.
Nothing of the list is lost in silence: two lines of one part are added up, two parts that would
have one name are told apart, and what is left out is told in a warning.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from assistant.errors import AssistantError
from assistant.procedure import part_names, spreadsheet
from assistant.procedure.lexicon import Noun
from assistant.procedure.table import Row, Table, best_column, column_name

MOST_COUNT = 999
_MOST_ROWS = 5000
_HEADER_WITHIN = 40
"""Rows from the top within which the header has to be. Letterheads and addresses stand above it."""
_LONGEST_NUMBER = 60
_LONGEST_DESCRIPTION = 200

# Names of columns in suppliers' lists, the best first: what is shipped goes before what was
# ordered, a part's number before its place in a drawing.
NUMBERS = (
    "part number", "part no", "part nr", "partno", "partnumber", "part num", "part", "pn",
    "article number", "article no", "article nr", "article", "artikelnummer", "artikel nr",
    "teilenummer", "item number", "item no", "material number", "material no", "material",
    "stock code", "stock number", "stock no", "product code", "product number", "product no",
    "catalogue number", "catalogue no", "order number", "order no", "item code", "sku", "code",
    "number", "no", "nr", "reference", "reference number", "ref", "item",
)  # fmt: skip
_NAMES = (
    "description", "part description", "item description", "article description",
    "material description", "product description", "part name", "item name", "product name",
    "name", "designation", "désignation", "bezeichnung", "benennung", "desc", "title", "article",
    "product", "part", "item", "material",
)  # fmt: skip
COUNTS = (
    "qty shipped", "shipped", "shipped qty", "quantity shipped", "qty delivered", "delivered",
    "qty supplied", "supplied", "quantity supplied", "qty in kit", "qty per kit", "kit qty",
    "count", "qty", "quantity", "qnty", "qty ea", "qty pcs", "quantity pcs", "number off", "no off",
    "off", "pcs", "pieces", "menge", "anzahl", "stück", "quantité", "qté", "required",
    "qty required", "qty reqd", "ordered", "qty ordered", "amount", "units",
)  # fmt: skip

_COUNT = re.compile(
    r"[x×]?\s*(?P<figure>[+-]?\d{1,12}(?:[.,]\d{1,6})?)\s*"
    r"(?:x|×|off|pcs?|pieces?|ea|each|st|stk|stück|nos?|units?)?\.?",
    re.IGNORECASE,
)
_TOTAL = re.compile(
    r"(?:sub|grand)?[ -]?(?:total|sum)(?: (?:qty|quantity|pieces|parts|items))?:?", re.IGNORECASE
)
_NO_NUMBER = re.compile(r"[-–—?./ ]*|n/?a|none|tb[acd]", re.IGNORECASE)
"""What stands in the column of numbers for a part that has none."""


@dataclass(frozen=True)
class KitLine:
    """One part of a kit."""

    number: str | None
    """The supplier's number for it, as written; None if the list has none."""
    name: str
    """What it is called aloud: letters and blanks, in the singular. No other line has this name."""
    plural: str
    """What several of it are called aloud."""
    count: int
    """How many are in the kit, 0 to 999. 0: the list names the part and the kit has none of it."""
    description: str
    """What the supplier wrote, with its sizes; of lines added up, all that differ."""
    line: int
    """The line of the file, or the row of the sheet, that it begins on."""

    @property
    def noun(self) -> Noun:
        """The name as a noun among those that can be said."""
        return Noun(self.name, self.plural)


@dataclass(frozen=True)
class Loaded:
    """A kit's list with what there is to know about how it was read."""

    lines: tuple[KitLine, ...]
    warnings: tuple[str, ...]
    """Each as "FILE:LINE: warning: …", in the order of the lines."""


def read(path: Path) -> tuple[KitLine, ...]:
    """Return the parts of a kit from a CSV, XLSX or ODS file. Raises as `load` does."""
    return load(path).lines


def load(path: Path) -> Loaded:
    """Read a kit's list from a CSV, XLSX or ODS file, with warnings about it.

    Raises AssistantError with one line for each fault, as "FILE:LINE: …", with the column.
    """
    table, header, notes = _table(path)
    faults: list[tuple[int, str]] = []
    lines = _named(_added_up(_written(table, header, faults, notes), faults, notes), notes)
    if faults:
        raise AssistantError("\n".join(f"{path}:{line}: {what}." for line, what in sorted(faults)))
    if not lines:
        raise AssistantError(f"{path}:{header.row.line}: there are no parts below this line.")
    return Loaded(lines, tuple(f"{path}:{line}: warning: {what}." for line, what in sorted(notes)))


@dataclass(frozen=True)
class _Header:
    """The row with the columns' names, and the columns, from 0, that hold what is wanted."""

    row: Row
    number: int | None
    name: int | None
    count: int | None

    @property
    def complete(self) -> bool:
        return self.name is not None and self.count is not None

    @property
    def found(self) -> int:
        return sum(column is not None for column in (self.number, self.name, self.count))

    def columns(self) -> tuple[str, ...]:
        """Return the names of the columns that are read."""
        return tuple(
            self.row.cell(c) for c in (self.number, self.name, self.count) if c is not None
        )


@dataclass(frozen=True)
class _Line:
    """A line as it is written, before it has a name that can be said."""

    number: str | None
    text: str
    """The supplier's name; "" where there is none."""
    count: int
    line: int


def _table(path: Path) -> tuple[Table, _Header, list[tuple[int, str]]]:
    tables = spreadsheet.tables(path)
    for one in tables:
        if len(one.rows) > _MOST_ROWS:
            line = one.rows[_MOST_ROWS].line
            raise AssistantError(
                f"{path}:{line}: more than {_MOST_ROWS} rows; is it the right list?"
            )
    found = [(table, header) for table in tables if (header := _header(table)) is not None]
    if not found:
        raise AssistantError(
            f"{path}:1: no line names the columns. Put one above the parts, such as "
            "number, name, count."
        )
    # Of a workbook the first sheet; of a CSV file the delimiter that shows most of the columns.
    table, header = max(found, key=lambda one: (one[1].complete, not one[0].sheet and one[1].found))
    if not header.complete:
        lacks, such_as = ("counts", "count") if header.name is not None else ("names", "name")
        raise AssistantError(
            f"{path}:{header.row.line}: there is no column for the {lacks} of the parts. Call it "
            f"'{such_as}'; the columns that were found are {', '.join(header.columns())}."
        )
    notes = []
    if table.sheet is not None:
        notes = [
            (1, f"only the sheet {table.sheet!r} is read; {other.sheet!r} has a list too")
            for other, of in found
            if other is not table and of.complete
        ]
        hidden = [line for line in table.hidden if line > header.row.line]
        if hidden:
            rows = "row is" if len(hidden) == 1 else "rows are"
            notes.append((hidden[0], f"{len(hidden)} hidden {rows} left out, from here on"))
    return table, header, notes


def _header(table: Table) -> _Header | None:
    """Return the row that names the columns: the first with all that is needed, or with two."""
    partial = None
    for row in table.rows[:_HEADER_WITHIN]:
        names = [column_name(cell) for cell in row.cells]
        name = best_column(names, _NAMES)
        count = best_column(names, COUNTS, (name,))
        number = best_column(names, NUMBERS, (name, count))
        header = _Header(row, number, name, count)
        if header.complete:
            return header
        if partial is None and header.found >= 2:
            partial = header
    return partial


def _written(
    table: Table, header: _Header, faults: list[tuple[int, str]], notes: list[tuple[int, str]]
) -> list[_Line]:
    lines = []
    for row in table.rows:
        if row.line <= header.row.line or row.cells == header.row.cells:
            continue
        number, text, said = (row.cell(c) for c in (header.number, header.name, header.count))
        number = "" if _NO_NUMBER.fullmatch(number) else number
        broken = [
            f"{header.row.cell(c)} ({table.column(c)}): {row.faults[c]}"
            for c in (header.number, header.name, header.count)
            if c is not None and c in row.faults
        ]
        if broken:
            faults += [(row.line, what) for what in broken]
        elif not (number and text) and any(_TOTAL.fullmatch(cell) for cell in row.cells):
            continue
        elif not number and not text:
            if said:
                notes.append((row.line, f"the count {said!r} has no part, so it is left out"))
        elif not said and not number and header.number is not None:
            notes.append((row.line, f"{text!r} has no number and no count, so it is left out"))
        else:
            assert header.count is not None
            try:
                count = counted(said)
            except ValueError as error:
                where = f"{header.row.cell(header.count)} ({table.column(header.count)})"
                faults.append((row.line, f"{where}: {error}"))
                continue
            if len(number) > _LONGEST_NUMBER:
                faults.append((row.line, f"the number is longer than {_LONGEST_NUMBER} characters"))
                continue
            lines.append(_Line(number or None, text, count, row.line))
    return lines


def counted(said: str) -> int:
    """Return the count in a cell. Raises ValueError that says what to write."""
    if not said:
        raise ValueError("a count is missing; write how many there are, 0 for none")
    match = _COUNT.fullmatch(said)
    if match is None:
        raise ValueError(f"expected how many pieces, such as 4, not {said[:40]!r}")
    value = Decimal(match["figure"].replace(",", "."))
    if value != value.to_integral_value():
        raise ValueError(
            f"expected whole pieces, not {said[:40]!r}; write 1 for one length or container"
        )
    if not 0 <= value <= MOST_COUNT:
        raise ValueError(f"expected 0 to {MOST_COUNT} pieces, not {said[:40]!r}")
    return int(value)


def _added_up(
    lines: Sequence[_Line], faults: list[tuple[int, str]], notes: list[tuple[int, str]]
) -> list[_Line]:
    """Return the lines with those of one part as one: of one number and name, or one wording."""
    found: dict[tuple[object, ...], _Line] = {}
    first_with: dict[str, _Line] = {}
    for line in lines:
        number = re.sub(r"\s", "", line.number or "").casefold()
        key: tuple[object, ...] = (number, line.text.casefold())
        if number:
            # One number and another size is another part, whatever the number says.
            key = (number, part_names.spoken(line.text), part_names.figures(line.text))
        first = found.setdefault(key, line)
        if first is not line:
            count = first.count + line.count
            notes.append((line.line, f"added to line {first.line}, which is the same part"))
            if count > MOST_COUNT:
                faults.append((line.line, f"with line {first.line}, more than {MOST_COUNT} pieces"))
            text = first.text
            if line.text.casefold() not in text.casefold():
                text = f"{text} / {line.text}"
            found[key] = _Line(first.number, text, count, first.line)
        elif number and first_with.setdefault(number, line) is not line:
            other = first_with[number].line
            notes.append((line.line, f"line {other} has the number {line.number!r} too"))
    return list(found.values())


def _named(lines: Sequence[_Line], notes: list[tuple[int, str]]) -> tuple[KitLine, ...]:
    given = part_names.told_apart([line.text for line in lines])
    for line, spoken in zip(lines, given, strict=True):
        if part_names.spoken(line.text) != spoken.name:
            what = line.text or line.number
            notes.append((line.line, f"{what!r} is called {spoken.name!r}"))
    return tuple(
        KitLine(
            line.number,
            spoken.name,
            spoken.plural,
            line.count,
            (line.text or line.number or "")[:_LONGEST_DESCRIPTION],
            line.line,
        )
        for line, spoken in zip(lines, given, strict=True)
    )
