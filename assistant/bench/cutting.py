"""Cuts what comes in from a device into lines: bytes of a serial line, keys of the terminal.

Pure: the times are given, in seconds of a clock that only goes forward. What must never come out
is the rest of a line whose beginning was lost, since "2.05" is as good a value as "12.05".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from assistant.bench.attached import Attached
from assistant.bench.sent_lines import LONGEST


@dataclass(frozen=True)
class Timing:
    """In seconds. By judgement, not measured on instruments."""

    settle_s: float = 0.25
    """What arrives so soon after a line was opened may have begun before. Longer: a value that is
    sent at once has to be sent again."""
    half_s: float = 1.0
    """A line that stops for so long was cut off. Devices send one within a tenth of it."""
    key_s: float = 0.1
    """Keys further apart than this were not typed by a device. Shorter: a slow one is not told
    from people. Longer: a key that begins as a device's line does counts so much later."""


TIMING = Timing()


@dataclass
class SerialLines:
    """Cuts the bytes of a serial line that was opened at a time."""

    opened: float
    _begun: bytes = b""
    _last: float = float("-inf")
    _skipping: bool = False
    """Whether what comes up to the next end of a line is the rest of one that was lost."""

    def feed(self, data: bytes, at: float) -> list[str | None]:
        """Return the lines that end in these bytes, which may be none; None for one cut off."""
        found: list[str | None] = []
        if self._begun and at - self._last > TIMING.half_s:
            if not self._skipping:
                found.append(None)
            self._begun, self._skipping = b"", True
        if data:
            self._last = at
            if at - self.opened < TIMING.settle_s:
                self._skipping = True
        # A line may end in CR, LF or both; what is empty is no line.
        *whole, rest = (self._begun + data).replace(b"\r", b"\n").split(b"\n")
        for line in whole:
            if self._skipping:
                found.append(None)
                self._skipping = False
            elif line.strip():
                found.append(_decoded(line))
        self._begun = rest
        if len(rest) > LONGEST:
            self._begun, self._skipping = b"", True
        return found


def _decoded(line: bytes) -> str:
    try:
        return line.decode()
    except UnicodeDecodeError:
        # Older devices send "µ" and "°" as Latin-1.
        return line.decode("latin-1")


@dataclass
class TypedLines:
    """Tells the lines that devices type from the presses of keys and pedals.

    Nobody presses two keys within a tenth of a second: keys that come so fast and are no line of a
    device, such as half of one, are neither.
    """

    devices: Sequence[Attached]
    """Those that type."""
    _begun: str = ""
    _last: float = float("-inf")
    _before: str = ""
    """The key before, where it came just now and was none of a device's line."""
    _stray: bool = False
    """Whether several keys came at once that are no line of a device."""
    _lines: list[tuple[Attached, str | None]] = field(default_factory=list)

    def feed(self, sent: str, at: float) -> str:
        """Take what the terminal gave since the last time; return the presses in it.

        Call it often, with "" for nothing. Enter is "\\r". The lines are then in `lines`.
        """
        if not sent:
            # A pause is seen by finding nothing: the bench may have been busy for a while.
            return self._paused() if at - self._last > TIMING.key_s else ""
        pressed, self._last = "", at
        if sent.startswith("\x1b"):
            # A function key sends several characters at once.
            return pressed + self._let_go() + sent
        for key in sent:
            device = of_line(self._begun, self.devices) if key == "\r" else None
            if device is not None:
                self._lines.append((device, self._begun))
                self._begun, self._before = "", key
                continue
            begins = bool(self._begun) or self._before in ("", "\r")
            self._begun += key
            if not (begins and self._may_be_a_line()):
                pressed += self._let_go()
        return pressed

    def lines(self) -> list[tuple[Attached, str | None]]:
        """Return the lines that ended, each once, with the device that typed it; None for one that
        was cut off.
        """
        found, self._lines = self._lines, []
        return found

    def _paused(self) -> str:
        device = of_line(self._begun, self.devices)
        if device is not None and device.prefix:
            self._lines.append((device, None))
        pressed = self._let_go()
        self._before, self._stray = "", False
        return pressed

    def _let_go(self) -> str:
        """Give up the line that was begun; return what of it may be a press, held or not."""
        begun, self._begun = self._begun, ""
        self._stray = self._stray or len({*begun, *self._before}) > 1
        self._before = begun[-1:] or self._before
        return "" if self._stray else begun

    def _may_be_a_line(self) -> bool:
        begun = self._begun
        if len(begun) > LONGEST or not begun.isprintable():
            return False
        return any(
            (begun.startswith(one.prefix) or one.prefix.startswith(begun))
            if one.prefix
            else begun[0] != " "
            for one in self.devices
        )


def of_line(line: str, devices: Sequence[Attached]) -> Attached | None:
    """Return the device that typed a line; None where it was none of them, but somebody."""
    return next(
        (one for one in devices if len(line) > len(one.prefix) and line.startswith(one.prefix)),
        None,
    )
