"""A serial port that a device sends lines on, read in a thread of its own.

The thread opens the port, reads it, and opens it again where it was lost; the bench never waits for
it. A recogniser at work may hold it up for a tenth of a second, which the system's buffer bridges,
so that it needs no process of its own as sound devices do.
"""

from __future__ import annotations

import contextlib
import queue
import threading
import time
from collections.abc import Callable

import serial

from assistant.audio.device_process import RETRYING
from assistant.bench.attached import Attached, framing
from assistant.bench.cutting import SerialLines

Line = tuple[float, str | None]
"""When a line ended, and the line; None for one that was cut off."""

MOST_WAITING = 16
"""How many lines wait to be taken. A button gives one now and then; a device that sends on and on
fills it, and what is more is lost."""
_READ_S = 0.1
_AT_ONCE = 256


class SerialPort:
    """The port of one device. All but the thread's own work is done in the bench's thread."""

    def __init__(self, device: Attached, clock: Callable[[], float] = time.monotonic) -> None:
        if device.port is None:
            raise ValueError(f"the {device.name} has no port")
        self.device = device
        self._port, self._clock = device.port, clock
        self._lines: queue.Queue[Line] = queue.Queue(MOST_WAITING)
        self._stop = threading.Event()
        self._connected = threading.Event()
        self._failed = threading.Event()
        """Set when it could not be opened, or was lost, since it was last connected."""
        self._told_lost = False
        self._thread = threading.Thread(target=self._run, name=f"{device.name}", daemon=True)

    def open(self, patience_s: float = 1.0) -> None:
        """Begin to read, and wait for a moment until it is open or known to be away."""
        self._thread.start()
        until = self._clock() + patience_s
        while not (self._connected.is_set() or self._failed.is_set()) and self._clock() < until:
            time.sleep(0.01)

    def close(self) -> None:
        """Let go of the port."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join(timeout=1.0)

    @property
    def connected(self) -> bool:
        """Whether the device is there."""
        return self._connected.is_set()

    def tend(self) -> str | None:
        """Return a sentence to speak when the device goes or comes back, once each; else None."""
        name = self.device.name
        if self.connected:
            if self._told_lost:
                self._told_lost = False
                return f"The {name} is back."
            return None
        if self._failed.is_set() and not self._told_lost:
            self._told_lost = True
            return f"The {name} is not connected. Plug it in, or say its values."
        return None

    def next(self) -> Line | None:
        """Return the next line that has come; None for none. Never waits."""
        try:
            return self._lines.get_nowait()
        except queue.Empty:
            return None

    # In the thread

    def _run(self) -> None:
        pause = RETRYING.first_s
        while not self._stop.is_set():
            try:
                with self._opened() as port:
                    pause = RETRYING.first_s
                    self._failed.clear()
                    self._connected.set()
                    self._read(port)
            except (OSError, ValueError):
                # Lost, or never there; pyserial's own error is an OSError.
                self._failed.set()
            self._connected.clear()
            self._stop.wait(pause)
            pause = min(2 * pause, RETRYING.longest_s)

    def _opened(self) -> serial.Serial:
        baud, bits, parity, stop = framing(self.device.line)
        # What was sent before, pyserial drops on opening.
        return serial.Serial(self._port, baud, bits, parity, stop, timeout=_READ_S, exclusive=True)

    def _read(self, port: serial.Serial) -> None:
        lines = SerialLines(self._clock())
        while not self._stop.is_set():
            data = port.read(_AT_ONCE)
            for line in lines.feed(data, self._clock()):
                with contextlib.suppress(queue.Full):
                    self._lines.put_nowait((self._clock(), line))
