"""Both pages in a real Chromium: they follow, come back, fetch nothing else, are accessible."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from assistant.journal.store import Journal
from assistant.web import board, serving
from assistant.web.display import Display
from tests.bench_helpers import SMALL, Hands
from tests.report.whole_job import HOSTILE
from tests.web import browser, many_jobs

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SCHEMES = ("light", "dark")
LONG = "Wipe the joint face with a dry cloth, guide the shaft through the seal with the sleeve. "


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser.chromium() as running:
        yield running


@pytest.fixture
def page(chromium: Browser) -> Iterator[Page]:
    with browser.page(chromium) as page:
        yield page


class Bench:
    """A bench with its display at a port that stays the same when it is started again."""

    def __init__(self, path: Path, text: str = SMALL) -> None:
        self.text = text
        self.port = 0
        self.hands = Hands(path, text, open_job=False)
        self.serve()

    def serve(self) -> None:
        self.display = Display(
            self.hands.bench.presenter, self.hands.bench.clock, "to what is typed"
        )
        served = serving.claim(serving.Opening(f"127.0.0.1:{self.port}"))
        self.link, self.port = served.link, served.socket.getsockname()[1]
        self.server = serving.Server(self.display.app(), served)
        self.server.start()

    def open(self) -> None:
        self.hands.bench.open(self.hands.procedure, self.text, unit="serial 4471")

    def stop(self) -> None:
        self.display.stop()
        self.server.stop()

    def at_the_torque(self) -> None:
        self.open()
        self.hands.at_close()
        self.hands.say("affirm", "tightened seven")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path / "journal.db")
    yield bench
    bench.stop()


def see(page: Page, selector: str, text: str) -> None:
    """Wait until an element shows the text."""
    page.locator(selector).filter(has_text=re.compile(text)).first.wait_for(timeout=30_000)


def wait_until(page: Page, expression: str) -> None:
    """Wait until an expression is true; Playwright's own way is what the page's policy forbids."""
    from playwright.sync_api import Error

    for _ in range(600):
        # While the page is loaded anew there is nothing to ask.
        with suppress(Error):
            if page.evaluate(expression):
                return
        page.wait_for_timeout(50)
    raise AssertionError(expression)


def watched(page: Page, link: str) -> list[str]:
    """Return what goes wrong on a page or is asked of others, as it comes."""
    wrong: list[str] = []

    def asked(url: str) -> None:
        if not url.startswith((link, "data:", "blob:")):
            wrong.append(url)

    page.on("request", lambda request: asked(request.url))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on("console", lambda line: wrong.append(line.text) if line.type == "error" else None)
    return wrong


def sideways(page: Page) -> int:
    """Return how many pixels a page could be scrolled sideways."""
    wide = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return int(wide)


def cut_off(page: Page) -> list[str]:
    """Return what on the display is larger than its place, but for a line's empty descent."""
    found = page.evaluate(
        """[...document.querySelectorAll("#doing, #asked, #talk, #focus, #status, body")]
        .filter((e) => e.scrollHeight > e.clientHeight + 4 || e.scrollWidth > e.clientWidth + 1)
        .map((e) => e.id || e.tagName)"""
    )
    return list(found)


# The display


def test_the_display_follows_a_typed_session(page: Page, bench: Bench) -> None:
    wrong = watched(page, bench.link)
    page.goto(bench.link)
    see(page, "#word", "Starting")
    bench.open()
    see(page, "#word", "Listening")
    see(page, "#hazards", "warning.*The spring is under load")
    bench.hands.at_close()
    bench.hands.say("affirm", "tightened seven", "start timer ten minutes")
    see(page, "#value", "^14$")
    see(page, "#unit", "^N·m$")
    see(page, "#notes", "thread-locker, medium strength")
    see(page, ".latest .cue", "Recorded")
    see(page, ".count", r"^(10:00|9:5\d)$")
    bench.hands.say("tightened four zero")
    see(page, "#value", r"^40\?$")
    see(page, ".latest .cue", "Question")
    bench.hands.say("correction one four", "what is the weather like")
    see(page, ".latest .cue", "Not taken")
    bench.hands.say("stand by")
    see(page, "#word", "Standing by")
    page.reload()
    see(page, "#word", "Standing by")
    see(page, "#value", "^90°$")
    assert wrong == []


