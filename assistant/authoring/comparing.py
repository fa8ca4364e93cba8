"""Where several jobs on like machines differ, as data: what came off, how many, sizes, torques, the
order, the kit.

The first job is what the draft is written from; each other one is compared with it. The same thing
in two jobs has the same name, and is the first or second of that name to come off. What nobody had
a name for cannot be told to be the same, so it is not compared.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from assistant.authoring.worked import Job, Worked
from assistant.dialogue import facts
from assistant.procedure.model import Quantity

Key = tuple[str, int]
"""The name of a thing, and which of that name."""

Stage = Literal["strip-down", "build-up"]


@dataclass(frozen=True)
class Difference:
    """Something in which two jobs differ."""

    first: int
    """The job that the draft is written from."""
    other: int
    """The job that differs."""


@dataclass(frozen=True)
class OfJob(Difference):
    """The jobs are on machines of other titles or kinds."""

    was: str
    found: str


@dataclass(frozen=True)
class Unnamed(Difference):
    """Things that nobody had a name for; `other` is the job that has them."""

    names: tuple[str, ...]


@dataclass(frozen=True)
class OnlyThere(Difference):
    """Something came off in the other job alone."""

    thing: Worked


@dataclass(frozen=True)
class OfKit(Difference):
    """The kits have another count or number of one part; None: the kit does not have it."""

    name: str
    was: tuple[int, str | None] | None
    found: tuple[int, str | None] | None


@dataclass(frozen=True)
class OfThing(Difference):
    """A difference in one thing of the first job."""

    key: Key
    stage: Stage


@dataclass(frozen=True)
class NotThere(OfThing):
    """It did not come off in the other job."""


@dataclass(frozen=True)
class Count(OfThing):
    """Another number of it came off."""

    was: int
    found: int


@dataclass(frozen=True)
class Size(OfThing):
    """Its thread or its length is another; None: nobody said."""

    was: tuple[str | None, Quantity | None]
    found: tuple[str | None, Quantity | None]


@dataclass(frozen=True)
class Threads(OfThing):
    """Something else was found on its threads; None: nobody said."""

    was: facts.Threads | None
    found: facts.Threads | None


@dataclass(frozen=True)
class Torque(OfThing):
    """Another torque was set; None: none was."""

    was: Quantity | None
    found: Quantity | None


@dataclass(frozen=True)
class Order(OfThing):
    """It came off, or went on, at another place in the order."""

    beside: Worked
    """What was next to it in the other job, of what both have."""
    after: bool
    """Whether it came after that; before it, where it was the first."""


def differences(first: Job, others: Sequence[Job]) -> tuple[Difference, ...]:
    """Return all in which other jobs differ from the first, job by job."""
    found: list[Difference] = []
    if others:
        found += _unnamed(first, first)
    for other in others:
        found += _between(first, other)
    return tuple(found)


def _between(first: Job, other: Job) -> Iterator[Difference]:
    numbers = (first.number, other.number)
    for was, now in ((first.title, other.title), (first.kind, other.kind)):
        if was.casefold() != now.casefold():
            yield OfJob(*numbers, was, now)
    yield from _unnamed(first, other)
    yield from _kits(first, other)
    there = {w.key: w for w in other.down if w.key}
    here = {w.key: w for w in first.down if w.key}
    for key, one in here.items():
        if key in there:
            yield from _of_thing(numbers, key, one, there[key])
        else:
            yield NotThere(*numbers, key, "strip-down")
    for key, one in there.items():
        if key not in here:
            yield OnlyThere(*numbers, one)
    yield from _orders(numbers, "strip-down", first.down, other.down)
    # What is not on yet has no place in the order of a build-up.
    on = [[w for w in job.up if w.is_on] for job in (first, other)]
    yield from _orders(numbers, "build-up", *on)


def _unnamed(first: Job, of: Job) -> Iterator[Difference]:
    names = tuple(w.piece.name for w in of.down if w.key is None)
    if names:
        yield Unnamed(first.number, of.number, names)


def _kits(first: Job, other: Job) -> Iterator[Difference]:
    kits = [{part.name: (part.count, part.number) for part in job.kit} for job in (first, other)]
    for name in dict.fromkeys([*kits[0], *kits[1]]):
        was, found = (kit.get(name) for kit in kits)
        if was != found:
            yield OfKit(first.number, other.number, name, was, found)


def _of_thing(
    numbers: tuple[int, int], key: Key, one: Worked, other: Worked
) -> Iterator[Difference]:
    was, found = one.piece, other.piece
    if was.count != found.count:
        yield Count(*numbers, key, "strip-down", was.count, found.count)
    if (was.thread, was.length) != (found.thread, found.length):
        sizes = ((was.thread, was.length), (found.thread, found.length))
        yield Size(*numbers, key, "strip-down", *sizes)
    if was.threads != found.threads:
        yield Threads(*numbers, key, "strip-down", was.threads, found.threads)
    if was.torque != found.torque:
        yield Torque(*numbers, key, "build-up", was.torque, found.torque)


def _orders(
    numbers: tuple[int, int], stage: Stage, one: Sequence[Worked], other: Sequence[Worked]
) -> Iterator[Difference]:
    """Yield the fewest things that would have to be moved to make one order of the other."""
    both = {w.key for w in one} & {w.key for w in other} - {None}
    places = {key: place for place, key in enumerate(w.key for w in one if w.key in both)}
    there = [w for w in other if w.key in both]
    kept = longest_rising([places[w.key] for w in there])
    for place, worked in enumerate(there):
        if place not in kept and worked.key is not None:
            beside = there[place - 1 if place else 1]
            yield Order(*numbers, worked.key, stage, beside, after=place > 0)


def longest_rising(of: Sequence[int]) -> frozenset[int]:
    """Return the places of a longest run of rising numbers, with others between them.

    The numbers differ from each other.
    """
    ends: list[int] = []  # The smallest number that a run of each length can end with,
    at: list[int] = []  # and its place.
    before: dict[int, int] = {}
    for place, number in enumerate(of):
        length = bisect_left(ends, number)
        ends[length : length + 1] = [number]
        at[length : length + 1] = [place]
        before[place] = at[length - 1] if length else -1
    run = set()
    place = at[-1] if at else -1
    while place >= 0:
        run.add(place)
        place = before[place]
    return frozenset(run)
