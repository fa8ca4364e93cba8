"""A process that does what its name says, in place of a real device's. Run by test_devices."""

from __future__ import annotations

import os
import sys
import time
from typing import NoReturn

from assistant.audio.capture import BLOCK_BYTES, HEAD
from assistant.audio.device_process import hello, leave, serve
from assistant.audio.playback import BEGUN, ENDED, ORDER, PLAY, REPORT
from assistant.errors import AssistantError


def run(name: str | None) -> NoReturn:
    """Do as the name says."""
    if name == "busy":
        raise AssistantError("It is in use.")
    if name == "crash":
        os._exit(3)
    hello(name=name, rate=1000)
    if name == "twenty":
        for number in range(20):
            _block(number, 0, 0)
        time.sleep(0.5)
    elif name == "losing":
        for number, (lost, overflows) in enumerate([(0, 0), (7, 0), (7, 0), (7, 1)]):
            _block(number, lost, overflows)
        time.sleep(20)
    elif name == "plays":
        _play()
    leave()


def _block(number: int, lost: int, overflows: int) -> None:
    head = HEAD.pack(time.monotonic(), lost, overflows)
    sys.stdout.buffer.write(head + bytes([number]) * BLOCK_BYTES)
    sys.stdout.buffer.flush()


def _play() -> None:
    sent = 0
    while True:
        what, length = ORDER.unpack(sys.stdin.buffer.read(ORDER.size))
        if what != PLAY:
            return
        sys.stdin.buffer.read(length)
        sent += 1
        now = time.monotonic()
        report = REPORT.pack(now, BEGUN, sent) + REPORT.pack(now + 0.05, ENDED, sent)
        sys.stdout.buffer.write(report)
        sys.stdout.buffer.flush()


if __name__ == "__main__":
    serve(run)