@pytest.mark.slow
def test_a_lost_connection_is_told_and_comes_back_by_itself(page: Page, bench: Bench) -> None:
    page.goto(bench.link)
    bench.at_the_torque()
    see(page, "#value", "^14$")
    bench.server.stop()
    see(page, "#lost", "No connection to the bench since .* What is shown is old")
    assert "old" in (page.get_attribute("body", "class") or "")
    see(page, "#value", "^14$")
    bench.hands.say("tightened one four")
    bench.serve()
    bench.hands.say("read back")
    see(page, "#value", "^90°$")
    page.locator("#lost").wait_for(state="hidden")
    assert "old" not in (page.get_attribute("body", "class") or "")
    bench.stop()
    see(page, "#lost", "The assistant was stopped at .* What is shown is old")


@pytest.mark.slow
def test_a_bench_that_falls_silent_is_told(page: Page, bench: Bench) -> None:
    page.goto(bench.link)
    bench.at_the_torque()
    see(page, "#value", "^14$")
    # As of a network that swallows everything: the connection stands, and nothing comes.
    page.route("**/events", lambda route: None)
    page.evaluate("source.close()")
    see(page, "#lost", "No connection to the bench")


@pytest.mark.slow
def test_another_version_of_the_page_is_loaded_anew(page: Page, bench: Bench) -> None:
    bench.open()
    page.goto(bench.link)
    see(page, "#word", "Listening")
    page.evaluate("document.body.dataset.version = 'older'; connect()")
    wait_until(page, "document.body.dataset.version !== 'older'")


def test_nothing_said_is_taken_as_html(page: Page, bench: Bench) -> None:
    wrong = watched(page, bench.link)
    bench.hands.bench.keeper.by = HOSTILE
    bench.open()
    page.goto(bench.link)
    bench.hands.say("affirm", f"note {HOSTILE}", f"<img src=x onerror=alert(1)> {HOSTILE}")
    see(page, ".latest q", "<img src=x")
    assert page.locator("main img, main script, q *").count() == 0
    see(page, "#job", re.escape(HOSTILE))
    assert wrong == []


@pytest.mark.slow
@pytest.mark.parametrize("size", [browser.TABLET, browser.MONITOR, {"width": 1024, "height": 690}])
def test_nothing_is_cut_off_and_the_torque_is_read_from_three_metres(
    chromium: Browser, tmp_path: Path, size: dict[str, int]
) -> None:
    hazards = "hazards: [{signal: danger, say: 'X'}, {signal: notice, say: 'X'}]\n        "
    text = SMALL.replace("before: [{affirm", f"{hazards}before: [{{affirm").replace(
        "'X'", f"'{LONG * 3}'"
    )
    text = text.replace("Fit the end plate.", LONG * 4).replace(
        "torque: 14 N·m", "torque: 112.5 N·m"
    )
    text = text.replace("{strength: medium}", f"{{strength: medium, note: '{LONG}'}}")
    bench = Bench(tmp_path / "j.db", text)
    bench.hands.bench.keeper.by = "Aleksandra Wojciechowska-Brandt"
    with browser.page(chromium, viewport=size) as page:
        bench.open()
        page.goto(bench.link)
        for phrases in (
            ["affirm", "bag one", "next step", "splined shaft", "next step"],
            ["reading bore 25.01", "reading shaft 24.98", "next step"],
            ["affirm", "affirm", "tightened seven"],
            [f"start timer {number} hours" for number in ("two", "thirty", "sixty", "five", "six")],
            ["what words"],
            ["tightened four zero"],
        ):
            bench.hands.say(*phrases)
            see(page, ".latest q", f"^{phrases[-1]}$")
            page.wait_for_timeout(100)
            assert cut_off(page) == [], phrases
            if page.locator("#focus[data-kind=torque]").count():
                assert digits_mm(page) >= 17.4, "20 minutes of arc at 3 m"
    bench.stop()


