"""A job without a procedure: what comes off is what goes on again, whatever happens between."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.dialogue import events, intents, replaying
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job
from assistant.dialogue.state import Mode
from assistant.errors import AssistantError
from assistant.procedure import kit_list, lexicon, reading, unwritten
from tests.bench_helpers import Hands, bench
from tests.fixtures import NOW

KIT = (
    kit_list.KitLine("K-1", "gasket", "gaskets", 1, "Gasket", 2),
    kit_list.KitLine("K-2", "oil seal", "oil seals", 3, "Seal, oil", 3),
)


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"), KIT)
    return Hands(tmp_path / "journal.db", text)


def left(hands: Hands) -> list[str]:
    """Return what closing the job leaves in the record."""
    hands.say("close job", "affirm")
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed)
    return [f"{one.parts.count} {one.parts.name}, {one.place}" for one in closed.left]  # type: ignore[union-attr]


def test_nothing_comes_off_before_the_machine_is_safe(hands: Hands) -> None:
    assert "is the machine safe to work on" in hands.say("where are we")
    assert "We stay at step one" in hands.say("removed end cover")
    assert "See to it first" in hands.say("negative")
    assert hands.events("piece removed") == []
    hands.say("affirm")
    assert hands.say("removed end cover") == "End cover off."


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("removed the end cover", "End cover off."),
        ("removed one end cover", "End cover off."),
        ("removed a pair of dowels", "Two dowels off."),
        ("removed 12 long bolts", "Twelve long bolts off."),
        ("removed twelve long bolts", "Twelve long bolts off."),
        ("removed 3 dowels", "Three dowels off."),
    ],
)
def test_how_many_came_off_can_be_said_in_several_ways(hands: Hands, said: str, told: str) -> None:
    hands.say("affirm")
    assert hands.say(said) == told


@pytest.mark.parametrize("said", ["removed a dowels", "removed one dowels", "removed zero dowels"])
def test_what_nobody_says_is_not_listened_for(hands: Hands, said: str) -> None:
    hands.say("affirm", said)
    assert hands.events("piece removed") == []


def test_the_last_off_goes_on_first(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "bag one", "removed end cover")
    hands.say("removed two dowels", "bag two")
    said = hands.say("start build up")
    assert "three to go on, the last off first. In no bag: end cover." in said
    assert said.endswith("Step five. Fit two dowels. Hardware from bag two.")
    assert hands.say("next step") == "Step six. Fit the end cover."
    assert hands.say("next step") == "Step seven. Fit six long bolts. Hardware from bag one."
    assert hands.say("next step") == "All that came off is on again. Say close job to close it."
    assert left(hands) == ["1 gasket, in the kit", "3 oil seal, in the kit"]


def test_days_later_it_goes_on_where_it_was(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "bag one", "removed end cover")
    hands.stop_and_take_up(days=3)
    assert hands.say("what came off last") == "Last off: end cover, no bag."
    hands.say("start build up", "next step")
    said = hands.stop_and_take_up(days=2)
    assert "Fit six long bolts" in said
    assert hands.say("what is still off") == "Six long bolts, bag one."


def test_what_is_taken_back_never_came_off(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "bag one", "removed end cover")
    assert hands.say("disregard").startswith("Disregarded: one end cover off.")
    assert hands.say("what is still off") == "Six long bolts, bag one."
    assert "Disregarded: bag one." in hands.say("disregard")
    assert hands.say("what is still off") == "Six long bolts, no bag."
    hands.say("disregard")
    assert hands.say("what is still off") == "Nothing is off."
    assert "Nothing has come off yet" in hands.say("bag one")
    assert "Nothing has come off yet" in hands.say("start build up")


def test_a_number_and_a_name_are_put_right(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "bag one")
    assert hands.say("make that eight") == "Eight long bolts, not six."
    assert hands.say("call it short bolt") == "Eight short bolts, not long bolts."
    assert hands.say("what is in bag one") == "In bag one: eight short bolts."
    assert hands.say("correction bag three").startswith("Correction")
    assert hands.say("what is in bag three") == "In bag three: eight short bolts."
    assert hands.say("what is in bag one") == "No bag one is recorded."
    hands.say("disregard")
    assert hands.say("what is still off") == "Eight short bolts, bag one."
    assert hands.say("make that 12") == "Twelve short bolts, not eight."
    assert hands.say("make that one") == "One short bolt, not twelve."
    hands.say("disregard", "disregard")
    hands.say("disregard", "disregard")
    assert hands.say("what is still off") == "Six long bolts, bag one."


def test_two_things_in_one_bag_come_out_of_it_even(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "bag one", "removed two dowels")
    assert hands.say("bag one") == "Dowels in bag one, with six long bolts."
    assert hands.say("what is in bag one") == "In bag one: six long bolts and two dowels."
    assert "It is in bag one" in hands.say("bag two")
    hands.say("set torque long bolts two five", "start build up", "next step")
    hands.say("tightened two five", "next step")
    assert left(hands) == ["1 gasket, in the kit", "3 oil seal, in the kit"]


def test_what_has_no_name_gets_a_number_and_keeps_what_was_said_of_it(hands: Hands) -> None:
    hands.say("affirm")
    assert hands.say("removed piece") == "Piece one off. Say what it is."
    assert hands.say("a brass ring with two ears") == "Note kept."
    assert hands.say("removed piece") == "Piece two off. Say what it is."
    hands.say("disregard")
    assert hands.say("bag four") == "Piece two in bag four."
    assert hands.say("piece one cracked renew").startswith("Piece one cracked")
    hands.say("disregard", "disregard", "disregard")
    # A number that was given is not given again to something else.
    assert hands.say("removed piece") == "Piece three off. Say what it is."
    hands.say("disregard")
    assert "Fit piece three." in hands.say("start build up")
    assert hands.say("next step") == "Step five. Fit piece one. A brass ring with two ears."


def test_the_kit_is_fitted_in_place_of_the_old(hands: Hands) -> None:
    hands.say("affirm", "removed four oil seals", "removed gasket")
    said = hands.say("start build up")
    assert "Fit the gasket. One new." in said
    assert hands.say("next step") == "Step five. Fit four oil seals. Three new."
    hands.say("next step")
    # Three of four old seals are scrap, and nothing of the kit is left.
    assert left(hands) == []


def test_old_bolts_that_were_renewed_may_stay_in_their_bag(tmp_path: Path) -> None:
    kit = (kit_list.KitLine("K-9", "long bolt", "long bolts", 2, "Bolt", 2),)
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"), kit)
    hands = Hands(tmp_path / "bolts.db", text)
    hands.say("affirm", "removed six long bolts", "size m eight", "bag one", "set torque two five")
    said = hands.say("start build up")
    assert "Two new. Hardware from bag one. Long bolt, two five newton metres." in said
    assert hands.bench.state.count_of("long bolt") == 6
    assert hands.say("what thread locker") == "Thread locker not stated."
    hands.say("tightened two five", "next step", "close job")
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed) and closed.left == ()


def test_what_is_condemned_and_not_received_comes_first(hands: Hands) -> None:
    hands.say("affirm", "removed bearing", "bearing pitted renew", "removed end cover")
    said = hands.say("start build up")
    assert said.index("bearing that is condemned") < said.index("Fit the end cover")
    assert said.count("bearing that is condemned") == 1
    assert "bearing that is condemned: say order bearing" in hands.say("next step")
    assert "We stay at step five" in hands.say("next step")
    hands.say("order bearing", "bearing received")
    assert "All that came off is on again" in hands.say("next step")


def test_no_torque_is_recorded_before_it_is_set(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts")
    assert "No cover came off" in hands.say("set torque cover two five")
    assert "That is no torque" in hands.say("set torque long bolts two five millimetres")
    hands.say("start build up")
    assert "No torque is set here" in hands.say("tightened two five")
    assert hands.events("torque recorded") == []
    assert hands.say("set torque two five") == "Torque for long bolts, two five newton metres."
    assert "I heard four zero" in hands.say("tightened forty")
    hands.say("negative")
    assert "Outstanding: the torque" in hands.say("next step")
    assert "Recorded" in hands.say("tightened two five")
    assert "are tightened at step three. Say rework step three first." in (
        hands.say("set torque long bolts three zero")
    )


def test_out_of_turn_it_is_put_on_and_the_rest_is_chased(hands: Hands) -> None:
    hands.say("affirm", "removed end cover", "removed two dowels")
    assert "The build up has not begun" in hands.say("installed end cover")
    hands.say("start build up")
    assert hands.say("installed end cover").startswith("End cover on. Step four. Fit two dowels.")
    assert hands.say("installed end cover") == "End cover: on already."
    assert "No gasket came off" in hands.say("installed gasket")
    assert hands.say("what is left") == "Step four of build-up not done."
    hands.say("next step")
    assert hands.say("what is still off") == "Nothing is off."


def test_what_was_left_off_on_purpose_is_named_at_closing(hands: Hands) -> None:
    hands.say("affirm", "removed rear bolt", "size m eight", "bag three", "removed end cover")
    hands.say("start build up", "next step", "skip step")
    assert "skipped, not needed" in hands.say("not needed")
    said = hands.say("close job")
    assert "step five skipped, not needed, one rear bolt left over" in said
    assert "bag three was not opened" in said
    hands.say("negative", "go to step five", "next step")
    assert "rear bolt" not in hands.say("close job")
    hands.say("affirm")
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed)
    assert {one.place for one in closed.left} == {"in the kit"}  # type: ignore[union-attr]


def test_a_job_closed_with_the_machine_in_pieces_says_so(hands: Hands) -> None:
    hands.say("affirm", "removed six long bolts", "bag one", "removed end cover")
    assert left(hands) == [
        "6 long bolt, off",
        "1 end cover, off",
        "1 gasket, in the kit",
        "3 oil seal, in the kit",
    ]


def test_what_comes_off_in_the_build_up_is_rework(hands: Hands) -> None:
    hands.say("affirm", "removed end cover", "start build up")
    assert "say rework, and its step" in hands.say("removed two dowels")
    assert len(hands.events("piece removed")) == 1
    hands.say("disregard")
    assert hands.say("removed two dowels") == "Two dowels off."


def test_only_what_goes_on_can_be_done_again(hands: Hands) -> None:
    hands.say("affirm", "removed end cover", "removed two dowels")
    assert "no step of the build up" in hands.say("rework step two")
    assert "no step of the build up" in hands.say("rework step one")
    hands.say("start build up", "next step", "next step")
    assert hands.say("what is still off") == "Nothing is off."
    assert hands.say("rework step four").startswith("Rework")
    assert hands.say("what is still off") == "Two dowels, no bag. End cover, no bag."
    assert "Close all the same?" in hands.say("close job")


def test_what_nobody_has_taken_off_yet_can_be_ordered(hands: Hands) -> None:
    hands.say("affirm")
    assert hands.say("order two circlips") == "Order two circlips. Recorded."
    assert hands.say("what is on order") == "Still to come: two circlips."


def test_a_procedure_of_that_kind_is_written_by_the_program_alone(tmp_path: Path) -> None:
    _, text = unwritten.begin("Capstan drive", lexicon.read("general"))
    path = tmp_path / "mine.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(AssistantError, match="the program writes this key itself"):
        reading.load(path)


@pytest.mark.parametrize("title", ["", "  ", "x" * 101])
def test_a_title_that_is_none_is_refused(title: str) -> None:
    with pytest.raises(AssistantError, match="says what machine it is"):
        unwritten.begin(title, lexicon.read("general"))


_THINGS = some.sampled_from(
    [("long bolt", 6), ("long bolt", 2), ("end cover", 1), ("gasket", 1), ("oil seal", 2)]
)


_NAMES = some.sampled_from(["long bolt", "end cover", "gasket", "oil seal"])

_BETWEEN = some.sampled_from([intents.StartGroup(), intents.EndGroup()]) | some.builds(
    intents.PutBefore, _NAMES, _NAMES
)
"""What is said between things that come off, and between things that go on."""

_WHILE_BUILDING = _BETWEEN | some.sampled_from([intents.NotYet(), intents.Next()])


@given(
    some.lists(
        some.tuples(
            _THINGS, some.none() | some.integers(1, 3), some.booleans(), some.none() | _BETWEEN
        ),
        max_size=9,
    ),
    some.lists(some.tuples(_WHILE_BUILDING, some.booleans()), max_size=9),
)
def test_the_build_up_accounts_for_every_piece(
    things: list[tuple[tuple[str, int], int | None, bool, intents.Intent | None]],
    building: list[tuple[intents.Intent, bool]],
) -> None:
    procedure, text = unwritten.begin("Test drive", lexicon.read("gearbox"), KIT)
    state = job_state.start(procedure)
    record: list[events.Event] = []

    def say(intent: intents.Intent | None) -> None:
        nonlocal state
        decision = decide(state, intent, NOW) if intent else open_job(procedure, text, NOW)
        for event in decision.events:
            state = job_state.apply(state, event)
            record.append(event)

    for intent in (None, intents.Affirm()):
        say(intent)
    off: Counter[str] = Counter()
    for (name, count), bag, taken_back, between in things:
        if between is not None:
            say(between)
        say(intents.Removed(name, f"{name}s", count))
        if bag is not None:
            say(intents.Bag(bag))
        if taken_back:
            for _ in range(2 if bag is not None else 1):
                say(intents.Disregard())
        else:
            off[name] += count
    say(intents.EndGroup())
    say(intents.StartBuildUp())
    for said, taken_back in building:
        before = state.turn
        say(said)
        if taken_back and state.turn > before and state.mode is Mode.BUILDING_UP:
            say(intents.Disregard())
    say(intents.EndGroup())
    steps = [step.id for step in state.procedure.stages[-1].steps]
    assert not off or set(steps) >= {piece.on for piece in state.pieces}
    assert len(set(steps)) == len(steps)
    for _ in range(2 * len(things) + 1):
        say(intents.Next())
    assert not off or state.done >= set(steps)
    on: Counter[str] = Counter()
    for event in state.of_job(events.StepDone):
        for parts in event.fitted:
            on[parts.name] += parts.count
    assert on == off
    assert job_state.replay(procedure, record) == state
    say(intents.CloseJob())
    asked = state.pending
    left = asked.left if isinstance(asked, events.CloseAsked) else ()
    over = {"gasket": 1 - off["gasket"], "oil seal": 3 - off["oil seal"]}
    told = {one.parts.name: one.parts.count for one in left if one.place == "in the kit"}  # type: ignore[union-attr]
    assert told == {name: count for name, count in over.items() if count > 0}
    assert replaying.procedure_of(record, 1) == state.procedure


def test_last_time_is_another_machine_of_the_same_title(hands: Hands) -> None:
    journal = hands.bench.journal
    hands.say("affirm", "removed bearing", "bearing pitted renew", "close job", "affirm")
    for title, heard in (("Hoist drive", False), ("capstan drive", True)):
        procedure, text = unwritten.begin(title, lexicon.read("gearbox"))
        hands.now += timedelta(days=1)
        hands.bench = bench(journal, hands.notes, lambda: hands.now, by="sam")
        hands.bench.open(procedure, text)
        assert ("bearing pitted" in hands.say("last time").lower()) is heard


def test_of_several_that_are_on_no_list_the_number_is_asked_for(hands: Hands) -> None:
    said = hands.say("long bolts missing")
    assert "Say the number with it, such as two long bolts missing" in said
    assert not hands.events("finding")
    hands.say("two long bolts missing")
    assert "Say the number with it" in hands.say("correction long bolts missing")
    (found,) = hands.bench.state.of_job(events.FindingRecorded)
    assert found.count == 2
