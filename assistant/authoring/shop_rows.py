"""Makes a procedure of a shop's own sheet: a row a step, or one more fastener or part of it.

What cannot be read is never guessed: it is told with its cell, and stands in the file as a comment
at its step. What was taken in one way of several is told too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from assistant.authoring import instructions, shop_fasteners, typed, typed_sizes
from assistant.authoring.headings import Found, find
from assistant.authoring.imported import Imported, Path
from assistant.authoring.shop_cells import Cells
from assistant.authoring.shop_parts import Parts
from assistant.errors import AssistantError
from assistant.grammar import numbers
from assistant.procedure.table import Row, Table, column_name

_TITLES = ("title", "job", "procedure", "subject", "document", "name")
_MACHINES = ("machine", "equipment", "unit", "model", "type", "assembly", "asset")
_HAZARDS: tuple[instructions.Signal, ...] = ("danger", "warning", "caution", "notice")


def read(tables: Sequence[Table], name: str) -> Imported:
    """Return the procedure in the sheets of a shop; `name` is what it is called if they do not say.

    Raises AssistantError if no sheet has a table of steps.
    """
    found = [(table, one) for table in tables if (one := find(table)) is not None]
    if not found:
        raise AssistantError(
            "no row names the columns. Put one above the steps, such as: step, task, fastener, "
            "qty, size, torque (Nm), thread-locker, caution, tool."
        )
    if tables[0].sheet is None:
        # Of a CSV file, the delimiter that shows the most columns.
        found = [max(found, key=lambda one: len(one[1].columns))]
    reader = Reader(name)
    for table in tables if tables[0].sheet is not None else ():
        if table.rows and not any(one is table for one, _ in found):
            reader.read.tell(
                f"the sheet {table.sheet!r} has no headings of steps, so it is left out"
            )
    for _, one in found:
        reader.sheet(one, several=len(found) > 1)
    return reader.finished()


class Reader:
    """Puts one procedure together, sheet by sheet and row by row."""

    def __init__(self, name: str) -> None:
        self.read = Imported()
        title = name.replace("-", " ").replace("_", " ").strip().capitalize()
        self.read.tree = {"procedure": name, "title": title, "revision": "draft"}
        self.read.tree |= {"equipment": {"kind": title}, "parts": [], "stages": []}
        self.ids: set[str] = set()
        self.at: Path = ()
        """The step that rows go to; () before the first."""
        self.number, self.said = "", ""
        """The number and the task of that step, as written."""
        self.parts = Parts(self.read)
        self.parts_said: set[str] = set()
        """The parts of that step, as written."""
        self.names: set[str] = set()
        """Of the readings."""

    @property
    def step(self) -> dict[str, Any]:
        """The step that rows go to."""
        found: Any = self.read.tree
        for part in self.at:
            found = found[part]
        step: dict[str, Any] = found
        return step

    def sheet(self, found: Found, several: bool) -> None:
        """Add the steps of one sheet. With several sheets each is a stage."""
        self._above(found)
        self._not_shown(found)
        for column, heading in found.others.items():
            if not any(row.cell(column) for row in found.table.rows[found.begins :]):
                continue
            self.read.tell(
                f"the column {heading!r} is not known; what it holds stands in comments",
                found.table.place(found.header, column),
            )
        if several:
            self.stage(found.table.sheet or "Steps")
        self.number = ""
        for row in found.table.rows[found.begins :]:
            if not found.heads_again(row):
                self._row(found, row)

    def finished(self) -> Imported:
        """Return what was read. Raises AssistantError if there is not one step."""
        tree = self.read.tree
        tree["stages"] = [stage for stage in tree["stages"] if stage["steps"]]
        if not tree["stages"]:
            raise AssistantError("there are no steps below the headings.")
        shop_fasteners.tell_apart(self.read)
        if not tree["parts"]:
            del tree["parts"]
        return self.read

    def stage(self, name: str) -> None:
        """Begin a stage."""
        stages = self.read.tree["stages"]
        name = " ".join(name.strip(" :").split())[: instructions.LONGEST]
        name = name.capitalize() if name.isupper() else name
        if name and (not stages or stages[-1]["name"] != name):
            stages.append({"name": name, "steps": []})
            self.at = ()

    def new_step(self, say: str, place: str) -> None:
        """Begin a step."""
        stages = self.read.tree["stages"]
        if not stages:
            stages.append({"name": "Steps", "steps": []})
        steps = stages[-1]["steps"]
        self.at = ("stages", len(stages) - 1, "steps", len(steps))
        self.said, self.parts_said = say, set()
        identity = typed_sizes.identifier(say, self.ids, "step")
        self.ids.add(identity)
        steps.append({"id": identity})
        self.read.places[self.at] = place
        if say:
            first, *others = instructions.parts_of(say)
            steps[-1]["say"] = first
            self.read.places[(*self.at, "say")] = place
            if others:
                self.more("detail", " ".join(others), place)
                self.read.tell(
                    f"longer than can be spoken at once ({instructions.LONGEST} characters); its "
                    "end is in 'detail'", place, self.at, lost=False)  # fmt: skip
        else:
            self.read.tell("this step has no text; write in 'say' what to do", place, self.at)

    def more(self, key: str, text: str, place: str) -> None:
        """Add a text to one of the step's that are spoken."""
        before = self.step.get(key)
        if before is not None and text.rstrip(".") in before:
            return
        both = f"{before.rstrip('.')}. {text}" if before else text
        if len(both) > instructions.LONGEST:
            self.read.tell(f"too long to be spoken, so it is left out: {text!r}", place, self.at)
        else:
            self.step[key] = both
            self.read.places[(*self.at, key)] = place

    # One sheet

    def _above(self, found: Found) -> None:
        """Take the title and the machine from what stands above the headings."""
        tree = self.read.tree
        for row in found.table.rows[: found.begins]:
            if row.line >= found.header.line or row.cells == found.header.cells:
                continue
            texts = [cell for cell in row.cells if cell]
            label, colon, rest = texts[0].partition(":")
            said = rest.strip() if colon and rest.strip() else " ".join(texts[1:2])
            if column_name(label) in _TITLES and said:
                tree["title"] = said[: instructions.LONGEST]
            elif column_name(label) in _MACHINES and said:
                tree["equipment"] = {"kind": said[: instructions.LONGEST]}
            elif any(map(instructions.has_words, texts)):
                self.read.tell(
                    f"above the steps: {' | '.join(texts)}", found.table.place(row, 0), lost=False
                )

    def _not_shown(self, found: Found) -> None:
        for what, of in (("row", found.table.hidden), ("column", found.table.hidden_columns)):
            if of:
                several = "is" if len(of) == 1 else "are"
                where = of[0] if what == "row" else found.table.column(of[0])
                self.read.tell(
                    f"{len(of)} hidden {what}{'s' if len(of) > 1 else ''} {several} left out, "
                    f"from {where} on",
                    found.table.sheet or "",
                )

    def _row(self, found: Found, row: Row) -> None:
        cells = Cells(self.read, found, row)
        filled = [column for column, text in enumerate(row.cells) if text]
        say = cells.text("say")
        number = cells.text("number")
        if (stage := cells.text("stage")) and len(filled) > 1:
            self.stage(stage)
        if len(filled) == 1 and not row.faults:
            text = row.cells[filled[0]]
            only = found.columns.get(filled[0])
            apart = only is None and filled[0] not in found.others
            if apart or (only is not None and only.kind in ("number", "stage")):
                if instructions.has_words(text):
                    self.stage(text)
                return
            if only is not None and only.kind == "say" and instructions.names_a_stage(text):
                self.stage(text)
                return
        same = number == self.number if number else not found.of("number") and bool(say)
        if self.at and same and say in ("", self.said):
            cells.repeats = bool(say)
        elif number and (say or number != self.number):
            self.new_step(say, cells.place("say", "number"))
            self.number = number
        elif say and not (found.of("number") and self.at):
            self.new_step(say, cells.place("say"))
        elif say:
            self.more("detail", say, cells.place("say"))
        if not self.at:
            if filled:
                self.read.tell("this row belongs to no step, so it is left out",
                               found.table.place(row, filled[0]))  # fmt: skip
            return
        cells.at = self.at
        self._of_step(cells)
        self.parts.row(self, cells)
        shop_fasteners.row(self, cells)
        self._measured(cells)
        for column, heading in found.others.items():
            if row.cell(column):
                self.read.notes.append((self.at, f"{heading}: {row.cell(column)}"))
        cells.tell_faults()

    def _of_step(self, cells: Cells) -> None:
        step = self.step
        for kind in ("detail", "why"):
            for text, place in cells.every(kind):
                self.more(kind, " ".join(text.split()), place)
        for signal in _HAZARDS:
            for text, place in cells.every(signal):
                if typed.tidy(text).casefold() in ("", "-", "none", "n/a", "no"):
                    continue
                if not instructions.has_a_word(text):
                    self.read.tell(f"{text!r} is no hazard that can be said", place, self.at)
                    continue
                hazards = step.setdefault("hazards", [])
                hazards += [one for one in instructions.hazards(text, signal) if one not in hazards]
        for kind in ("tools", "wrench"):
            for text, _ in cells.every(kind):
                step.setdefault("tools", []).extend(
                    tool for tool in instructions.listed(text) if tool not in step.get("tools", ())
                )
        text, place = cells.one("wait")
        amount = cells.value("wait", lambda t, unit: typed.amount(t, unit, "time"))
        if text and amount is not None:
            words = f"{step.get('say', '')} {cells.heading('wait')}".casefold()
            purposes = ("cure", "drain", "settle", "hold", "cool", "soak")
            purpose = next((one for one in purposes if one in words), "wait")
            step["wait"] = {"purpose": purpose, "time": str(amount)}
            self.read.places[(*self.at, "wait")] = place

    def _measured(self, cells: Cells) -> None:
        said, said_at = cells.one("reading")
        text, place = cells.one("limits")
        if not said and not text:
            return
        step = self.step
        limits = cells.value("limits", lambda t, unit: typed.limits(cells.bounded(t), unit))
        name = typed_sizes.spoken(said) if said else instructions.reading_in(step.get("say", ""))
        unit = cells.unit("limits") or cells.unit("reading")
        if limits is not None:
            unit = (limits.most or limits.least).unit  # type: ignore[union-attr]
        if unit is None or name is None:
            what = "a name" if name is None else "a unit"
            if not text or limits is not None:
                self.read.tell(f"{said or text!r}: a reading needs {what}; it is left out",
                               said_at or place, self.at)  # fmt: skip
            return
        reading: dict[str, Any] = {"name": self._free(name), "unit": unit}
        if limits is not None:
            both = (("least", limits.least), ("most", limits.most))
            reading["limits"] = {key: str(one) for key, one in both if one is not None}
        step.setdefault("readings", []).append(reading)
        self.read.places[(*self.at, "readings", len(step["readings"]) - 1)] = place or said_at

    def _free(self, name: str) -> str:
        """Return a name that no other reading has."""
        found, count = name, 1
        while found in self.names:
            count += 1
            found = f"{name} {numbers.cardinal(count)}"
        self.names.add(found)
        return found
