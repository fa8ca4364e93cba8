"""Which events of a record still stand.

Nothing is ever deleted from a record: a withdrawal is an event that names an earlier turn, or one
event of it, which then no longer counts. A correction is a withdrawal and a new record in one turn,
so taking the correction back takes its withdrawal back too, and the old value stands again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeVar

from assistant.dialogue import events, facts

E = TypeVar("E", bound=events.Base)


def what_stands(history: Iterable[E]) -> tuple[E, ...]:
    """Return the events that no later event withdrew, in order; withdrawals that stand as well.

    Takes two passes, so its cost grows with the number of events.
    """
    told = tuple(history)
    counts: dict[int, int] = {}
    places = []
    for event in told:
        places.append(counts.get(event.turn, 0))
        counts[event.turn] = places[-1] + 1
    turns: set[int] = set()
    single: set[tuple[int, int]] = set()
    standing: list[E] = []
    # Backwards, because only a withdrawal that comes later, and stands, can take an event back.
    for event, place in zip(reversed(told), reversed(places), strict=True):
        if event.turn in turns or (event.turn, place) in single:
            continue
        if isinstance(event, events.Withdrawn):
            if event.place is None:
                turns.add(event.withdrew)
            else:
                single.add((event.withdrew, event.place))
        standing.append(event)
    return tuple(reversed(standing))


def place_of(event: events.Base, history: Iterable[events.Base]) -> int:
    """Return which of its turn's events an event is, from 0; `history` has withdrawn ones too.

    The very event is looked for: a turn may hold two that are equal.
    """
    of_turn = [one for one in history if one.turn == event.turn]
    return next(place for place, one in enumerate(of_turn) if one is event)


def named(log: Sequence[events.Base], ref: facts.EventRef) -> events.Base | None:
    """Return the event that a reference names, among all events; None where there is none."""
    of_turn = [event for event in log if event.turn == ref.turn]
    return of_turn[ref.place] if 0 <= ref.place < len(of_turn) else None


def corrected_to(
    of: events.Base, log: Sequence[events.Base], standing: Sequence[events.Base]
) -> events.Base:
    """Return the record that corrections put in the place of one; the record itself where it still
    stands, or was withdrawn. `standing` is what stands of `log`.
    """
    kept = set(map(id, standing))
    corrections = [e for e in standing if isinstance(e, events.Withdrawn) and e.corrected]
    found = of
    while id(found) not in kept:
        instead = _instead(log, found, corrections)
        if instead is None:
            break
        found = instead
    return found


def _instead(
    log: Sequence[events.Base], wrong: events.Base, corrections: Sequence[events.Withdrawn]
) -> events.Base | None:
    """Return what was recorded in the place of a record; None where nothing was."""
    place = place_of(wrong, log)
    for correction in corrections:
        # What replaces a record came after it, whatever a record from elsewhere says.
        if correction.turn <= wrong.turn:
            continue
        if correction.withdrew == wrong.turn and correction.place in (None, place):
            of_turn = (e for e in log if e.turn == correction.turn)
            return next((e for e in of_turn if type(e) is type(wrong)), None)
    return None


def first_said(event: E, log: Iterable[events.Base]) -> E:
    """Return the record as it was first made, where an event is a correction of it, or of one; else
    the event itself. `log` has withdrawn events too.

    A correction of what was said does not redo the work: what counts from the work counts from
    here.
    """
    told = tuple(log)
    found = event
    while True:
        of_turn = (one for one in told if one.turn == found.turn)
        replaced = (
            [other for other in told if other.turn == one.withdrew][one.place]
            for one in of_turn
            if isinstance(one, events.Withdrawn) and one.corrected and one.place is not None
        )
        before = next((one for one in replaced if isinstance(one, type(event))), None)
        if before is None:
            return found
        found = before
