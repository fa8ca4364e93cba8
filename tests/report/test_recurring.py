"""What recurs: counted by jobs, from what stands, for the supervisor."""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from assistant.cli import main as cli
from assistant.journal.publication import publish
from assistant.journal.server import Server
from assistant.journal.store import Journal
from assistant.report import recurring
from assistant.web import board, guard
from tests.bench_helpers import SMALL, Hands
from tests.journal.postgres import postgres, shop_url

__all__ = ["postgres", "shop_url"]

OTHER = SMALL.replace("equipment: {kind: test box}", "equipment: {kind: test box, model: Mark 2}")
NAMED_OTHERWISE = OTHER.replace("- {name: end plate}", "- {name: end plate, also: [back plate]}")


def job(path: Path, phrases: Sequence[str], text: str = SMALL, unit: str | None = None) -> Hands:
    hands = Hands(path, text, open_job=False)
    hands.bench.open(hands.procedure, text, unit=unit)
    hands.say("affirm", *phrases)
    hands.bench.journal.close()
    return hands


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "journal.db"
    job(path, ["two circlips missing", "circlip missing", "end plate worn"], unit="U-1")
    job(path, ["circlip missing", "end plate worn", "disregard", "drain plug sound"], unit="U-1")
    job(path, ["circlip cracked", "correction circlip missing"], OTHER, unit="U-2")
    job(path, ["back plate worn", "drain plug sound", "close job", "affirm"], NAMED_OTHERWISE)
    job(path, [])
    return path


def rows(
    capsys: pytest.CaptureFixture[str], path: Path | str, *words: str
) -> list[dict[str, object]]:
    assert cli.main(["recurring", "--json", *words, "--journal", str(path)]) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_parts_and_conditions_by_how_many_jobs_found_them(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = rows(capsys, path)
    assert (first["part"], first["condition"], first["jobs"], first["count"]) == (
        "circlip",
        "missing",
        [3, 2, 1],
        5,
    )
    assert first["models"] == [
        {"model": "test box", "jobs": 2},
        {"model": "Mark 2 test box", "jobs": 1},
    ]
    assert (first["units"], first["severity"]) == (["U-1"], "serious")
    # By the part's own name; what was withdrawn or corrected is not counted, nor what is sound.
    assert (second["part"], second["condition"], second["jobs"]) == ("end plate", "worn", [4, 1])


def test_as_lines_and_by_how_many_at_least(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["recurring", "--least", "3", "--journal", str(path)]) == 0
    assert capsys.readouterr().out == (
        "   3 jobs     5 × circlip missing  (test box in 2, Mark 2 test box in 1; "
        "more than once on U-1; last 2031-03-04, job 3)\n"
    )
    assert cli.main(["recurring", "--least", "4", "--journal", str(path)]) == 0
    assert capsys.readouterr().out == "Nothing was found in at least 4 jobs.\n"
    assert len(rows(capsys, path, "--least", "1")) == 2
    assert [row["jobs"] for row in rows(capsys, path, "--least", "1", "--limit", "2")] == [[4]]
    for bad in ("--least", "--limit"):
        assert cli.main(["recurring", bad, "0", "--journal", str(path)]) == 2
        assert f"{bad} is at least 1" in capsys.readouterr().err


def test_a_job_that_nobody_has_written_up_goes_by_its_title(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    for _ in range(2):
        typed = "affirm\nremoved end cover\nend cover corroded\n"
        monkeypatch.setattr("sys.stdin", io.StringIO(typed))
        run = ["run", "--unwritten", "Capstan drive", "--typed", "--journal", "j.db"]
        assert cli.main(run) == 0
    capsys.readouterr()
    (row,) = rows(capsys, "j.db")
    assert (row["part"], row["models"]) == ("end cover", [{"model": "Capstan drive", "jobs": 2}])


def test_a_damaged_job_does_not_hide_the_others(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with sqlite3.connect(path) as db:
        db.execute("DROP TRIGGER event_fixed")
        db.execute("UPDATE event SET body = replace(body, '\"turn\"', '\"x\"') WHERE job = 3")
    assert cli.main(["recurring", "--json", "--journal", str(path)]) == 1
    told = capsys.readouterr()
    assert json.loads(told.out.splitlines()[0])["jobs"] == [2, 1]
    assert "Job 3 cannot be read" in told.err
    assert "Job 3" in page(path).get("/recurring").text


def page(path: Path) -> TestClient:
    guarded = guard.Guard(board.app(lambda: Journal(path)), guard.access(8620, None))
    return TestClient(guarded, base_url="http://127.0.0.1:8620")


def test_the_board_has_it_as_a_page_that_follows_the_bench(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pages = page(path)
    text = pages.get("/recurring").text
    assert "Circlip missing" in text and "Mark 2 test box (1)" in text and 'href="/jobs/3"' in text
    assert "What recurs" in pages.get("/").text
    read: list[int] = []
    gather = recurring.gather

    def counted(records, jobs):  # type: ignore[no-untyped-def]
        read.extend(job.job for job in jobs)
        return gather(records, jobs)

    monkeypatch.setattr(recurring, "gather", counted)
    hands = Hands(path, open_job=False)
    hands.bench.take_up(5)
    hands.say("affirm", "drain plug stripped", "circlip missing")
    assert '<td class="number">4</td>' in pages.get("/recurring").text
    assert read == [5], "what the other jobs found is known"
    hands.say("disregard")
    assert '<td class="number">4</td>' not in pages.get("/recurring").text


def test_nothing_to_show(tmp_path: Path) -> None:
    job(tmp_path / "journal.db", ["circlip missing"])
    assert (
        "Nothing was found in two jobs or more"
        in page(tmp_path / "journal.db").get("/recurring").text
    )


def test_over_all_benches_from_the_shop(
    path: Path, shop_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(Journal(path)) as journal:
        publish(journal, Server(shop_url))
    assert [row["part"] for row in rows(capsys, shop_url)] == ["circlip", "end plate"]


def test_no_text_from_outside_reaches_the_terminal_or_becomes_markup(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "journal.db"
    for _ in range(2):
        job(path, ["circlip missing"], unit="<b>U\x1b[2J")
    for words in ((), ("--json",)):
        assert cli.main(["recurring", *words, "--journal", str(path)]) == 0
        assert "\x1b" not in capsys.readouterr().out
    assert "<b>U" not in page(path).get("/recurring").text
