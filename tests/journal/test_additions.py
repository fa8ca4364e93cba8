"""What the parts desk enters after a job is closed: shown, carried along, and in no chain."""

from __future__ import annotations

import json
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

from assistant.cli import main as cli
from assistant.desk import moves
from assistant.journal import schema, verification
from assistant.journal.publication import publish
from assistant.journal.server import Refused, Server
from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from tests.bench_helpers import Hands
from tests.journal.postgres import postgres, query, shop_url
from tests.report.whole_job import HOSTILE, Page
from tests.web.test_board import client

__all__ = ["postgres", "shop_url"]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal of one closed job with two drain plugs on order, of which one then came."""
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "order two drain plugs", "close job", "affirm")
    assert hands.bench.over
    hands.bench.journal.close()
    enter(hands.path)
    return hands.path


def enter(path: Path, by: str = "kim") -> None:
    with closing(Journal(path)) as journal:
        moves.enter(journal, 1, "drain plug", "received", 1, by)


def run(*arguments: object) -> int:
    return cli.main([str(argument) for argument in arguments])


def stands(where: object, capsys: pytest.CaptureFixture[str]) -> tuple[int, int]:
    """Return how many are asked for and received, as the list of orders has it."""
    capsys.readouterr()
    assert run("orders", "--json", "--journal", where) == 0
    (row,) = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    return row["asked"], row["received"]


def record(where: object, capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capsys.readouterr()
    assert run("report", "1", "--json", "--journal", where) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


# Shown


def test_the_record_has_it_marked_and_the_sealed_record_as_it_was(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = record(path, capsys)
    (entry,) = made["afterwards"]
    assert (entry["part"], entry["count"], entry["state"], entry["by"]) == (
        "drain plug",
        1,
        "received",
        "kim",
    )
    (order,) = made["orders"]
    assert (order["asked"], order["received"]) == (2, 0)
    assert (order["now"]["asked"], order["now"]["received"]) == (1, 1)
    assert (made["summary"]["to_come"], made["summary"]["to_come_now"]) == (2, 1)

    assert run("report", "1", "-o", tmp_path / "page.html", "--journal", path) == 0
    page = Page((tmp_path / "page.html").read_text())
    assert "2 parts, 2 to come at closing, 1 now" in page.text
    assert "It is not part of the sealed record" in page.text
    asked, entered = [row for row in page.rows("orders") if row and row[0] == "drain plug"]
    assert asked[3] == "2 asked after closing: 1 asked, 1 received"
    assert entered[1:3] == ["1 received", "kim"]
    capsys.readouterr()

    assert run("report", "1", "--list", "afterwards", "--csv", "--journal", path) == 0
    assert "received" in capsys.readouterr().out
    assert run("report", "1", "--csv", "--journal", path) == 0
    assert "after closing" in capsys.readouterr().out
    assert run("log", "1", "--journal", path) == 0
    *_, told, line = capsys.readouterr().out.splitlines()
    assert told == "After closing, entered by the parts desk, not under the seal:"
    assert line.endswith("1 drain plug received  [by kim]")


def test_nothing_is_said_of_it_where_there_is_none(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "order two drain plugs", "close job", "affirm")
    made = record(hands.path, capsys)
    assert made["afterwards"] == [] and made["orders"][0]["now"] is None
    assert run("report", "1", "-o", tmp_path / "page.html", "--journal", hands.path) == 0
    assert "fter closing" not in Page((tmp_path / "page.html").read_text()).text


def test_the_board_has_it_and_follows_it(path: Path, shop_url: str) -> None:
    publish(Journal(path), Server(shop_url))
    for records in (lambda: Journal(path), lambda: Shop(shop_url)):
        pages = client(records)
        closed = Page(pages.get("/?view=closed").text).text
        assert "After closing, by the parts desk 1 drain plug received (" in closed
        assert "2 to come at closing, 1 now" in Page(pages.get("/jobs/1").text).text
    pages = client(lambda: Journal(path))
    before = pages.get("/version").text, pages.get("/jobs/1/version").text
    enter(path)
    after = pages.get("/version").text, pages.get("/jobs/1/version").text
    assert before[0] != after[0] and before[1] != after[1]


def test_who_entered_it_becomes_no_markup(path: Path, tmp_path: Path) -> None:
    enter(path, HOSTILE)
    assert run("report", "1", "-o", tmp_path / "page.html", "--journal", path) == 0
    for text in (
        (tmp_path / "page.html").read_text(),
        client(lambda: Journal(path)).get("/?view=closed").text,
    ):
        assert "<script>alert" not in text and HOSTILE in Page(text).text


# Out and in


def test_it_goes_with_the_archive(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "there.db"
    assert run("export", "1", "-o", tmp_path / "1.zip", "--journal", path) == 0
    assert run("verify", tmp_path / "1.zip") == 0
    assert run("import", tmp_path / "1.zip", "--journal", there) == 0
    assert stands(there, capsys) == (1, 1)
    with closing(Journal(there)) as taken, closing(Journal(path)) as journal:
        assert taken.addition_texts(1) == journal.addition_texts(1)
        assert taken.seal(1) == journal.seal(1)
        assert verification.job(taken, 1).fault is None
    # What was entered since comes with another one, and once.
    enter(path)
    assert run("export", "1", "-o", tmp_path / "2.zip", "--journal", path) == 0
    for told in ("entered after closing was added: 1.\n", "It is here already, as job 1.\n"):
        capsys.readouterr()
        assert run("import", tmp_path / "2.zip", "--journal", there) == 0
        assert capsys.readouterr().out.endswith(told)
        assert stands(there, capsys) == (0, 2)
    # An older one takes nothing away.
    assert run("import", tmp_path / "1.zip", "--journal", there) == 0
    assert stands(there, capsys) == (0, 2)


def test_an_archive_without_any_has_no_file_for_them(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    assert run("export", "1", "-o", tmp_path / "1.zip", "--journal", hands.path) == 0
    with zipfile.ZipFile(tmp_path / "1.zip") as archive:
        assert "additions.jsonl" not in archive.namelist()


def altered(out: Path, archive: Path, change: Callable[[bytes], bytes], *, told: bool) -> Path:
    """Write an archive anew with other entries; `told`: its manifest says so as well."""
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(out, "w") as new:
        data = {name: old.read(name) for name in old.namelist()}
        data["additions.jsonl"] = change(data.get("additions.jsonl", b""))
        if told:
            manifest = json.loads(data["manifest.json"])
            digest = sha256(data["additions.jsonl"]).hexdigest()
            manifest["files"]["additions.jsonl"] = digest
            data["manifest.json"] = json.dumps(manifest).encode()
        for name, content in data.items():
            new.writestr(name, content)
    return out


def _changed(**fields: object) -> Callable[[bytes], bytes]:
    return lambda data: json.dumps(json.loads(data) | fields).encode()


@pytest.mark.parametrize(
    ("change", "told", "why"),
    [
        (lambda data: data.replace(b"kim", b"sam"), False, "is not as it was put in"),
        (lambda data: b"{", True, "is not an entry"),
        (lambda data: b"{}\n", True, "cannot be read"),
        (lambda data: data * 10_001, True, "more in additions.jsonl than such a job can have"),
        (lambda data: b" " * (9 << 20), True, "too large"),
        (_changed(kind="note", text="x"), True, "cannot be read"),
        (_changed(at_desk=False), True, "cannot be read"),
        (_changed(count=-1), True, "cannot be read"),
        (_changed(count=10**20), True, "is not an entry"),
        (_changed(by="x" * 20_000), True, "cannot be read"),
        (_changed(heard={"words": "x", "recogniser": "r", "clip": 1}), True, "cannot be read"),
    ],
)
def test_what_is_no_entry_is_not_taken_in(
    path: Path,
    tmp_path: Path,
    change: Callable[[bytes], bytes],
    told: bool,
    why: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run("export", "1", "-o", tmp_path / "1.zip", "--journal", path) == 0
    other = altered(tmp_path / "2.zip", tmp_path / "1.zip", change, told=told)
    assert run("import", other, "--journal", tmp_path / "there.db") == 2
    assert why in capsys.readouterr().err
    assert Journal(tmp_path / "there.db").numbers() == []


def test_an_open_job_has_none(
    path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hands = Hands(tmp_path / "open.db")
    assert run("export", "1", "-o", tmp_path / "1.zip", "--journal", hands.path) == 0
    entry = Journal(path).addition_texts(1)[0].encode()
    other = altered(tmp_path / "2.zip", tmp_path / "1.zip", lambda data: entry, told=True)
    assert run("import", other, "--journal", tmp_path / "there.db") == 2
    assert "more in additions.jsonl than such a job can have" in capsys.readouterr().err


def test_an_altered_entry_is_told(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("DROP TRIGGER addition_fixed")
        db.execute('UPDATE addition SET body = replace(body, \'"count":1\', \'"count":"x"\')')
    assert run("verify", "1", "--journal", path) == 1
    assert "what was entered after it was closed cannot be read" in capsys.readouterr().out
    assert run("report", "1", "--json", "--journal", path) == 2
    assert "assistant verify 1" in capsys.readouterr().err


# The shop


def test_the_shop_gets_it_once(
    path: Path, shop_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("publish", "--to", shop_url, "--journal", path) == 0
    assert "of 1 job, 1 entry made after closing." in capsys.readouterr().out
    rows = "SELECT xmin::text, ctid::text, body FROM addition ORDER BY number"
    before = query(shop_url, rows)
    assert run("publish", "--to", shop_url, "--journal", path) == 0
    assert "has all of it already" in capsys.readouterr().out
    assert query(shop_url, rows) == before
    assert stands(shop_url, capsys) == stands(path, capsys) == (1, 1)
    assert record(shop_url, capsys) == record(path, capsys)
    # The job is there already: only what is new is sent.
    enter(path)
    capsys.readouterr()
    assert run("publish", "--to", shop_url, "--journal", path) == 0
    assert ": 1 entry made after closing." in capsys.readouterr().out
    assert stands(shop_url, capsys) == (0, 2)
    assert verification.job(Shop(shop_url), 1).fault is None


def test_two_benches_that_have_the_job_add_up(
    path: Path, tmp_path: Path, shop_url: str, capsys: pytest.CaptureFixture[str]
) -> None:
    there = tmp_path / "there.db"
    assert run("export", "1", "-o", tmp_path / "1.zip", "--journal", path) == 0
    assert run("import", tmp_path / "1.zip", "--journal", there) == 0
    enter(there, "bo")
    for journal in (path, there, path):
        assert not publish(Journal(journal), Server(shop_url)).refused
    assert [event.by for event in Shop(shop_url).additions(1)] == ["kim", "bo"]
    assert stands(shop_url, capsys) == (0, 2)


@pytest.mark.parametrize(
    ("sql", "why"),
    [
        ("UPDATE addition SET body = '{}'", "never changed or removed"),
        ("DELETE FROM addition", "never changed or removed"),
        ("TRUNCATE addition", "never changed or removed"),
        (
            "INSERT INTO addition (job, sha256, body) SELECT job, repeat('0', 64), body "
            "FROM addition",
            "addition_hash",
        ),
        (
            "INSERT INTO addition (job, sha256, body) SELECT job, sha256, event.body "
            "FROM addition JOIN event USING (job) WHERE place = 1",
            "only what the desk enters",
        ),
    ],
)
def test_the_database_refuses_what_is_no_entry(
    path: Path, shop_url: str, sql: str, why: str
) -> None:
    import sqlalchemy as sa

    publish(Journal(path), Server(shop_url))
    before = query(shop_url, "SELECT * FROM addition")
    with pytest.raises(Refused, match=why), Server(shop_url).transaction() as db:
        db.execute(sa.text(sql))
    assert query(shop_url, "SELECT * FROM addition") == before


def test_the_database_takes_none_of_an_open_job(path: Path, tmp_path: Path, shop_url: str) -> None:
    """Nor does publishing send what cannot be read; the job itself is sent."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        (body,) = db.execute("SELECT body FROM addition").fetchone()
        db.execute("INSERT INTO addition (job, body) VALUES (1, '{}')")
    open_one = Hands(tmp_path / "open.db").path
    with closing(schema.connect(open_one)) as db:
        db.execute("INSERT INTO addition (job, body) VALUES (1, ?)", (body,))
    for journal, why in ((path, "cannot be read"), (open_one, "the job is open")):
        (refusal,) = publish(Journal(journal), Server(shop_url)).refused
        assert why in refusal.why
    assert query(shop_url, "SELECT count(*) FROM job") == [(2,)]
    assert query(shop_url, "SELECT count(*) FROM addition") == [(0,)]
