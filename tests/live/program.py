"""The real program, run as a technician runs it, in a room; its screen is read line by line."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

from tests.benchmark import voices
from tests.live.room import Room

VOICE = "heart"


class Program:
    """`assistant run PROCEDURE …` in a room, from `start` to `end`."""

    def __init__(self, room: Room, folder: Path, procedure: str, *options: str) -> None:
        self.room = room
        self.journal = folder / "journal.db"
        file = folder / "procedure.yaml"
        file.write_text(procedure, encoding="utf-8")
        self.lines: list[tuple[float, str]] = []
        """What it printed, on either stream, and when."""
        self._command = [sys.executable, "-u", "-m", "assistant", "run", str(file)]
        self._command += ["--journal", str(self.journal), "--recogniser", "pocketsphinx", *options]
        self.begun = time.monotonic()
        self._process = subprocess.Popen(
            self._command,
            env={**room.environment, "PYTHONPATH": str(Path(__file__).parents[2])},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.lines.append((time.monotonic(), line.rstrip()))

    def wait_for(self, text: str, since: float = 0.0, timeout: float = 60.0) -> float:
        """Wait until a line with this text is printed; return when it was."""
        end = time.monotonic() + timeout
        while time.monotonic() < end:
            for at, line in list(self.lines):
                if at >= since and text in line:
                    return at
            time.sleep(0.005)
        raise AssertionError(f"{text!r} was not printed:\n{self.screen()}")

    def say(self, phrase: str) -> float:
        """Say a phrase; return when its last sample was said, without the pause after it."""
        self.room.say(voices.speak(phrase, VOICE, 0.0))
        return self.room.said_at()

    def ask(self, phrase: str, then: str, timeout: float = 30.0) -> float:
        """Say a phrase when nobody speaks, and wait for an answer with this text."""
        time.sleep(0.5)  # What was just printed may not have begun to be spoken.
        self.room.silent_for(0.6)
        begun = time.monotonic()
        self.say(phrase)
        return self.wait_for(then, begun, timeout)

    def screen(self) -> str:
        """Return all that was printed."""
        return "\n".join(line for _, line in self.lines)

    def end(self, timeout: float = 20.0) -> int:
        """Wait until it ends by itself, else interrupt it; return its exit status."""
        try:
            return self._process.wait(timeout)
        except subprocess.TimeoutExpired:
            self._process.send_signal(signal.SIGINT)
            return self._process.wait(10)

    @property
    def pid(self) -> int:
        """Its number with the system."""
        return self._process.pid
