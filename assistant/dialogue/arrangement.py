"""In a job without a procedure, what goes on again otherwise than one by one, the last off first.

A group is what is put together off the machine and then goes on as one: its things go on one after
another, and then the group has a step of its own. It counts from "start group" to "end group":
whatever comes off between them, or is put on between them. What is said to go on before something
else is moved there, and a group is moved as one. Pure, and folded from the events, so that what is
withdrawn leaves nothing behind.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from assistant.dialogue import events

OFF, ON = "off-", "on-"
"""How the names of the steps begin that take something off, or put it on."""
_GROUP = "group-"


def goes_on(step: str) -> str:
    """Return the step that puts on again what came off at a step."""
    return ON + step.removeprefix(OFF)


def group_begun_in(turn: int) -> str:
    """Return the step of the group that was begun in a turn."""
    return f"{_GROUP}{turn}"


@dataclass(frozen=True)
class Group:
    """What is put together off the machine, and goes on as one."""

    id: str
    """Its step of the build-up."""
    members: tuple[str, ...] = ()
    """The steps that put its things together, in the order in which they came off or were done."""
    ended: bool = False

    @property
    def has_step(self) -> bool:
        """Whether it goes on as one: a thing by itself is no group."""
        return len(self.members) > 1


@dataclass(frozen=True)
class Arrangement:
    """The groups of a job, and what was said to go on before what."""

    groups: tuple[Group, ...] = ()
    moves: tuple[tuple[str, str], ...] = ()
    """Each a step of the build-up and the one that it goes before, in the order as said."""

    @property
    def open(self) -> Group | None:
        """The group that is not ended; None where there is none."""
        return next((group for group in self.groups if not group.ended), None)

    def group(self, step: str) -> Group | None:
        """Return the group that a step puts on; None where it is no group's."""
        return next((group for group in self.groups if group.id == step), None)

    def follow(self, event: events.Event) -> Arrangement:
        """Return the arrangement after one more event."""
        match event:
            case events.GroupBegun(turn=turn):
                return replace(self, groups=(*self.groups, Group(group_begun_in(turn))))
            case events.GroupEnded():
                return self._with_open(ended=True)
            case events.PieceRemoved(step=str(step)):
                return self._joined(goes_on(step))
            case events.StepDone(step=str(step)) if step.startswith(ON):
                return self._joined(step)
            case events.BuildOrderSaid(goes=goes, before=before):
                return replace(self, moves=(*self.moves, (goes, before)))
            case _:
                return self

    def _joined(self, step: str) -> Arrangement:
        if self.open is None or any(step in group.members for group in self.groups):
            return self
        return self._with_open(members=(*self.open.members, step))

    def _with_open(self, **new: object) -> Arrangement:
        groups = tuple(g if g.ended else replace(g, **new) for g in self.groups)  # type: ignore[arg-type]
        return replace(self, groups=groups)

    def arranged(self, steps: Sequence[str]) -> tuple[str, ...]:
        """Return the steps of the build-up in their order, those of the groups among them; `steps`
        are those that put on a thing each, in the reverse of how they came off.
        """
        blocks = list(self._blocks(steps))
        for goes, before in self.moves:
            one = next((block for block in blocks if goes in block), None)
            other = next((block for block in blocks if before in block), None)
            if one is None or other is None:
                continue
            if one is other:
                one.remove(goes)
                one.insert(one.index(before), goes)
            else:
                blocks.remove(one)
                blocks.insert(blocks.index(other), one)
        return tuple(step for block in blocks for step in block)

    def _blocks(self, steps: Sequence[str]) -> Iterator[list[str]]:
        """Yield what goes on as one: a thing, or the things of a group and then the group."""
        group_of = {step: g for g in self.groups if g.has_step for step in g.members}
        told: set[str] = set()
        for step in steps:
            group = group_of.get(step)
            if group is None:
                yield [step]
            elif group.id not in told:
                told.add(group.id)
                yield [*(one for one in steps if one in group.members), group.id]
