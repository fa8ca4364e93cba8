"""Parts in a shop's sheet of steps: which come off, which go on, into which bag."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Literal

from assistant.authoring import instructions, typed, typed_sizes
from assistant.authoring.imported import Imported
from assistant.procedure import kit_list, part_names

if TYPE_CHECKING:
    from assistant.authoring.shop_cells import Cells
    from assistant.authoring.shop_rows import Reader

_NO_PART = ("", "-", "none", "n/a", "no")


class Parts:
    """The parts that were named so far."""

    def __init__(self, read: Imported) -> None:
        self._read = read
        self._bags: set[int] = set()
        self._sizes: dict[str, object] = {}
        """The figures of each part as it was first written, by its name."""

    def row(self, reader: Reader, cells: Cells) -> None:
        """Read the parts and the bag of a row."""
        step = reader.step
        way = instructions.way(step.get("say", ""), self._stage(reader))
        kinds = (("remove", "off"), ("fit", "on"), ("part", way))
        found = [
            (line, place, where)
            for kind, where in kinds
            for text, place in cells.every(kind)
            for line in instructions.listed(text)
        ]
        number, place = cells.one("part number")
        if number and len(found) != 1:
            of = "several parts" if found else "no part"
            self._read.tell(
                f"{number!r} is the number of {of}; put it into 'parts'", place, reader.at
            )
        for line, place, where in found:
            if cells.repeats and line in reader.parts_said:
                continue
            reader.parts_said.add(line)
            self._part(reader, cells, line, place, where, number if len(found) == 1 else "")
        self._bag(reader, cells, way)

    def _stage(self, reader: Reader) -> str:
        return str(self._read.tree["stages"][reader.at[1]]["name"])

    def _part(
        self, reader: Reader, cells: Cells, text: str, place: str, way: str | None, number: str
    ) -> None:
        if typed.tidy(text).casefold() in _NO_PART:
            return
        count, what = instructions.counted(text)
        new = re.search(r"\bnew\b", what, re.IGNORECASE) is not None
        what = re.sub(r"\(?\bnew\b\)?", "", what, flags=re.IGNORECASE)
        name = typed_sizes.spoken(what)
        if name is None:
            self._read.tell(f"{text!r} has no name that can be said", place, reader.at)
            return
        if count is None and not cells.text("fastener") and not cells.text("size"):
            count = cells.value("count", lambda said, _: whole(said))
        new = new or bool(cells.value("new", lambda said, _: typed_sizes.yes(said)))
        if count is None and not typed_sizes.is_single(what):
            told = f"{text!r}: how many? One is taken; write its 'count'"
            self._read.tell(told, place, reader.at)
        self._known(name, count or 1, number)
        sizes = self._sizes.setdefault(name, part_names.figures(what))
        if sizes != part_names.figures(what):
            self._read.tell(
                f"{text!r}: another size is called {name!r} already; give each a name of its own",
                place, reader.at)  # fmt: skip
        if way is None:
            self._read.tell(
                f"{text!r}: does it come off or go on? Put it into 'remove' or 'fit'",
                place, reader.at)  # fmt: skip
            return
        entry: dict[str, Any] = {"part": name}
        entry |= {"count": count} if count and count > 1 else {}
        key: Literal["remove", "fit"] = "remove" if way == "off" else "fit"
        if new:
            entry["new" if way == "on" else "discard"] = True
        entries = reader.step.setdefault(key, [])
        entries.append(entry)
        self._read.places[(*reader.at, key, len(entries) - 1)] = place

    def _known(self, name: str, count: int, number: str) -> None:
        parts = self._read.tree["parts"]
        part = next((one for one in parts if one["name"] == name), None)
        if part is None:
            part = {"name": name}
            parts.append(part)
        if number and "number" not in part:
            part["number"] = number
        if count > part.get("count", 1):
            part["count"] = count

    def _bag(self, reader: Reader, cells: Cells, way: str | None) -> None:
        text, place = cells.one("bag")
        figures = re.findall(r"\d+", text)
        if not text or typed.tidy(text).casefold() in _NO_PART:
            return
        if len(figures) != 1:
            self._read.tell(f"{text!r} is not the number of a bag", place, reader.at)
            return
        bag, step = int(figures[0]), reader.step
        if bag in (step.get("bag"), step.get("from_bag")):
            return
        if way != "on" and bag not in self._bags:
            step["bag"] = bag
            self._bags.add(bag)
            self._read.places[(*reader.at, "bag")] = place
        elif way != "off":
            step["from_bag"] = bag
            self._read.places[(*reader.at, "from_bag")] = place
        else:
            self._read.tell(
                f"bag {bag} is in use already; give each step its own", place, reader.at
            )


def whole(text: str) -> int:
    """Return a count as typed. Raises Unreadable."""
    try:
        return kit_list.counted(text)
    except ValueError as error:
        raise typed.Unreadable(str(error)) from None
