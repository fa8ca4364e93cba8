"""All instruments and scanners of a bench: what they send, in the order in which it is taken."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Protocol

from assistant.bench.attached import Attached
from assistant.bench.cutting import TypedLines, of_line
from assistant.bench.sent_lines import meaning
from assistant.bench.serial_port import MOST_WAITING, SerialPort
from assistant.dialogue import tag_codes

AGAIN_S = 0.7
"""What a device sends within so many seconds of its line before is not taken: a button that
bounces, or that was pressed twice. Nobody measures two things as fast. Longer: the second of two
quick scans is lost."""


@dataclass(frozen=True)
class Received:
    """One line that a device sent."""

    device: Attached
    line: str | None
    """None for one that was cut off."""
    at: float


class Receiver(Protocol):
    """Takes what devices send, as `Attended` does."""

    @property
    def over(self) -> bool:
        """Whether there is nothing left to listen for."""

    def sent(self, by: Attached, line: str | None) -> None:
        """Act on a line; None for one that was cut off."""

    def tell(self, text: str) -> None:
        """Say something about a device."""

    def not_taken(self, words: str, why: str) -> None:
        """Show a line that is not acted on, and why."""


class Inputs:
    """The instruments and scanners of a bench. `clock` is in seconds."""

    def __init__(
        self, devices: Sequence[Attached] = (), clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._clock = clock
        self._ports = [SerialPort(one, clock) for one in devices if not one.types]
        self._typing = [one for one in devices if one.types]
        self._typed = TypedLines(self._typing)
        self._came: dict[str, Received] = {}
        """The last line of each device, by its name."""
        self._warned: set[str] = set()
        """Devices of which it was told that they send too much, until they send in order again."""

    @property
    def types(self) -> bool:
        """Whether one of them types, so that the terminal has to be read key by key."""
        return bool(self._typing)

    @property
    def wired(self) -> bool:
        """Whether one of them has a serial line."""
        return bool(self._ports)

    @contextmanager
    def opened(self) -> Iterator[None]:
        """Read the serial lines within the context."""
        for port in self._ports:
            port.open()
        try:
            yield
        finally:
            for port in self._ports:
                port.close()

    def keys(self, sent: str) -> str:
        """Take what the terminal gave; return the presses of keys that nobody's line is made of."""
        return self._typed.feed(sent, self._clock()) if self._typing else sent

    def typed(self, line: str) -> Received | None:
        """Return a whole line of the terminal as that of the device that typed it.

        None where somebody typed it, as every line is without a prefix or a tag's code; and what is
        no value after an instrument's prefix, for words begin with letters as well.
        """
        line = line.strip()
        device = of_line(line, [one for one in self._typing if one.prefix])
        if device is not None and meaning(line, device, lambda uid: True) is None:
            device = None
        if device is None and line.startswith(tag_codes.START):
            device = next((one for one in self._typing if one.kind == "scanner"), None)
        return None if device is None else Received(device, line, self._clock())

    def attend(self, bench: Receiver) -> bool:
        """Hand to a bench what has come, and say which device went or came back; never waits.

        Returns whether anything was handed over.
        """
        for port in self._ports:
            news = port.tend()
            if news is not None:
                bench.tell(news)
        taken = False
        for received in self._received():
            if bench.over:
                break
            taken = self.hand_over(received, bench) or taken
        return taken

    def hand_over(self, received: Received, bench: Receiver) -> bool:
        """Hand one line to a bench, if it is no bounce of the line before. Returns whether it was.

        What is left out is shown, and said where it was another value than the one before.
        """
        device, name = received.device, received.device.name
        before, self._came[name] = self._came.get(name), received
        if before is None or received.at - before.at >= AGAIN_S:
            self._warned.discard(name)
            bench.sent(device, received.line)
            return True
        bench.not_taken(received.line or "", f"the {name} sent it right after another")
        if received.line != before.line and name not in self._warned:
            self._warned.add(name)
            bench.tell(f"The {name} sent more than one value at once. Only the first was taken.")
        return False

    def _received(self) -> Iterator[Received]:
        for port in self._ports:
            # No more than wait at once, or a device that sends on and on would keep the bench here.
            for _ in range(MOST_WAITING):
                came = port.next()
                if came is None:
                    break
                yield Received(port.device, came[1], came[0])
        for device, line in self._typed.lines():
            yield Received(device, line, self._clock())
