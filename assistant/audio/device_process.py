"""A sound device in a process of its own, which is started again whenever it ends.

There are three reasons. PortAudio looks for devices only when it starts, so only a new process
finds a headset that was away. It may hang, or print without end, when a device is pulled out. And
a recogniser at work blocks other Python code of its process for up to a tenth of a second, which
would starve the device's callback.

The process says on one line of JSON what it opened, `{"name": …}`, or why it could not, `{"error":
…}`. It ends when the device stops, and when its standard input is closed.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable
from dataclasses import dataclass
from typing import IO, Any, NoReturn

from assistant.audio.devices import Kind
from assistant.errors import AssistantError


@dataclass(frozen=True)
class Retrying:
    """How long a device is waited for, in seconds. By judgement, not measured."""

    opening_s: float = 10.0
    """A device that is not open by then is given up. Shorter: slow wireless ones never open."""
    first_s: float = 0.5
    longest_s: float = 5.0
    """Pause before the first retry; it doubles up to the longest."""


RETRYING = Retrying()


class DeviceProcess(ABC):
    """This program's side of a device: knows whether it is connected, and retries a lost one.

    Used from one thread; `_read` runs in another. `clock` is in seconds.
    """

    kind: Kind
    _module: str

    def __init__(self, name: str | None, clock: Callable[[], float] = time.monotonic) -> None:
        self.name = name
        self.device: dict[str, Any] = {}
        """What the process reported: the name of what it opened, and its rate."""
        self.connected = False
        self._clock = clock
        self._process: subprocess.Popen[bytes] | None = None
        self._error = ""
        self._said = threading.Event()
        """Set when the present process has said whether it could open the device."""
        self._started = self._retry_at = 0.0
        self._retry_s = RETRYING.first_s
        self._was_lost = False

    def open(self) -> None:
        """Open the device and wait until it is open. Raises AssistantError where it cannot be."""
        self._start()
        self._said.wait(RETRYING.opening_s)
        if not self.connected:
            self.close()
            raise AssistantError(
                self._error or f"The {self.kind.value} does not answer. Plug it in again."
            )

    def close(self) -> None:
        """Release the device."""
        process, self._process, self.connected = self._process, None, False
        if process is not None:
            process.kill()
            process.wait()
            if process.stdin is not None:
                with contextlib.suppress(OSError):
                    process.stdin.close()

    def tend(self) -> str | None:
        """Retry a lost device. Returns a sentence to speak when it goes or returns, else None.

        Never waits. Call it often.
        """
        now = self._clock()
        if self.connected:
            if self._was_lost:
                self._was_lost = False
                return self._returned()
            return None
        if self._process is not None and self._gave_up(now):
            self.close()
            self._retry_at = now + self._retry_s
            self._retry_s = min(2 * self._retry_s, RETRYING.longest_s)
            if not self._was_lost:
                self._was_lost = True
                return self._lost()
        if self._process is None and now >= self._retry_at:
            self._start()
        return None

    @abstractmethod
    def _read(self, stream: IO[bytes], stale: Callable[[], bool]) -> None:
        """Read what the process sends until it ends, or is `stale`: replaced by another."""

    @abstractmethod
    def _lost(self) -> str:
        """Return the sentence that says that the device is gone."""

    @abstractmethod
    def _returned(self) -> str:
        """Return the sentence that says that it is back."""

    def _gave_up(self, now: float) -> bool:
        return self._said.is_set() or now - self._started > RETRYING.opening_s

    def _start(self) -> None:
        self._said = threading.Event()
        self._error = ""
        self._started = self._clock()
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", self._module, *([self.name] if self.name else [])],
            # The same package as here, whatever folder this was started in.
            env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            # PortAudio and ALSA print there what no technician can use.
            stderr=subprocess.DEVNULL,
        )
        threading.Thread(target=self._follow, args=(self._process, self._said), daemon=True).start()

    def _follow(self, process: subprocess.Popen[bytes], said: threading.Event) -> None:
        def stale() -> bool:
            return process is not self._process

        assert process.stdout is not None
        with process.stdout as stream:
            hello = json.loads(stream.readline() or b"{}")
            if not stale() and "name" in hello:
                self.device, self.connected = hello, True
                self._retry_s = RETRYING.first_s
                said.set()
                self._read(stream, stale)
        if not stale():
            self.connected, self._error = False, hello.get("error", "")
        said.set()


# In the process itself


def serve(run: Callable[[str | None], NoReturn]) -> NoReturn:
    """Run a device's process; `run` gets the device's name, and reports what it opened itself."""
    # Ctrl-C is for the program that listens; it closes our input when it ends.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        run(sys.argv[1] if len(sys.argv) > 1 else None)
    except AssistantError as error:
        hello(error=str(error))
    except BrokenPipeError:
        pass
    leave()


def hello(**what: Any) -> None:
    """Report on one line what was opened, or why nothing was."""
    sys.stdout.buffer.write(json.dumps(what).encode() + b"\n")
    sys.stdout.buffer.flush()


def leave() -> NoReturn:
    """End at once: PortAudio may hang in closing a device."""
    os._exit(0)
