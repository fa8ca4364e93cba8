"""Makes a procedure of plain text: numbered steps as pasted from a page of a manual.

A number at the beginning of a line begins a step; lines without one go on with the step above. A
line that begins with a signal word is a hazard of the step that follows, because manuals put it
before the act it warns of. Torques found in the text are proposed, and marked to be confirmed:
nobody has said that they belong to that fastener.
"""

from __future__ import annotations

import re
from typing import Any

from assistant.authoring import instructions, typed, typed_sizes
from assistant.authoring.imported import Imported
from assistant.authoring.shop_rows import Reader
from assistant.errors import AssistantError
from assistant.text import plain

_LONGEST_TEXT = 200_000
"""Characters."""
_STEP = re.compile(
    r"(?:step\s+)?(?P<number>\d{1,3}(?:\.\d{1,3}){0,3}|[a-z](?=[.)]))\s*(?:[.):]\s+|\s-\s|\s{2,}|\t)"
    r"(?P<say>\S.*)|step\s+(?P<other>\d{1,3})\s+(?P<then>\S.*)",
    re.IGNORECASE,
)
_HAZARD = re.compile(r"\W*(danger|warning|caution|notice|note|important)\b\s*[:!.-]?\s*", re.I)
_FIGURE = r"\d+(?:[.,]\d+)?"
_UNIT = (
    r"(?:N\s?[·.⋅*-]?\s?m|(?:ft|in|lbf?|kgf?|oz|cN)[ .·⋅-]?\s?(?:lbf?s?|ft|in|cm|m|ozf?)s?)\b\.?"
)
_TORQUE = re.compile(
    rf"(?:{_FIGURE}\s*(?:{_UNIT})?\s*(?:-|–|to|/|±|,?\s?then|,)\s*)*{_FIGURE}\s*{_UNIT}"
    rf"(?:\s*[(\[]\s*{_FIGURE}\s*[A-Za-z][A-Za-z .·⋅-]*[)\]])?"
    r"(?:,?\s*(?:\+|plus|then|and)\s*\d+\s*(?:°|deg\w*))*"
)
"""One torque, its passes, a range, or the same in another unit; with angles after it."""
_THREAD = re.compile(r"\bM\d{1,2}(?:\s?[x×]\s?\d+(?:[.,]\d+)?){0,2}\b")


def read(text: str, name: str) -> Imported:
    """Return the procedure in a text. Raises AssistantError if it has no numbered steps."""
    if len(text) > _LONGEST_TEXT:
        raise AssistantError(f"longer than a procedure can be ({_LONGEST_TEXT} characters).")
    return _Pages(name).read(text)


