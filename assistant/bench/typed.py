"""Reads a bench's phrases from typed lines, those of instruments and scanners among them."""

from __future__ import annotations

import queue
import threading
from collections.abc import Iterator
from typing import TextIO

from assistant.bench.inputs import Inputs
from assistant.bench.protocols import Attended

_LOOK_S = 0.05
"""How often serial lines are looked at while nobody types."""


def attend(bench: Attended, lines: TextIO, inputs: Inputs) -> None:
    """Act on each line until they end or the job does.

    A line that begins with the prefix of a device that types was typed by it. Devices with a serial
    line are heard in between.
    """
    with inputs.opened():
        for line in _with_serial(bench, lines, inputs) if inputs.wired else lines:
            received = inputs.typed(line)
            if received is None:
                bench.typed(line)
            elif lines.isatty():
                inputs.hand_over(received, bench)
            else:
                # Nobody's button bounces in a file.
                bench.sent(received.device, received.line)
            if bench.over:
                break


def _with_serial(bench: Attended, lines: TextIO, inputs: Inputs) -> Iterator[str]:
    """Yield the lines as they come, and act in between on what serial lines bring."""
    typed: queue.Queue[str | None] = queue.Queue()

    def read() -> None:
        for line in lines:
            typed.put(line)
        typed.put(None)

    # A daemon, for nothing but Enter ends its waiting.
    threading.Thread(target=read, name="typed lines", daemon=True).start()
    while True:
        inputs.attend(bench)
        if bench.over:
            return
        try:
            line = typed.get(timeout=_LOOK_S)
        except queue.Empty:
            continue
        if line is None:
            return
        yield line
