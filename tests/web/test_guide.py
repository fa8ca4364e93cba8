"""The guides on the board: each is there, leads to the others, and is accessible."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pypdf
import pytest
from starlette.testclient import TestClient

from assistant.guide import guides
from assistant.journal.store import Journal
from assistant.web import board, guard, serving
from tests.report.whole_job import Page
from tests.web import browser

if TYPE_CHECKING:
    from playwright.sync_api import Browser


@pytest.fixture
def pages(tmp_path: Path) -> TestClient:
    app = board.app(lambda: Journal(tmp_path / "journal.db"))
    guarded = guard.Guard(app, guard.access(8620, None))
    return TestClient(guarded, base_url="http://127.0.0.1:8620")


def test_every_page_of_the_board_leads_to_the_guides(pages: TestClient) -> None:
    for path in ("/", "/search?q=circlip", "/guide", "/guide/card"):
        assert 'href="/guide"' in pages.get(path).text
    listed = pages.get("/guide").text
    for guide in guides.every():
        assert f'href="/guide/{guide.name}"' in listed
        assert guide.title in listed


@pytest.mark.parametrize("name", guides.NAMES)
def test_a_guide_and_all_that_it_leads_to_is_there(pages: TestClient, name: str) -> None:
    answer = pages.get(f"/guide/{name}")
    assert answer.status_code == 200
    page = Page(answer.text)
    assert guides.read(name).title in page.text
    for link in (*page.all("a"), *page.all("link")):
        place = link["href"] or ""
        if place.startswith("/"):
            assert pages.get(place).status_code == 200, place


def test_what_is_no_guide_is_not_found(pages: TestClient) -> None:
    for name in ("nothing", "guides.py", "..%2Fguide.css", "__init__"):
        assert pages.get(f"/guide/{name}").status_code == 404


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser.chromium() as running:
        yield running


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_guides_are_accessible(chromium: Browser, tmp_path: Path, scheme: str) -> None:
    app = board.app(lambda: Journal(tmp_path / "journal.db"))
    served = serving.claim(serving.Opening("127.0.0.1:0"))
    server = serving.Server(app, served)
    server.start()
    try:
        with browser.page(chromium, color_scheme=scheme) as page:
            for path in ("", *(f"/{name}" for name in guides.NAMES)):
                page.goto(f"{served.link.rstrip('/')}/guide{path}")
                assert browser.violations(page) == []
                width = page.evaluate("document.documentElement.scrollWidth - innerWidth")
                assert width <= 0, path
            page.goto(f"{served.link.rstrip('/')}/guide/card")
            page.pdf(path=tmp_path / "card.pdf", format="Letter")
    finally:
        server.stop()
    assert len(pypdf.PdfReader(tmp_path / "card.pdf").pages) == 1
