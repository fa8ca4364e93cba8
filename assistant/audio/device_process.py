"""A sound device in a process of its own, which is started again whenever it ends.

Three things are easier to bear that way. PortAudio looks for devices only as it starts, so that a
headset that was away is found by a new process alone. In a device that was pulled out it may hang,
or print without end. And a recogniser at work, which lets no other Python code of its process run
for up to a tenth of a second, takes nothing from the device's callback.

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
from typing import IO, Any, NoReturn

from assistant.audio.devices import Kind
from assistant.errors import AssistantError

OPENING_S = 10.0
"""A device that is not open by then is given up."""
_FIRST_RETRY_S = 0.5
_LONGEST_RETRY_S = 5.0


class DeviceProcess(ABC):
    """This program's side of a device: knows whether it is there, and has it tried again.

    Used from one thread; `_read` runs in another. `clock` is in seconds.
    """

    kind: Kind
    _module: str

    def __init__(self, name: str | None, clock: Callable[[], float] = time.monotonic) -> None:
        self.name = name
        self.device: dict[str, Any] = {}
        """What the process said that it opened."""
        self.connected = False
        self._clock = clock
        self._process: subprocess.Popen[bytes] | None = None
        self._error = ""
        self._said = threading.Event()
        """Set when the present process has said whether it could open the device."""
        self._started = self._retry_at = 0.0
        self._retry_s = _FIRST_RETRY_S
        self._was_lost = False

    def open(self) -> None:
        """Open the device, and wait until it is. Where it cannot be: AssistantError says why."""
        self._start()
        self._said.wait(OPENING_S)
        if not self.connected:
            self.close()
            raise AssistantError(
                self._error or f"The {self.kind.value} does not answer. Plug it in again."
            )

    def close(self) -> None:
        """Let go of the device."""
        process, self._process, self.connected = self._process, None, False
        if process is not None:
            process.kill()
            process.wait()
            if process.stdin is not None:
                with contextlib.suppress(OSError):
                    process.stdin.close()

    def tend(self) -> str | None:
        """Have a lost device tried again; return a plain sentence when it goes, or comes back.

        Never waits. To be called often.
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
            self._retry_s = min(2 * self._retry_s, _LONGEST_RETRY_S)
            if not self._was_lost:
                self._was_lost = True
                return self._lost()
        if self._process is None and now >= self._retry_at:
            self._start()
        return None

    @abstractmethod
    def _read(self, stream: IO[bytes], stale: Callable[[], bool]) -> None:
        """Take what the process sends, until it ends, or is `stale`: another is wanted."""

    @abstractmethod
    def _lost(self) -> str:
        """Say that the device is gone."""

    @abstractmethod
    def _returned(self) -> str:
        """Say that it is back."""

    def _gave_up(self, now: float) -> bool:
        return self._said.is_set() or now - self._started > OPENING_S

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
                self._retry_s = _FIRST_RETRY_S
                said.set()
                self._read(stream, stale)
        if not stale():
            self.connected, self._error = False, hello.get("error", "")
        said.set()


# In the process itself


def serve(run: Callable[[str | None], NoReturn]) -> NoReturn:
    """Run a device's process; `run` is given the device's name, and says hello itself."""
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
    """Say on one line what was opened, or why not."""
    sys.stdout.buffer.write(json.dumps(what).encode() + b"\n")
    sys.stdout.buffer.flush()


def leave() -> NoReturn:
    """End at once, without asking PortAudio to close what it may hang in."""
    os._exit(0)
