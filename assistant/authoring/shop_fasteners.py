"""Fasteners in a shop's sheet of steps, and how they are tightened."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from assistant.authoring import instructions, typed, typed_sizes
from assistant.authoring.imported import Imported
from assistant.authoring.shop_parts import whole
from assistant.procedure import part_names

if TYPE_CHECKING:
    from assistant.authoring.shop_cells import Cells
    from assistant.authoring.shop_rows import Reader

_OF_FASTENER = ("fastener", "size", "length", "grade", "torque", "angle", "locker", "lubricated")


def row(reader: Reader, cells: Cells) -> None:
    """Read the fastener of a row."""
    if not any(cells.every(kind) for kind in _OF_FASTENER):
        return
    torque = cells.value("torque", typed.torque)
    size = cells.value("size", lambda text, _: typed_sizes.size(text))
    name, count = _named(reader, cells)
    if name is None:
        if torque is not None or size is not None:
            said = cells.one("torque")[0] or cells.one("size")[0]
            reader.read.tell(f"{said!r}: of which fastener? Name it, and add it to the step",
                             cells.place("torque", "size"), reader.at)  # fmt: skip
        return
    entry: dict[str, Any] = {"name": name}
    count = count or (size.count if size else None)
    if count is not None:
        entry["count"] = count
    length = cells.value("length", lambda text, unit: typed.amount(text, unit or "mm", "length"))
    grade = cells.value("grade", lambda text, _: typed_sizes.grade(text))
    if size is not None:
        length, grade = length or size.length, grade or size.grade
        entry["thread"] = size.thread
    entry |= {"length": str(length)} if length else {}
    # Without a thread a class says nothing of the torque.
    entry |= {"grade": grade} if grade and size else {}
    parts = any(cells.every(kind) for kind in ("part", "fit", "remove"))
    if not parts and cells.value("new", lambda text, _: typed_sizes.yes(text)):
        entry["new"] = True
    step = reader.step
    fasteners = step.setdefault("fasteners", [])
    fasteners.append(entry)
    reader.read.places[(*reader.at, "fasteners", len(fasteners) - 1)] = cells.place(*_OF_FASTENER)
    _tighten(reader, cells, name, torque)


def _named(reader: Reader, cells: Cells) -> tuple[str | None, int | None]:
    """Return the name of the fastener of a row, and how many; from its cells, or its task."""
    count = cells.value("count", lambda text, _: whole(text))
    text, _ = cells.one("fastener")
    say = reader.step.get("say", "")
    if text and typed.tidy(text):
        several, what = instructions.counted(text)
        name = typed_sizes.spoken(what)
        if name is None and re.match(r"\s*M\d", what):
            name = "bolt"
        count = count or several
        if count is None and name is not None:
            single = typed_sizes.is_single(what)
            count = instructions.count_of(name, say) or (1 if single else None)
        return name, count
    said = instructions.fasteners_in(say)
    if len(said) != 1:
        return None, count
    return said[0].name, count or said[0].count


def _tighten(reader: Reader, cells: Cells, name: str, torque: typed.Torque | None) -> None:
    if torque is None:
        _without_torque(reader, cells, name)
        return
    angle = cells.value("angle", lambda text, unit: typed.amount(text, unit or "°", "angle"))
    strength = cells.value("locker", lambda text, _: typed_sizes.strength(text))
    lubricated = cells.value("lubricated", lambda text, _: typed_sizes.lubricant(text))
    entry: dict[str, Any] = {"fastener": name}
    if torque.passes:
        entry["passes"] = list(map(str, torque.passes))
    entry["torque"] = str(torque.amount)
    if torque.tolerance is not None:
        entry["tolerance"] = f"{torque.tolerance:f}"
    angles = [*torque.angles, *([angle] if angle else [])]
    if angles:
        entry["angle"] = str(angles[0])
    if len(angles) > 1:
        entry["then_angles"] = list(map(str, angles[1:]))
    order = cells.value("order", lambda text, _: typed_sizes.order(text))
    entry |= {"order": order} if order else {}
    if strength is not None:
        if lubricated not in (None, "thread-locker"):
            reader.read.tell(
                f"{name}: thread-locker, and threads {lubricated}? The thread-locker is taken",
                cells.place("lubricated"), reader.at)  # fmt: skip
        entry |= {"lubricated": "thread-locker", "locker": {"strength": strength}}
    elif lubricated == "thread-locker":
        reader.read.tell(f"{name}: which strength has the thread-locker? low, medium or high",
                         cells.place("lubricated"), reader.at)  # fmt: skip
        entry["lubricated"] = "not stated"
    else:
        entry["lubricated"] = lubricated or "not stated"
    tightened = reader.step.setdefault("tighten", [])
    tightened.append(entry)
    at = (*reader.at, "tighten", len(tightened) - 1)
    reader.read.places[at] = cells.place("torque", "fastener")


def _without_torque(reader: Reader, cells: Cells, name: str) -> None:
    """Keep what is said of a tightening whose torque is not there, or could not be read."""
    said = [
        f"{cells.heading(kind)} {text!r}"
        for kind in ("angle", "locker", "lubricated", "order")
        for text, _ in cells.every(kind)
        if typed.tidy(text).casefold() not in ("", "-", "n/a", "none", "no")
    ]
    if said:
        reader.read.tell(
            f"{name}: without a torque, {', '.join(said)} is in no key; write its 'tighten'",
            cells.place("angle", "locker", "lubricated", "order"), reader.at)  # fmt: skip


def tell_apart(read: Imported) -> None:
    """Give two fasteners of one step that have one name a name each, by their size."""
    for stage_number, stage in enumerate(read.tree["stages"]):
        for number, step in enumerate(stage["steps"]):
            fasteners = step.get("fasteners", [])
            names = [one["name"] for one in fasteners]
            if len(set(names)) == len(names):
                continue
            sizes = [f"{f['name']} {f.get('thread', '')} {f.get('length', '')}" for f in fasteners]
            given = [one.name for one in part_names.told_apart(sizes)]
            left = list(step.get("tighten", []))
            for fastener, name in zip(fasteners, given, strict=True):
                if left and left[0]["fastener"] == fastener["name"]:
                    left.pop(0)["fastener"] = name
                fastener["name"] = name
            at = ("stages", stage_number, "steps", number)
            told = f"fasteners of one name are told apart: {', '.join(given)}"
            read.tell(told, read.place(at), at, lost=False)
