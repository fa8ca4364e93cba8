"""Signing off a closed job: by name, beside the seal and naming it, shown first, never replaced."""

from __future__ import annotations

import json
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from assistant.cli import main as cli
from assistant.desk import moves
from assistant.dialogue.replaying import procedure_of
from assistant.journal import verification
from assistant.journal.publication import publish
from assistant.journal.server import Server
from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from assistant.report import document, record
from tests.bench_helpers import Hands
from tests.journal.postgres import postgres, shop_url
from tests.report.whole_job import HOSTILE, Page
from tests.web.test_board import client

__all__ = ["postgres", "shop_url"]

Run = Callable[..., str]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Return what runs a command: what it printed, with its complaint behind."""

    def it(*arguments: object) -> str:
        capsys.readouterr()
        cli.main([str(argument) for argument in arguments])
        printed = capsys.readouterr()
        return printed.out + printed.err

    return it


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal of three jobs: closed with a drain plug on order, closed while a reading fails, and
    open.
    """
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "order drain plug", "close job", "affirm")
    hands.bench.open(hands.procedure, hands.bench.journal.events(1)[0].source, unit="4471")  # type: ignore[union-attr]
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.say("reading bore 25.15", "affirm", "close job", "affirm")
    hands.bench.open(hands.procedure, hands.bench.journal.events(1)[0].source)  # type: ignore[union-attr]
    hands.bench.journal.close()
    return hands.path


def _built(path: Path, job: int) -> record.Record:
    with closing(Journal(path)) as journal:
        history = journal.events(job)
        return record.kept(journal, job, history, procedure_of(history, job))


def test_a_closed_job_is_signed_off_and_shows_it_first(path: Path, run: Run) -> None:
    before = _built(path, 1)
    told = run("sign-off", 1, "--by", "Kim Ode", "--note", "seen", "--journal", path)
    assert told == "Job 1: signed off by Kim Ode: seen.\n"
    after = _built(path, 1)
    assert after.seal == before.seal, "the sealed record is as it was"
    (one,) = after.sign_offs
    assert (one.by, one.note, one.despite) == ("Kim Ode", "seen", ())
    line = f"Signed off by Kim Ode, {one.at:%Y-%m-%d %H:%M}: seen"
    run("report", 1, "-o", path.parent / "job.html", "--journal", path)
    text = Page((path.parent / "job.html").read_text(encoding="utf-8")).text
    assert text.index(line) < text.index("Summary")
    assert document._data(after)["signed"] == [line]
    written = json.loads(run("report", 1, "--json", "--journal", path))
    assert written["sign_offs"][0]["by"] == "Kim Ode"
    assert ",sign-off,seen" in run("report", 1, "--csv", "--journal", path).replace(",,", ",")
    assert "signed off by Kim Ode: seen" in run("log", 1, "--journal", path)
    assert "good" in run("verify", 1, "--journal", path)


def test_it_shows_on_the_board(path: Path, run: Run) -> None:
    pages = client(lambda: Journal(path, create=False))
    version = pages.get("/jobs/1/version").text
    run("sign-off", 1, "--by", HOSTILE, "--journal", path)
    assert pages.get("/jobs/1/version").text != version
    listed = pages.get("/?view=closed").text
    assert "Signed off" in Page(listed).text and "<script>alert" not in listed
    assert "Signed off by" in Page(pages.get("/jobs/1").text).text


def test_a_second_sign_off_is_added(path: Path, run: Run) -> None:
    run("sign-off", 1, "--by", "Kim", "--journal", path)
    run("sign-off", 1, "--by", "Ann", "--note", "the second", "--journal", path)
    run("sign-off", 1, "--by", "Kim", "--journal", path)
    assert [one.by for one in _built(path, 1).sign_offs] == ["Kim", "Ann", "Kim"]
    assert "good" in run("verify", 1, "--journal", path)


def test_an_open_job_is_refused(path: Path, run: Run) -> None:
    told = run("sign-off", 3, "--by", "Kim", "--journal", path)
    assert "Job 3 is open" in told and "assistant resume 3" in told
    assert _built(path, 3).sign_offs == ()
    assert "There is no job 9" in run("sign-off", 9, "--by", "Kim", "--journal", path)


def test_a_job_with_a_result_that_fails_needs_despite_and_a_note(path: Path, run: Run) -> None:
    for more in ((), ("--despite",), ("--note", "fine"), ("--despite", "--note", "  ")):
        told = run("sign-off", 2, "--by", "Kim", *more, "--journal", path)
        assert "results fail: bore at step 4." in told and "--despite" in told
    assert _built(path, 2).sign_offs == ()
    told = run(
        "sign-off", 2, "--by", "Kim", "--despite", "--note", "to the refit", "--journal", path
    )
    assert "signed off by Kim: to the refit (though step 4 fails: bore 25.15 mm" in told
    built = _built(path, 2)
    (one,) = built.sign_offs
    assert one.note == "to the refit" and one.despite[0].startswith("step 4 fails: bore 25.15 mm")
    assert built.summary.open == 1 and not built.summary.complete, "it settles nothing"


def test_despite_where_nothing_fails_is_refused(path: Path, run: Run) -> None:
    told = run("sign-off", 1, "--by", "Kim", "--despite", "--note", "x", "--journal", path)
    assert "No result of job 1 fails" in told


