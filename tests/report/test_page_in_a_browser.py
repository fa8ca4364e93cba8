"""The record and the tags in a real browser: they load, play, print, and anybody can read them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pypdf
import pytest

from assistant.report import page as record_page
from assistant.report import tags
from tests.report.overhaul import Overhaul
from tests.report.whole_job import FORMULA, HOSTILE, Job
from tests.web import browser as browsers

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

NARROW = {"width": 400, "height": 800}
LONG = "word " * 400 + "x" * 500
INCH = {"A4": (210 / 25.4, 297 / 25.4), "Letter": (8.5, 11)}
"""ISO 216 and ANSI/ASME Y14.1."""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsers.chromium() as running:
        yield running


@pytest.fixture(scope="module")
def files(
    job: Job, failing: Job, overhaul: Overhaul, tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """The pages as files: a small job, one in which results fail, a whole overhaul, and one with
    long texts everywhere.
    """
    folder = tmp_path_factory.mktemp("pages")
    record = overhaul.record()
    small, failed = job.record(), failing.record().nonconformities[1]
    failed = failed.model_copy(update={"part": LONG, "before": (LONG,), "name": "f" * 200})
    note = small.notes[0].model_copy(update={"text": LONG})
    finding = small.findings[0].model_copy(update={"part": "y" * 300, "place": LONG})
    order = small.orders[0].model_copy(update={"part": LONG, "part_number": "z" * 200})
    reading = small.readings[0].model_copy(update={"name": "n" * 200, "unit": "u" * 60})
    long = record.model_copy(
        update={
            "title": "T" * 200,
            "unit": "U" * 400,
            "nonconformities": (failed,),
            "notes": (note,),
            "findings": (finding,),
            "orders": (order,),
            "readings": (reading,),
        }
    )
    for name, text in {
        "small": record_page.html(job.record(), job.clips),
        "failing": record_page.html(failing.record(), failing.clips),
        "overhaul": record_page.html(record, overhaul.clips),
        "long": record_page.html(long, overhaul.clips),
    }.items():
        (folder / f"{name}.html").write_text(text, encoding="utf-8")
    uid = overhaul.bench.journal.identity(1).uid
    made = tags.tags(record, overhaul.bench.state, uid)
    made[0] = replace(made[0], contents=LONG)
    for name, sheet in tags.SHEETS.items():
        (folder / f"{name}.html").write_text(tags.html(made * 4, sheet), encoding="utf-8")
    return folder


NAMES = ("small", "failing", "overhaul", "long")


@pytest.mark.parametrize(
    "name",
    [*NAMES[:2], *(pytest.param(name, marks=pytest.mark.slow) for name in NAMES[2:])],
)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_anybody_can_read_it(browser: Browser, files: Path, name: str, scheme: str) -> None:
    with browsers.page(browser, color_scheme=scheme, bypass_csp=True) as page:
        page.goto((files / f"{name}.html").as_uri())
        assert not browsers.violations(page)


@pytest.mark.parametrize("name", NAMES)
def test_it_asks_for_nothing_and_runs_nothing(browser: Browser, files: Path, name: str) -> None:
    with browsers.page(browser) as page:
        asked: list[str] = []
        trouble: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("dialog", lambda dialog: trouble.append(dialog.message))
        page.on("console", lambda message: trouble.append(message.text))
        page.on("pageerror", lambda error: trouble.append(str(error)))
        page.goto((files / f"{name}.html").as_uri())
        page.wait_for_load_state("networkidle")
        own = (files / f"{name}.html").as_uri()
        assert [url for url in asked if url != own and not url.startswith("data:audio/")] == []
        assert trouble == []
        assert page.locator("script, iframe, object, link, a, form").count() == 0


def test_what_was_said_is_shown_as_it_was_said(browser: Browser, files: Path) -> None:
    with browsers.page(browser) as page:
        page.goto((files / "small.html").as_uri())
        assert page.get_by_text(HOSTILE, exact=False).first.is_visible()
        assert page.get_by_text(FORMULA, exact=False).first.is_visible()


def test_a_clip_plays(browser: Browser, files: Path) -> None:
    with browsers.page(browser) as page:
        page.goto((files / "overhaul.html").as_uri())
        clip = page.locator("audio").first
        length = clip.evaluate("clip => clip.duration")
        played = clip.evaluate(
            "clip => new Promise((done, fail) => { clip.onended = () => done(clip.currentTime);"
            " clip.onerror = () => fail(new Error(clip.error.message));"
            " clip.muted = true; clip.play(); })"
        )
        assert length > 0.5
        assert played == pytest.approx(length, abs=0.05)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("viewport", [NARROW, {"width": 700, "height": 900}, browsers.TABLET])
def test_nothing_scrolls_sideways(
    browser: Browser, files: Path, name: str, viewport: dict[str, int]
) -> None:
    with browsers.page(browser, viewport=viewport) as page:
        page.goto((files / f"{name}.html").as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
        inside = page.evaluate(
            "[...document.querySelectorAll('body *')].filter(e => e.scrollWidth > e.clientWidth + 1"
            " && getComputedStyle(e).overflowX != 'visible' && e.tagName != 'AUDIO')"
            ".map(e => e.outerHTML.slice(0, 200))"
        )
        assert inside == []


def _printed(page: Page, path: Path, paper: str | None) -> pypdf.PdfReader:
    page.pdf(path=path, format=paper, prefer_css_page_size=paper is None, print_background=True)
    return pypdf.PdfReader(path)


@pytest.mark.parametrize("paper", INCH)
@pytest.mark.parametrize(("name", "pages"), [("small", (3, 6)), ("overhaul", (13, 18))])
def test_it_prints_on_either_paper(
    browser: Browser, files: Path, tmp_path: Path, name: str, pages: tuple[int, int], paper: str
) -> None:
    with browsers.page(browser) as page:
        page.goto((files / f"{name}.html").as_uri())
        printed = _printed(page, tmp_path / "printed.pdf", paper)
    assert pages[0] <= len(printed.pages) <= pages[1]
    for number, sheet in enumerate(printed.pages, 1):
        size = (float(sheet.mediabox.width) / 72, float(sheet.mediabox.height) / 72)
        assert size == pytest.approx(INCH[paper], abs=0.02)
        text = sheet.extract_text()
        # Its place is on each page, and no page is an empty one.
        assert re.search(rf"\b{number} / {len(printed.pages)}(?!\d)", text)
        assert len(text) > 100


def test_a_table_that_goes_over_a_page_has_its_head_again(
    browser: Browser, files: Path, tmp_path: Path
) -> None:
    with browsers.page(browser) as page:
        page.goto((files / "overhaul.html").as_uri())
        printed = _printed(page, tmp_path / "printed.pdf", "A4")
    last = [sheet.extract_text() for sheet in printed.pages][-3:]
    for text in last:
        assert re.search(r"No\.\s*Step\s*State\s*Entered\s*Left", text)


def test_long_texts_are_printed_whole(browser: Browser, files: Path, tmp_path: Path) -> None:
    with browsers.page(browser) as page:
        page.goto((files / "long.html").as_uri())
        printed = _printed(page, tmp_path / "printed.pdf", "A4")
    text = "".join(sheet.extract_text() for sheet in printed.pages)
    # The note, the place, the part of the order and what failed before.
    text = re.sub(r"\s", "", text).lower()
    assert text.count("word") == 4 * 400
    # A page may end in the middle of a run of them.
    assert sum(map(len, re.findall(r"x{5,}", text))) == 4 * 500


@pytest.mark.parametrize("name", tags.SHEETS)
def test_tags_print_on_their_sheets_and_no_other_page(
    browser: Browser, files: Path, tmp_path: Path, name: str
) -> None:
    sheet = tags.SHEETS[name]
    with browsers.page(browser, bypass_csp=True) as page:
        page.goto((files / f"{name}.html").as_uri())
        assert not browsers.violations(page)
        cut = "tag => tag.scrollHeight > tag.clientHeight + 1"
        assert not page.evaluate(f"[...document.querySelectorAll('.tag, .tag > div')].some({cut})")
        printed = _printed(page, tmp_path / "tags.pdf", None)
    assert len(printed.pages) == -(-32 // sheet.count)
    box = printed.pages[0].mediabox
    assert float(box.width) / 72 * 25.4 == pytest.approx(sheet.paper[0], abs=0.5)
    assert float(box.height) / 72 * 25.4 == pytest.approx(sheet.paper[1], abs=0.5)
