"""A real Chromium without a window, driven by Playwright; the tests are left out without one."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
TABLET = {"width": 1280, "height": 800}
MONITOR = {"width": 1920, "height": 1080}


@contextmanager
def chromium() -> Iterator[Browser]:
    """A browser of this machine; skips the test where there is none."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed")
    path = next((found for name in _NAMES if (found := shutil.which(name))), None)
    if path is None:
        pytest.skip("there is no Chromium on this machine")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()


@contextmanager
def page(browser: Browser, **settings: Any) -> Iterator[Page]:
    """A page of its own that knows nothing of the others, and what it asks others for."""
    context = browser.new_context(**{"viewport": TABLET, **settings})
    try:
        yield context.new_page()
    finally:
        context.close()


def violations(page: Page) -> list[str]:
    """Return axe-core's serious and critical findings on the page as it stands."""
    import axe_playwright_python

    script = Path(axe_playwright_python.__file__).with_name("axe.min.js")
    page.evaluate(script.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run()")
    return [
        f"{one['id']} ({one['impact']}): {[node['html'] for node in one['nodes']][:3]}"
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
    ]