def test_a_name_is_needed_and_texts_are_bounded(path: Path, run: Run) -> None:
    assert "needs a name" in run("sign-off", 1, "--by", "  ", "--journal", path)
    assert "too long" in run("sign-off", 1, "--by", "k" * 81, "--journal", path)
    told = run("sign-off", 1, "--by", "Kim", "--note", "n" * 1001, "--journal", path)
    assert "too long" in told
    assert _built(path, 1).sign_offs == ()


def test_an_altered_record_is_not_signed_off(path: Path, run: Run) -> None:
    _by_force(path, "event", "UPDATE event SET body = replace(body, 'drain', 'brain')")
    told = run("sign-off", 1, "--by", "Kim", "--journal", path)
    assert "not as it was recorded" in told


def test_a_sign_off_fits_no_other_record(path: Path, run: Run) -> None:
    run("sign-off", 1, "--by", "Kim", "--journal", path)
    with closing(Journal(path)) as journal:
        (text,) = journal.addition_texts(1)
        journal.add_stored(2, [text])
    assert "what Kim signed off is another record" in run("verify", 2, "--journal", path)
    assert "good" in run("verify", 1, "--journal", path)


@pytest.mark.parametrize("sql", ["DELETE FROM addition WHERE number = 1", "UPDATE"])
def test_one_that_another_follows_cannot_be_changed_or_removed(
    path: Path, run: Run, sql: str
) -> None:
    run("sign-off", 1, "--by", "Kim", "--journal", path)
    run("sign-off", 1, "--by", "Ann", "--journal", path)
    if sql == "UPDATE":
        sql = "UPDATE addition SET body = replace(body, 'Kim', 'Tim') WHERE number = 1"
    _by_force(path, "addition", sql)
    assert "what Ann signed off is another record" in run("verify", 1, "--journal", path)


def _by_force(path: Path, table: str, sql: str) -> None:
    """Change the file past its triggers."""
    with closing(sqlite3.connect(path)) as db:
        for name in (f"{table}_fixed", f"{table}_kept"):
            db.execute(f"DROP TRIGGER {name}")
        db.execute(sql)
        db.commit()


def test_it_travels_with_the_job_and_orders_are_not_disturbed(
    path: Path, run: Run, tmp_path: Path
) -> None:
    run("sign-off", 1, "--by", "Kim", "--journal", path)
    with closing(Journal(path)) as journal:
        moves.enter(journal, 1, "drain plug", "received", None, "kim")
    run("sign-off", 1, "--by", "Ann", "--journal", path)
    (order,) = run("orders", "--json", "--journal", path).splitlines()
    assert json.loads(order)["received"] == 1
    archive, other = tmp_path / "job.zip", tmp_path / "other.db"
    run("export", 1, "-o", archive, "--journal", path)
    assert "good" in run("verify", archive)
    run("import", archive, "--journal", other)
    assert [one.by for one in _built(other, 1).sign_offs] == ["Kim", "Ann"]
    run("sign-off", 1, "--by", "Bo", "--journal", other)
    run("sign-off", 1, "--by", "Cy", "--journal", path)
    run("export", 1, "-o", tmp_path / "back.zip", "--journal", other)
    assert "was added: 1" in run("import", tmp_path / "back.zip", "--journal", path)
    assert [one.by for one in _built(path, 1).sign_offs] == ["Kim", "Ann", "Cy", "Bo"]
    assert "good" in run("verify", 1, "--journal", path), "two may follow the same"


def test_an_archive_with_a_sign_off_of_another_record_is_not_taken_in(
    path: Path, run: Run, tmp_path: Path
) -> None:
    run("sign-off", 1, "--by", "Kim", "--journal", path)
    with closing(Journal(path)) as journal:
        journal.add_stored(2, journal.addition_texts(1))
    archive = tmp_path / "job.zip"
    told = run("export", 2, "-o", archive, "--journal", path)
    if zipfile.is_zipfile(archive):
        told = run("import", archive, "--journal", tmp_path / "other.db")
    assert "signed off is another record" in told


def test_the_shop_has_it_and_refuses_to_sign_off_there(path: Path, run: Run, shop_url: str) -> None:
    run("sign-off", 1, "--by", "Kim", "--note", "seen", "--journal", path)
    with closing(Journal(path)) as journal:
        bench = journal.identity(1).bench
        publish(journal, Server(shop_url), lambda text: None)
    shop = Shop(shop_url)
    assert [one.by for one in shop.sign_offs(1)] == ["Kim"]
    assert verification.job(shop, 1).fault is None
    assert len(run("orders", "--json", "--journal", shop_url).splitlines()) == 1
    told = run("sign-off", 1, "--by", "Ann", "--journal", shop_url)
    assert "only read here" in told and bench in told


def test_the_log_tells_of_it_apart_from_the_desk(path: Path, run: Run) -> None:
    assert "signed off" not in run("log", 1, "--journal", path)
    run("sign-off", 1, "--by", "Kim", "--journal", path)
    told = run("log", 1, "--journal", path)
    assert "entered by the parts desk" not in told and "signed off by Kim" in told
