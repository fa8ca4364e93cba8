"""The demo: a whole job on real audio, and the record it leaves."""

from decimal import Decimal
from pathlib import Path

import pytest

from assistant.cli import demo
from assistant.dialogue import events, facts
from assistant.errors import AssistantError
from assistant.journal.store import Journal


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("demo") / "out"
    assert demo.run(out, True, "pocketsphinx", None, None) == 0
    return out


@pytest.fixture(scope="module")
def history(folder: Path) -> tuple[events.Event, ...]:
    return Journal(folder / "journal.db").events(1)


def of(history: tuple[events.Event, ...], kind: type) -> list:  # type: ignore[type-arg]
    return [event for event in history if isinstance(event, kind)]


def _alike(words: str) -> str:
    """Without what does not change the meaning: "newton metre", "newton metres"."""
    return words.replace("metres", "metre")


def test_every_phrase_was_heard_as_it_was_meant(history: tuple[events.Event, ...]) -> None:
    heard = {e.turn: e.heard.words for e in history if e.heard is not None}
    said = [_alike(part.text) for part in demo.script() if isinstance(part, demo.Said)]
    # Questions leave no event, and a note's words are its clip.
    left = iter(said)
    for words in heard.values():
        assert words == "" or _alike(words) in left, words


def test_a_number_that_does_not_fit_is_questioned_and_corrected(
    history: tuple[events.Event, ...],
) -> None:
    (asked,) = [e for e in of(history, events.ValueQuestioned) if e.step == "fit-top-cover"]
    assert asked.said == facts.SaidValue(value=Decimal(40))
    torques = [e for e in of(history, events.TorqueRecorded) if e.step == "fit-top-cover"]
    heard = facts.SaidValue(value=Decimal(40))
    assert [(str(e.value), e.first_heard) for e in torques] == [("14", heard), ("14", None)]


def test_it_has_all_that_a_job_can_have(history: tuple[events.Event, ...], folder: Path) -> None:
    assert isinstance(history[-1], events.JobClosed)
    (left,) = history[-1].left
    assert isinstance(left, facts.SkippedStep)
    assert (left.number, left.reason) == (12, facts.SkipReason(code="tool not here"))
    assert len(of(history, events.BagRecorded)) == 8
    assert {e.part for e in of(history, events.PartOrdered)} >= {"drain plug", "earth lead"}
    assert len(of(history, events.StepSkipped)) == 1
    assert len(of(history, events.JobTakenUp)) == 1
    assert of(history, events.Withdrawn)
    assert of(history, events.StoodBy)
    assert len(of(history, events.StepDone)) >= 40
    journal = Journal(folder / "journal.db")
    for event in (*of(history, events.FindingRecorded), *of(history, events.NoteRecorded)):
        assert event.heard is not None
        assert event.heard.clip is not None
        assert journal.clip(event.heard.clip).startswith(b"fLaC")


def test_the_report_is_one_page_with_its_clips(folder: Path) -> None:
    html = (folder / "report.html").read_text(encoding="utf-8")
    assert html.count("data:audio/flac;base64,") >= 5
    assert "http://" not in html
    assert "https://" not in html


def test_another_run_does_not_write_over_the_first(folder: Path) -> None:
    with pytest.raises(AssistantError, match="there already"):
        demo.run(folder, True, "pocketsphinx", None, None)
