"""Finds the table of steps in a shop's sheet: the row of headings, and what each column holds.

Headings are the words that people use; a unit in one ("Torque (Nm)", "ft-lb") counts for the
column. They may stand below a letterhead, in two rows, and again on every page.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assistant.procedure import kit_list
from assistant.procedure.table import Row, Table, column_name
from assistant.trade import units

_WITHIN = 40
"""Rows from the top within which the headings have to be."""

_KINDS: Mapping[str, tuple[str, ...]] = {
    "number": ("step", "step no", "step number", "no", "nr", "number", "op", "op no",
               "operation no",
               "seq", "pos", "position no", "item", "item no", "line", "task no", "s no", "sr no"),
    "stage": ("stage", "section", "phase", "chapter", "block", "sub assembly", "subassembly"),
    "say": ("task", "instruction", "instructions", "work instruction", "action", "operation",
            "what to do", "procedure", "work", "work step", "activity", "do this", "say", "method",
            "job step", "description", "step description", "task description", "text"),
    "detail": ("detail", "details", "more detail", "remark", "remarks", "note", "notes", "comment",
               "comments", "hint", "hints", "tip", "tips", "key points", "key point", "how"),
    "why": ("why", "reason", "purpose", "reasons"),
    "danger": ("danger", "dangers"),
    "warning": ("warning", "warnings"),
    "caution": ("caution", "cautions", "hazard", "hazards", "safety", "safety note", "safety notes",
                "risk", "risks", "cautions and warnings", "warnings and cautions"),
    "notice": ("notice", "attention", "beware", "important"),
    "tools": ("tool", "tools", "special tool", "special tools", "tooling", "equipment",
              "tools required", "tool required", "tools needed", "test equipment"),
    "fastener": ("fastener", "fasteners", "fixing", "fixings", "hardware", "bolt", "bolts", "screw",
                 "screws", "fastener name", "bolt description", "fastening", "joint"),
    "size": ("size", "thread", "thread size", "bolt size", "dimension", "dimensions",
                         "fastener size", "screw size", "dia", "diameter", "spec size"),
    "length": ("length", "bolt length", "len", "length under head"),
    "grade": ("grade", "class", "property class", "strength class", "bolt grade", "quality"),
    "count": (*kit_list.COUNTS, "nos", "no of bolts", "number of bolts", "how many"),
    "torque": ("torque", "torques", "tightening torque", "final torque", "torque value",
               "torque spec", "torque setting", "tighten", "tighten to", "tightening", "tq"),
    "angle": ("angle", "torque angle", "turn", "then turn", "further turn", "tightening angle"),
    "locker": ("thread locker", "threadlocker", "thread lock", "threadlock", "locker", "locking",
               "locking compound", "thread locking", "thread lock strength", "bolt locking"),
    "lubricated": ("lubricant", "lubrication", "lube", "threads", "thread condition", "oil or dry",
                   "thread preparation", "threads are", "condition of threads"),
    "order": ("order", "sequence", "pattern", "tightening order", "tightening sequence",
              "tightening pattern", "torque sequence"),
    "wrench": ("wrench", "torque wrench", "torque tool"),
    "remove": ("remove", "take off", "removed", "parts removed", "comes off", "parts off", "off"),
    "fit": ("fit", "install", "fitted", "parts fitted", "goes on", "parts on"),
    "part": ("part", "parts", "component", "components", "part name", "part description",
             "material", "parts used", "spare", "spares", "parts required", "parts needed"),
    "part number": ("part no", "part number", "part nr", "pn", "p n", "partno", "article no",
                    "article number", "stock code", "stock no", "sku", "item code", "parts no"),
    "new": ("new", "renew", "replace", "new part", "renewed", "use new", "one time use"),
    "bag": ("bag", "bag no", "bag number", "container", "tray", "box no"),
    "reading": ("reading", "readings", "measure", "measurement", "measurements", "check", "checks",
                "inspect", "inspection", "what to measure", "measure what", "parameter"),
    "limits": ("limit", "limits", "spec", "specification", "specs", "tolerance", "tolerances",
               "clearance", "range", "acceptance", "acceptance criteria", "allowed", "requirement",
               "nominal", "limit value", "limit values", "wear limit", "value", "accept"),
    "wait": ("wait", "wait time", "cure", "cure time", "curing time", "hold", "hold time",
             "time to wait",             "drain time", "time"),
}  # fmt: skip
"""The names of the columns by what they hold, compared as `column_name` makes them."""

_BY_NAME: Mapping[str, str] = {
    name: kind for kind, names in reversed(list(_KINDS.items())) for name in names
}
_MAY_BE_SEVERAL = ("torque", "detail", "danger", "warning", "caution", "notice", "tools", "part")
_STEPS_HAVE = ("torque", "tools", "fastener", "detail", "caution", "warning", "danger", "reading",
               "limits", "locker", "size", "number")  # fmt: skip


@dataclass(frozen=True)
class Heading:
    """What one column holds."""

    kind: str
    text: str
    """The heading as written."""
    unit: str | None
    """The unit that its figures are in."""

    @property
    def bound(self) -> str:
        """Whether its figures are the most or the least that is allowed: "max", "min" or ""."""
        found = re.search(r"\b(max|min)", self.text.casefold())
        return found[1] if found else ""


@dataclass(frozen=True)
class Found:
    """A table of steps."""

    table: Table
    header: Row
    columns: Mapping[int, Heading]
    others: Mapping[int, str]
    """Columns that are not known, by their number, with their headings."""
    begins: int
    """The place in the table's rows of the first row below the headings."""

    def of(self, kind: str) -> list[int]:
        """Return the columns of a kind, in order."""
        return [column for column, heading in self.columns.items() if heading.kind == kind]

    def heads_again(self, row: Row) -> bool:
        """Whether a row has the headings again, as on the next page."""
        known = [column for column, text in enumerate(self.header.cells) if text]
        same = sum(row.cell(column) == self.header.cell(column) for column in known)
        return same >= 2 and same >= len(known) - 1


