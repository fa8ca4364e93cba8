"""The record names the jobs on the same unit that were opened before, and the board links them."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from assistant.dialogue.replaying import procedure_of
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.report import document, page, record
from assistant.report.model import Record
from assistant.web import board, guard
from tests.bench_helpers import SMALL, Hands
from tests.report.whole_job import Page


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    """Four jobs: one, two and four on one unit, of which the first stays open."""
    hands = Hands(tmp_path / "journal.db", open_job=False)
    for unit in ("4471", "4471", "4472 <b>", "4471"):
        hands.bench.open(reading.parse(SMALL, "small.yaml"), SMALL, unit=unit)
        if hands.bench.job != 1:
            hands.say("close job", "affirm")
        hands.now += timedelta(days=31)
    hands.bench.journal.close()
    return hands.path


def _built(journal: Path, job: int) -> Record:
    records = Journal(journal)
    history = records.events(job)
    return record.kept(records, job, history, procedure_of(history, job))


def test_the_latest_comes_first_and_a_later_one_is_none(journal: Path) -> None:
    assert [one.job for one in _built(journal, 4).earlier] == [2, 1]
    assert [one.job for one in _built(journal, 2).earlier] == [1]
    assert _built(journal, 1).earlier == () == _built(journal, 3).earlier


def test_page_pdf_and_json_name_them(journal: Path) -> None:
    built = _built(journal, 4)
    told = "job 2 of 2031-04-04; job 1 of 2031-03-04, still open"
    shown = page.html(built, {})
    assert "Earlier on this unit" in Page(shown).text and told in Page(shown).text
    assert "/jobs/2" not in shown, "a file links to no board"
    facts = document._data(built)["facts"]
    assert {"name": "Earlier on this unit", "text": told, "small": "", "broad": True} in facts
    assert Record.model_validate_json(built.model_dump_json()) == built
    assert "Earlier on this unit" not in page.html(_built(journal, 3), {})


def test_the_board_links_to_them(journal: Path) -> None:
    open_records = lambda: Journal(journal, create=False)  # noqa: E731
    guarded = guard.Guard(board.app(open_records), guard.access(8620, None))
    text = TestClient(guarded, base_url="http://127.0.0.1:8620").get("/jobs/4").text
    assert '<a href="/jobs/2">job 2 of 2031-04-04</a>' in text
    assert '<a href="/jobs/1">' in text and '<a href="/jobs/3">' not in text