class _Pages:
    def __init__(self, name: str) -> None:
        self.reader = Reader(name)
        self.waiting: list[tuple[str, int]] = []
        """Lines of hazards of the step that follows, each with its line."""
        self.say: list[str] = []
        """The lines of the step that is being read."""
        self.number, self.line = "", 0
        self.in_hazard = False

    def read(self, text: str) -> Imported:
        title = True
        for line, raw in enumerate(plain(text, "\n").split("\n"), 1):
            words = " ".join(raw.split())
            step = _STEP.fullmatch(raw.strip())
            if step is not None:
                self._end()
                self.say = [(step["say"] or step["then"]).strip()]
                self.number, self.line = step["number"] or step["other"], line
                title = self.in_hazard = False
            elif _HAZARD.match(words):
                self._end()
                self.waiting.append((words, line))
                self.in_hazard = True
            elif not words:
                self.in_hazard = False
            elif self.in_hazard:
                self.waiting[-1] = (f"{self.waiting[-1][0]} {words}", self.waiting[-1][1])
            elif instructions.names_a_stage(words) and not title:
                self._end()
                self.reader.stage(words)
            elif self.say:
                self.say.append(words)
            else:
                self._before(words, line, title)
                title = False
        self._end()
        self._left_over()
        if not self.reader.read.steps:
            raise AssistantError(
                "there are no numbered steps in this text. Begin each step with its number, "
                "such as: 1. Take off the cover."
            )
        return self.reader.finished()

    def _before(self, words: str, line: int, title: bool) -> None:
        """Take the first line as the title; tell of others that belong to no step."""
        tree = self.reader.read.tree
        if title and instructions.has_words(words) and not self.reader.read.steps:
            words = words.capitalize() if words.isupper() else words
            tree["title"] = words.strip(" :.")[: instructions.LONGEST]
            tree["equipment"] = {"kind": tree["title"]}
            return
        at = self.reader.at
        self.reader.read.tell(f"belongs to no step: {words!r}", f"line {line}", at)

    def _end(self) -> None:
        """Finish the step that was being read."""
        if not self.say:
            return
        say, place = " ".join(self.say), f"line {self.line}"
        self.say = []
        self.reader.new_step(say, place)
        self._hazards()
        self._torques(say, place)

    def _hazards(self) -> None:
        for text, line in self.waiting:
            found = instructions.hazards(text, "caution")
            hazards = self.reader.step.setdefault("hazards", [])
            hazards += found
            self.reader.read.places[(*self.reader.at, "hazards", len(hazards) - 1)] = f"line {line}"
        self.waiting = []

    def _left_over(self) -> None:
        """Put a hazard after the last step to that step, and say so."""
        if self.waiting and self.reader.at:
            line = self.waiting[0][1]
            self.reader.read.tell("comes after the last step, so it is put to that one",
                                  f"line {line}", self.reader.at)  # fmt: skip
            self._hazards()

    def _torques(self, say: str, place: str) -> None:
        found = list(_TORQUE.finditer(say))
        read = self.reader.read
        for number, match in enumerate(found):
            begins = found[number - 1].end() if number else 0
            before = say[begins : match.start()]
            try:
                torque = typed.torque(match[0])
            except typed.Unreadable as error:
                read.tell(f"torque {error}", place, self.reader.at)
                continue
            # The one named last before it: "fit the plug, and tighten the bolts to 25 Nm".
            named = (instructions.fasteners_in(before) or instructions.fasteners_in(say))[-1:]
            if not named:
                read.tell(f"confirm the torque {match[0]!r}: of which fastener? It is in no key",
                          place, self.reader.at)  # fmt: skip
                continue
            self._proposed(torque, named[0], match[0], before, place)

    def _proposed(
        self,
        torque: typed.Torque,
        named: instructions.FastenerNamed,
        text: str,
        before: str,
        place: str,
    ) -> None:
        step, read = self.reader.step, self.reader.read
        if any(one["name"] == named.name for one in step.get("fasteners", ())):
            # Which of them is the final one, nobody but the writer can tell.
            step["tighten"] = [t for t in step.get("tighten", ()) if t["fastener"] != named.name]
            read.tell(
                f"{named.name} has more than one torque in this step ({text.strip(' .')!r}); write "
                "its 'tighten', with 'passes' and the final 'torque'",
                place, self.reader.at)  # fmt: skip
            if not step["tighten"]:
                del step["tighten"]
            return
        fastener: dict[str, Any] = {"name": named.name}
        fastener |= {"count": named.count} if named.count else {}
        if (thread := _THREAD.search(before)) is not None:
            size = _size(thread[0])
            fastener |= {"thread": size.thread} if size else {}
            fastener |= {"length": str(size.length)} if size and size.length else {}
        fasteners = step.setdefault("fasteners", [])
        fasteners.append(fastener)
        read.places[(*self.reader.at, "fasteners", len(fasteners) - 1)] = place
        tighten: dict[str, Any] = {"fastener": named.name}
        tighten |= {"passes": list(map(str, torque.passes))} if torque.passes else {}
        tighten |= {"torque": str(torque.amount)}
        tighten |= {"angle": str(torque.angles[0])} if torque.angles else {}
        tighten |= {"then_angles": list(map(str, torque.angles[1:]))} if torque.angles[1:] else {}
        step.setdefault("tighten", []).append(tighten | {"lubricated": "not stated"})
        told = f"; {torque.noticed}" if torque.noticed else ""
        read.tell(
            f"confirm: {named.name}, {text.strip(' .')!r}, found in the text{told}",
            place, self.reader.at)  # fmt: skip


def _size(text: str) -> typed_sizes.Size | None:
    try:
        return typed_sizes.size(text)
    except typed.Unreadable:
        return None
