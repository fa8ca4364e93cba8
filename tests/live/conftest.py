"""Says loudly where the live tests could not be run: a build without them proves less."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.live import room as rooms

_NOT_RUN = "LIVE AUDIO TESTS WERE NOT RUN"


@pytest.fixture
def room(request: pytest.FixtureRequest) -> Iterator[rooms.Room]:
    """A room with a microphone and a loudspeaker; its parameter is how strong the echo is."""
    lacking = rooms.lacks()
    if lacking is not None:
        pytest.skip(f"{_NOT_RUN}: {lacking}")
    with rooms.Room(echo=getattr(request, "param", 0.0)) as room:
        yield room


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    reasons = {
        report.longrepr[2]
        for report in terminalreporter.stats.get("skipped", [])
        if isinstance(report.longrepr, tuple) and _NOT_RUN in report.longrepr[2]
    }
    for reason in reasons:
        terminalreporter.write_line(reason.removeprefix("Skipped: "), red=True, bold=True)
