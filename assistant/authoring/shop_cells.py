"""The cells of one row of a shop's sheet, by what they hold."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from assistant.authoring import typed
from assistant.authoring.headings import Found
from assistant.authoring.imported import Imported, Path
from assistant.procedure.table import Row

T = TypeVar("T")
_MAY_BE_SHARED = ("torque", "angle", "locker", "lubricated", "order", "size", "length", "grade")


class Cells:
    """The cells of one row, by what they hold."""

    def __init__(self, read: Imported, found: Found, row: Row) -> None:
        self._read, self._found, self._row = read, found, row
        self.at: Path = ()
        """The step that the row belongs to."""
        self.repeats = False
        """Whether it has the number and the task of the step again, as filled down."""

    def every(self, kind: str) -> list[tuple[str, str]]:
        """Return the texts in the columns of a kind, each with its place."""
        return [
            (self._row.text(column), self._found.table.place(self._row, column))
            for column in self._held(kind)
        ]

    def _held(self, kind: str) -> list[int]:
        """Return the columns of a kind in which the row has something that can be read."""
        return [
            column
            for column in self._found.of(kind)
            if self._row.cell(column) and column not in self._row.faults
        ]

    def one(self, kind: str) -> tuple[str, str]:
        """Return the text of a kind and its place; several columns in brackets after the first.

        A cell of a fastener that is merged over several rows counts for each of them.
        """
        found = self.every(kind)
        if not found:
            for column in self._found.of(kind) if kind in _MAY_BE_SHARED else ():
                if text := self._row.shared.get(column, ""):
                    return text, self._found.table.place(self._row, column)
            return "", ""
        texts = [self._with_unit(kind, number, text) for number, (text, _) in enumerate(found)]
        return texts[0] + "".join(f" ({text})" for text in texts[1:]), found[0][1]

    def _with_unit(self, kind: str, number: int, text: str) -> str:
        columns = self._held(kind)
        unit = self._found.columns[columns[number]].unit
        return f"{text} {unit}" if len(columns) > 1 and unit and text[-1:].isdigit() else text

    def text(self, kind: str) -> str:
        """Return the text of a kind on one line; "" for none."""
        return " ".join(self._row.cell(column) for column in self._held(kind)[:1])

    def place(self, *kinds: str) -> str:
        """Return what the first of these cells that holds something is called."""
        columns = [column for kind in kinds for column in self._found.of(kind)]
        held = [column for column in columns if self._row.cell(column)]
        return self._found.table.place(self._row, (held or columns or [0])[0])

    def unit(self, kind: str) -> str | None:
        """Return the unit in the heading of a kind."""
        return next((self._found.columns[column].unit for column in self._found.of(kind)), None)

    def heading(self, kind: str) -> str:
        """Return the heading of a kind as written; "" for none."""
        return next((self._found.columns[column].text for column in self._found.of(kind)), "")

    def bounded(self, text: str) -> str:
        """Return a limit with the "max" or "min" that its heading says."""
        bound = next((self._found.columns[c].bound for c in self._found.of("limits")), "")
        return f"{bound} {text}" if bound and not typed.looks_like_several(text) else text

    def value(self, kind: str, read: Callable[[str, str | None], T]) -> T | None:
        """Return the value of a kind; None where there is none. What is unreadable is told."""
        text, place = self.one(kind)
        if not text or typed.tidy(text).casefold() in ("", "-", "n/a", "none"):
            return None
        try:
            found = read(text, self.unit(kind))
        except typed.Unreadable as error:
            self._read.tell(f"{self.heading(kind)}: {error}", place, self.at)
            return None
        if noticed := getattr(found, "noticed", ""):
            told = f"{self.heading(kind)}: {noticed}"
            self._read.tell(told, place, self.at, lost=False)
        return found

    def tell_faults(self) -> None:
        """Tell of each cell that holds an error, a date or a formula without a value."""
        for column, fault in self._row.faults.items():
            heading = self._found.columns.get(column)
            if heading is not None:
                place = self._found.table.place(self._row, column)
                self._read.tell(f"{heading.text}: {fault}", place, self.at)
