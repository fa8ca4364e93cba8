"""The life of parts: one ledger, moved by all that is said, and read by all that is answered."""

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.dialogue import events, ledger, parts, understanding
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job
from assistant.procedure import reading
from tests.bench_helpers import Hands
from tests.fixtures import NOW

PUMP = """\
procedure: small-pump
title: Small pump
revision: A
equipment: {kind: test pump}
parts:
  - {name: impeller, number: SP-1}
  - {name: ball bearing, count: 2}
  - {name: circlip, count: 2}
  - {name: plate screw, count: 4}
  - {name: shim}
  - {name: white shim}
  - {name: blue shim}
  - {name: shaft}
stages:
  - name: Strip-down
    steps:
      - id: plate-off
        say: Take off the plate.
        fasteners: [{name: plate screw, count: 4, thread: M5, length: 12 mm}]
        bag: 1
      - id: impeller-off
        say: Pull the impeller, the shaft and the bearings.
        remove:
          - part: impeller
          - part: shaft
          - {part: ball bearing, count: 2, discard: true}
        bag: 2
      - id: measure
        say: Measure the gap.
        readings: [{name: gap, unit: mm}]
        choice:
          of: gap
          rows: [{up_to: 0.5 mm, part: white shim}, {over: 0.5 mm, part: blue shim}]
  - name: Build-up
    steps:
      - id: bearings
        say: Fit the bearings and the circlips.
        fit:
          - {part: ball bearing, count: 2, new: true}
          - {part: circlip, count: 2, new: true}
      - id: impeller-on
        say: Fit shaft and impeller.
        from_bag: 2
        fit: [{part: shaft}, {part: impeller}, {part: shim, new: true, chosen_by: gap}]
      - id: plate-on
        say: Fit the plate.
        from_bag: 1
        fasteners: [{name: plate screw, count: 4, thread: M5, length: 12 mm}]
      - id: look
        say: Look it over.
"""
STRIP = ("bag one", "next step", "bag two", "next step", "reading zero point three millimetres")


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", PUMP)


def fitted(hands: Hands) -> dict[str, list[tuple[int, bool]]]:
    """What the steps that are done have fitted: how many, and whether new."""
    found: dict[str, list[tuple[int, bool]]] = {}
    for event in hands.bench.state.current(events.StepDone):
        for one in event.fitted:
            found.setdefault(one.name, []).append((one.count, one.new))
    return found


def at(hands: Hands, name: str) -> dict[str, int]:
    told: Counter[str] = Counter()
    for key, places in parts.everywhere(hands.bench.state).items():
        for one in places if key.name == name else ():
            told[one.place] += one.parts.count
    return dict(told)


# What holds


def test_a_condemned_impeller_is_not_called_for_without_a_word(hands: Hands) -> None:
    hands.say(*STRIP)
    assert hands.say("impeller cracked renew") == (
        "Impeller cracked, renew. Recorded. One impeller is condemned, and step five fits it. "
        "Say order impeller, or concession."
    )
    hands.say("next step")
    said = hands.say("next step")
    assert (
        "Step five needs an impeller that is condemned: say order impeller, or concession." in said
    )
    said = hands.say("next step")
    assert "Outstanding: an impeller that is condemned" in said and "We stay at step five" in said
    hands.say("order impeller")
    assert "ordered" not in hands.say("what is left")
    assert "asked for and not received: say impeller received" in hands.say("next step")
    hands.say("impeller received")
    assert "Step six" in hands.say("next step")
    # What went in is the new one; what came off is scrap.
    assert fitted(hands)["impeller"] == [(1, True)]
    assert fitted(hands)["shaft"] == [(1, False)]
    assert at(hands, "impeller") == {"condemned": 1, "fitted new": 1}
    assert "Nothing failed" in hands.say("what failed")


def test_what_is_ordered_for_a_condemned_part_is_not_to_be_ordered_again(hands: Hands) -> None:
    hands.say(*STRIP, "impeller cracked renew", "order impeller")
    what = "Step five: one impeller is condemned, and step five fits it."
    assert hands.say("what failed") == f"{what} Say impeller received, or concession."
    hands.stop_and_take_up(days=2)
    assert hands.say("what failed") == f"{what} Say impeller received, or concession."
    hands.say("impeller cancelled")
    assert hands.say("what failed") == f"{what} Say order impeller, or concession."
    hands.say("disregard", "impeller received")
    assert hands.say("what failed") == "Nothing failed."
    hands.say("disregard", "disregard")
    assert hands.say("what failed") == f"{what} Say order impeller, or concession."


