"""The plain log against the journal."""

from pathlib import Path

import pytest

from assistant.report import log, record, wording
from tests.bench_helpers import Hands
from tests.dialogue.rig import RIG
from tests.report.whole_job import Job


def _lines(job: Job) -> list[str]:
    return list(log.lines(job.events, job.hands.procedure))


def test_every_event_has_a_line_in_the_order_of_the_journal(job: Job) -> None:
    lines = _lines(job)
    assert len(lines) == len(job.events)
    for line, event in zip(lines, job.events, strict=True):
        assert line.startswith(f"{event.at:%Y-%m-%d %H:%M:%S}")
        assert wording.event(event) in line
        if event.step:
            number = job.hands.procedure.index(event.step) + 1
            assert f"  step {number} " in line


def test_heard_words_stand_once_with_their_confidence(job: Job) -> None:
    lines = _lines(job)
    assert "[heard “circlip missing drum side”, testear 0.87, clip 1]" in lines[3]
    assert sum("“correction reading 25.07”" in line for line in lines) == 1


def test_what_was_taken_back_says_so(job: Job) -> None:
    marked = [line for line in _lines(job) if "[withdrawn 2" in line or "[corrected 2" in line]
    assert len(marked) == 2
    assert "drain plug worn" in marked[0] and "[withdrawn 2031-03-04 11:01:20]" in marked[0]
    assert "24.98 mm" in marked[1] and "[corrected" in marked[1]


def test_a_note_cannot_drive_the_terminal(job: Job) -> None:
    events = [
        event.model_copy(update={"text": "\x1b[2Jgone\u202e\nforged"})
        if event.kind == "note"
        else event
        for event in job.events
    ]
    text = "".join(log.lines(events, job.hands.procedure))
    assert "\x1b" not in text and "\u202e" not in text and "\n" not in text
    assert "[2Jgone forged" in text


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db", RIG)
    hands.say("next step", "bag one", "next step", "reading 0.3", "next step")
    hands.say("reading 0.61", "reading 0.60")
    return hands


def _marks(hands: Hands, what: str) -> list[str | None]:
    """Return how each line that tells something is marked, without the day."""
    history = hands.bench.journal.events(1)
    lines = log.lines(history, hands.procedure)
    told = [line for line in lines if what in line and "  withdrawn: " not in line]
    marks = [line.rpartition("  [")[2] if line.endswith("]") else None for line in told]
    # The step's own list says the same.
    steps = record.build(history, hands.procedure, 1).steps
    gone = [one.gone for step in steps for one in step.lines if one.what.startswith(what)]
    assert [mark is None for mark in marks] == [one is None for one in gone]
    return [mark and mark.replace("2031-03-04 ", "") for mark in marks]


def test_what_followed_before_a_correction_is_marked(hands: Hands) -> None:
    assert _marks(hands, "use ") == [None]
    hands.say("correction reading first height 0.71")
    at = f"{hands.now:%H:%M:%S}"
    assert _marks(hands, "use ") == [f"another since {at}]", None]
    assert _marks(hands, "highest comes") == [f"another since {at}]", None]
    # Taken back, it is as it was, and what was told in between says that it was withdrawn.
    hands.say("disregard")
    taken_back = f"{hands.now:%H:%M:%S}"
    assert _marks(hands, "use three") == [f"withdrawn {taken_back}]"]
    assert _marks(hands, "use two") == [None, None]
    # There and back by corrections, which stand.
    hands.say("correction reading first height 0.71", "correction reading first height 0.61")
    marks = _marks(hands, "use ")
    assert [mark is None for mark in marks] == [False, False, False, False, True]


def test_what_follows_from_no_set_any_more_is_marked(hands: Hands) -> None:
    hands.say("next step", "next step", "all tightened one two", "all tightened two four")
    hands.say("next step", "reading 0.3", "reading 0.2")
    assert _marks(hands, "leak test: ") == [None]
    hands.say("retest")
    assert _marks(hands, "leak test: ") == ["no result any more]"]
    hands.say("reading 0.3", "reading 0.29")
    assert _marks(hands, "leak test: ") == [f"another since {hands.now:%H:%M:%S}]", None]


def test_a_fluid_that_was_measured_otherwise_is_marked(tmp_path: Path) -> None:
    oil = (
        "- {id: lock, say: Fill it., readings: [{name: oil, unit: l}], "
        "fluid: {name: gear oil, capacity: 1.1 l, of: oil}}"
    )
    hands = Hands(
        tmp_path / "oil.db",
        RIG.replace("- {id: lock, say: Lock the supply out., gate: job}", oil).replace(
            ", lifts: [lock]", ""
        ),
    )
    hands.say("reading 1.1", "correction 0.9")
    marks = _marks(hands, "gear oil")
    assert [mark is None for mark in marks] == [False, True]
