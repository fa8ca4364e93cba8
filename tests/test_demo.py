"""The demo: a whole job on real audio, and the record it leaves."""

from pathlib import Path

import pytest

from assistant import demo
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from assistant.session import events as ev


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("demo") / "out"
    assert demo.run(out, True, "pocketsphinx", None, None) == 0
    return out


@pytest.fixture(scope="module")
def events(folder: Path) -> tuple[ev.Event, ...]:
    return Journal(folder / "journal.db").events(1)


def of(events: tuple[ev.Event, ...], kind: type) -> list:  # type: ignore[type-arg]
    return [event for event in events if isinstance(event, kind)]


def _alike(words: str) -> str:
    """Without what does not change the meaning: "newton metre", "newton metres"."""
    return words.replace("metres", "metre")


def test_every_phrase_was_heard_as_it_was_meant(events: tuple[ev.Event, ...]) -> None:
    heard = {e.turn: e.heard.words for e in events if e.heard is not None}
    said = [_alike(part.text) for part in demo.script() if isinstance(part, demo.Said)]
    # Questions leave no event, and a note's words are its clip.
    left = iter(said)
    for words in heard.values():
        assert words == "" or _alike(words) in left, words


def test_a_number_that_does_not_fit_is_questioned_and_corrected(
    events: tuple[ev.Event, ...],
) -> None:
    (asked,) = [e for e in of(events, ev.ValueQuestioned) if e.step == "fit-top-cover"]
    assert asked.said == "four zero"
    torques = [e for e in of(events, ev.TorqueRecorded) if e.step == "fit-top-cover"]
    assert [(str(e.value), e.first_heard) for e in torques] == [("14", "four zero"), ("14", None)]


def test_it_has_all_that_a_job_can_have(events: tuple[ev.Event, ...], folder: Path) -> None:
    assert isinstance(events[-1], ev.JobClosed)
    assert events[-1].left == ("step twelve skipped, tool not here",)
    assert len(of(events, ev.BagRecorded)) == 8
    assert {e.part for e in of(events, ev.PartOrdered)} >= {"drain plugs", "earth lead"}
    assert len(of(events, ev.StepSkipped)) == 1
    assert len(of(events, ev.JobTakenUp)) == 1
    assert of(events, ev.Withdrawn)
    assert of(events, ev.StoodBy)
    assert len(of(events, ev.StepDone)) >= 40
    journal = Journal(folder / "journal.db")
    for event in (*of(events, ev.FindingRecorded), *of(events, ev.NoteRecorded)):
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