def test_an_order_before_the_finding_counts_as_well(hands: Hands) -> None:
    hands.say(*STRIP, "order impeller")
    assert hands.say("impeller cracked renew") == (
        "Impeller cracked, renew. Recorded. One impeller is condemned, and step five fits it. "
        "Say impeller received, or concession."
    )


@pytest.mark.parametrize(("cancelled", "condemned"), [("one", 1), ("two", 0)])
def test_a_damaged_part_is_condemned_where_one_of_its_order_still_stands(
    hands: Hands, cancelled: str, condemned: int
) -> None:
    hands.say(*STRIP, "order two impellers", f"impellers cancelled {cancelled}", "impeller cracked")
    assert at(hands, "impeller").get("condemned", 0) == condemned


def test_of_several_that_are_missing_only_the_rest_is_to_be_ordered(hands: Hands) -> None:
    hands.say(*STRIP, "three plate screws missing", "order one plate screw")
    said = hands.say("what failed")
    assert "Three plate screws are missing" in said.replace("three", "Three")
    assert "Say order two plate screws, or concession." in said
    hands.say("order two plate screws", "affirm")
    assert "Say plate screws received, or concession." in hands.say("what failed")
    hands.say("plate screw received one")
    said = hands.say("what failed")
    assert "two plate screws are missing" in said
    assert "Say plate screws received, or concession." in said


def test_a_condemned_part_is_fitted_by_a_concession_that_lapses_with_its_finding(
    hands: Hands,
) -> None:
    hands.say(*STRIP, "impeller scored renew", "next step", "next step")
    assert hands.say("concession") == (
        "Concession for step five: one impeller is condemned, and step five fits it. "
        "For what reason? Say note and the reason, or disregard."
    )
    hands.say("note a light score, the owner knows")
    assert "Nothing failed" not in hands.say("what failed")
    assert "condemned" not in hands.say("where are we")
    # It is another finding, so the concession was about another thing.
    hands.say("impeller cracked renew")
    assert "an impeller that is condemned" in hands.say("next step")
    hands.say("disregard", "next step")
    assert fitted(hands)["impeller"] == [(1, False)]
    assert at(hands, "impeller") == {"condemned": 1}
    assert "Conceded by sam: one impeller is condemned" in hands.say("what failed")
    hands.say("next step", "close job")
    assert hands.bench.state.closed


def test_a_missing_screw_that_was_conceded_is_not_listed_as_fitted(hands: Hands) -> None:
    hands.say("plate screw missing", *STRIP, "next step", "next step", "next step")
    hands.say("concession", "note three hold it until the next service", "next step")
    assert fitted(hands)["plate screw"] == [(3, False)]
    assert at(hands, "plate screw") == {"missing": 1, "refitted": 3}


def test_what_is_short_in_the_kit_is_never_listed_as_fitted(hands: Hands) -> None:
    hands.say("kit check", "affirm", "two missing", "affirm", "negative")
    hands.say(*STRIP)
    assert "needs two circlips that are short in the kit" in hands.say("next step")
    said = hands.say("next step")
    assert (
        "Outstanding: two circlips that are short in the kit: "
        "say order two circlips, or kit check." in said
    )
    assert "circlip" not in fitted(hands)
    hands.say("order two circlips", "circlips received", "next step")
    assert fitted(hands)["circlip"] == [(2, True)]
    assert at(hands, "circlip") == {"short in the kit": 2, "fitted new": 2}


def test_what_was_found_in_the_kit_after_all_is_checked_again(hands: Hands) -> None:
    hands.say("kit check", "affirm", "two missing", "affirm", "negative")
    hands.say(*STRIP, "next step")
    hands.say("kit check", "affirm", "affirm", "affirm", "next step")
    assert fitted(hands)["circlip"] == [(2, True)]
    assert at(hands, "circlip") == {"fitted new": 2}


