"""The catalogue for the ear: what is said of every event, and that no voice has to guess."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from assistant.dialogue import events, facts, intents, wording
from assistant.dialogue.wording import answers, kit, orders, questions, refusals, remaining, steps
from tests.dialogue.every import (
    AT,
    BUSHES,
    EVENTS,
    LEFT,
    OIL,
    OUTSTANDING,
    QUESTIONED,
    READING,
    REASONS,
    TORQUE,
)

# A figure, a unit's symbol, or anything that a voice reads in its own way.
UNSPEAKABLE = re.compile(r"[0-9·°/_×<>=%“”…]|\b(mm|bar·|kPa|N·m)\b")


def speakable(text: str) -> bool:
    return bool(text) and UNSPEAKABLE.search(text) is None


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: event.kind)
def test_every_event_has_words_without_a_figure(event: events.Event) -> None:
    said = wording.event(event)
    assert speakable(said), said
    assert not said.endswith(".") and said == said.strip()


@pytest.mark.parametrize("item", OUTSTANDING, ids=lambda item: item.kind)
def test_everything_outstanding_has_words(item: facts.Outstanding) -> None:
    assert speakable(remaining.outstanding(item))
    assert remaining.next_thing(item).startswith("Next, ")


@pytest.mark.parametrize("item", LEFT, ids=lambda item: item.kind)
def test_everything_left_has_words(item: facts.Left) -> None:
    assert speakable(remaining.left(item))


@pytest.mark.parametrize("reason", REASONS)
def test_every_reason_has_words(reason: facts.SkipReason) -> None:
    assert speakable(remaining.reason(reason))


_CAME = ("I heard ", "The micrometer sent ", "Scanned: ")


@pytest.mark.parametrize("asked", QUESTIONED, ids=lambda asked: asked.doubt.kind)
def test_a_question_says_what_was_heard_and_the_way_out(asked: events.ValueQuestioned) -> None:
    said = questions.value(asked)
    assert speakable(said) and said.startswith(_CAME)
    if isinstance(asked.doubt, facts.CountNotSaid):
        assert said.endswith("Affirm, or say how many.")
        return
    if isinstance(asked.doubt, facts.OrderedAlready):
        assert said.endswith("Affirm to order more, or say negative.")
        return
    way = "Affirm, or say correction." if asked.may_affirm else "Say correction."
    if isinstance(asked.doubt, facts.TakenAlready):
        way = "Say again for a further reading, or correction and the value."
    assert said.endswith(way)


@pytest.mark.parametrize("topic", intents.Topic)
def test_a_step_that_has_nothing_of_what_is_asked_says_so(topic: intents.Topic) -> None:
    assert answers.nothing(4, topic).startswith("Step four has no")


def test_a_refusal_is_a_sentence_and_names_a_way_out() -> None:
    said = [text for name, text in vars(refusals).items() if name.isupper()]
    assert len(said) > 10
    for text in said:
        assert speakable(text) and text.endswith(".")
    numbered = (refusals.no_torque, refusals.no_reading, refusals.no_bag, refusals.no_question)
    for refuse in numbered:
        assert re.search(r"\. Say |say ", refuse(4)), refuse(4)
    assert refusals.nothing_to_affirm(()) == (
        "Nothing is waiting for an answer. Say next step when ready."
    )
    assert refusals.nothing_to_affirm(OUTSTANDING[5:6]) == (
        "Nothing is waiting for an answer. "
        "Outstanding: the torque, long bolt, pass one of two, seven newton metres."
    )
    assert "say affirm" in refusals.see_to_it(5)
    assert "order bush" in orders.none_asked_for("bush")


# Numbers: critical ones digit by digit (ICAO Annex 10 Volume II, 5.2.1.4.1), counts in words.


@pytest.mark.parametrize(
    ("value", "unit", "said"),
    [
        ("14", "N·m", "one four newton metres"),
        ("1", "N·m", "one newton metre"),
        ("24.95", "mm", "two four point nine five millimetres"),
        ("0.95", "l", "zero point nine five litres"),
        ("-5", "°C", "minus five degrees celsius"),
        ("90", "°", "nine zero degrees"),
        ("0.007", "mbar·l/s", "zero point zero zero seven millibar litres per second"),
        ("14.0", None, "one four point zero"),
    ],
)
def test_a_value_is_said_digit_by_digit(value: str, unit: str | None, said: str) -> None:
    assert wording.quantity(Decimal(value), unit) == said


def test_events_are_said_with_what_matters_last() -> None:
    assert wording.event(TORQUE) == (
        "long bolt, pass one of two, tightened four zero newton metres, where one four newton "
        "metres was asked, but the small wrench is out of calibration, since fifteen january two "
        "zero three one, the calibration of the small wrench is dated ahead, fifteen january two "
        "zero three two and this is outside the good range of the small wrench"
    )
    assert wording.event(READING) == (
        "bore two five point one zero millimetres, outside the limits two four point nine five to "
        "two five point zero five millimetres, worn six three percent"
    )
    assert questions.value(QUESTIONED[0]) == (
        "I heard four zero. The step says one four newton metres. Affirm, or say correction."
    )
    assert questions.value(QUESTIONED[2]).startswith(
        "I heard two five point one zero millimetres. The step asks for millimetres."
    )


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (0, "no time"),
        (1, "one second"),
        (90, "one minute and thirty seconds"),
        (3600, "one hour"),
        (3601, "one hour"),
        (26 * 3600, "one day and two hours"),
        (2 * 86400 + 1, "two days"),
    ],
)
def test_a_time_span_is_told_in_a_unit_and_the_next(seconds: int, said: str) -> None:
    assert wording.duration(seconds) == said


def test_a_time_of_day_is_four_digits() -> None:
    assert wording.timers.started("cure", 600, AT) == (
        "Cure, ten minutes, started. Due at zero nine three zero."
    )


@pytest.mark.parametrize(
    ("days", "due"),
    [
        (1, "Due tomorrow at zero nine three zero."),
        (3, "Due in three days at zero nine three zero."),
    ],
)
def test_a_timer_that_is_due_on_another_day_says_so(days: int, due: str) -> None:
    assert wording.timers.started("cure", days * 86400, AT).endswith(due)


def test_figures_of_a_sum_are_said() -> None:
    assert refusals.cannot_work_out("leak test", "12 mm is over 0.5 bar.") == (
        "Leak test cannot be worked out: twelve mm is over zero point five bar."
    )


# Plurals and articles


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (facts.Parts(name="bush", count=2), "two bushes"),
        (facts.Parts(name="o ring", count=3), "three o rings"),
        (facts.Parts(name="boss", count=2), "two bosses"),
        (facts.Parts(name="key", count=2), "two keys"),
        (facts.Parts(name="shim box", count=4), "four shim boxes"),
        (facts.Parts(name="cover bolts", count=4), "four cover bolts"),
        (facts.Parts(name="crankcase half", count=2), "two crankcase halves"),
        (facts.Parts(name="bush", count=1), "one bush"),
        (facts.Parts(name="bush", count=0), "zero bushes"),
        (facts.Parts(name="leaf", count=2, plural="leafs"), "two leafs"),
        (OIL, "gear oil, one point one litres"),
    ],
)
def test_parts_are_counted_in_english(parts: facts.Parts, said: str) -> None:
    assert steps.parts(parts) == said


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("bush", "a bush"),
        ("o ring", "an o ring"),
        ("u bolt", "a u bolt"),
        ("oil seal", "an oil seal"),
    ],
)
def test_one_part_has_its_article(name: str, said: str) -> None:
    assert steps.some(facts.Parts(name=name, count=1)) == said


def test_verbs_go_with_their_number() -> None:
    two, one = BUSHES, BUSHES.model_copy(update={"count": 1})
    assert orders.lacking(3, facts.PartsLacking(parts=two, why="asked")) == (
        "Step three needs two bushes that are asked for and not received: say bushes received."
    )
    assert orders.lacking(3, facts.PartsLacking(parts=one, why="short in the kit")) == (
        "Step three needs a bush that is short in the kit: say order bush, or kit check."
    )
    condemned = facts.PartsLacking(parts=one, why="condemned", concession=True)
    assert orders.lacking(3, condemned) == (
        "Step three needs a bush that is condemned: say order bush, or concession."
    )
    assert orders.none_can_be("bush", {"received": 2, "fitted": 1}, "cancelled") == (
        "Of bush, two are received and one is fitted. None can be cancelled. Nothing recorded."
    )
    assert wording.job.not_done_before([4]) == "Step four before it is not done."
    assert wording.job.not_done_before([2, 4]) == "Steps two and four before it are not done."
    assert wording.job.not_done_before([2, 4, 5, 6]) == (
        "Steps two and four to six before it are not done."
    )
    assert kit.ask(two) == "Bush, two."
    assert kit.ask(OIL) == "Gear oil, one point one litres."
    assert kit.ask(OIL.model_copy(update={"amount": None})) == "Gear oil."
    assert kit.ask_to_order((one,)) == "Missing in all: one bush. Order it?"
    assert kit.ask_to_order((two,)) == "Missing in all: two bushes. Order them?"


def test_bags_that_were_not_opened_are_told_together() -> None:
    bags = [facts.BagNotOpened(number=1), facts.BagNotOpened(number=5)]
    assert remaining.each_left(bags) == ["bags one and five were not opened"]
    assert remaining.each_left(bags[:1]) == ["bag one was not opened"]


@pytest.mark.parametrize(
    ("thread", "said"),
    [
        ("M8", "M eight"),
        ("M10x1.25", "M ten by one point two five"),
        ("M2.5", "M two point five"),
        ("1/4-20", "one / four two zero"),
    ],
)
def test_a_thread_is_said_as_fitters_do(thread: str, said: str) -> None:
    assert steps.thread(thread) == said


@pytest.mark.parametrize("item", OUTSTANDING, ids=lambda item: item.kind)
def test_nothing_follows_a_command_in_its_sentence(item: facts.Outstanding) -> None:
    bag, bush = facts.BagToRecord(number=4), facts.ReadingToTake(name="bush")
    told = remaining.told((bag, item, bush, bag))
    alone = remaining.outstanding(item)
    if ": say " in alone or isinstance(item, facts.QuestionToAnswer):
        assert told == (
            f"Outstanding: bag four and {alone}. Also the reading of bush and bag four."
        )
    else:
        assert told.endswith(" and bag four.") and "Also" not in told
