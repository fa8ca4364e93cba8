"""Parts at the bench, by typed dialogue: what comes of orders, the check of the kit, the bags."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.dialogue import bags, events, facts, fitting, kit, lacking, ledger, understanding
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job
from assistant.procedure import lexicon, reading, unwritten
from tests.bench_helpers import SMALL, Hands
from tests.fixtures import NOW, sample

BOX = """\
procedure: tail-box
title: Tail box
revision: B
equipment: {kind: test box}
consumables:
  - {name: gear oil, amount: 1.1 l}
parts:
  - {name: end plate}
  - {name: drain plug, number: TB-1}
  - {name: circlip, count: 2, number: TB-2}
  - {name: o ring}
  - {name: plate bolt, count: 4}
stages:
  - name: Strip-down
    steps:
      - id: open
        say: Take off the end plate.
        fasteners: [{name: plate bolt, count: 4, thread: M6}]
        remove: [{part: end plate}, {part: plate bolt, count: 4}, {part: o ring, discard: true}]
        bag: 1
      - id: lid-off
        say: Take off the lid.
        fasteners: [{name: lid screw, count: 6, thread: M5}]
        bag: 2
  - name: Build-up
    steps:
      - id: circlips
        say: Fit the circlips.
        fit: [{part: circlip, count: 2, new: true}]
      - id: plate
        say: Fit the end plate.
        from_bag: 1
        fit: [{part: end plate}, {part: o ring, new: true}]
        fasteners: [{name: plate bolt, count: 4, thread: M6}]
      - id: lid
        say: Fit the lid.
        from_bag: 2
        fasteners: [{name: lid screw, count: 5, thread: M5}]
      - id: plug
        say: Fit the drain plug.
        fasteners: [{name: drain plug, count: 1, thread: M14}]