def digits_mm(page: Page) -> float:
    """Return the height of the figure's digits on a 10 inch tablet, itself 136 mm high."""
    font = page.evaluate("parseFloat(getComputedStyle(figure).fontSize) / innerHeight")
    return float(font) * 0.7 * 136  # A digit's share of the font size: see DEVELOPERS.md.


@pytest.mark.slow
def test_where_there_is_room_the_torque_is_larger(page: Page, bench: Bench) -> None:
    bench.at_the_torque()
    page.goto(bench.link)
    for phrase in ("what torque", "start timer ten minutes", "start timer two hours"):
        bench.hands.say(phrase)
        see(page, ".latest q", phrase)
        page.wait_for_timeout(100)
        assert digits_mm(page) >= 26, "30 minutes of arc at 3 m"


@pytest.mark.slow
@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_display_is_accessible(chromium: Browser, bench: Bench, scheme: str) -> None:
    """In each state, large and zoomed; axe-core measures contrast too."""
    for size in (browser.TABLET, {"width": 640, "height": 400}, {"width": 320, "height": 256}):
        with browser.page(chromium, viewport=size, color_scheme=scheme) as page:
            page.goto(bench.link)
            if not bench.hands.bench.job:
                see(page, "#word", "Starting")
                assert browser.violations(page) == []
                bench.at_the_torque()
                bench.hands.say("start timer ten minutes")
            for phrase in (
                "tightened four zero",
                "disregard",
                "what torque",
                "nonsense",
                "stand by",
            ):
                bench.hands.say(phrase)
                see(page, ".latest q", phrase)
                assert browser.violations(page) == [], phrase
                assert sideways(page) == 0
            bench.hands.say("resume")
    with browser.page(chromium, color_scheme=scheme) as page:
        page.goto(bench.link)
        see(page, "#word", "Listening")
        bench.stop()
        see(page, "#lost", "old")
        assert browser.violations(page) == []


@pytest.mark.slow
def test_zooming_makes_the_displays_words_larger(chromium: Browser, bench: Bench) -> None:
    """At 200 % a window has half the CSS pixels; words have to be twice as large on the screen."""
    bench.at_the_torque()
    sizes = []
    for factor in (1, 2):
        size = {name: pixels // factor for name, pixels in browser.MONITOR.items()}
        with browser.page(chromium, viewport=size) as page:
            page.goto(bench.link)
            see(page, "#value", "14")
            found = page.evaluate(
                """["#notes", ".latest .reply", "#job"].map((name) =>
                parseFloat(getComputedStyle(document.querySelector(name)).fontSize))"""
            )
            sizes.append([font * factor for font in found])
            assert sideways(page) == 0
    for before, after in zip(*sizes, strict=True):
        # As it is they fill the screen: what is not twice as large is large as it stands.
        assert after >= min(2 * before, 40)


# The board


class Board:
    """A journal of many jobs with one that is being worked on, served."""

    def __init__(self, path: Path) -> None:
        many_jobs.fill(path, 40).close()
        self.hands = Hands(path)
        self.hands.say("affirm")
        hum = (np.sin(np.arange(16000) / 10) * 9000).astype(np.int16)
        self.hands.hear("circlip missing drum side", sound=hum.tobytes())
        served = serving.claim(serving.Opening("127.0.0.1:0"))
        self.link = served.link
        app = board.app(lambda: Journal(path, create=False))
        self.server = serving.Server(app, served)
        self.server.start()


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Board]:
    shop = Board(Path(tmp_path_factory.mktemp("board")) / "journal.db")
    yield shop
    shop.server.stop()


ADDRESSES = (
    "",
    "?view=parts",
    "?view=closed",
    "search?q=circlip",
    "search?q=",
    "jobs/41",
    "jobs/99",
)


