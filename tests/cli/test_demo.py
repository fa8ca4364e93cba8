"""The demo's record, typed; and, slow, the whole job by voice from its recordings."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.cli import demo
from assistant.dialogue import events, facts
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.report import record as records
from assistant.report.model import Record
from tests.cli import demos


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demos.typed(tmp_path_factory.mktemp("demo") / "out", demo.WRITTEN)


@pytest.fixture(scope="module")
def history(folder: Path) -> tuple[events.Event, ...]:
    return Journal(folder / "journal.db").events(1)


def of(history: tuple[events.Event, ...], kind: type) -> list:  # type: ignore[type-arg]
    return [event for event in history if isinstance(event, kind)]


def test_a_number_that_does_not_fit_is_questioned_and_corrected(
    history: tuple[events.Event, ...],
) -> None:
    (asked,) = [e for e in of(history, events.ValueQuestioned) if e.step == "fit-top-cover"]
    assert asked.said == facts.SaidValue(value=Decimal(40))
    torques = [e for e in of(history, events.TorqueRecorded) if e.step == "fit-top-cover"]
    heard = facts.SaidValue(value=Decimal(40))
    values = [(str(e.value), e.first_heard) for e in torques]
    assert values == [("14", heard), *[("14", None)] * 4]


def test_it_has_all_that_a_job_can_have(history: tuple[events.Event, ...]) -> None:
    assert isinstance(history[-1], events.JobClosed)
    (left,) = history[-1].left
    assert isinstance(left, facts.SkippedStep)
    assert (left.number, left.reason) == (13, facts.SkipReason(code="tool not here"))
    assert len(of(history, events.BagRecorded)) == 8
    assert {e.part for e in of(history, events.PartOrdered)} == {"drain plug"}
    assert len(of(history, events.StepSkipped)) == 1
    assert len(of(history, events.JobTakenUp)) == 2
    assert [e.name for e in of(history, events.SignedOn)] == ["Peter"]
    assert of(history, events.Withdrawn)
    assert len(of(history, events.StepDone)) >= 60


def test_a_gate_holds_a_step_that_somebody_goes_to(history: tuple[events.Event, ...]) -> None:
    entered = [e.step for e in of(history, events.StepEntered)]
    first = entered.index("remove-motor")
    assert entered[first + 1] == "land-load"
    done = [e.step for e in of(history, events.StepDone)]
    assert done.index("prove-dead") < done.index("remove-motor")


def test_one_joint_is_done_bolt_by_bolt_and_another_as_one(
    history: tuple[events.Event, ...],
) -> None:
    torques = of(history, events.TorqueRecorded)
    assert [e.bolt for e in torques if e.fastener == "long bolt" and e.value == 14][-4:] == [
        *(1, 3, 2, 4)
    ]
    cover = [(e.stage, e.bolt) for e in torques if e.fastener == "cover bolt"]
    assert cover == [(1, None), (2, None)]


@pytest.fixture(scope="module")
def record(folder: Path) -> Record:
    journal = Journal(folder / "journal.db")
    history = journal.events(1)
    return records.build(history, procedure_of(history, 1), 1, seal=journal.seal(1))


def test_a_leak_test_fails_and_passes_after_rework(record: Record) -> None:
    (failed,) = [one for one in record.nonconformities if one.kind == "leak test"]
    assert (failed.status, failed.settled_by) == ("settled", "rework")
    assert failed.beyond == Decimal("0.010")
    (stands,) = record.leak_tests
    assert stands.outcome == "pass"
    assert stands.lost <= stands.allowed
    assert failed.settled_at and failed.at < failed.settled_at


def test_no_nonconformity_is_open_when_the_job_is_closed(record: Record) -> None:
    assert record.closed
    assert record.nonconformities
    assert all(one.status == "settled" for one in record.nonconformities)
    assert record.summary.open == record.summary.conceded == 0


def test_the_condemned_part_was_ordered_received_and_fitted_new(record: Record) -> None:
    (found,) = record.findings
    assert (found.part, found.condition) == ("drain plug", "stripped")
    (order,) = record.orders
    assert (order.part, order.count) == (found.part, order.fitted)
    assert order.asked == order.ordered == order.received == order.cancelled == 0
    (fitted,) = [one for one in record.fitted if one.part == found.part]
    assert fitted.new
    assert found.at < fitted.at
    (life,) = [one.life for one in record.parts if one.part == found.part]
    assert life == f"1 condemned; 1 fitted new at step {fitted.number}"


def test_the_part_fitted_is_the_one_that_the_corrected_reading_chooses(
    record: Record, history: tuple[events.Event, ...]
) -> None:
    told = [e.part for e in of(history, events.PartChosen)]
    assert told == ["yellow shim", "white shim"]
    (chosen,) = record.parts_chosen
    shims = [one.part for one in record.fitted if one.part.endswith("shim")]
    assert shims == [chosen.part] == ["white shim"]
    values = {one.name: one.value for one in record.readings if one.stands}
    (gap,) = [one for one in record.worked_out if one.name == "cap gap"]
    assert gap.value == chosen.value == values["spigot height"] - values["race depth"]
    # It is thicker than the gap by the end float, which was measured in place.
    assert Decimal("0.35") - gap.value == values["end float"]


def test_what_is_listed_as_fitted_is_what_the_steps_fit(record: Record) -> None:
    done = {step.id for step in record.steps if step.status == "done"}
    assert {one.step for one in record.fitted} <= done
    counts: dict[tuple[str, str], int] = {}
    for one in record.fitted:
        counts[one.step, one.part] = counts.get((one.step, one.part), 0) + one.count
    procedure = reading.read(reading.find(demo.PROCEDURE))
    for step in procedure.steps:
        for fit in step.fit if step.id in done else ():
            if fit.chosen_by is None and (step.id, fit.part) in counts:
                assert counts[step.id, fit.part] == fit.count
    # Nothing but what was thrown away or condemned is left off.
    assert all("off" not in one.life.split() for one in record.parts), record.parts


def test_every_step_is_done_once_the_record_says_so(record: Record) -> None:
    summary = record.summary
    assert summary.done + summary.skipped == summary.applicable
    assert summary.to_come == summary.started == summary.not_reached == 0
    for step in record.steps:
        assert (step.status == "done") == (step.done is not None)


def test_its_hours_are_those_of_a_working_day(record: Record) -> None:
    assert record.remark and "clock was moved on" in record.remark
    days = {event.at.date() for event in record.hazards}
    assert len(days) == 3
    for step in record.steps:
        for at in (step.entered, step.done):
            assert at is None or (at.hour, at.minute) >= (7, 30)
            assert at is None or at.hour < 17
    minutes = [
        (step.done - step.entered).total_seconds() / 60
        for step in record.steps
        if step.done and step.entered and step.done.date() == step.entered.date()
    ]
    assert min(minutes) >= 1
    assert 5 <= sorted(minutes)[len(minutes) // 2] <= 20
    # It is over: nothing in the record is still to come.
    assert record.closed and record.closed < datetime.now(UTC)


def test_the_clock_moves_with_the_work() -> None:
    procedure = reading.read(reading.find(demo.PROCEDURE))
    step = procedure.steps[procedure.index("remove-motor")]
    clock = demo.WorkingClock(datetime(2031, 3, 4, 7, 30, tzinfo=UTC))
    clock.work("affirm", step)
    assert clock() == datetime(2031, 3, 4, 7, 30, 15, tzinfo=UTC)
    clock.work("bag two", step)
    assert clock() == datetime(2031, 3, 4, 7, 43, 15, tzinfo=UTC)  # Three kinds of part came off.
    clock.work("next step", step)
    assert clock() == datetime(2031, 3, 4, 7, 43, 55, tzinfo=UTC)
    clock.rest(demo.Pause(timedelta(minutes=15), stop=False))
    assert clock() == datetime(2031, 3, 4, 7, 58, 55, tzinfo=UTC)
    clock.rest(demo.Pause(timedelta(days=2), stop=True))
    assert clock() == datetime(2031, 3, 6, 7, 30, tzinfo=UTC)


def test_another_run_does_not_write_over_the_first(folder: Path) -> None:
    with pytest.raises(AssistantError, match="there already"):
        demo.run(folder, True, "pocketsphinx", None, None)


def _alike(words: str) -> str:
    """Without what does not change the meaning: "newton metre", "newton metres"."""
    return words.replace("metres", "metre")


def _told(record: Record) -> dict[str, object]:
    """What a record tells, without times, and without what was heard with it."""
    summary = record.summary
    return {
        "orders": [(one.part, one.count, one.fitted) for one in record.orders],
        "readings": [(one.name, one.value, one.stands) for one in record.readings],
        "torques": [(one.fastener, one.value) for one in record.torques],
        "nonconformities": [(one.kind, one.status) for one in record.nonconformities],
        "parts": [(one.part, one.life) for one in record.parts],
        "counts": (summary.done, summary.skipped, summary.applicable),
    }


@pytest.mark.slow
def test_by_voice_it_is_the_same_job(tmp_path: Path, record: Record) -> None:
    out = tmp_path / "out"
    assert demo.run(out, True, "pocketsphinx", None, None) == 0
    journal = Journal(out / "journal.db")
    history = journal.events(1)
    heard = {e.turn: e.heard.words for e in history if e.heard is not None}
    said = [_alike(part.text) for part in demo.script() if isinstance(part, demo.Said)]
    # Questions leave no event, and a note's words are its clip.
    left = iter(said)
    for words in heard.values():
        assert words == "" or _alike(words) in left, words
    spoken = records.build(history, procedure_of(history, 1), 1, seal=journal.seal(1))
    assert _told(spoken) == _told(record)
    kept = (*of(history, events.FindingRecorded), *of(history, events.NoteRecorded))
    assert len(kept) == 3
    for event in kept:
        assert event.heard is not None and event.heard.clip is not None
        assert journal.clip(event.heard.clip).startswith(b"fLaC")
    html = (out / "report.html").read_text(encoding="utf-8")
    assert html.count("data:audio/flac;base64,") == len(kept)
    assert "http://" not in html
    assert "https://" not in html
