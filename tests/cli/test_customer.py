"""The parts desk's list of what customers have to agree to, and where the answers are kept."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from assistant.cli import main as cli
from assistant.dialogue.replaying import procedure_of
from assistant.journal import verification
from assistant.journal.publication import publish
from assistant.journal.server import Server
from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from assistant.report import document, lists, page, record
from tests.bench_helpers import Hands
from tests.journal.postgres import postgres, shop_url

__all__ = ["postgres", "shop_url"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal with an open job and a closed one, with a question that waits in each."""
    for phrases in (
        ("end plate worn renew", "ask customer", "circlip cracked", "ask customer"),
        ("end plate worn repair", "ask customer", "close job", "affirm"),
        ("circlip cracked",),
    ):
        hands = Hands(tmp_path / "journal.db")
        hands.say("affirm", *phrases)
        hands.bench.journal.close()
    return tmp_path / "journal.db"


def run(path: Path | str, *words: str) -> int:
    return cli.main(["customer", *words, "--journal", str(path)])


def rows(path: Path | str, *words: str, capsys: pytest.CaptureFixture[str]) -> list[dict[str, str]]:
    assert run(path, "--json", *words) == 0
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def stands(path: Path | str, capsys: pytest.CaptureFixture[str]) -> list[tuple[str, str]]:
    return [(row["what"], row["stand"]) for row in rows(path, capsys=capsys)]


def built(path: Path, job: int) -> record.Record:
    with closing(Journal(path)) as journal:
        history = journal.events(job)
        return record.kept(journal, job, history, procedure_of(history, job))


def test_the_questions_of_all_jobs(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(path) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].endswith("end plate worn, renew: waiting  (Small box, at open, by sam)")
    assert "circlip cracked: waiting" in lines[1]
    assert lines[2].endswith("waiting  (Small box, at open, by sam, job closed)")
    assert len(lines) == 3
    assert [row["job"] for row in rows(path, "--job", "2", capsys=capsys)] == [2]
    assert run(path, "--job", "3") == 0
    assert capsys.readouterr().out == "No customer was to be asked about anything.\n"