@pytest.mark.slow
def test_the_board_is_used_by_the_keyboard(page: Page, shop: Board) -> None:
    wrong = watched(page, shop.link)
    page.goto(shop.link)

    def focused() -> str:
        return str(page.evaluate("document.activeElement.textContent.trim()"))

    page.keyboard.press("Tab")
    assert focused() == "Skip to the jobs"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert focused().startswith("Job 41")
    page.keyboard.press("Enter")
    page.wait_for_url("**/jobs/41")
    page.locator("#q").focus()
    page.keyboard.type("circl miss")
    page.keyboard.press("Enter")
    page.wait_for_url("**/search?q=circl+miss")
    see(page, "h1", "Found: circl miss")
    # Whatever has the focus shows it.
    for _ in range(12):
        page.keyboard.press("Tab")
        outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert outline not in ("none", "")
    assert wrong == []


@pytest.mark.slow
def test_a_clip_plays_and_the_record_follows(page: Page, shop: Board) -> None:
    page.goto(f"{shop.link}jobs/41")
    wrong = watched(page, shop.link)
    page.evaluate("document.querySelector('audio').muted = true")
    page.evaluate("document.querySelector('audio').play()")
    wait_until(page, "document.querySelector('audio').ended")
    shop.hands.say("end plate broken")
    see(page, ".remarks", "End plate broken")
    page.goto(shop.link)
    link = page.locator("#job-41")
    link.focus()
    shop.hands.say("order two drain plugs")
    see(page, ".parts", "2 × drain plug")
    assert page.evaluate("document.activeElement.id") == "job-41"
    assert wrong == []


@pytest.mark.slow
@pytest.mark.parametrize("scheme", SCHEMES)
def test_the_board_is_accessible(chromium: Browser, shop: Board, scheme: str) -> None:
    for size in (browser.TABLET, {"width": 640, "height": 400}, {"width": 320, "height": 256}):
        with browser.page(chromium, viewport=size, color_scheme=scheme) as page:
            for address in ADDRESSES:
                page.goto(shop.link + address)
                page.locator("main").wait_for()
                assert sideways(page) == 0, address
                if size["width"] != 640:
                    assert browser.violations(page) == [], address


@pytest.mark.slow
def test_a_board_that_is_gone_is_told(page: Page, tmp_path: Path) -> None:
    shop = Board(tmp_path / "j.db")
    page.goto(shop.link)
    shop.server.stop()
    see(page, "#stale", "No connection to the board since .* may be old")
    assert browser.violations(page) == []


@pytest.mark.slow
def test_the_token_in_a_browser(page: Page, bench: Bench) -> None:
    served = serving.claim(serving.Opening("127.0.0.1:0", to_network=True))
    server = serving.Server(bench.display.app(), served)
    server.start()
    bench.open()
    bare = served.link.partition("?")[0]
    page.goto(bare)
    see(page, "body", "Open this page by the link")
    page.goto(served.link)
    see(page, "#word", "Listening")
    assert page.url == bare
    assert page.evaluate("document.cookie") == ""
    page.reload()
    see(page, "#word", "Listening")
    server.stop()
    # Started again without a token of the shop's own, it has another.
    again = serving.claim(
        serving.Opening(bare.removeprefix("http://").rstrip("/"), to_network=True)
    )
    server = serving.Server(bench.display.app(), again)
    server.start()
    see(page, "#lost", "The bench has a new link")
    server.stop()


def test_what_goes_wrong_would_be_seen(page: Page, bench: Bench) -> None:
    """The checks above can fail."""
    wrong: list[Any] = watched(page, bench.link)
    bench.open()
    page.goto(bench.link)
    see(page, "#word", "Listening")
    page.evaluate("document.querySelector('#word').style.color = '#0e6048'")
    page.evaluate("document.querySelector('#say').style.width = '3000px'")
    assert any("contrast" in one for one in browser.violations(page))
    assert cut_off(page)
    page.evaluate("fetch('http://192.0.2.1/').catch(() => 0)")
    assert any("192.0.2.1" in one for one in wrong)
