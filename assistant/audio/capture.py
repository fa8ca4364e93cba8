"""The process that records: PortAudio's callback, a bounded queue, and its way to the program.

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
from typing import Any, NoReturn

from assistant.audio import devices
from assistant.audio.device_process import hello, leave, serve
from assistant.audio.devices import Device, Kind
from assistant.audio.pcm import RATE

BLOCK_S = 0.03
"""Length of a block."""
BLOCK_BYTES = round(BLOCK_S * RATE) * 2
HEAD = struct.Struct("<dII")

QUEUED_S = 15.0
"""So much is kept for whoever falls behind; of more, the oldest is lost."""
_LATENCY_S = 0.15
"""Held by the device meanwhile; a callback that is late by less loses nothing."""
_SILENT_S = 2.0
_FIRST_SILENT_S = 5.0
"""A device that gives nothing for so long is gone; some take long to begin."""


class Taker:
    """What PortAudio calls with each block: it stamps, counts and queues, and nothing else."""

    def __init__(self, rate: int) -> None:
        self.waiting: queue.Queue[tuple[float, bytes]] = queue.Queue(round(QUEUED_S / BLOCK_S))
        self.lost = self.overflows = 0
        self._rate = rate

    def __call__(self, data: Any, frames: int, times: Any, status: Any) -> None:
        """Take one block."""
        self.overflows += bool(status.input_overflow)
        # Not every system tells when a sample was taken; late by half a second is not believable.
        ago = times.currentTime - times.inputBufferAdcTime - frames / self._rate
        at = time.monotonic() - (ago if 0 < ago < 0.5 else 0.0)
        try:
            self.waiting.put_nowait((at, bytes(data)))
        except queue.Full:
            self.waiting.get_nowait()
            self.lost += 1
            self.waiting.put_nowait((at, bytes(data)))


def run(name: str | None) -> NoReturn:
    """Record until the device or the reader ends."""
    library = devices.portaudio()
    device = devices.find(name, Kind.MICROPHONE)
    rate, taker, stream = _opened(library, device)
    threading.Thread(target=_until_closed, daemon=True).start()
    hello(name=device.name, rate=rate)
    convert = _converter(rate)
    out, rest, patience = sys.stdout.buffer, b"", _FIRST_SILENT_S
    while True:
        try:
            at, data = taker.waiting.get(timeout=patience)
        except queue.Empty:
            leave()
        patience = _SILENT_S
        rest += convert(data)
        while len(rest) >= BLOCK_BYTES:
            block, rest = rest[:BLOCK_BYTES], rest[BLOCK_BYTES:]
            end = at - len(rest) / 2 / RATE
            out.write(HEAD.pack(end, taker.lost, taker.overflows) + block)
            out.flush()
        if not stream.active and taker.waiting.empty():
            leave()


def _opened(library: Any, device: Device) -> tuple[int, Taker, Any]:
    """Open the device at 16 kHz, or else at the rate that it has."""
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
                latency=_LATENCY_S,
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
    """Return what turns sound at the device's rate into 16 kHz, as it comes."""
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