def test_an_answer_goes_into_the_record_of_the_job_and_can_be_taken_back(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = (row["event"] for row in rows(path, "--job", "1", capsys=capsys))
    hale = ("--name", "Mrs Hale", "--by", "kim")
    assert run(path, "1", "agrees", *hale) == 2
    assert "job 1 has several that waits" in capsys.readouterr().err
    assert run(path, "1", "agrees", "--event", str(first), *hale, "--note", "their order 77") == 0
    assert capsys.readouterr().out == (
        "Job 1: customer agrees, says Mrs Hale (their order 77): end plate worn, renew.\n"
    )
    assert run(path, "1", "declines", *hale) == 0  # The only one that waits.
    capsys.readouterr()
    assert stands(path, capsys)[:2] == [
        ("end plate worn, renew", "agrees"),
        ("circlip cracked", "declines"),
    ]
    assert [row["job"] for row in rows(path, "--open", capsys=capsys)] == [2]
    assert run(path, "1", "waiting", "--event", str(second), "--by", "kim") == 0
    capsys.readouterr()
    assert stands(path, capsys)[1] == ("circlip cracked", "waiting")
    # It may be another answer, and the last one counts.
    assert run(path, "1", "declines", "--event", str(first), "--name", "Mr Hale") == 0
    capsys.readouterr()
    assert stands(path, capsys)[0] == ("end plate worn, renew", "declines")
    with closing(Journal(path)) as journal:
        assert verification.job(journal, 1).fault is None
    assert cli.main(["log", "1", "--journal", str(path)]) == 0
    told = capsys.readouterr().out
    assert "customer agrees, says Mrs Hale (their order 77)" in told
    assert "customer answer taken back: circlip cracked" in told


def test_the_report_has_the_questions_and_how_each_stands(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = rows(path, "--job", "1", capsys=capsys)[0]["event"]
    run(path, "1", "agrees", "--event", str(first), "--name", "Mrs Hale", "--by", "kim")
    made = built(path, 1)
    assert [(one.work, one.stand, one.name) for one in made.extra_work] == [
        ("end plate worn, renew", "agrees", "Mrs Hale"),
        ("circlip cracked", "waiting", None),
    ]
    waits = [one.what for one in made.summary.stands_out if one.kind == "left undone"]
    assert waits == ["customer to be asked: circlip cracked"]
    text = page.html(made, {})
    assert "For the customer to agree to" in text and "says Mrs Hale" in text
    assert document.pdf(made, {})[:5] == b"%PDF-"
    assert '"agrees"' in lists.json_text(made, "extra-work")
    assert "Mrs Hale" in lists.csv(made, "extra-work")


def test_what_is_answered_after_closing_stands_beside_the_sealed_record(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(Journal(path)) as journal:
        seal = journal.seal(2)
    before = built(path, 2)
    assert [one.stand for one in before.extra_work] == ["waiting"]
    assert any("customer to answer" in d for one in before.summary.stands_out for d in one.details)
    assert run(path, "2", "agrees", "--name", "Mrs Hale", "--by", "kim") == 0
    (extra,) = built(path, 2).extra_work
    assert (extra.stand, extra.after_closing, extra.entered_by) == ("agrees", True, "kim")
    with closing(Journal(path)) as journal:
        assert journal.seal(2) == seal
        assert verification.job(journal, 2).fault is None
    assert cli.main(["log", "2", "--journal", str(path)]) == 0
    assert "customer agrees, says Mrs Hale" in capsys.readouterr().out.split("After closing")[1]
    # It goes wherever the job goes, and is there once.
    there = str(tmp_path / "there.db")
    file = str(tmp_path / "2.zip")
    assert cli.main(["export", "2", "-o", file, "--journal", str(path)]) == 0
    for _ in range(2):
        assert cli.main(["import", file, "--journal", there]) == 0
    capsys.readouterr()
    assert stands(there, capsys) == [("end plate worn, repair", "agrees")]


def test_the_shop_has_them_and_takes_no_answer(
    path: Path, shop_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    run(path, "2", "declines", "--name", "Mrs Hale")
    with closing(Journal(path)) as journal:
        assert not publish(journal, Server(shop_url)).refused
    capsys.readouterr()
    assert [stand for _, stand in stands(shop_url, capsys)] == ["waiting", "waiting", "declines"]
    assert [one.job for one in Shop(shop_url).jobs(asked=True)] == [2, 1]
    assert run(shop_url, "1", "agrees", "--name", "Mrs Hale") == 2
    assert "enter it there" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ("2 agrees", "Say who answered"),
        ("2 agrees --name |", "Say who answered"),
        ("2 perhaps --name x", "one of agrees, declines, waiting"),
        ("2", "Give a job and one of"),
        ("x agrees --name x", "Give a job and one of"),
        ("2 agrees more --name x", "Give a job and one of"),
        ("9 agrees --name x", "no job 9"),
        ("3 agrees --name x", "job 3 has none that waits"),
        ("2 waiting", "job 2 has none that is answered"),
        ("2 agrees --name x --event 1", "no question that stands"),
        ("2 agrees --name x --open", "for the list"),
        ("--name x", "go with a job and an answer"),
        ("--job 9", "no job 9"),
    ],
)
def test_what_cannot_be_entered_is_told_in_one_sentence(
    path: Path, words: str, told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(path, *(word.replace("|", " ") for word in words.split())) == 2
    assert told in capsys.readouterr().err
    assert {stand for _, stand in stands(path, capsys)} == {"waiting"}


def test_the_question_is_listed_as_it_stands_and_a_note_has_its_length(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "order circlip", "ask customer", "correction order two circlips")
    assert stands(hands.path, capsys) == [("order 2 circlips", "waiting")]
    assert run(hands.path, "1", "agrees", "--name", "Mrs Hale", "--note", "x" * 1001) == 2
    assert "write it in 1000 characters" in capsys.readouterr().err


def test_text_from_outside_does_nothing_to_the_terminal(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(path, "2", "agrees", "--name", "\x1b[2Jbo", "--note", "\u202eevil") == 0
    for words in ((), ("--json",)):
        assert run(path, *words) == 0
        told = capsys.readouterr().out
        assert "\x1b" not in told and "\u202e" not in told


def test_a_job_that_cannot_be_read_does_not_hide_the_others(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with sqlite3.connect(path) as db:
        db.execute("DROP TRIGGER event_fixed")
        db.execute("UPDATE event SET body = replace(body, 'worn', 7) WHERE job = 1")
        db.execute("UPDATE event SET body = replace(body, '\"turn\"', '\"x\"') WHERE job = 1")
    assert run(path, "--json") == 1
    told = capsys.readouterr()
    assert [json.loads(line)["job"] for line in told.out.splitlines()] == [2]
    assert "Job 1 cannot be read" in told.err
