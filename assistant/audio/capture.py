"""The process that records: from PortAudio's callback through a bounded queue to the program.

`python -m assistant.audio.capture [NAME]` writes blocks of sound to standard output, each as `HEAD`
(when its last sample was taken, on the clock of time.monotonic; how many blocks were lost in the
queue, and how often PortAudio lost some, since the start) and `BLOCK_BYTES` of 16 kHz mono PCM.
"""

from __future__ import annotations

import queue
import struct
import sys
import threading
import time
from dataclasses import dataclass
from typing import Any, NoReturn

from assistant.audio import devices
from assistant.audio.device_process import hello, leave, serve
from assistant.audio.devices import Device, Kind
from assistant.audio.pcm import RATE

BLOCK_S = 0.03
"""Length of a block, in seconds."""
BLOCK_BYTES = round(BLOCK_S * RATE) * 2
HEAD = struct.Struct("<dII")


@dataclass(frozen=True)
class Recording:
    """Times of the recording process, in seconds. By judgement, not measured."""

    queued_s: float = 15.0
    """Sound that is kept for a slow reader; of more, the oldest is lost."""
    latency_s: float = 0.15
    """Sound that the device holds; a callback that is late by less loses nothing."""
    first_silent_s: float = 5.0
    silent_s: float = 2.0
    """A device that gives nothing for so long, before its first block and after it, is gone."""
    oldest_s: float = 0.5
    """A block that is said to be older was not: not every system reports when it was taken."""


RECORDING = Recording()


class Taker:
    """PortAudio's callback: it stamps, counts and queues each block, and does nothing else."""

    def __init__(self, rate: int) -> None:
        self.waiting: queue.Queue[tuple[float, bytes]] = queue.Queue(
            round(RECORDING.queued_s / BLOCK_S)
        )
        self.lost = self.overflows = 0
        self._rate = rate

    def __call__(self, data: Any, frames: int, times: Any, status: Any) -> None:
        """Take one block."""
        self.overflows += bool(status.input_overflow)
        ago = times.currentTime - times.inputBufferAdcTime - frames / self._rate
        at = time.monotonic() - (ago if 0 < ago < RECORDING.oldest_s else 0.0)
        try:
            self.waiting.put_nowait((at, bytes(data)))
        except queue.Full:
            self.waiting.get_nowait()
            self.lost += 1
            self.waiting.put_nowait((at, bytes(data)))


def run(name: str | None) -> NoReturn:
    """Record until the device stops or the reader closes."""
    library = devices.portaudio()
    device = devices.find(name, Kind.MICROPHONE)
    rate, taker, stream = _opened(library, device)
    threading.Thread(target=_until_closed, daemon=True).start()
    hello(name=device.name, rate=rate)
    convert = _converter(rate)
    out, rest, patience = sys.stdout.buffer, b"", RECORDING.first_silent_s
    while True:
        try:
            at, data = taker.waiting.get(timeout=patience)
        except queue.Empty:
            leave()
        patience = RECORDING.silent_s
        rest += convert(data)
        while len(rest) >= BLOCK_BYTES:
            block, rest = rest[:BLOCK_BYTES], rest[BLOCK_BYTES:]
            end = at - len(rest) / 2 / RATE
            out.write(HEAD.pack(end, taker.lost, taker.overflows) + block)
            out.flush()
        if not stream.active and taker.waiting.empty():
            leave()


def _opened(library: Any, device: Device) -> tuple[int, Taker, Any]:
    """Open the device at 16 kHz, or else at its own rate."""
    own = round(library.query_devices(device.number)["default_samplerate"])
    for rate in (RATE, own):
        taker = Taker(rate)
        try:
            stream = library.RawInputStream(
                samplerate=rate,
                blocksize=round(BLOCK_S * rate),
                channels=1,
                dtype="int16",
                device=device.number,
                latency=RECORDING.latency_s,
                callback=taker,
            )
            stream.start()
        except library.PortAudioError as error:
            if rate == RATE != own and devices.is_bad_rate(error):
                continue
            raise devices.refused(error, device, Kind.MICROPHONE) from None
        return rate, taker, stream
    raise AssertionError


def _converter(rate: int) -> Any:
    """Return a function that resamples blocks from the device's rate to 16 kHz, as a stream."""
    if rate == RATE:
        return lambda data: data
    import numpy as np
    import soxr

    resampler = soxr.ResampleStream(rate, RATE, 1, dtype="int16")
    return lambda data: resampler.resample_chunk(np.frombuffer(data, np.int16)).tobytes()


def _until_closed() -> None:
    sys.stdin.buffer.read()
    leave()


if __name__ == "__main__":
    serve(run)
