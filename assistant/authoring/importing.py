"""From a file that a shop has to a procedure file, and from a procedure file to sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.authoring import (
    from_layout,
    imported_yaml,
    pasted,
    sheet_files,
    sheets,
    shop_rows,
    typed_sizes,
)
from assistant.authoring.imported import Imported, settled
from assistant.errors import AssistantError
from assistant.procedure import reading, spreadsheet

TEXTS = (".txt", ".text", ".md")
SHEETS = sheet_files.ENDINGS
READ = (*SHEETS, ".xlsm", *TEXTS)
"""Endings of what a procedure can be made of."""
PROCEDURES = (".yaml", ".yml")

_HEAD: tuple[str, ...] = (
    "DRAFT, written from {source}. Nobody has approved it; do not work from it until somebody has.",
    "Check every line against the source, settle each TO DO, and delete the comments. Then give it "
    "a revision.",
)
_AGAIN = ("Written from {source}.",)


@dataclass(frozen=True)
class Written:
    """What is to be written, and what there is to tell of it."""

    contents: bytes
    told: tuple[str, ...]
    """Sentences for the terminal, each with its cell or line."""
    left_to_do: int
    """How many of them are about something that could not be read."""
    steps: int


def procedure_from(path: Path) -> Written:
    """Return the procedure file made of a sheet of steps (XLSX, ODS, CSV) or of numbered text.

    Raises AssistantError, with the file, where it cannot be read or has no steps.
    """
    name = typed_sizes.identifier(path.stem, (), "procedure")
    try:
        if path.suffix.casefold() in TEXTS:
            read, head = pasted.read(_text(path), name), _HEAD
        else:
            book = spreadsheet.book(path)
            ours = from_layout.table_of_steps(book.tables) is not None
            reader = from_layout.read if ours else shop_rows.read
            read = reader(book.tables, name)
            head = _AGAIN if ours else _HEAD
            for sheet in book.hidden:
                read.tell(f"the sheet {sheet!r} is hidden, so it is left out")
    except AssistantError as error:
        raise _of(path, error) from None
    return _finished(settled(read), path, head)


def _of(path: Path, error: AssistantError) -> AssistantError:
    text = str(error)
    return error if text.startswith(str(path)) else AssistantError(f"{path}: {text}")


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > spreadsheet.MOST_BYTES:
            raise AssistantError("larger than a text of steps can be.")
        return spreadsheet.decoded(path, path.read_bytes())
    except OSError as error:
        raise AssistantError(f"cannot read this text: {error.strerror}.") from None


def _finished(read: Imported, path: Path, head: Sequence[str]) -> Written:
    text = imported_yaml.text(read, [line.format(source=path.name) for line in head])
    in_order = sorted(read.remarks, key=lambda one: [str(part).zfill(4) for part in one.at[:4]])
    told = tuple(f"{path}: {_ended(str(one))}" for one in in_order)
    lost = sum(one.lost for one in read.remarks)
    return Written(text.encode(), told, lost, read.steps)


def _ended(text: str) -> str:
    return text if text[-1] in ".?" else f"{text}."


def sheets_from(path: Path, ending: str) -> Written:
    """Return the file of sheets made of a procedure file; `ending` is ".xlsx", ".ods" or ".csv".

    Raises AssistantError where the procedure has a fault, or a value that no cell can hold.
    """
    loaded = reading.load(path)
    checked = [one.removeprefix(f"{path}:") for one in loaded.warnings]
    laid_out = sheets.laid_out(loaded.procedure, [f"line {one}" for one in checked])
    told: tuple[str, ...] = ()
    if ending == ".csv":
        left = ", ".join(sheet.name for sheet in laid_out[1:])
        told = (f"A CSV file has one sheet. Left out: {left}. Use .xlsx or .ods to keep all.",)
    contents = sheet_files.contents(laid_out, ending)
    return Written(contents, told, 0, len(loaded.procedure.steps))
