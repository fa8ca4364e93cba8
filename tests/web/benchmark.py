"""How quick the board is with many jobs: numbers, not pass or fail.

    python -m tests.web.benchmark [--jobs 10000] [--shop postgresql://…]

Each page is asked for as a browser does, over HTTP from a server in a thread of its own: the first
time, and then the middle and the worst of several. With --shop the same jobs are published there
first, to an empty database, and read from it.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from pathlib import Path

import httpx2

from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from assistant.web import board, serving
from tests.web import many_jobs

_REPEATS = 15


def main() -> None:
    """Fill a journal, serve it, and print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--jobs", type=int, default=10_000)
    parser.add_argument("--shop", metavar="URL", help="an empty database to publish to and read")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="assistant-board-") as folder:
        path = Path(folder) / "journal.db"
        begun = time.perf_counter()
        journal = many_jobs.fill(path, args.jobs)
        tally = journal.tally()
        print(
            f"{args.jobs} jobs, {tally.open} of them open, {tally.events} events, "
            f"{path.stat().st_size / 1e6:.0f} MB, filled in {time.perf_counter() - begun:.0f} s"
        )
        if args.shop:
            _publish(journal, args.shop)
        journal.close()
        _measure(path, args.jobs, args.shop)


def _publish(journal: Journal, url: str) -> None:
    from assistant.journal.publication import publish
    from assistant.journal.server import Server

    begun = time.perf_counter()
    publish(journal, Server(url), lambda text: None)
    print(f"published in {time.perf_counter() - begun:.0f} s")


def _measure(path: Path, jobs: int, shop: str | None) -> None:
    served = serving.claim(serving.Opening("127.0.0.1:0"))
    app = board.app(lambda: Shop(shop) if shop else Journal(path, create=False))
    server = serving.Server(app, served)
    server.start()
    middle = jobs // 2
    pages = {
        "open jobs": "/",
        "open jobs, an older page": f"/?before={middle}",
        "waiting for parts": "/?view=parts",
        "waiting for parts, older": f"/?view=parts&before={middle}",
        "closed jobs": "/?view=closed",
        "closed jobs, the oldest": "/?view=closed&before=20",
        "search, common words": "/search?q=circlip+missing",
        "search, one job": f"/search?q=serial+{middle:05}",
        "search, nothing found": "/search?q=xylophone",
        "search, common, older": f"/search?q=circlip&before={middle}",
        "a job's record": f"/jobs/{middle}",
        "has anything changed?": "/version",
    }
    print(f"{'page':28} {'first':>8} {'middle':>8} {'worst':>8} {'kB':>6}   times in ms")
    with httpx2.Client(base_url=served.link, timeout=60) as client:
        client.get("/static/board.css")
        for name, address in pages.items():
            times, size = [], 0
            for _ in range(_REPEATS + 1):
                begun = time.perf_counter()
                answer = client.get(address)
                times.append((time.perf_counter() - begun) * 1000)
                assert answer.status_code == 200, answer.text
                size = len(answer.content)
            first, *rest = times
            print(
                f"{name:28} {first:8.1f} {statistics.median(rest):8.1f} {max(rest):8.1f} "
                f"{size / 1000:6.1f}"
            )
    server.stop()


if __name__ == "__main__":
    main()
