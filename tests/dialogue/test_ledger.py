"""The ledger of orders: whatever is entered, in any order, no part is lost or invented."""

from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as some

from assistant.dialogue import events, ledger

AT = datetime(2031, 1, 1, tzinfo=UTC)
PARTS = ("plug", "seal")


def order(turn: int, part: str, count: int) -> events.PartOrdered:
    return events.PartOrdered(at=AT, turn=turn, part=part, count=count)


def move(turn: int, part: str, state: events.OrderState, count: int) -> events.OrderMoved:
    return events.OrderMoved(at=AT, turn=turn, part=part, count=count, state=state)


_PART = some.sampled_from(PARTS)
_COUNT = some.integers(1, 9)
_STEP = some.one_of(
    some.tuples(some.just("order"), _PART, some.just(None), _COUNT),
    some.tuples(some.just("move"), _PART, some.sampled_from(ledger.STATES), _COUNT),
    some.tuples(some.just("withdraw"), some.just(""), some.just(None), some.integers(1, 30)),
)


@given(some.lists(_STEP, max_size=30))
def test_no_order_of_words_loses_or_invents_a_part(steps: list[tuple[str, str, str, int]]) -> None:
    history: list[events.Base] = []
    for turn, (what, part, state, count) in enumerate(steps, 1):
        if what == "order":
            history.append(order(turn, part, count))
        elif what == "move":
            history.append(move(turn, part, state, count))  # type: ignore[arg-type]
        else:
            # Only what was said before can be taken back.
            history.append(events.Withdrawn(at=AT, turn=turn, withdrew=min(count, turn - 1)))
    gone = set()
    for event in reversed(history):
        # One that was taken back itself takes nothing back.
        if isinstance(event, events.Withdrawn) and event.turn not in gone:
            gone.add(event.withdrew)
    asked = [e for e in history if isinstance(e, events.PartOrdered) and e.turn not in gone]
    lines = ledger.lines(history)
    assert [line.order for line in lines] == asked
    for line in lines:
        assert sum(line.counts.values()) == line.order.count
        assert all(number >= 0 for number in line.counts.values())


@given(some.lists(some.tuples(some.sampled_from(ledger.STATES), _COUNT), max_size=20))
def test_what_is_entered_without_a_question_moves_just_as_many(
    moves: list[tuple[events.OrderState, int]],
) -> None:
    history: list[events.Base] = [order(1, "plug", 5), order(2, "plug", 4), order(3, "seal", 3)]
    for turn, (state, count) in enumerate(moves, 4):
        before = ledger.lines(history)
        plugs = [line for line in before if line.name == "plug"]
        can = min(count, ledger.movable(plugs, state))
        if can:
            history.append(move(turn, "plug", state, can))
        after = ledger.lines(history)
        assert ledger.total(after[:2], [state]) == ledger.total(plugs, [state]) + can
        assert after[2] == before[2]


def test_the_oldest_order_is_served_first() -> None:
    history = [order(1, "plug", 2), order(2, "plug", 2), move(3, "plug", "received", 3)]
    received = [line.counts["received"] for line in ledger.lines(history)]
    assert received == [2, 1]


def test_what_was_ordered_is_received_before_what_was_only_asked_for() -> None:
    history = [
        order(1, "plug", 2),
        move(2, "plug", "ordered", 1),
        move(3, "plug", "received", 1),
    ]
    (line,) = ledger.lines(history)
    assert (line.counts["asked"], line.counts["ordered"], line.counts["received"]) == (1, 0, 1)
