"""The microphone, as blocks of 16 kHz mono 16-bit PCM, each with the time at which it was taken."""

from __future__ import annotations

import logging
import queue
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import IO

from assistant.audio.capture import BLOCK_BYTES, BLOCK_S, HEAD
from assistant.audio.device_process import DeviceProcess
from assistant.audio.devices import Kind

_AHEAD = 20
"""Blocks (30 ms) that are fetched ahead. The rest waits in the recording process, which counts what
it loses."""
_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Block:
    """`BLOCK_S` seconds of sound."""

    data: bytes
    at: float
    """When its last sample was taken, in seconds on the clock of time.monotonic."""
    follows: bool = True
    """Whether it follows the block before it without a gap."""


class Microphone(DeviceProcess):
    """A microphone that may go and come back. No loss of sound goes unnoticed."""

    kind = Kind.MICROPHONE
    _module = "assistant.audio.capture"

    def __init__(
        self, name: str | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        super().__init__(name, clock)
        self.lost_blocks = 0
        """Blocks that were lost because they were not read in time."""
        self.overflows = 0
        """How often the system lost sound before this program had it."""
        self._blocks: queue.Queue[Block] = queue.Queue(_AHEAD)
        self._told_of_loss = False

    def next(self, timeout: float = 0.25) -> Block | None:
        """Return the next block; None where none comes within `timeout` seconds."""
        try:
            return self._blocks.get(timeout=timeout)
        except queue.Empty:
            return None

    def tend(self) -> str | None:
        """Retry a lost device. Returns a sentence to speak when it goes or returns, else None.

        Each loss of sound is logged; the first returns a sentence too.
        """
        news = super().tend()
        if news is not None or self._told_of_loss or not (self.lost_blocks or self.overflows):
            return news
        self._told_of_loss = True
        return (
            "I could not keep up, and some sound was lost. Say again what I did not answer. "
            "Close other programs on this computer."
        )

    def _read(self, stream: IO[bytes], stale: Callable[[], bool]) -> None:
        size = HEAD.size + BLOCK_BYTES
        lost_before = overflows_before = 0
        follows = False
        while len(frame := stream.read(size)) == size:
            at, lost, overflows = HEAD.unpack_from(frame)
            if lost > lost_before or overflows > overflows_before:
                self.lost_blocks += lost - lost_before
                self.overflows += overflows - overflows_before
                _log.warning(
                    "Sound was lost: %.2f s in the queue, %d times in the device.",
                    (lost - lost_before) * BLOCK_S,
                    overflows - overflows_before,
                )
                follows = False
            lost_before, overflows_before = lost, overflows
            block = Block(frame[HEAD.size :], at, follows)
            while not stale():
                try:
                    self._blocks.put(block, timeout=1.0)
                    break
                except queue.Full:
                    continue
            follows = True

    def _lost(self) -> str:
        return (
            "I hear nothing: the microphone is gone. Plug it in again, or bring the headset "
            "nearer. The job stays where it is."
        )

    def _returned(self) -> str:
        return "The microphone is back. Say the last thing again."
