"""Two revisions of a procedure, step by step: what is new, gone, moved or changed.

A step is the same in both where it has the same name in the file; a renamed one is one that is gone
and another that is new.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any, Literal

from assistant.procedure.model import Judged, Model, Procedure, Step

OF_THE_TEXT = frozenset({"revision", "author", "approver", "date", "supersedes"})
"""Keys that tell which text it is, and nothing of the work."""


@dataclass(frozen=True)
class KeyChange:
    """A key with another value; None where it is left out."""

    key: str
    was: Any
    now: Any


@dataclass(frozen=True)
class StepChange:
    """A step that is not the same in both."""

    kind: Literal["new", "gone", "moved", "changed"]
    """A step that is moved and changed is `changed`."""
    id: str
    was: int | None
    """Its number in the earlier revision, from 1; None for a new one."""
    now: int | None
    """Its number in the later one; None for one that is gone."""
    stage: str
    """Of the later revision, or of the earlier for a step that is gone."""
    say: str
    keys: tuple[KeyChange, ...] = ()
    """What is changed of it; of a new step all that it has, of one that is gone what it had."""


@dataclass(frozen=True)
class Changes:
    """All that differs between two revisions."""

    keys: tuple[KeyChange, ...]
    """Of the whole procedure: title, parts, hazards."""
    steps: tuple[StepChange, ...]
    """In the order of the later revision; those that are gone stand where they were."""
    same: int
    """How many steps are as they were."""

    def of(self, kind: str) -> tuple[StepChange, ...]:
        """Return the steps with which this happened."""
        return tuple(one for one in self.steps if one.kind == kind)

    @property
    def work(self) -> tuple[KeyChange, ...]:
        """The keys of the whole procedure that have to do with the work."""
        return tuple(one for one in self.keys if one.key not in OF_THE_TEXT)


def changes(was: Procedure, now: Procedure) -> Changes:
    """Return what is different in `now`."""
    old = {step.id: step for step in was.steps}
    new = {step.id: step for step in now.steps}
    moved = _moved(list(old), list(new))
    found: list[StepChange] = []
    for id_, step in new.items():
        keys = tuple(_keys(old.get(id_), step))
        if id_ not in old:
            found.append(_change("new", step, None, now, keys))
        elif keys:
            found.append(_change("changed", step, was, now, keys))
        elif id_ in moved:
            found.append(_change("moved", step, was, now, ()))
    gone = [step for step in was.steps if step.id not in new]
    for step in gone:
        found.append(_change("gone", step, was, None, tuple(_keys(step, None))))
    found.sort(key=lambda one: (_place(one, was, now), one.kind))
    same = len(new) - sum(one.kind != "gone" for one in found)
    of_all = tuple(_keys(was, now, frozenset({"stages", "unwritten"})))
    return Changes((*of_all, *_stages(was, now)), tuple(found), same)


def _moved(old: Sequence[str], new: Sequence[str]) -> set[str]:
    """Return the steps of both whose place among the others is another."""
    ours = [one for one in old if one in set(new)]
    theirs = [one for one in new if one in set(old)]
    kept = SequenceMatcher(None, ours, theirs, autojunk=False).get_matching_blocks()
    return set(ours) - {ours[n] for block in kept for n in range(block.a, block.a + block.size)}


def _change(
    kind: Literal["new", "gone", "moved", "changed"],
    step: Step,
    was: Procedure | None,
    now: Procedure | None,
    keys: tuple[KeyChange, ...],
) -> StepChange:
    holder = now or was
    assert holder is not None
    return StepChange(
        kind,
        step.id,
        was.number(step.id) if was else None,
        now.number(step.id) if now else None,
        holder.stage_of(step.id).name,
        step.say,
        keys,
    )


def _place(one: StepChange, was: Procedure, now: Procedure) -> float:
    """Return where a change stands: a step that is gone, after the last before it that is left."""
    if one.now is not None:
        return one.now
    left = {step.id for step in now.steps}
    before = [step.id for step in was.steps[: (one.was or 1) - 1] if step.id in left]
    return (now.number(before[-1]) if before else 0) + 0.5


def _keys(
    was: Model | None, now: Model | None, apart: frozenset[str] = frozenset({"id"})
) -> Iterator[KeyChange]:
    old, new = _written(was), _written(now)
    for key in dict.fromkeys([*new, *old]):
        if key not in apart and old.get(key) != new.get(key):
            yield KeyChange(key, old.get(key), new.get(key))


def _stages(was: Procedure, now: Procedure) -> Iterator[KeyChange]:
    """Yield what the stages are called and say of their results, where that changed."""
    old, new = ([_of_stage(stage) for stage in one.stages] for one in (was, now))
    if old != new:
        yield KeyChange("stages", old, new)


def _of_stage(stage: Model) -> dict[str, Any]:
    return {key: value for key, value in _written(stage).items() if key != "steps"}


def _written(of: Model | None) -> dict[str, Any]:
    """Return the keys of a part of the file, as plain data: quantities as they are written."""
    if of is None:
        return {}
    found = {}
    for key, field in type(of).model_fields.items():
        value = getattr(of, key)
        if value != field.get_default(call_default_factory=True) and value not in (None, (), {}):
            found[key] = _plain(value)
    return found


def _plain(value: Any) -> Any:
    if isinstance(value, Model):
        return str(value) if {"value", "unit"} == set(type(value).model_fields) else _written(value)
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    return value if isinstance(value, str | int | bool) else str(value)


@dataclass(frozen=True)
class InTheWay:
    """What keeps work that has begun on one text from going on with another."""

    steps: tuple[int, ...] = ()
    """Steps that were worked on, by their numbers in the earlier text."""
    keys: tuple[str, ...] = ()
    """Keys of the whole procedure that what is recorded rests on."""

    def __bool__(self) -> bool:
        return bool(self.steps or self.keys)


_RESTS_ON = frozenset(
    {"procedure", "equipment", "wrenches", "conditions", "places", "locker_table"}
)
"""Keys of the whole procedure that records rest on. Of `parts`, those that are there already."""


def in_the_way(
    was: Procedure, now: Procedure, named: Collection[str], worked: Collection[str]
) -> InTheWay:
    """Return what keeps a job from going on with `now`.

    `named` are the steps that its record names, which have to be there, and `worked` those at which
    something was recorded, which have to be the same, in the same order, and with results that are
    as found or as left as before.
    """
    found = changes(was, now)
    held = {one.id for one in found.steps if one.kind == "gone" and one.id in named}
    held |= {one.id for one in found.steps if one.id in worked}
    held |= {id_ for id_ in worked if id_ not in held and _taken(was, id_) != _taken(now, id_)}
    keys = [one.key for one in found.work if one.key in _RESTS_ON]
    if not set(was.parts) <= set(now.parts):
        keys.append("parts")
    return InTheWay(tuple(sorted(map(was.number, held))), tuple(keys))


def _taken(procedure: Procedure, id_: str) -> list[str]:
    """Return whether each result of a step is as found or as left."""
    step = procedure.step(id_)
    single = [one for one in (step.leak, step.fluid) if one is not None]
    judged: list[Judged] = [*step.readings, *step.derived, *step.tighten, *single]
    return [procedure.taken(id_, one) for one in judged]