"""


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", BOX)


def moves(hands: Hands) -> list[tuple[int, str, str]]:
    return [
        (e.count, e.part, e.state)
        for e in hands.bench.state.history
        if isinstance(e, events.OrderMoved)
    ]


# What comes of orders


def test_a_part_is_received_in_two_deliveries_and_fitted(hands: Hands) -> None:
    hands.say("order two drain plugs", "order one drain plug", "affirm")
    assert hands.say("drain plugs received two") == "Two drain plugs received. Recorded."
    assert hands.say("drain plug received") == "One drain plug received. Recorded."
    assert hands.say("drain plug installed one") == "One drain plug fitted. Recorded."
    assert moves(hands) == [
        (2, "drain plug", "received"),
        (1, "drain plug", "received"),
        (1, "drain plug", "fitted"),
    ]


def test_what_was_not_asked_for_is_refused(hands: Hands) -> None:
    assert "No drain plug was asked for" in hands.say("drain plug received")
    hands.say("order two drain plugs")
    assert "Only two drain plugs can be received" in hands.say("drain plug received three")
    hands.say("drain plug cancelled")
    assert hands.say("drain plug received") == (
        "Of drain plug, two are cancelled. None can be received. Nothing recorded."
    )
    assert moves(hands) == [(2, "drain plug", "cancelled")]


def test_fitted_before_received_is_questioned(hands: Hands) -> None:
    hands.say("order two circlips")
    assert hands.say("circlip installed one") == (
        "I heard one circlip fitted. By the record none of them is received. "
        "Affirm, or say correction."
    )
    assert "Nothing recorded" in hands.say("negative")
    hands.say("circlip received one")
    assert "one of them is received" in hands.say("circlip installed two")
    assert "Recorded as you affirm" in hands.say("affirm")
    assert moves(hands) == [(1, "circlip", "received"), (2, "circlip", "fitted")]


def test_it_is_taken_back_and_corrected_as_all_else(hands: Hands) -> None:
    hands.say("order two circlips", "circlip received")
    assert "Disregarded: two circlips received" in hands.say("disregard")
    assert "Nothing" not in hands.say("circlip received")
    assert "Was: two circlips received" in hands.say("correction one")
    assert moves(hands) == [(1, "circlip", "received")]
    # An order that is corrected keeps what was received of it.
    hands.say("correction order three circlips")
    assert "Two circlips received" in hands.say("circlip received")


def test_the_desk_is_heard_at_the_bench_and_not_taken_back_there(hands: Hands) -> None:
    hands.say("order two circlips", "circlip installed")
    journal, known = hands.bench.journal, hands.bench.keeper.known
    entered = events.OrderMoved(
        at=hands.now, turn=99, part="circlip", count=2, state="received",
        at_desk=True,
    )  # fmt: skip
    journal.append(hands.bench.job, known, [entered])
    # The bench's own question is still open.
    assert hands.wait(seconds=1) == "From the parts desk: two circlips received."
    assert hands.wait(seconds=1) == ""
    assert "Nothing recorded" in hands.say("negative")
    assert hands.say("circlip installed") == "Two circlips fitted. Recorded."
    hands.say("disregard")
    assert "Disregarded: order two circlips" in hands.say("disregard")
    assert moves(hands) == [(2, "circlip", "received")]


def test_standing_by_the_desk_is_not_spoken_and_nothing_is_lost(hands: Hands) -> None:
    hands.say("order two circlips", "stand by")
    entered = events.OrderMoved(
        at=hands.now, turn=99, part="circlip", count=2, state="received",
        at_desk=True,
    )  # fmt: skip
    hands.bench.journal.append(hands.bench.job, hands.bench.keeper.known, [entered])
    assert hands.wait(seconds=1) == ""
    assert "Listening" in hands.say("resume")
    assert hands.say("circlip installed") == "Two circlips fitted. Recorded."


# What is still to come


def test_what_is_not_received_is_said_on_resuming_and_at_its_step(hands: Hands) -> None:
    hands.say("order a drain plug", "order two circlips")
    circlips = (
        "Step three needs two circlips that are asked for and not received: say circlips received."
    )
    plug = (
        "Step six needs a drain plug that is asked for and not received: say drain plug received."
    )
    told = hands.stop_and_take_up(days=2)
    assert circlips in told and plug in told
    hands.say("bag one", "next step", "bag two")
    said = hands.say("next step")
    assert circlips in said and plug not in said
    hands.say("circlip received one")
    assert "Step three needs a circlip that is asked for" in hands.stop_and_take_up(hours=1)
    hands.say("circlip received")
    assert "circlips that" not in hands.stop_and_take_up(hours=1)


def test_closing_says_what_is_still_to_come(hands: Hands) -> None:
    hands.say("order two circlips", "order a drain plug", "drain plug cancelled")
    hands.say("circlip received one", "close job")
    assert hands.say("affirm") == "Still to come: one circlip. Job closed."


# The check of the kit


def test_the_kit_is_gone_through_and_what_is_short_is_ordered(hands: Hands) -> None:
    # What comes off in the job and goes in again does not come from the box: the end plate.
    assert hands.say("kit check").endswith("three things. Affirm what is there, or say how many "
                                           "are missing. Circlip, two.")  # fmt: skip
    assert hands.say("one missing") == "One missing. O ring, one."
    assert hands.say("affirm") == "Gear oil, one point one litres."
    assert hands.say("negative") == "Missing. Missing in all: one circlip and gear oil. Order them?"
    said = hands.say("affirm")
    assert "Order one circlip. Order gear oil, one point one litres. Recorded." in said
    assert (
        "Step three needs a circlip that is asked for and not received: say circlip received."
        in said
    )
    checked = hands.events("kit checked")[0]
    assert isinstance(checked, events.KitChecked)
    assert [(one.name, one.count) for one in checked.short] == [("circlip", 1), ("gear oil", 1)]
    ordered = hands.events("part ordered")[0]
    assert isinstance(ordered, events.PartOrdered)
    assert (ordered.count, ordered.part, ordered.part_number) == (1, "circlip", "TB-2")


def test_a_whole_kit_asks_for_no_order(hands: Hands) -> None:
    hands.say("kit check", "affirm", "affirm")
    assert "The kit is complete. Recorded." in hands.say("affirm")
    assert not hands.events("part ordered")
    assert "Kit checked, all there." in hands.say("read back")


def test_what_is_short_and_not_ordered_is_said_all_the_same(hands: Hands) -> None:
    hands.say("kit check", "negative", "affirm", "affirm")
    assert "Nothing ordered." in hands.say("negative")
    assert "needs two circlips that are short in the kit" in hands.stop_and_take_up(hours=1)
    hands.say("kit check", "affirm", "affirm", "affirm")
    assert "short" not in hands.stop_and_take_up(hours=1)


def test_the_check_can_be_stopped_left_and_gone_on_with(hands: Hands) -> None:
    hands.say("kit check", "affirm")
    assert "come off" in hands.say("what parts")
    assert hands.say("next step") == "O ring, one."
    hands.say("stand by")
    assert hands.say("resume") == "Listening. O ring, one."
    assert hands.stop_and_take_up(hours=1).endswith("O ring, one.")
    assert "Kit check left" in hands.say("disregard")
    assert "Bag one. Recorded" in hands.say("bag one")
    assert "two things" in hands.say("kit check")
    assert hands.say("go back") == "Circlip, two."
    assert hands.say("three missing") == "The kit should hold two. Circlip, two."
    hands.say("two missing", "affirm")
    assert "Two circlips" not in hands.say("affirm")  # the question, as a list
    assert hands.say("say again") == "Missing in all: two circlips. Order them?"


def test_the_last_answer_of_a_check_is_taken_back(hands: Hands) -> None:
    hands.say("kit check", "affirm", "affirm", "affirm")
    assert hands.say("disregard").endswith("Gear oil, one point one litres.")
    hands.say("negative")
    assert hands.bench.state.mode is job_state.Mode.CHECKING


def test_short_means_nothing_outside_a_check(hands: Hands) -> None:
    hands.say("one missing")
    assert hands.notes.refused == ["one missing"]


@pytest.mark.parametrize(
    ("name", "held", "not_held"),
    [
        ("winch-gearbox", {"ball bearing": 2, "o ring": 3, "gasket": 1, "pinion bolt": 1}, "motor"),
        ("pump-rebuild", {"mechanical seal": 1, "oil seal": 2}, "impeller"),
        ("cylinder-head", {"manifold gasket": 4, "head bolt": 10}, "battery lead"),
    ],
)
def test_the_kits_of_the_samples(name: str, held: dict[str, int], not_held: str) -> None:
    procedure = sample(name)
    items = {
        i.name: i.count for i in kit.items(job_state.at_step(procedure, procedure.steps[0].id))
    }
    assert held.items() <= items.items()
    assert not_held not in items


# The bags


def test_a_bag_that_was_not_opened_and_a_screw_left_over_are_said(hands: Hands) -> None:
    hands.say("bag one", "next step", "bag two", "next step", "next step")
    hands.say("skip step", "waiting for part", "next step")
    said = hands.say("next step", "close job")
    assert "bag one was not opened" in said
    assert "bag two: six lid screws went in, five lid screws fitted from it, one left over" in said
    closed = hands.say("affirm") and hands.events("job closed")[0]
    assert isinstance(closed, events.JobClosed)
    assert facts.BagNotOpened(number=1) in closed.left


def test_the_bags_of_the_samples_add_up() -> None:
    for name in ("winch-gearbox", "pump-rebuild", "cylinder-head"):
        state = job_state.start(sample(name))
        turn = 0
        at = datetime(2031, 1, 1, tzinfo=UTC)
        done: set[str] = set()
        while left := [step for step in state.route() if step.id not in done]:
            step = left[0]
            turn += 1
            of = {"at": at, "turn": turn, "step": step.id}
            state = job_state.apply(state, events.StepEntered.model_validate(of))
            if step.question:
                asked = {"question": step.question.name, "answer": step.question.answers[0].say}
                state = job_state.apply(state, events.QuestionAnswered.model_validate(of | asked))
            if step.bag:
                state = job_state.apply(
                    state, events.BagRecorded.model_validate(of | {"number": step.bag})
                )
            if step.from_bag != 5:
                fitted = {"fitted": lacking.to_fit(state, step)}
                state = job_state.apply(state, events.StepDone.model_validate(of | fitted))
            done.add(step.id)
        unopened = [facts.BagNotOpened(number=5)] if name == "winch-gearbox" else []
        assert list(bags.left_over(state)) == unopened, name


# All together

_PHRASES = (
    *("order two circlips", "order a drain plug", "correction order three circlips"),
    *("circlip received", "circlips received two", "circlip installed", "circlips installed two"),
    *("drain plug received", "drain plug installed", "drain plug cancelled", "circlip cancelled"),
    *("kit check", "one missing", "two missing", "go back", "affirm", "negative", "disregard"),
    *("next step", "bag one", "bag two", "stand by", "resume", "correction one", "close job"),
)


@given(some.lists(some.sampled_from(_PHRASES), max_size=40))
def test_whatever_is_said_in_any_order_no_part_is_lost(phrases: list[str]) -> None:
    procedure = reading.parse(BOX, "box.yaml")
    history = list(open_job(procedure, BOX, NOW).events)
    state = job_state.replay(procedure, history)
    for phrase in phrases:
        intent = understanding.understand_typed(phrase, state)
        if intent is None:
            continue
        decision = decide(state, intent, NOW)
        for event in decision.events:
            state = job_state.apply(state, event)
        history += decision.events
        # What is told over again from the record is what is known at the bench.
        assert job_state.replay(procedure, history) == state
        for line in ledger.lines(history):
            assert sum(line.counts.values()) == line.order.count
            assert min(line.counts.values()) >= 0
        assert ledger.lines(history) == ledger.lines(state.history)
        assert decision.replies or state.mode in (job_state.Mode.STANDING_BY, job_state.Mode.CLOSED)


# Findings


def test_a_finding_says_what_is_to_be_done(hands: Hands) -> None:
    assert hands.say("circlip missing upper renew") == "Circlip missing, upper, renew. Recorded."
    hands.say("correction circlip missing lower refer")
    assert "drain plug dirty, clean" in hands.say("drain plug dirty clean").lower()
    found = [e for e in hands.bench.state.history if isinstance(e, events.FindingRecorded)]
    assert [(e.condition, e.place, e.disposition) for e in found] == [
        ("missing", "lower", "refer"),
        ("dirty", None, "clean"),
    ]


# A part that came, and the step that fits it

FITS = SMALL.replace("        bag: 1\n", "        bag: 1\n        fit: [{part: drain plug}]\n", 1)


def stand(hands: Hands) -> dict[str, int]:
    """Return how many ordered parts are in each state that has some."""
    lines = ledger.lines(hands.bench.journal.events(1))
    counts = {state: ledger.total(lines, [state]) for state in ledger.STATES}
    return {state: count for state, count in counts.items() if count}


@pytest.fixture
def fits(tmp_path: Path) -> Hands:
    """Return a bench whose first step fits a drain plug, which has come."""
    hands = Hands(tmp_path / "fits.db", FITS)
    hands.say("affirm", "order drain plug", "drain plug received", "bag one")
    return hands


def test_doing_the_step_that_fits_a_part_moves_its_order(fits: Hands) -> None:
    assert stand(fits) == {"received": 1}
    fits.say("next step")
    assert stand(fits) == {"fitted": 1}
    assert fits.bench.state.holdings.held(fitting.Key("drain plug"), "fitted new") == 1
    said = fits.say("drain plug installed")
    assert said == "One drain plug recorded as fitted already, with the step that fits it."
    assert stand(fits) == {"fitted": 1}
    fits.stop_and_take_up(days=3)
    assert stand(fits) == {"fitted": 1}


def test_taking_the_step_back_takes_the_order_back(fits: Hands) -> None:
    fits.say("next step")
    fits.say("disregard")
    assert stand(fits) == {"received": 1}
    assert fits.bench.state.step.id not in fits.bench.state.done
    fits.say("next step")
    assert stand(fits) == {"fitted": 1}


def test_installed_before_its_step_is_done_counts_once(fits: Hands) -> None:
    assert fits.say("drain plug installed") == "One drain plug fitted. Recorded."
    fits.say("next step")
    assert stand(fits) == {"fitted": 1}
    assert len(fits.events("order moved")) == 2


def test_rework_of_the_step_does_not_move_it_twice(fits: Hands) -> None:
    fits.say("next step", "rework step one", "affirm", "bag one", "next step")
    assert "open" in fits.bench.state.done
    assert stand(fits) == {"fitted": 1}


def test_what_followed_from_a_step_is_no_word_to_be_corrected(fits: Hands) -> None:
    fits.say("next step", "go to step one")
    assert "Was: bag one." in fits.say("correction bag one")
    told = [fits.say("correction step one"), fits.say("affirm"), fits.say("affirm")]
    assert "order one drain plug" in told[0] and "received" in told[1] and "bag one" in told[2]
    assert "fitted" not in fits.say("affirm")


def test_more_than_the_step_fits_stays_received_and_is_installed_by_word(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "more.db", FITS)
    hands.say("affirm", "order three drain plugs", "drain plugs received two", "bag one")
    hands.say("next step")
    assert stand(hands) == {"asked": 1, "received": 1, "fitted": 1}
    assert hands.say("drain plug installed") == "One drain plug fitted. Recorded."
    assert hands.say("drain plug installed").startswith("One drain plug recorded as fitted")
    assert "Only one drain plug" in hands.say("drain plugs installed two")
    assert stand(hands) == {"asked": 1, "fitted": 2}


def test_in_an_unwritten_job_it_moves_too(tmp_path: Path) -> None:
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"))
    hands = Hands(tmp_path / "unwritten.db", text)
    hands.say("affirm", "removed bearing", "bearing pitted renew", "removed end cover")
    hands.say("order bearing", "bearing received", "start build up", "installed bearing")
    assert stand(hands) == {"fitted": 1}
