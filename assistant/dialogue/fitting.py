"""What each step takes off and fits, as counts of hardware: from the procedure and the answers.

A kind of hardware is known by its name, and by its size where the procedure has two sizes of one
name. A part that a value chose goes by its own name: "white shim" and not "shim".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from assistant.procedure.model import Fastener, Fit, Procedure, Step

if TYPE_CHECKING:
    from assistant.dialogue.state import State


@dataclass(frozen=True)
class Key:
    """One kind of hardware."""

    name: str
    size: str | None = None
    """Thread and length of a fastener, such as "M12 × 45 mm"."""


@dataclass(frozen=True)
class Taken:
    """So many that come off in a step."""

    key: Key
    count: int
    bag: int | None
    """The bag that the procedure puts them into."""
    discard: bool = False


@dataclass(frozen=True)
class Need:
    """So many that go in at a step."""

    key: Key
    count: int
    new: bool
    """Whether the procedure asks for new ones."""
    bag: int | None
    """The bag that they come from, for those that go in again."""
    fastener: bool = False


class Names:
    """Tells which kind of hardware a name stands for in one procedure.

    It is made once for a job (`State.names`), because a job asks all the time.
    """

    def __init__(self, procedure: Procedure) -> None:
        self._procedure = procedure
        self._keys: dict[tuple[str, str | None], Key] = {}
        self._sizes: dict[str, dict[str, Fastener]] = {}
        for step in procedure.steps:
            for fastener in step.fasteners:
                of_name = self._sizes.setdefault(self.one_name(fastener.name), {})
                of_name.setdefault(step.id, fastener)

    def one_name(self, name: str) -> str:
        """Return the one name of a part that has several, or the name of what is not listed."""
        part = self._procedure.part(name)
        return part.name if part else name

    def key(self, name: str, step: str | None = None) -> Key:
        """Return the kind of hardware that a name stands for, as it is said at a step."""
        known = self._keys.get((name, step))
        if known is None:
            known = self._keys[name, step] = self._key(name, step)
        return known

    def _key(self, name: str, step: str | None) -> Key:
        name = self.one_name(name)
        of_name = self._sizes.get(name)
        if not of_name:
            return Key(name)
        several = len({f.thread for f in of_name.values()}) > 1 or (
            len({f.length for f in of_name.values() if f.length}) > 1
        )
        here = of_name.get(step or "") if several else None
        if here is None:
            # A length may be given in one place only.
            here = next((f for f in of_name.values() if f.length), next(iter(of_name.values())))
        return Key(name, f"{here.thread} × {here.length}" if here.length else here.thread)


def fits_of(state: State, step: Step) -> tuple[Fit, ...]:
    """Return what is fitted in a step: a part that a value chooses by its own name."""
    found = []
    for fit in step.fit:
        if not fit.applies(state.answers):
            continue
        chosen = state.results.chosen_by(fit.chosen_by) if fit.chosen_by else None
        part = chosen.part if chosen else None
        found.append(fit.model_copy(update={"part": part}) if part else fit)
    return tuple(found)


def _taken_off(state: State, step: Step) -> tuple[Taken, ...]:
    """Return what comes off in a step. A bolt can be listed as a part and as a fastener too."""
    names = state.names
    counts: dict[tuple[Key, int | None, bool], int] = {}
    removed = set()
    for remove in step.remove:
        if remove.applies(state.answers):
            key = names.key(remove.part, step.id)
            removed.add(key)
            into = (key, None if remove.discard else step.bag, remove.discard)
            counts[into] = counts.get(into, 0) + remove.count
    for fastener in step.fasteners:
        key = names.key(fastener.name, step.id)
        if step.bag is None or key in removed or not fastener.applies(state.answers):
            continue
        into = (key, fastener.bag or step.bag, False)
        counts[into] = counts.get(into, 0) + fastener.count
    return tuple(Taken(k, n, bag, discard) for (k, bag, discard), n in counts.items())


def _needs(state: State, step: Step) -> tuple[Need, ...]:
    """Return what goes in at a step: its parts, and the fasteners that do not come off in it."""
    names = state.names
    counts: dict[tuple[Key, bool, int | None], int] = {}
    fitted = set()
    for fit in fits_of(state, step):
        key = names.key(fit.part, step.id)
        fitted.add(key)
        how = (key, fit.new, None if fit.new else step.from_bag)
        counts[how] = counts.get(how, 0) + fit.count
    found = [Need(key, n, new, bag) for (key, new, bag), n in counts.items()]
    off = {names.key(one.part, step.id) for one in step.remove}
    loose = {names.key(one.fastener, step.id) for one in step.loosen}
    for fastener in step.fasteners:
        key = names.key(fastener.name, step.id)
        if step.bag is not None or key in off | loose | fitted:
            continue
        if fastener.applies(state.answers):
            bag = None if fastener.new else fastener.bag or step.from_bag
            found.append(Need(key, fastener.count, fastener.new, bag, fastener=True))
    return tuple(found)


@dataclass(frozen=True)
class Plan:
    """What the steps that apply take off and fit, by the step's id, in the order of the steps."""

    taken_off: Mapping[str, tuple[Taken, ...]]
    needs: Mapping[str, tuple[Need, ...]]

    @cached_property
    def filled(self) -> frozenset[tuple[Key, int | None]]:
        """What goes into which bag, by the procedure's number of the bag."""
        return frozenset((one.key, one.bag) for off in self.taken_off.values() for one in off)

    @cached_property
    def drawn(self) -> frozenset[tuple[Key, int | None]]:
        """What is fitted from which bag, by the procedure's number of the bag."""
        return frozenset((one.key, one.bag) for needs in self.needs.values() for one in needs)

    def in_place_at_first(self) -> Mapping[tuple[Key, int | None], int]:
        """Return what the machine has on it when the job begins, by kind and the bag it will go
        into.

        It is what the job takes off without having fitted it before.
        """
        found: dict[tuple[Key, int | None], int] = {}
        fitted: dict[Key, int] = {}
        for step, off in self.taken_off.items():
            for taken in off:
                again = min(taken.count, fitted.get(taken.key, 0))
                fitted[taken.key] = fitted.get(taken.key, 0) - again
                if taken.count > again:
                    where = (taken.key, taken.bag)
                    found[where] = found.get(where, 0) + taken.count - again
            for need in self.needs[step]:
                fitted[need.key] = fitted.get(need.key, 0) + need.count
        return found


def plan(state: State) -> Plan:
    """Return what the steps that apply take off and fit, with the answers and results so far."""
    route = state.route()
    return Plan(
        {step.id: _taken_off(state, step) for step in route},
        {step.id: _needs(state, step) for step in route},
    )
