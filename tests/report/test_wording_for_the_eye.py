"""The catalogue for the eye: figures and symbols for every event, limit and thing left."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from assistant import report, web
from assistant.dialogue import events, facts
from assistant.grammar import numbers
from assistant.procedure.model import Limits, Tighten
from assistant.report import wording
from tests.dialogue.every import (
    BUSHES,
    EVENTS,
    LEFT,
    MM,
    OIL,
    OUTSTANDING,
    QUESTIONED,
    REASONS,
    TORQUE,
)


def test_nothing_for_the_eye_takes_its_words_from_the_ear() -> None:
    for folder in (report, web):
        for path in Path(folder.__file__).parent.glob("*.py"):
            text = path.read_text(encoding="utf-8")
            for found in re.findall(r"from assistant\.dialogue import ([\w, ]+)", text):
                assert "wording" not in found.split(", "), path.name
            assert "assistant.dialogue.wording import" not in text, path.name


# Number words from two on are for the ear; "one" is also a plain English word.
SPOKEN = re.compile(rf"\b({'|'.join(numbers.cardinal(n) for n in (0, *range(2, 21)))}|point)\b")


def written(text: str | None) -> bool:
    return bool(text) and SPOKEN.search(text or "") is None and not (text or "").endswith(" ")


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: event.kind)
def test_every_event_is_written_in_figures(event: events.Event) -> None:
    assert written(wording.event(event)), wording.event(event)


@pytest.mark.parametrize("item", OUTSTANDING, ids=lambda item: item.kind)
def test_everything_outstanding_is_written(item: facts.Outstanding) -> None:
    assert written(wording.outstanding(item))


@pytest.mark.parametrize("item", LEFT, ids=lambda item: item.kind)
def test_everything_left_is_written(item: facts.Left) -> None:
    assert written(wording.left(item))


@pytest.mark.parametrize("reason", REASONS)
def test_every_reason_is_written(reason: facts.SkipReason) -> None:
    assert written(wording.reason(reason))


@pytest.mark.parametrize("asked", QUESTIONED, ids=lambda asked: asked.doubt.kind)
def test_every_question_has_its_why(asked: events.ValueQuestioned) -> None:
    assert written(wording.why(asked)) and written(wording.heard(asked))


def test_values_have_their_symbols() -> None:
    assert wording.quantity(Decimal("0.95"), "l") == "0.95 L"
    assert wording.quantity(Decimal(250), "ml") == "250 mL"
    assert wording.quantity(Decimal(14), "N·m") == "14 N·m"
    assert wording.quantity(Decimal(90), "°") == "90°"
    assert wording.quantity(Decimal("5E+1"), "kPa") == "50 kPa"
    assert wording.quantity(Decimal("14.0")) == "14.0"


def test_limits_are_a_range() -> None:
    assert wording.limits(MM) == "24.95–25.05 mm"
    assert wording.limits(facts.Bounds(most=MM.most)) == "at most 25.05 mm"
    assert wording.limits(facts.Bounds(least=MM.least)) == "at least 24.95 mm"
    assert wording.limits(facts.Bounds()) is None and wording.limits(None) is None
    below = Limits.model_validate({"least": "-5 °C", "most": "10 °C"})
    assert wording.limits(below) == "-5 to 10 °C"
    mixed = Limits.model_validate({"least": "1 mm", "most": "1 in"})
    assert wording.limits(mixed) == "1 mm to 1 in"


def test_time_spans() -> None:
    spans = {0: "0 s", 90: "1 min 30 s", 5400: "1 h 30 min", 3601: "1 h", 86400: "24 h"}
    spans |= {2 * 86400 + 1: "2 d", 51 * 3600: "2 d 3 h"}
    assert {seconds: wording.duration(seconds) for seconds in spans} == spans


def test_events_as_the_log_has_them() -> None:
    shown = {type(event): wording.event(event) for event in reversed(EVENTS)}
    assert shown[events.TorqueRecorded] == (
        "long bolt, pass 1 of 2, tightened 40 N·m, asked 14 N·m"
    )
    assert shown[events.FluidMeasured] == ("gear oil: 0.95 of 1.1 L came out, 0.15 L missing")
    assert shown[events.BagRecorded] == "bag 7, asked bag 1"
    assert shown[events.PartOrdered] == "order 20 bushes"
    assert shown[events.OrderMoved] == "2 bushes fitted"
    assert shown[events.KitChecked] == "kit checked, short of 2 bushes and gear oil, 1.1 L"
    assert shown[events.KitItemChecked] == "bush: 1 of 2 missing"
    assert shown[events.StepSkipped] == "step skipped: part not here"
    assert shown[events.HazardsHeard] == ("hazards affirmed: warning: The spring is under load.")
    assert shown[events.ValueQuestioned] == "asked about 40: the step says 14 N·m"


def test_why_a_value_was_asked_about() -> None:
    assert [wording.why(asked) for asked in QUESTIONED] == [
        "the step says 14 N·m",
        "the step says 14 N·m",
        "the step asks for mm",
        "24.95–25.05 mm would be expected",
        "the limits are 24.95–25.05 mm",
        "better than new",
        "the step says bag 1; bag 7 is in use",
        "the assembly holds 1 bush",
        "2 bushes on order already",
        "none of them received, by the record",
        "1 of them received, by the record",
        "25.01 mm is recorded already",
        "scanned, and nobody said how many",
        "the limits are 24.95–25.05 mm",
        "the limits are 24.95–25.05 mm",
    ]


def test_what_was_heard_first() -> None:
    assert wording.first_heard(None) is None
    assert wording.first_heard(facts.SaidValue(value=Decimal(40))) == "40"
    assert wording.first_heard(facts.SaidValue(value=Decimal(40), unit="l")) == "40 L"
    assert wording.first_heard(7) == "bag 7"
    assert wording.first_heard(BUSHES) == "2 bushes"
    assert wording.first_heard(facts.Moved(count=2, state="fitted")) == "2 fitted"


def test_a_wrench_is_doubtful_for_every_reason_there_is() -> None:
    assert wording.doubts(TORQUE) == (
        "small wrench out of calibration since 2031-01-15; "
        "calibration of the small wrench is dated ahead, 2032-01-15; "
        "outside the good range of the small wrench"
    )
    assert wording.doubts(TORQUE.model_copy(update={"doubts": ()})) is None


def test_parts_and_bags() -> None:
    assert wording.contents((BUSHES, OIL)) == "2 bushes and gear oil, 1.1 L"
    assert wording.contents(()) is None
    assert wording.parts(facts.Parts(name="leaf", count=2, plural="leafs")) == "2 leafs"


@pytest.mark.parametrize("order", ["star", "spiral", "circle", "as numbered", (1, 3, 2)])
def test_every_order_of_tightening_is_written(order: str | tuple[int, ...]) -> None:
    assert written(wording.order(order))


def test_threads_and_locker() -> None:
    dry = Tighten.model_validate({"fastener": "bolt", "torque": "14 N·m"})
    assert wording.condition_of_threads(dry) == "threads dry"
    assert wording.locker(dry) == "no thread-locker"
    unknown = dry.model_copy(update={"lubricated": "not stated"})
    assert wording.condition_of_threads(unknown) is None
    assert wording.locker(unknown) == ""
    stuck = dry.model_copy(update={"lubricated": "thread-locker"})
    assert wording.condition_of_threads(stuck) is None
