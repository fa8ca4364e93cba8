"""The board's pages as a browser's parser sees them, from a bench's journal and from the shop."""

from __future__ import annotations

import dataclasses
import re
import sqlite3
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from assistant.desk import customer as desk
from assistant.dialogue import events
from assistant.journal.publication import publish
from assistant.journal.server import Server
from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from assistant.web import board, guard
from tests.bench_helpers import SMALL, Hands, flac
from tests.journal.postgres import postgres, shop_url
from tests.report.whole_job import FAILING, HOSTILE, Page, close_failing_job, failing_job
from tests.web import many_jobs

__all__ = ["postgres", "shop_url"]


def client(open_records: Callable[[], Journal | Shop]) -> TestClient:
    guarded = guard.Guard(board.app(open_records), guard.access(8620, None))
    return TestClient(guarded, base_url="http://127.0.0.1:8620")


@pytest.fixture(scope="module")
def journal(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Sixty jobs, one in five open."""
    path = Path(tmp_path_factory.mktemp("board")) / "journal.db"
    many_jobs.fill(path, 60).close()
    return path


@pytest.fixture(params=["bench", "shop"])
def pages(request: pytest.FixtureRequest, journal: Path) -> TestClient:
    if request.param == "bench":
        return client(lambda: Journal(journal, create=False))
    url = request.getfixturevalue("shop_url")
    publish(Journal(journal), Server(url), lambda text: None)
    return client(lambda: Shop(url))


def jobs_in(text: str) -> list[int]:
    return [int(number) for number in re.findall(r'href="/jobs/(\d+)"', text)]


def test_the_open_jobs_come_first(pages: TestClient) -> None:
    answer = pages.get("/")
    assert answer.status_code == 200
    assert jobs_in(answer.text) == list(range(60, 0, -5))
    parsed = Page(answer.text)
    assert "Open (12)" in parsed.text and "Closed (48)" in parsed.text
    assert "Step 4 of 6" in parsed.text and "Reading: bore" in parsed.text


def test_every_job_is_on_a_page_once(pages: TestClient) -> None:
    for view, wanted in (("closed", 48), ("all", 60)):
        seen: list[int] = []
        address = f"/?view={view}"
        while address:
            text = pages.get(address).text
            seen += jobs_in(text)
            older = re.search(r'<a href="([^"]+)" rel="next">Older</a>', text)
            address = older[1].replace("&amp;", "&") if older else ""
        assert seen == sorted(set(seen), reverse=True) and len(seen) == wanted


def test_what_waits_for_parts(pages: TestClient) -> None:
    waiting = set(jobs_in(pages.get("/?view=parts").text))
    assert 0 < len(waiting) < 12
    every = pages.get("/").text
    for item in re.findall(r'<li class="open">.*?\n</li>', every, re.DOTALL):
        (number,) = jobs_in(item)
        assert ("Waiting for parts" in item) == (number in waiting)


def test_findings_are_found_with_their_job(pages: TestClient) -> None:
    text = pages.get("/search", params={"q": "circl missing"}).text
    assert len(jobs_in(text)) == 25
    assert "circlip missing drum side" in text
    older = re.search(r'<a href="(/search[^"]+)" rel="next">', text)
    assert older is not None
    assert jobs_in(pages.get(older[1].replace("&amp;", "&")).text)[0] < jobs_in(text)[-1]
    assert jobs_in(pages.get("/search", params={"q": "serial 00017"}).text) == [17]
    assert "No job has all of these words" in pages.get("/search?q=xylophone").text
    for nothing in ("", " ", "?!", "\x00", '"'):
        assert "Type a word" in pages.get("/search", params={"q": nothing}).text
    assert pages.get("/search", params={"q": "a " * 5000 + '" OR *'}).status_code == 200


def test_a_jobs_record_is_the_report(pages: TestClient) -> None:
    answer = pages.get("/jobs/60")
    assert "What stands out" in answer.text
    policy = answer.headers["content-security-policy"]
    assert "script-src 'self';" in policy and "default-src 'none'" in policy
    # The file's own policy would keep the script from keeping it up to date.
    assert "http-equiv" not in answer.text
    assert 'src="/static/live.js"' in answer.text


def test_what_is_not_there_or_no_number(pages: TestClient) -> None:
    for address in (
        "/jobs/61",
        "/jobs/99999999999999999999",
        "/clips/7.flac",
        "/nothing",
        "/?view=x",
    ):
        answer = pages.get(address)
        assert answer.status_code == 404
        assert "Not shown" in Page(answer.text).text
    for before in ("x", "-1", "1e3", "²", "9" * 30):
        answer = pages.get("/", params={"before": before})
        assert answer.status_code == 400 and "?before=120" in answer.text
    assert jobs_in(pages.get("/?before=0").text) == []


def test_nothing_can_be_changed(pages: TestClient) -> None:
    for method in ("POST", "PUT", "PATCH", "DELETE"):
        for address in ("/", "/jobs/60", "/search", "/version"):
            assert pages.request(method, address).status_code == 405


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


def live(hands: Hands) -> TestClient:
    return client(lambda: Journal(hands.path, create=False))


def test_it_follows_a_bench_that_writes(hands: Hands) -> None:
    pages = live(hands)
    before = pages.get("/version").text
    record = pages.get("/jobs/1/version").text
    assert pages.get("/version").text == before
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    assert pages.get("/version").text != before
    assert pages.get("/jobs/1/version").text != record
    assert "Step 4 of 6" in pages.get("/").text
    assert f'data-version="{pages.get("/version").text}"' in pages.get("/").text
    assert f'data-version="{pages.get("/jobs/1/version").text}"' in pages.get("/jobs/1").text


def test_what_has_come_or_was_taken_back_is_not_waited_for(hands: Hands) -> None:
    hands.say("affirm", "order two drain plugs", "order one drain plug", "affirm")
    hands.say("order one circlip")
    pages = live(hands)
    assert "3 × drain plug, asked" in pages.get("/?view=parts").text
    hands.say("disregard")
    assert "circlip" not in pages.get("/?view=parts").text
    hands.say("drain plug received one")
    assert "2 × drain plug, asked" in pages.get("/?view=parts").text
    hands.say("drain plug received")
    assert jobs_in(pages.get("/?view=parts").text) == []
    hands.say("order one circlip", "close job", "affirm")
    assert jobs_in(pages.get("/?view=parts").text) == []


def test_what_the_customer_has_to_agree_to_is_waited_for(hands: Hands) -> None:
    hands.say("affirm", "end plate worn renew", "ask customer")
    pages = live(hands)
    text = pages.get("/?view=customer").text
    assert jobs_in(text) == [1] and "End plate worn, renew, at step 1" in text
    assert "For the customer to agree to" in pages.get("/jobs/1").text
    desk.enter(hands.bench.journal, 1, "declines", name="Mrs Hale")
    assert jobs_in(pages.get("/?view=customer").text) == []
    assert "says Mrs Hale" in pages.get("/jobs/1").text
    desk.enter(hands.bench.journal, 1, "waiting")
    assert jobs_in(pages.get("/?view=customer").text) == [1]
    hands.say("close job", "affirm")
    assert jobs_in(pages.get("/?view=customer").text) == []
    desk.enter(hands.bench.journal, 1, "agrees", name="Mrs Hale")
    assert "Customer agrees, says Mrs Hale" in pages.get("/?view=closed").text


def test_what_fails_is_marked_and_a_closed_job_with_it_is_not_complete(tmp_path: Path) -> None:
    job = failing_job(tmp_path / "failing.db")
    pages = live(job.hands)
    shown = Page(pages.get("/").text).text
    assert "2 results fail" in shown
    assert "Step 4: thick shim fitted, thin shim to be fitted" in shown
    assert "Step 1: found backlash 0.62 mm, at most 0.30 mm, by sam" in shown
    close_failing_job(job)
    shown = Page(pages.get("/?view=closed").text).text
    assert "Closed, complete, 2 conceded" in shown and "results fail" not in shown
    other = failing_job(tmp_path / "other.db")
    other.hands.say("skip step", "do it later", "skip step", "do it later", "close job", "affirm")
    shown = Page(live(other.hands).get("/?view=closed").text).text
    assert "Closed, not complete 2 results fail" in shown


def test_what_is_to_be_retested_is_marked_as_failing(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "failing.db", FAILING)
    hands.say("affirm", "reading found backlash 0.62", "affirm", "retest")
    shown = Page(live(hands).get("/").text).text
    assert "1 result fails" in shown
    assert "Step 1: found backlash 0.62 mm, at most 0.30 mm, to be retested" in shown


def test_a_wait_that_has_passed_is_not_outstanding(
    hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands.at_close()
    hands.say("skip step", "not fitted", "start timer")
    monkeypatch.setattr(board, "local_now", lambda: hands.now)
    pages = live(hands)
    assert "Cure, until" in pages.get("/").text
    hands.wait(minutes=9)
    assert "Cure, until" in pages.get("/").text
    hands.now = hands.now.replace(hour=23)
    assert "Cure" not in re.sub("Let it cure", "", pages.get("/").text)


def test_a_clip_is_played_whole_or_in_parts(hands: Hands) -> None:
    hands.say("affirm")
    sound = np.arange(100, dtype="<i2").tobytes()
    hands.hear("circlip missing drum side", sound=sound)
    clip = flac(sound)
    last = len(clip) - 1
    pages = live(hands)
    assert 'src="/clips/1.flac"' in pages.get("/jobs/1").text
    whole = pages.get("/clips/1.flac")
    assert (whole.content, whole.headers["content-type"]) == (clip, "audio/flac")
    for wanted, first, to in (("0-1", 0, 1), ("2-", 2, last), ("50-999999", 50, last)):
        part = pages.get("/clips/1.flac", headers={"range": f"bytes={wanted}"})
        assert part.status_code == 206 and part.content == clip[first : to + 1]
        assert part.headers["content-range"] == f"bytes {first}-{to}/{len(clip)}"
    beyond = {"range": f"bytes={len(clip)}-"}
    assert pages.get("/clips/1.flac", headers=beyond).status_code == 416
    for odd in ("bytes=-5", "bytes=5-2x", "lines=1-2", "bytes=0-1,3-4"):
        assert pages.get("/clips/1.flac", headers={"range": odd}).content == clip
    # Its own thread reads; a job's pages are the same after.
    assert pages.get("/clips/2.flac").status_code == 404


def test_nothing_said_or_given_becomes_markup(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "j.db", open_job=False)
    hands.bench.keeper.by = HOSTILE
    text = SMALL.replace("title: Small box", f"title: {HOSTILE!r}")
    hands.bench.open(hands.procedure.model_copy(update={"title": HOSTILE}), text, unit=HOSTILE)
    hands.say("affirm", f"note {HOSTILE}", "order two drain plugs")
    pages = live(hands)
    for address in (
        "/",
        "/search?q=script",
        "/jobs/1",
        f"/search?q={HOSTILE}",
        f"/?view={HOSTILE}",
    ):
        answer = pages.get(address)
        parsed = Page(answer.text)
        sources = [script.get("src") for script in parsed.all("script")]
        assert set(sources) <= {"/static/live.js"}
        assert "<script>" not in answer.text and not parsed.all("img")
    assert HOSTILE in Page(pages.get("/").text).text


def test_a_job_that_is_damaged_does_not_hide_the_others(tmp_path: Path) -> None:
    path = tmp_path / "j.db"
    many_jobs.fill(path, 10).close()
    with sqlite3.connect(path) as db:
        db.execute("DROP TRIGGER event_fixed")
        db.execute("UPDATE event SET body = replace(body, 'small-box', 'x') WHERE job = 9")
        db.execute("UPDATE event SET body = '{}' WHERE job = 10 AND place = 3")
    pages = client(lambda: Journal(path, create=False))
    answer = pages.get("/?view=all")
    assert jobs_in(answer.text) == list(range(10, 0, -1))
    assert answer.text.count("Cannot be read") == 1 and "assistant verify 10" in answer.text
    broken = pages.get("/jobs/10")
    assert broken.status_code == 503 and "is damaged" in broken.text


def test_standings_are_worked_out_once(journal: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[int] = []
    history = Journal.events

    def counted(self: Journal, job: int) -> tuple[events.Event, ...]:
        asked.append(job)
        return history(self, job)

    monkeypatch.setattr(Journal, "events", counted)
    monkeypatch.setattr(board, "_REMEMBERED", 30)
    pages = client(lambda: Journal(journal, create=False))
    pages.get("/")
    pages.get("/")
    assert len(asked) == 12
    for view in ("closed", "all", "open"):
        pages.get(f"/?view={view}")
    # More were asked for than are remembered.
    assert len(asked) > 12 + 25


def test_tally_and_lists_of_the_journal(journal: Path) -> None:
    records = Journal(journal)
    tally = records.tally()
    jobs = records.jobs()
    assert (tally.open, tally.closed) == (12, 48)
    assert tally.events == sum(job.events for job in jobs)
    assert [job.job for job in records.jobs(3, before=31, closed=True)] == [29, 28, 27]
    ordered = {j.job for j in records.jobs(ordered=True)}
    kinds = {j.job: {e.kind for e in records.events(j.job)} for j in jobs}
    assert ordered == {job for job, found in kinds.items() if "part ordered" in found}
    assert dataclasses.astuple(Journal(journal.with_name("new.db")).tally()) == (0, 0, 0, 0)