def test_a_bearing_that_is_still_to_come_is_not_fitted(hands: Hands) -> None:
    hands.say("ball bearing pitted", "order two ball bearings", *STRIP)
    assert "needs two ball bearings that are asked for and not received" in hands.say("next step")
    assert "We stay" in hands.say("next step")
    hands.say("ball bearing received one")
    assert "Outstanding: a ball bearing that is asked for" in hands.say("next step")
    hands.say("ball bearing received", "next step")
    assert fitted(hands)["ball bearing"] == [(2, True)]


def test_what_is_found_twice_is_lost_once(hands: Hands) -> None:
    hands.say("affirm", "in bag one")
    before = sum(at(hands, "plate screw").values())
    hands.say("plate screws missing")
    assert at(hands, "plate screw") == {"missing": before}
    assert "nothing left in it" in hands.say("what is in bag one")
    hands.say("two plate screws missing")
    assert at(hands, "plate screw") == {"missing": before}, "there are no more that could be lost"
    hands.say("disregard", "disregard")
    assert "missing" not in at(hands, "plate screw")


def test_a_missing_screw_is_not_counted_as_there(hands: Hands) -> None:
    said = hands.say("plate screw missing")
    assert "One plate screw is missing, and step six fits it." in said
    hands.say(*STRIP, "next step", "next step")
    assert "three plate screws" in hands.say("what is in bag one")
    assert hands.say("where are the plate screws").startswith("In bag one: three plate screws.")
    assert "Step six needs a plate screw that is missing" in hands.say("next step")
    assert "We stay at step six" in hands.say("next step")
    hands.say("order plate screw", "plate screw received", "next step")
    assert fitted(hands)["plate screw"] == [(3, False), (1, True)]
    said = hands.say("next step", "close job")
    assert said.endswith("Job closed.") and "left over" not in said


def test_two_said_as_several_are_two(hands: Hands) -> None:
    assert hands.say("two plate screws missing").startswith("Two plate screws missing. Recorded.")
    assert at(hands, "plate screw") == {"in place": 2, "missing": 2}
    hands.say("disregard")
    assert at(hands, "plate screw") == {"in place": 4}


def test_a_part_away_for_repair_holds_until_it_is_back(hands: Hands) -> None:
    hands.say(*STRIP, "shaft bent repair", "next step")
    assert "a shaft that is away for repair: say shaft received" in hands.say("next step")
    assert hands.say("shaft received") == "One shaft received back from repair. Recorded."
    assert "We stay" not in hands.say("next step")
    assert fitted(hands)["shaft"] == [(1, False)]


def test_what_is_condemned_when_it_is_fitted_fails(hands: Hands) -> None:
    hands.say(*STRIP, "next step", "next step", "next step")
    assert "One impeller is condemned and fitted. Say rework and the step, or concession." in (
        hands.say("impeller cracked renew")
    )
    assert "Outstanding: at step five, one impeller is condemned and fitted" in hands.say(
        "next step"
    )
    hands.say("rework step five")
    assert at(hands, "impeller") == {"condemned": 1}
    assert "an impeller that is condemned: say order impeller" in hands.say("next step")
    hands.say("order impeller", "impeller received", "next step")
    assert fitted(hands)["impeller"] == [(1, True)]


def test_the_chosen_part_is_named_where_it_is_fitted_days_later(hands: Hands) -> None:
    hands.say(*STRIP, "next step", "next step")
    hands.stop_and_take_up(days=3)
    assert "Fit one new white shim." in hands.say("go to step five")
    assert "white shim" in hands.say("what parts")
    assert "White shim, one." in hands.say("kit check", "affirm", "affirm")
    hands.say("disregard", "next step")
    assert fitted(hands)["white shim"] == [(1, True)] and "shim" not in fitted(hands)


def test_ordering_the_same_part_twice_asks(hands: Hands) -> None:
    hands.say("order impeller")
    assert hands.say("order impeller") == (
        "I heard one impeller. One impeller is on order already. "
        "Affirm to order more, or say negative."
    )
    assert "Nothing recorded" in hands.say("negative")
    assert hands.say("what is on order") == "Still to come: one impeller."
    assert at(hands, "impeller")["asked"] == 1
    hands.say("order impeller", "affirm")
    assert at(hands, "impeller")["asked"] == 2
    hands.say("impeller received two")
    assert "Recorded" in hands.say("order impeller")


