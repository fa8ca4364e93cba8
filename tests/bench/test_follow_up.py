"""A follow-up job: it knows the one that it follows, and tells at the start what that left."""

from __future__ import annotations

import io
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from assistant.cli import main as cli
from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal.archive import Archive
from assistant.journal.archive import write as write_archive
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.report import document, page, record
from assistant.report.model import Record
from assistant.web import board, guard
from tests.bench_helpers import SMALL, Hands
from tests.report.whole_job import Page

_PROCEDURE = reading.parse(SMALL, "small.yaml")


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    """A bench that has closed job 1 on unit 4471, with a reading that fails and a plug to come."""
    hands = Hands(tmp_path / "journal.db", open_job=False)
    hands.bench.open(_PROCEDURE, SMALL, unit="4471")
    hands.say("affirm", "order drain plug", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.15", "affirm", "skip step", "waiting for part")
    hands.say("close job", "affirm")
    hands.now += timedelta(days=31)
    hands.notes.replies.clear()
    return hands


def _built(path: Path, job: int) -> Record:
    with closing(Journal(path)) as journal:
        history = journal.events(job)
        return record.kept(journal, job, history, procedure_of(history, job))


def test_it_tells_what_was_left_and_takes_the_unit(hands: Hands) -> None:
    hands.bench.open(_PROCEDURE, SMALL, follows=1)
    told = " ".join(hands.notes.replies)
    assert "It follows job one of four march two zero three one." in told
    assert "Left failing: bore fails, two five point one five millimetres" in told
    assert "Left: " in told and "step four skipped, part not here." in told
    assert "Never received: one drain plug." in told
    assert told.index("It follows") < told.index("Step one.")
    opened = hands.bench.journal.events(2)[0]
    assert isinstance(opened, events.JobOpened) and opened.follows is not None
    with closing(Journal(hands.path)) as journal:
        assert opened.follows.uid == journal.identity(1).uid
    assert (opened.follows.job, opened.unit) == (1, "4471")


def test_what_it_left_is_told_and_not_kept(hands: Hands) -> None:
    hands.bench.open(_PROCEDURE, SMALL, follows=1)
    assert hands.bench.state.nonconformities == ()
    assert "bore" not in hands.say("hand over")


def test_a_unit_that_is_given_stands_and_both_are_shown(hands: Hands) -> None:
    hands.bench.open(_PROCEDURE, SMALL, unit="4472", follows=1)
    built = _built(hands.path, 2)
    assert built.unit == "4472" and built.follows is not None
    assert "job 1 of 2031-03-04, unit 4471" in Page(page.html(built, {})).text


@pytest.mark.parametrize("number", [2, 9])
def test_an_open_or_unknown_job_cannot_be_followed(hands: Hands, number: int) -> None:
    hands.bench.open(_PROCEDURE, SMALL)
    with pytest.raises(AssistantError, match=r"Job 2 is open|There is no job 9"):
        hands.bench.open(_PROCEDURE, SMALL, follows=number)
    assert hands.bench.journal.numbers() == [1, 2], "nothing has begun"


def test_report_pdf_log_and_board_name_it(hands: Hands, capsys: pytest.CaptureFixture[str]) -> None:
    hands.bench.open(_PROCEDURE, SMALL, follows=1)
    hands.bench.journal.close()
    built = _built(hands.path, 2)
    told = "job 1 of 2031-03-04"
    assert "Follows " in Page(page.html(built, {})).text and told in page.html(built, {})
    assert {"name": "Follows", "text": told, "small": "", "broad": True} in document._data(built)[
        "facts"
    ]
    assert Record.model_validate_json(built.model_dump_json()) == built
    assert _built(hands.path, 1).follows is None
    cli.main(["log", "2", "--journal", str(hands.path)])
    assert "revision A, follows job 1" in capsys.readouterr().out
    guarded = guard.Guard(
        board.app(lambda: Journal(hands.path, create=False)), guard.access(8620, None)
    )
    pages = TestClient(guarded, base_url="http://127.0.0.1:8620")
    assert f'<a href="/jobs/1">{told}</a>' in pages.get("/jobs/2").text
    assert "follows job 1 of 2031-03-04" in Page(pages.get("/").text).text


def test_where_the_followed_job_is_not_kept_its_number_is_said_to_be_of_elsewhere(
    hands: Hands, tmp_path: Path
) -> None:
    hands.bench.open(_PROCEDURE, SMALL, follows=1)
    hands.say("close job", "affirm")
    for job in (2, 1):
        write_archive(hands.bench.journal, job, tmp_path / f"{job}.zip", "")
    other = Journal(tmp_path / "other.db")
    with Archive(tmp_path / "2.zip") as archive:
        archive.take_in(other)
    assert "which is not in this journal" in page.html(_built(tmp_path / "other.db", 1), {})
    with Archive(tmp_path / "1.zip") as archive:
        archive.take_in(other)
    follows = _built(tmp_path / "other.db", 1).follows
    assert follows is not None and (follows.job, follows.number_then) == (2, 1)


def test_the_command(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    hands.bench.journal.close()
    monkeypatch.setattr("sys.stdin", io.StringIO("where are we\n"))
    run = ["run", "pump-rebuild", "--typed", "--follows", "1", "--journal", str(hands.path)]
    assert cli.main(run) == 0
    built = _built(hands.path, 2)
    assert built.unit == "4471" and built.follows is not None
    assert built.follows.title == "Small box"
