"""Where each part of a job is: one ledger of quantities, worked out from what was said.

Everything that is said about parts moves some of them from one place to another: a step that is
done takes off or fits, a finding condemns or misses, the check of the kit finds some short, an
order comes. The ledger is folded from the events in effect each time it is asked, so a withdrawal
or a correction leaves nothing behind. Nothing is lost or made up on the way: of each kind there are
as many as there were at first (`Holdings.was`), and came since (`Holdings.came`).

What nobody spoke of is not doubted. A part that is fitted and was nowhere before counts as one that
came.

Which one of several like parts was meant is told by the step: what a finding says is about the one
that comes off, lies in the bag, or goes in there; else about one that is off, then in place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from assistant.dialogue import events, facts, kit, ledger
from assistant.dialogue.facts import PlaceKind
from assistant.dialogue.fitting import Key

if TYPE_CHECKING:
    from assistant.dialogue.state import State

NOT_DAMAGE = frozenset(
    {"sound", "clean", "dirty", "damp", "scratched", "loose", "contaminated", "blocked", "leaking"}
)
"""Conditions that do not call for a new part by themselves (common practice, no source)."""

_MOVES: Mapping[events.OrderState, tuple[PlaceKind, ...]] = {
    "asked": ("fitted new", "received", "ordered", "cancelled"),
    "ordered": ("asked",),
    "received": ("ordered", "asked"),
    "fitted": ("received", "ordered", "asked"),
    "cancelled": ("asked", "ordered"),
}
"""For each state of an order, where a part comes from to it; as in `ledger`."""

_ORDERED: Mapping[events.OrderState, PlaceKind] = {
    "asked": "asked",
    "ordered": "ordered",
    "received": "received",
    "fitted": "fitted new",
    "cancelled": "cancelled",
}


@dataclass(frozen=True)
class Place:
    """Where a part is."""

    kind: PlaceKind
    bag: int | None = None
    """The bag that it is in; of what is not off, the one that it goes into or came from."""
    step: str | None = None
    """The step that has fitted it, of one that is condemned too."""


@dataclass(frozen=True)
class Holdings:
    """How many of each kind are where."""

    counts: Mapping[Key, Counter[Place]]
    was: Mapping[Key, int]
    """How many there were at first: on the machine and in the kit."""
    came: Mapping[Key, int]
    """How many came since: ordered ones, and those that nobody had spoken of."""
    received: Mapping[Key, int]
    """How many came by orders, wherever they are now."""
    turns: Mapping[tuple[Key, PlaceKind], tuple[int, ...]]
    """The turns of the findings that condemned or missed some."""
    checked: frozenset[Key]
    """What was looked for in the kit."""
    bags: Mapping[int, int]
    """The number on the bag, for the one that the procedure says."""

    def bag(self, asked: int | None) -> int | None:
        """Return the number on the bag that the procedure calls so."""
        return None if asked is None else self.bags.get(asked, asked)

    def held(
        self, key: Key, *kinds: PlaceKind, wanted: Callable[[Place], bool] | None = None
    ) -> int:
        """Return how many of a kind are in such places."""
        places = self.counts.get(key, Counter()).items()
        return sum(n for p, n in places if p.kind in kinds and (wanted is None or wanted(p)))

    def to_come(self, key: Key) -> int:
        """Return how many are asked for or ordered, and have not come."""
        return self.held(key, "asked", "ordered")


def fold(state: State) -> Holdings:
    """Return where the parts of a job are, from its events in effect."""
    return _Fold(state).done()


@dataclass
class _Fold:
    """The fold: `counts` changes as events are followed, one after another."""

    state: State
    counts: dict[Key, Counter[Place]] = field(default_factory=dict)
    came: Counter[Key] = field(default_factory=Counter)
    received: Counter[Key] = field(default_factory=Counter)
    used: Counter[Key] = field(default_factory=Counter)
    """Received ones that a step has fitted and nobody has said to be installed."""
    turns: dict[tuple[Key, PlaceKind], tuple[int, ...]] = field(default_factory=dict)
    checked: set[Key] = field(default_factory=set)
    steps_done: set[str] = field(default_factory=set)
    bags: dict[int, int] = field(default_factory=dict)
    """The number on the bag, for the one that the procedure says."""

    def __post_init__(self) -> None:
        self.names, self.plan = self.state.names, self.state.plan
        self.steps = {step.id: step for step in self.state.procedure.steps}

    def done(self) -> Holdings:
        for event in self.state.history:
            if isinstance(event, events.BagRecorded) and event.asked is not None:
                self.bags[event.asked] = event.number
        for (key, bag), count in self.plan.in_place_at_first().items():
            self._put(key, Place("in place", self._bag(bag)), count)
        for item in kit.items(self.state):
            if item.countable and item.amount is None:
                self._put(self.names.key(item.name), Place("in the kit"), item.count)
        was = {key: places.total() for key, places in self.counts.items()}
        self.ordered = {
            self.names.key(line.name, line.order.step)
            for line in ledger.lines(self.state.history)
            if line.counts["cancelled"] < line.order.count
        }
        # All orders first: what was received of one that is then corrected stays received.
        for event in self.state.history:
            if isinstance(event, events.PartOrdered) and event.countable:
                key = self.names.key(event.part, event.step)
                self._put(key, Place("asked"), event.count)
                self.came[key] += event.count
        for event in self.state.history:
            self._follow(event)
        return Holdings(
            counts={key: +places for key, places in self.counts.items()},
            was=was,
            came=self.came,
            received=self.received,
            turns=self.turns,
            checked=frozenset(self.checked),
            bags=self.bags,
        )

    def _follow(self, event: events.Event) -> None:
        match event:
            case events.KitItemChecked():
                self._check(self.names.key(event.name), event.short)
            case events.FindingRecorded():
                self._find(event)
            case events.OrderMoved():
                self._order_moved(event)
            case events.StepDone(step=str(step)) if step in self.steps:
                self._take_off(step)
                for fitted in event.fitted:
                    self._fit(step, fitted)
                self.steps_done.add(step)
            case events.RetestBegun() | events.ReworkBegun():
                self.steps_done -= set(event.steps)
                self._off_again(set(event.steps))

    # What moves parts

    def _check(self, key: Key, short: int) -> None:
        self.checked.add(key)
        back = self._held(key, Place("short in the kit"))
        self._move(key, self._in("short in the kit"), lambda p: Place("in the kit"), back)
        self._move(key, self._in("in the kit"), lambda p: Place("short in the kit"), short)

    def _find(self, event: events.FindingRecorded) -> None:
        key = self.names.key(event.part, event.step)
        to = self._comes_to(event, key)
        if to is None:
            return
        self.turns[key, to] = (*self.turns.get((key, to), ()), event.turn)
        here = self._spoken_of(key, event.step)
        moved = self._move(key, here, lambda p: _lost(p, to), event.count)
        if not moved and not self._was_known(key):
            # Nothing was known of it, and yet it is not there, or not fit for use.
            self.came[key] += event.count
            self._put(key, Place(to, self._bag_of(event.step)), event.count)

    def _was_known(self, key: Key) -> bool:
        """Whether there is or was any, beside those that were ordered: the same may be found twice,
        and more may be said than there are.
        """
        places = self.counts.get(key, Counter()).items()
        return any(n and place.kind not in ("asked", "ordered", "cancelled") for place, n in places)

    def _comes_to(self, event: events.FindingRecorded, key: Key) -> PlaceKind | None:
        if event.condition == "missing":
            return "missing"
        if event.disposition == "renew":
            return "condemned"
        if event.disposition == "repair":
            return "away for repair"
        damaged = event.disposition is None and event.condition not in NOT_DAMAGE
        return "condemned" if damaged and key in self.ordered else None

    def _spoken_of(self, key: Key, step: str | None) -> list[Place]:
        """Return where the parts are that a finding may be about, the likeliest first."""
        kinds: tuple[PlaceKind, ...] = (
            *("off", "in place", "fitted new", "refitted"),
            *("discarded", "received", "in the kit"),
        )
        bag = self._bag_of(step)
        taken = self.plan.taken_off.get(step or "", ())
        comes_off = step not in self.steps_done and any(one.key == key for one in taken)

        def rank(place: Place) -> tuple[bool, int]:
            here = place.step is not None and place.step == step
            here = here or (place.kind == "off" and bag is not None and place.bag == bag)
            here = here or (place.kind == "in place" and comes_off)
            return not here, kinds.index(place.kind)

        found = sorted(self._in(*kinds)(key), key=rank)
        # The old part, thrown away, was the one; it takes no other with it.
        gone = next((n for n, place in enumerate(found) if place.kind == "discarded"), len(found))
        return found[:gone]

    def _order_moved(self, event: events.OrderMoved) -> None:
        key = self.names.key(event.part, event.step)
        count = event.count
        if event.from_repair:
            self._move(key, self._in("away for repair"), lambda p: Place("off", p.bag), count)
            return
        if event.state == "fitted":
            told = min(count, self.used[key])
            self.used[key] -= told
            count -= told
        before = self._held_in(key, "received")
        to = Place(_ORDERED[event.state])
        sources = [Place(kind) for kind in _MOVES[event.state]]
        moved = self._move(key, sources, lambda p: to, count)
        if event.state == "received":
            self.received[key] += moved
        elif event.state == "fitted":
            self.received[key] += moved - (before - self._held_in(key, "received"))
        elif event.state == "asked":
            gone = before - self._held_in(key, "received")
            self.received[key] -= gone

    def _take_off(self, step: str) -> None:
        for taken in self.plan.taken_off.get(step, ()):
            to = Place("discarded") if taken.discard else Place("off", self._bag(taken.bag))
            known = self._in("in place", "fitted new", "refitted")(taken.key)
            known.sort(key=lambda p: p.kind == "in place" and p.bag != self._bag(taken.bag))
            self._move(taken.key, known, lambda p, to=to: to, taken.count)  # type: ignore[misc]

    def _fit(self, step: str, of: facts.Fitted) -> None:
        key = self.names.key(of.name, step)
        bag = self._bag(of.bag)
        left = of.count
        again = self._in("off")(key)
        again.sort(key=lambda p: p.bag != bag)
        received = [Place("received")]
        if of.new:
            # One that was said to be installed before the step was done; then off the shelf. One
            # that was fitted new and taken off for rework goes in again last.
            sources = [Place("fitted new"), *received, Place("in the kit"), *again]
        else:
            in_place = self._in("in place")(key)
            sources = [*again, *in_place, Place("in the kit"), *received]
            sources += [p for p in self._in("condemned")(key) if p.step is None]
        before = self._held_in(key, "received")

        def to(place: Place) -> Place:
            if place.kind == "condemned":
                return replace(place, step=step)
            return Place("fitted new" if of.new else "refitted", bag, step)

        left -= self._move(key, sources, to, left)
        self.used[key] += before - self._held_in(key, "received")
        if left and bag is not None:
            left -= self._under_another_name(key, bag, to(Place("off", bag)), left)
        if left:
            self.came[key] += left
            self._put(key, to(Place("off", bag)), left)

    def _under_another_name(self, key: Key, bag: int, to: Place, count: int) -> int:
        """Fit what came off by another name: plate bolts, of which some are the long bolts."""
        left = count
        fasteners = {self.names.key(f.name) for s in self.steps.values() for f in s.fasteners}
        for other in fasteners - {key}:
            moved = min(left, self._held(other, Place("off", bag)))
            if moved:
                self.counts[other][Place("off", bag)] -= moved
                self._put(key, to, moved)
                self.came[other] -= moved
                self.came[key] += moved
                left -= moved
        return count - left

    def _off_again(self, steps: set[str]) -> None:
        """Take off again what was fitted in steps that are open again."""
        for key, places in self.counts.items():
            for place in [p for p in places if p.step in steps]:
                kind: PlaceKind = "condemned" if place.kind == "condemned" else "off"
                self._move(key, [place], lambda p, k=kind: Place(k, p.bag), places[place])  # type: ignore[misc]

    # How they are moved

    def _bag(self, bag: int | None) -> int | None:
        return None if bag is None else self.bags.get(bag, bag)

    def _bag_of(self, step: str | None) -> int | None:
        of = self.steps.get(step or "")
        return self._bag(of.bag or of.from_bag) if of else None

    def _held(self, key: Key, place: Place) -> int:
        return self.counts.get(key, Counter())[place]

    def _held_in(self, key: Key, *kinds: PlaceKind) -> int:
        places = self.counts.get(key, Counter()).items()
        return sum(n for place, n in places if place.kind in kinds)

    def _in(self, *kinds: PlaceKind) -> Callable[[Key], list[Place]]:
        """Return what tells the places of these kinds that hold some, in the order of the kinds."""

        def places(key: Key) -> list[Place]:
            held = [p for p, n in self.counts.get(key, Counter()).items() if n and p.kind in kinds]
            return sorted(held, key=lambda place: kinds.index(place.kind))

        return places

    def _put(self, key: Key, place: Place, count: int) -> None:
        self.counts.setdefault(key, Counter())[place] += count

    def _move(
        self,
        key: Key,
        sources: Iterable[Place] | Callable[[Key], list[Place]],
        to: Callable[[Place], Place],
        count: int,
    ) -> int:
        """Move as many as there are, up to a count, the first places first; return how many."""
        left = count
        for place in sources(key) if callable(sources) else list(sources):
            moved = min(left, self._held(key, place))
            if moved > 0:
                self.counts[key][place] -= moved
                self._put(key, to(place), moved)
                left -= moved
        return count - left


def _lost(place: Place, to: PlaceKind) -> Place:
    """Return where a part is that a finding is about; a condemned one may be fitted still."""
    return Place(to, place.bag, place.step if to == "condemned" else None)


# What can be asked


def everywhere(state: State) -> Mapping[Key, tuple[facts.PartsAt, ...]]:
    """Return where all parts are of which something is known, by kind."""
    return {key: told for key in state.holdings.counts if (told := _told(state, key))}


def _told(state: State, key: Key) -> tuple[facts.PartsAt, ...]:
    """Return where the parts of a kind are, in the order of a part's life."""
    order = list(facts.PLACE_KINDS)
    places = state.holdings.counts[key].items()
    told = sorted(((p, n) for p, n in places if n), key=lambda each: order.index(each[0].kind))
    return tuple(
        facts.PartsAt(
            place=place.kind,
            bag=place.bag if place.kind == "off" else None,
            number=state.procedure.number(place.step) if place.step else None,
            parts=facts.Parts.of(state.procedure, key.name, count),
        )
        for place, count in told
    )