def test_what_is_left_over_is_named_at_closing(hands: Hands) -> None:
    hands.say("order two impellers", "impeller received", "kit check")
    for _ in range(3):
        hands.say("affirm")
    hands.say(*STRIP, *["next step"] * 4)
    said = hands.say("close job")
    assert said == (
        "Not complete: one impeller left over, received and not fitted. Close all the same?"
    )


# Nothing is lost

_PHRASES = (
    *("next step", "bag one", "bag two", "reading zero point three millimetres", "affirm"),
    *("impeller cracked renew", "impeller cracked", "plate screw missing", "shaft bent repair"),
    *("two plate screws missing", "ball bearing pitted", "order impeller", "order plate screw"),
    *("order two ball bearings", "impeller received", "plate screw received", "shaft received"),
    *("ball bearings received", "impeller installed", "impeller cancelled", "kit check"),
    *("one missing", "negative", "disregard", "rework step five", "rework step four", "go back"),
    *("skip step", "not needed", "correction two"),
)


@given(some.lists(some.sampled_from(_PHRASES), max_size=50))
def test_whatever_is_said_each_part_is_somewhere_and_no_short_one_is_fitted(
    phrases: list[str],
) -> None:
    procedure = reading.parse(PUMP, "pump.yaml")
    history = list(open_job(procedure, PUMP, NOW).events)
    state = job_state.replay(procedure, history)
    for phrase in phrases:
        intent = understanding.understand_typed(phrase, state)
        if intent is None:
            continue
        for event in decide(state, intent, NOW).events:
            if isinstance(event, events.StepDone):
                _nothing_short(state, event)
            state = job_state.apply(state, event)
        _adds_up(state)


def _adds_up(state: job_state.State) -> None:
    holdings = state.holdings
    for key, places in holdings.counts.items():
        assert min(places.values(), default=0) >= 0
        there = holdings.was.get(key, 0) + holdings.came.get(key, 0)
        assert places.total() == there, (key, places)
    lines = ledger.lines(state.history)
    for line in lines:
        key = state.names.key(line.name)
        of_part = [one for one in lines if one.name == line.name]
        assert holdings.to_come(key) == ledger.total(of_part, ledger.TO_COME)


def _nothing_short(state: job_state.State, done: events.StepDone) -> None:
    """Hold what a step says to be fitted against what the ledger had of it the moment before."""
    holdings = state.holdings
    counts = Counter[str]()
    for one in done.fitted:
        counts[one.name] += one.count
    for name, count in counts.items():
        key = state.names.key(name, done.step)
        gone = holdings.held(key, "missing", "condemned", "away for repair", "short in the kit")
        total = sum(holdings.counts.get(key, Counter()).values())
        orders = holdings.held(key, "asked", "ordered", "cancelled")
        if gone or holdings.to_come(key):
            assert count <= total - gone - orders


def test_an_order_in_the_ledger_agrees_with_what_was_fitted() -> None:
    procedure = reading.parse(PUMP, "pump.yaml")
    when = datetime(2031, 1, 1, tzinfo=UTC)

    def event(kind: type[events.Base], turn: int, **fields: object) -> events.Base:
        return kind.model_validate({"at": when, "turn": turn, "step": "bearings", **fields})

    history = [
        event(events.PartOrdered, 1, part="ball bearing", count=2),
        event(events.OrderMoved, 2, part="ball bearing", count=2, state="received"),
        event(events.StepDone, 3, fitted=[{"name": "ball bearing", "count": 2, "new": True}]),
        event(events.OrderMoved, 4, part="ball bearing", count=2, state="fitted"),
    ]
    state = job_state.replay(procedure, history)  # type: ignore[arg-type]
    # Said to be installed after the step was done: the same two, not two more.
    (places,) = (one for key, one in parts.everywhere(state).items() if key.name == "ball bearing")
    told = {one.place: one.parts.count for one in places}
    assert told["fitted new"] == 2
    assert state.holdings.received[state.names.key("ball bearing")] == 2