def find(table: Table) -> Found | None:
    """Return the table of steps in a sheet, None if there is none."""
    for place, row in enumerate(table.rows[:_WITHIN]):
        found = _header(table, row, place + 1)
        if found is None:
            continue
        below = table.rows[place + 1] if place + 1 < len(table.rows) else None
        if below is not None and (second := _second(row, below)) is not None:
            return _header(table, second, place + 2) or found
        return found
    return None


def _header(table: Table, row: Row, begins: int) -> Found | None:
    columns: dict[int, Heading] = {}
    others: dict[int, str] = {}
    for column, text in enumerate(row.cells):
        heading = _heading(text) if text else None
        taken = heading is not None and any(one.kind == heading.kind for one in columns.values())
        if heading is not None and (not taken or heading.kind in _MAY_BE_SEVERAL):
            columns[column] = heading
        elif text:
            others[column] = text
    _settle(columns, table.rows[begins:])
    kinds = {heading.kind for heading in columns.values()}
    if "say" not in kinds or not kinds & set(_STEPS_HAVE):
        return None
    return Found(table, row, columns, others, begins)


def _settle(columns: dict[int, Heading], rows: Sequence[Row]) -> None:
    """Settle what two columns could be: a "step" can be its number or its text."""
    by_kind = {heading.kind: column for column, heading in columns.items()}
    if "say" not in by_kind and "number" in by_kind:
        texts = [row.cell(by_kind["number"]) for row in rows if row.cell(by_kind["number"])]
        if texts and sum(len(text.split()) > 1 for text in texts) * 2 > len(texts):
            column = by_kind["number"]
            columns[column] = Heading("say", columns[column].text, None)
    said = by_kind.get("say")
    # "Description" beside a number of a part, a count and nothing of a step is a list of parts.
    if (
        said is not None
        and column_name(columns[said].text) == "description"
        and by_kind.keys() <= {"say", "count", "part number", "number", "part", "size"}
    ):
        del columns[said]


_WITH_UNIT = re.compile(r"(.*?)\s*(?:[(\[]\s*([^()\[\]]+?)\s*[)\]]|[,/]\s*([^,/]+)|\bin\s+(\S+))")


def _heading(text: str) -> Heading | None:
    """Return what a heading says: the kind and the unit. None for one that is not known."""
    text = text.replace("(s)", "s")
    name, unit = text, None
    match = re.fullmatch(
        r"(.*?)\s*(?:[(\[]\s*([^()\[\]]+?)\s*[)\]]|[,/]\s*([^,/]+)|\bin\s+(\S+))", text
    )
    if match is not None:
        inner = next(filter(None, match.groups()[1:]))
        if units.is_unit(inner):
            name, unit = match[1], units.canonical(inner)
        elif match[2]:
            name = match[1]
    elif (
        " " in text and units.is_unit(text.rpartition(" ")[2]) and len(text.rpartition(" ")[2]) > 1
    ):
        name, unit = text.rpartition(" ")[0], units.canonical(text.rpartition(" ")[2])
    plain = column_name(name)
    kind = _BY_NAME.get(plain) or _BY_NAME.get(column_name(text)) or _by_words(plain)
    if kind is None and units.is_unit(text) and text.strip():
        unit = units.canonical(text)
        kind = "torque" if units.kind(unit) == "torque" else None
    return Heading(kind, text, unit) if kind else None


_WORDS = (
    ("locker", r"thread ?lock"), ("torque", r"torque"), ("caution", r"caution|hazard|safety"),
    ("warning", r"warning"), ("danger", r"danger"), ("tools", r"tools?"),
    ("count", r"qty|quantity"), ("limits", r"limits?|tolerance|clearance|wear"),
    ("part number", r"part (?:no|number)"),
    ("say", r"task|instructions?"),
)  # fmt: skip


def _by_words(name: str) -> str | None:
    """Return the kind by a word that stands in a longer heading."""
    return next((kind for kind, words in _WORDS if re.search(rf"\b(?:{words})\b", name)), None)


def _second(header: Row, below: Row) -> Row | None:
    """Return two rows of headings as one, if the lower row goes on with headings or has units."""
    cells = {column: text for column, text in enumerate(below.cells) if text}
    wide = max(len(header.cells), len(below.cells))
    if cells and all(units.is_unit(text.strip("()[] ")) for text in cells.values()):
        texts = [
            f"{header.cell(column)} ({text.strip('()[] ')})" if text else header.cell(column)
            for column in range(wide)
            for text in (cells.get(column, ""),)
        ]
        return Row(below.line, tuple(texts))
    known = sum(_heading(text) is not None for text in cells.values())
    if known >= 2 and known == len(cells):
        return Row(below.line, tuple(cells.get(c) or header.cell(c) for c in range(wide)))
    return None
