"""The demo of a job without a procedure: its record, typed; and that each phrase is heard."""

from decimal import Decimal
from pathlib import Path

import pytest

from assistant.cli import demo
from assistant.dialogue import events, facts
from assistant.dialogue.replaying import procedure_of
from assistant.journal.store import Journal
from assistant.report import record as records
from assistant.report.model import Record
from tests.cli import demos

PHRASES = tuple(part for part in demo.script(demo.UNWRITTEN) if isinstance(part, demo.Said))

History = tuple[events.Event, ...]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return demos.typed(tmp_path_factory.mktemp("demo") / "out", demo.UNWRITTEN)


@pytest.fixture(scope="module")
def history(folder: Path) -> History:
    return Journal(folder / "journal.db").events(1)


@pytest.fixture(scope="module")
def record(folder: Path, history: History) -> Record:
    seal = Journal(folder / "journal.db").seal(1)
    return records.build(history, procedure_of(history, 1), 1, seal=seal)


def of(history: History, kind: type) -> list:  # type: ignore[type-arg]
    return [event for event in history if isinstance(event, kind)]


def test_it_is_a_whole_job_in_two_voices(history: History) -> None:
    assert len(PHRASES) >= 40
    text = (PHRASES[0].recording.parent / "script.txt").read_text(encoding="utf-8")
    voices = {line.split()[1] for line in text.splitlines() if line.startswith("@voice")}
    assert len(voices) == 2
    assert {event.by for event in history} == {"Ann", "Peter"}
    (again,) = of(history, events.JobTakenUp)
    before = history[history.index(again) - 1]
    assert (again.at - before.at).days >= 2


def test_the_last_off_goes_on_first(record: Record) -> None:
    off = [one.say.removeprefix("Take off ") for one in record.steps if one.stage == "Strip-down"]
    on = [one.say.removeprefix("Fit ") for one in record.steps if one.stage == "Build-up"]
    assert on == off[::-1]


def test_a_thing_without_a_name_has_its_sound(history: History) -> None:
    (piece,) = [e for e in of(history, events.PieceRemoved) if e.name.startswith("piece ")]
    notes = [e for e in of(history, events.NoteRecorded) if e.step == piece.step]
    assert len(notes) == 1


def test_the_condemned_part_was_ordered_received_and_fitted_new(record: Record) -> None:
    (found,) = record.findings
    assert (found.part, found.condition) == ("bearing", "pitted")
    (order,) = record.orders
    assert (order.part, order.fitted) == ("bearing", 1)
    (life,) = [one.life for one in record.parts if one.part == "bearing"]
    assert life == "1 condemned; 1 fitted new at step 12"


def test_a_torque_is_set_before_it_is_used_and_checked(history: History) -> None:
    (asked,) = of(history, events.ValueQuestioned)
    first, second = of(history, events.TorqueRecorded)
    assert asked.said == facts.SaidValue(value=Decimal(40))
    assert (first.value, first.asked, first.first_heard) == (25, 25, asked.said)
    assert (second.value, second.asked, second.first_heard) == (12, 12, None)
    put = [history.index(e) for e in of(history, events.TorqueSet)]
    assert put[0] < history.index(first) < put[1] < history.index(second)


def test_what_was_put_right_stands(record: Record) -> None:
    assert [bag.contents for bag in record.bags if bag.bag == 5] == ["2 dowels"]
    assert [one.life for one in record.parts if one.part == "dowel"] == ["2 refitted at step 13"]


def test_one_bag_holds_two_things(history: History) -> None:
    held = [parts for e in of(history, events.BagRecorded) if e.number == 2 for parts in e.contents]
    assert [(one.name, one.count) for one in held] == [("long bolt", 6), ("key", 1)]


def test_closing_names_the_bolts_that_are_left_over(history: History, record: Record) -> None:
    (closed,) = of(history, events.JobClosed)
    over = [one for one in closed.left if isinstance(one, facts.PartsLeftOver)]
    assert [(one.parts.name, one.parts.count, one.place) for one in over] == [
        ("short bolt", 1, "in the kit"),
        ("rear bolt", 1, "off"),
    ]
    lives = {one.part: one.life for one in record.parts}
    assert lives["rear bolt"] == "1 off, bag 3"
    assert lives["short bolt"].startswith("1 in the kit; ")
    skipped = [one.say for one in record.steps if one.status == "skipped"]
    assert skipped == ["Fit the rear bolt."]


def test_what_went_on_is_what_came_off_or_its_like_from_the_kit(
    history: History, record: Record
) -> None:
    off = {e.name: e.count for e in of(history, events.PieceRemoved)} | {"dowel": 2}
    on: dict[str, int] = {}
    for one in record.fitted:
        on[one.part] = on.get(one.part, 0) + one.count
    assert on == {name: count for name, count in off.items() if name != "rear bolt"}
    assert {one.part for one in record.fitted if one.new} == {"short bolt", "gasket", "bearing"}
    assert record.summary.open == 0


@pytest.mark.slow
def test_every_phrase_is_heard_as_it_was_meant(tmp_path: Path, history: History) -> None:
    assert demo.run(tmp_path / "out", True, "pocketsphinx", None, None, demo.UNWRITTEN) == 0
    heard = Journal(tmp_path / "out" / "journal.db").events(1)
    # All that was said is in the record as it is where it was typed, but for what only sound has.
    assert [_said(event) for event in heard] == [_said(event) for event in history]
    words = {e.turn: e.heard.words for e in heard if e.heard is not None}
    left = iter([said.text for said in PHRASES])
    for one in words.values():
        assert one == "" or one in left, one
    for event in (*of(heard, events.FindingRecorded), *of(heard, events.NoteRecorded)):
        assert event.heard is not None and event.heard.clip is not None


def _said(event: events.Event) -> dict[str, object]:
    """What an event says, without how it was heard; of a note not the words, which were typed."""
    return event.model_dump(exclude={"at", "heard", "text"})
