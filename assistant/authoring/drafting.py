"""Drafts a written procedure from jobs that had none.

What came off is a step of the strip-down each, in the order in which it came off; what went on is a
step of the build-up each, in the order in which it went on. What the record tells beside that
stands in comments, for whoever makes a procedure of it: nobody has approved the draft, and it says
so. It never turns what was found into an instruction.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from assistant.authoring import comparing, names, wording
from assistant.authoring.commented import Commented, flow, text_of
from assistant.authoring.worked import Job, Note, Worked
from assistant.errors import AssistantError
from assistant.grammar import nouns
from assistant.procedure import reading
from assistant.procedure.model import DRAFT

_LONGEST_ID = 60
_MOST_BAGS = 999
_MOST_STEPS = 500
"""Most steps of a stage, as the model has it."""


@dataclass(frozen=True)
class Draft:
    """A drafted procedure."""

    text: str
    """The file, as YAML with comments."""
    steps: int
    differences: tuple[str, ...]
    """Where the jobs differ, as sentences; each with the step or part that it is about."""


def draft(jobs: Sequence[Job]) -> Draft:
    """Return a procedure from one job or more; it is written from the first, and the others are
    compared with that.

    Raises AssistantError where no procedure can be made of it, such as one of too many steps.
    """
    first, *others = jobs
    if len(first.down) > _MOST_STEPS:
        raise AssistantError(wording.too_long(first, _MOST_STEPS))
    text, steps, told = _Drafter(first, others).written()
    reading.parse(text, "the draft")  # Nobody gets a file that cannot be used.
    return Draft(text, steps, told)


class _Drafter:
    """Puts one draft together."""

    def __init__(self, first: Job, others: Sequence[Job]) -> None:
        self.first, self.others = first, others
        self.different = comparing.differences(first, others)
        pieces = [w.piece for w in first.down]
        self.fasteners = {p.name for p in pieces if p.thread or p.torque}
        self.shared = {p.bag: [q for q in pieces if q.bag == p.bag] for p in pieces if p.bag}
        ids = names.Ids({first.safe.id})
        self.off = {w.piece.id: ids.new(f"take-off {w.piece.called}") for w in first.down}
        self.on = {w.piece.id: ids.new(f"fit {w.piece.called}") for w in first.up}
        self.bags = self._bags()

    def written(self) -> tuple[str, int, tuple[str, ...]]:
        """Return the text, how many steps it has, and where the jobs differ."""
        file = Commented()
        file.put("procedure", names.of_procedure(self.first.title), self._head())
        file.put("title", self.first.title)
        file.put("revision", DRAFT)
        file.put("sample", False)
        file.put("equipment", flow({"kind": self.first.kind}))
        file.put_list("parts", self._parts())
        stages = [
            ("Make safe", "as found", [self._safe()]),
            ("Strip-down", "as found", [self._taken_off(w) for w in self.first.down]),
            ("Build-up", "as left", [self._put_on(w) for w in self.first.up]),
        ]
        listed: list[tuple[Any, list[str]]] = []
        for name, taken, steps in stages:
            stage = Commented()
            stage.put("name", name)
            stage.put("taken", taken)
            stage.put_list("steps", steps)
            listed.append((stage, []))
        file.put_list("stages", listed)
        steps_in_all = sum(len(steps) for _, _, steps in stages)
        return text_of(file), steps_in_all, tuple(map(self._told, self.different))

    # The parts of the file: each with its comments

    def _head(self) -> list[str]:
        lines = [wording.DRAFT, wording.written_from(self.first)]
        if self.others:
            lines.append(wording.compared_with(self.others))
        lines += [line for job in (self.first, *self.others) if (line := wording.unfinished(job))]
        lines += [wording.LEFT_OUT, wording.CHECK]
        of_thing = (comparing.OfThing, comparing.OfKit)
        apart = [one for one in self.different if not isinstance(one, of_thing)]
        lines += map(wording.difference, apart)
        # Of what only other jobs took off there is no step that their comments could stand at.
        for one in apart:
            if isinstance(one, comparing.OnlyThere):
                lines += _notes(one.other, (*one.thing.said_off, *one.thing.said_on))
        return lines

    def _parts(self) -> list[tuple[Any, list[str]]]:
        pieces = [w.piece for w in self.first.down]
        counts = {p.name: 0 for p in pieces}
        for piece in pieces:
            counts[piece.name] += piece.count
        numbers = {part.name: part.number for part in self.first.kit}
        plurals = {p.name: p.plural for p in pieces}
        plurals |= {part.name: part.plural_name for part in self.first.kit}
        found: list[tuple[Any, list[str]]] = []
        for name in dict.fromkeys([*numbers, *counts]):
            entry: dict[str, Any] = {"name": name}
            if plurals[name] != nouns.plural(name):
                entry["plural"] = plurals[name]
            if numbers.get(name):
                entry["number"] = numbers[name]
            kit = [part for part in self.first.kit if part.name == name]
            count = counts.get(name) or sum(part.count for part in kit)
            if count > 1:
                entry["count"] = min(count, 999)
            said = [wording.in_kit(part, name in counts) for part in kit]
            if any(p.name == name and p.named_by_number for p in pieces):
                said.append(wording.unnamed(self.first.number))
            said += [
                wording.difference(one)
                for one in self.different
                if isinstance(one, comparing.OfKit) and one.name == name
            ]
            found.append((flow(entry), said))
        return found

    def _safe(self) -> tuple[Commented, list[str]]:
        safe, step = self.first.safe, Commented()
        step.put("id", safe.id)
        step.put("say", safe.say)
        step.put("gate", "job")
        step.put("before", [{"affirm": one.affirm} for one in safe.before if one.affirm])
        said = [wording.GATE]
        for job in (self.first, *self.others):
            said += _notes(job.number, job.said_first)
        return step, said

    def _taken_off(self, of: Worked) -> tuple[Commented, list[str]]:
        piece, step = of.piece, Commented()
        step.put("id", self.off[piece.id])
        step.put("say", of.step.say)
        discard = 0 if self._keeps_all(of) else of.new
        removed = [{"part": piece.name, "count": discard, "discard": True}] if discard else []
        if piece.count > discard:
            removed.append({"part": piece.name, "count": piece.count - discard})
        step.put("remove", flow(removed))
        if piece.name in self.fasteners:
            step.put("fasteners", flow([self._fastener(of, piece.count)]))
        bag = self.bags.get(piece.id)
        if bag is not None:
            step.put("bag", bag)
        return step, self._said_off(of, bag)

    def _said_off(self, of: Worked, bag: int | None) -> list[str]:
        piece, said = of.piece, list[str]()
        if bag is not None and piece.bag is not None and bag != piece.bag:
            others = [one for one in self.shared[piece.bag] if one is not piece]
            said.append(wording.bag_changed(piece.bag, others))
        for job, worked in self._everywhere(of):
            if worked.piece.threads is not None:
                said.append(wording.threads(job.number, worked.piece.threads))
            said += _notes(job.number, worked.said_off)
        return said + self._differing(of, "strip-down")

    def _put_on(self, of: Worked) -> tuple[Commented, list[str]]:
        piece, step = of.piece, Commented()
        step.put("id", self.on[piece.id])
        step.put("say", of.on.say)
        bag = self.bags.get(piece.id)
        if bag is not None:
            step.put("from_bag", bag)
        both = [(of.new, True), (piece.count - of.new, False)]
        shares = [(count, new) for count, new in both if count]
        step.put("fit", flow([_new({"part": piece.name, "count": n}, new) for n, new in shares]))
        if piece.name in self.fasteners:
            step.put("fasteners", flow([_new(self._fastener(of, n), new) for n, new in shares]))
        if piece.torque is not None:
            tighten: dict[str, Any] = {
                "fastener": piece.name,
                "torque": wording.amount(piece.torque),
            }
            if of.locker is None:
                tighten["lubricated"] = "not stated"
            else:
                tighten["locker"] = {"strength": of.locker}
            step.put("tighten", flow([tighten]))
        return step, self._said_on(of)

    def _said_on(self, of: Worked) -> list[str]:
        said = []
        if of.piece.torque is not None:
            said.append(wording.SET)
            said += [] if of.piece.thread else [wording.no_size()]
        for job, worked in self._everywhere(of):
            said += _went_on(job, worked)
            said += _notes(job.number, worked.said_on)
        return said + self._differing(of, "build-up")

    # What several of them need

    def _keeps_all(self, of: Worked) -> bool:
        """Whether all of it goes into the bag, though some goes on new: the bag of fasteners is
        counted, and those that were renewed may stay in it.
        """
        piece = of.piece
        return piece.name in self.fasteners and piece.bag is not None and of.new < piece.count

    def _fastener(self, of: Worked, count: int) -> dict[str, Any]:
        piece = of.piece
        entry: dict[str, Any] = {"name": piece.name, "count": count}
        if piece.thread:
            entry["thread"] = piece.thread
        if piece.length is not None:
            entry["length"] = wording.amount(piece.length)
        return entry

    def _bags(self) -> dict[str, int]:
        """Return the bag of each thing that is kept in one. Each has its own: the one that was
        said, or another where something before is in that.
        """
        kept = [w.piece for w in self.first.down if w.piece.bag and w.new < w.piece.count]
        said = {piece.bag for piece in kept}
        free = iter(number for number in range(1, _MOST_BAGS + 1) if number not in said)
        found: dict[str, int] = {}
        used: set[int] = set()
        for piece in kept:
            assert piece.bag is not None
            number = next(free, None) if piece.bag in used else piece.bag
            if number is not None:
                found[piece.id] = number
                used.add(number)
        return found

    def _everywhere(self, of: Worked) -> Iterable[tuple[Job, Worked]]:
        """Yield a thing in each job that has it, the first job's first."""
        yield self.first, of
        for other in self.others:
            for worked in other.down:
                if of.key is not None and worked.key == of.key:
                    yield other, worked

    def _differing(self, of: Worked, stage: comparing.Stage) -> list[str]:
        return [
            wording.difference(one)
            for one in self.different
            if isinstance(one, comparing.OfThing) and one.key == of.key and one.stage == stage
        ]

    def _told(self, one: comparing.Difference) -> str:
        """Return a difference as it is told beside the file, with the step that it is about."""
        said = wording.difference(one)
        if not isinstance(one, comparing.OfThing):
            return said
        piece = next(w.piece.id for w in self.first.down if w.key == one.key)
        return f"{(self.off if one.stage == 'strip-down' else self.on)[piece]}: {said}"


def _new(entry: dict[str, Any], new: bool) -> dict[str, Any]:
    """Return an entry, marked where new ones are fitted."""
    return entry | {"new": True} if new else entry


def _notes(job: int, notes: Iterable[Note]) -> list[str]:
    return [line for one in notes for line in wording.note(job, one)]


def _went_on(job: Job, of: Worked) -> list[str]:
    """Return what is told of how a thing went on again."""
    said = []
    if of.tightened:
        said.append(wording.tightened(job.number, of.tightened))
    elif of.piece.torque is not None and of.is_on:
        said.append(wording.not_tightened(job.number))
    if of.locker is not None:
        said.append(wording.locker(job.number, of.locker))
    if of.together:
        said.append(wording.together(job.number, of.together))
    if of.is_on:
        fitted = wording.fitted(job.number, of)
        said += [fitted] if fitted else []
    elif job.building:
        said.append(wording.not_on(job.number, of.skipped))
    return said
