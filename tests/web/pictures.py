"""Makes the pictures of the README: python -m tests.web.pictures

The winch gearbox is typed by the demo's own script up to the top cover, so what is shown is what
the program shows. Needs Chromium.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from assistant.cli import demo
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.web import board, serving
from assistant.web.display import Display
from tests.bench_helpers import Hands
from tests.web import browser, many_jobs

FOLDER = Path(__file__).resolve().parents[2] / ".pictures"
_LARGEST = 150_000
_SIZE = {"width": 1120, "height": 700}


def main() -> None:
    """Make both."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, browser.chromium() as chromium:
        path = Path(folder) / "journal.db"
        many_jobs.fill(path, 15).close()
        source = reading.find(demo.PROCEDURE).read_text(encoding="utf-8")
        hands = Hands(path, source, open_job=False)
        display = Display(hands.bench.presenter, hands.bench.clock, "say “bench” first")
        hands.bench.open(hands.procedure, source, unit="serial 4471")
        _work(hands)
        for name, app in (
            ("display", display.app()),
            ("board", board.app(lambda: Journal(path, create=False))),
        ):
            served = serving.claim(serving.Opening("127.0.0.1:0"))
            server = serving.Server(app, served)
            server.start()
            with browser.page(chromium, viewport=_SIZE) as page:
                page.goto(served.link)
                page.wait_for_timeout(1000)
                file = FOLDER / f"{name}.png"
                page.screenshot(path=file)
            server.stop()
            size = file.stat().st_size
            print(f"{file} {size / 1000:.0f} kB")
            assert size < _LARGEST


def _work(hands: Hands) -> None:
    """Type the demo up to the top cover's torques."""
    for part in demo.script():
        if isinstance(part, demo.Pause):
            hands.wait(seconds=part.time.total_seconds())
            continue
        hands.say(part.text)
        if hands.bench.state.step.id == "fit-top-cover":
            break
    hands.say("start timer ten minutes", "tightened four zero", "correction one four")


if __name__ == "__main__":
    main()
