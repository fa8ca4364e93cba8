"""A workshop without a sound card: PulseAudio of our own, whose two null sinks are the microphone
and the loudspeaker. What is said is played into the one, what is replied is recorded from the
other, and both can be taken away and given back.

Programs that are to use it run in `Room.environment`.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import threading
import time
from collections import deque
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType

import numpy as np
import numpy.typing as npt

RATE = 16_000
_CHUNK = 320
"""20 ms."""
_QUIET = 60.0
"""Samples of a null sink are exactly zero where nothing is played; this is -55 dBFS."""
_PROGRAMS = ("pulseaudio", "pacat", "parec")

_AHEAD_S = 0.3
"""So much is given to the server ahead of time: on a busy machine nothing said gets holes."""
_FIRST = ("nice", "-n", "-10") if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
"""A sound card does not wait for other programs either."""

Samples = npt.NDArray[np.int16]


def lacks() -> str | None:
    """Return what is missing for a room; None where all is there."""
    missing = [program for program in _PROGRAMS if shutil.which(program) is None]
    if missing:
        return f"{', '.join(missing)} not installed (on Debian: apt install pulseaudio)"
    try:
        import sounddevice
    except (ImportError, OSError):
        return "PortAudio not installed (on Debian: apt install libportaudio2)"
    del sounddevice
    if not _alsa_plugin():
        return "ALSA's way to PulseAudio not installed (on Debian: apt install libasound2-plugins)"
    return None


def _alsa_plugin() -> bool:
    return any(Path("/usr/lib").glob("**/alsa-lib/libasound_module_pcm_pulse.so"))


class Room:
    """The room, from `with` to its end. Times are of time.monotonic."""

    def __init__(self, *, noise: float = 12.0, echo: float = 0.0) -> None:
        self.environment: dict[str, str] = {}
        self._noise = np.random.default_rng(7)
        self._noise_level = noise
        self._echo = echo
        """How much of the loudspeaker reaches the microphone."""
        self._folder = Path(tempfile.mkdtemp(prefix="bench-room-"))
        self._to_say: deque[Samples] = deque()
        self._said_at = 0.0
        self._heard: list[tuple[float, Samples]] = []
        self._ends = threading.Event()
        self._threads: list[threading.Thread] = []

    def __enter__(self) -> Room:
        config = self._folder / "alsa.conf"
        config.write_text(
            "</usr/share/alsa/alsa.conf>\npcm.!default {type pulse}\nctl.!default {type pulse}\n"
        )
        self.environment = {
            **os.environ,
            "XDG_RUNTIME_DIR": str(self._folder),
            "XDG_CONFIG_HOME": str(self._folder / "config"),
            "PULSE_SERVER": f"unix:{self._folder}/native",
            "ALSA_CONFIG_PATH": str(config),
        }
        self._folder.chmod(0o700)
        self.power_on()
        for work in (self._play, self._record):
            self._threads.append(threading.Thread(target=work, daemon=True))
            self._threads[-1].start()
        self.settle()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._ends.set()
        self.power_off()
        for thread in self._threads:
            thread.join(5)
        shutil.rmtree(self._folder, ignore_errors=True)

    # The devices

    def power_on(self) -> None:
        """Start the sound server, with both devices."""
        script = self._folder / "server.pa"
        # Nobody can connect before all is there.
        script.write_text(
            "load-module module-null-sink sink_name=mic rate=48000\n"
            "load-module module-null-sink sink_name=spk rate=48000\n"
            "set-default-source mic.monitor\n"
            "set-default-sink spk\n"
            f"load-module module-native-protocol-unix socket={self._folder}/native\n"
        )
        self._server = subprocess.Popen(
            [
                *_FIRST,
                *("pulseaudio", "-n", "-F", str(script)),
                *("--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"),
            ],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        while not (self._folder / "native").exists():
            time.sleep(0.05)
        self._to_say.clear()

    def power_off(self) -> None:
        """End the sound server, as when both devices are pulled out at once."""
        self._server.kill()
        self._server.wait()
        (self._folder / "native").unlink(missing_ok=True)

    def settle(self) -> None:
        """Wait until both devices run: null sinks take up to two seconds to begin."""
        for _ in range(2):
            self._said_at = float("inf")
            self.said_at()
            begun = time.monotonic()
            while not self._heard or self._heard[-1][0] < begun:
                time.sleep(0.02)
            time.sleep(0.5)

    # Saying and hearing

    def say(self, sound: Samples) -> None:
        """Begin to say something into the microphone, after what is being said."""
        self._said_at = float("inf")
        self._to_say.extend(sound[i : i + _CHUNK] for i in range(0, len(sound), _CHUNK))

    def said_at(self) -> float:
        """Wait until all is said; return when its last sample went into the microphone."""
        while self._said_at == float("inf"):
            time.sleep(0.005)
        time.sleep(max(0.0, self._said_at - time.monotonic()))
        return self._said_at

    def forget(self) -> None:
        """Forget what was heard up to now."""
        self._heard = []

    def heard(self, since: float = 0.0) -> Samples:
        """Return what came out of the loudspeaker since then."""
        parts = [chunk for at, chunk in list(self._heard) if at >= since]
        return np.concatenate(parts) if parts else np.zeros(0, np.int16)

    def first_at(self, since: float) -> float:
        """Return when what `heard` gives began."""
        return next(at for at, _ in list(self._heard) if at >= since)

    def loud(self, since: float, until: float = float("inf")) -> list[float]:
        """Return the times between these at which something came out of the loudspeaker."""
        return [
            at
            for at, chunk in list(self._heard)
            if since <= at <= until and np.abs(chunk.astype(np.int32)).max() > _QUIET
        ]

    def silent_for(self, seconds: float, timeout: float = 60.0) -> bool:
        """Wait until nothing has come out of the loudspeaker for so long."""
        end = time.monotonic() + timeout
        while time.monotonic() < end:
            now = time.monotonic()
            if not self.loud(now - seconds):
                return True
            time.sleep(0.05)
        return False

    def _play(self) -> None:
        import fcntl  # There is none on Windows, where there is no room either.

        for process in self._streams("pacat", "mic", round(1000 * _AHEAD_S)):
            assert process.stdin is not None
            fcntl.fcntl(process.stdin, fcntl.F_SETPIPE_SZ, 4096)
            due = time.monotonic()
            with contextlib.suppress(OSError):
                while not self._ends.is_set():
                    process.stdin.write(self._next().tobytes())
                    process.stdin.flush()
                    now = time.monotonic()
                    if not self._to_say and self._said_at == float("inf"):
                        self._said_at = now + _AHEAD_S
                    if now > due + 0.1:
                        # A null sink takes a second to begin: what waits would be late for ever.
                        due = now + 0.2
                    due += _CHUNK / RATE
                    time.sleep(max(0.0, due - now))

    def _next(self) -> Samples:
        chunk = self._noise.normal(0, self._noise_level, _CHUNK)
        if self._to_say:
            said = self._to_say.popleft()
            chunk[: len(said)] += said
        if self._echo and self._heard:
            heard = self._heard[-1][1]
            chunk[: len(heard)] += self._echo * heard[:_CHUNK]
        return np.clip(np.round(chunk), -32768, 32767).astype(np.int16)

    def _record(self) -> None:
        for process in self._streams("parec", "spk.monitor", 20):
            assert process.stdout is not None
            while data := process.stdout.read(2 * _CHUNK):
                # The chunk began to be played so long before it was complete.
                at = time.monotonic() - len(data) / 2 / RATE
                self._heard.append((at, np.frombuffer(data[: len(data) // 2 * 2], np.int16)))

    def _streams(
        self, program: str, device: str, latency_ms: int
    ) -> Iterator[subprocess.Popen[bytes]]:
        """Start the program again whenever its device was away."""
        while not self._ends.is_set():
            process = subprocess.Popen(
                [
                    *_FIRST,
                    program,
                    f"--device={device}",
                    f"--latency-msec={latency_ms}",
                    f"--rate={RATE}",
                    *("--channels=1", "--format=s16le", "--raw"),
                ],
                env=self.environment,
                stdin=subprocess.PIPE if program == "pacat" else subprocess.DEVNULL,
                stdout=subprocess.PIPE if program == "parec" else subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
            try:
                yield process
            finally:
                process.kill()
                process.wait()
            time.sleep(0.1)
