"""The process that plays: it passes what it is sent to PortAudio's callback.

`python -m assistant.audio.playback [NAME]` reads orders from standard input, each an `ORDER` head
(what, a number) and, for PLAY, as many bytes of mono 16-bit sound at the device's rate, which hello
tells. It reports on standard output, each a `REPORT` (when, on the clock of time.monotonic; what;
the number of the last PLAY that is over).
"""

from __future__ import annotations

import struct
import sys
import threading
import time
from dataclasses import dataclass
from typing import Any, NoReturn

import numpy as np
import numpy.typing as npt

from assistant.audio import devices
from assistant.audio.device_process import hello, leave, serve
from assistant.audio.devices import Device, Kind

ORDER = struct.Struct("<cI")
REPORT = struct.Struct("<dcI")
PLAY, STOP, GAIN = b"P", b"S", b"G"
"""Play so many bytes; drop what is not played yet; set the gain, in hundredths."""
BEGUN, ENDED = b"B", b"E"
"""When the first and the last sample become audible, in seconds of `time.monotonic`."""


@dataclass(frozen=True)
class Playing:
    """Times of the playing process, in seconds. By judgement, not measured."""

    latency_s: float = 0.03
    """Sound that the device holds. Less stops sooner when interrupted, and stutters on slow
    computers."""
    fade_s: float = 0.005
    """Time in which sound is faded out when it is stopped: a step would click."""
    silent_s: float = 2.0
    """A device that has taken nothing for so long is gone."""
    poll_s: float = 0.01
    """Pause between looks at what is to be reported."""


PLAYING = Playing()


class Player:
    """PortAudio's callback: gives it the next samples of what is to be played.

    Sound is float32 from -1 to 1 at `rate`, shape (n,).
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._lock = threading.Lock()
        self._sound: npt.NDArray[np.float32] = np.zeros(0, np.float32)
        self._gain = self._wanted = 1.0
        self._sent = 0
        self._playing = False
        self._reports: list[bytes] = []
        self.calls = 0

    def play(self, sound: npt.NDArray[np.float32]) -> None:
        """Play this after what there is."""
        with self._lock:
            self._sound = np.concatenate([self._sound, sound])
            self._sent += 1

    def stop(self) -> None:
        """Drop what is not played yet, with a short fade."""
        with self._lock:
            left = self._sound[: round(PLAYING.fade_s * self._rate)]
            self._sound = left * np.linspace(1, 0, len(left), dtype=np.float32)

    def gain(self, wanted: float) -> None:
        """Set the gain from now on; 1 plays sound as it was sent."""
        with self._lock:
            self._wanted = wanted

    def reports(self) -> bytes:
        """Return the reports since the last call."""
        with self._lock:
            reports, self._reports = self._reports, []
        return b"".join(reports)

    def __call__(self, out: Any, frames: int, times: Any, status: Any) -> None:
        """Fill one block, shape (frames, channels)."""
        self.calls += 1
        ahead = times.outputBufferDacTime - times.currentTime
        heard = time.monotonic() + (ahead if 0 < ahead < 1 else 0.0)
        with self._lock:
            now, self._sound = self._sound[:frames], self._sound[frames:]
            if self._gain != self._wanted:
                ramp = np.linspace(self._gain, self._wanted, frames, dtype=np.float32)
                self._gain = self._wanted
            else:
                ramp = np.full(frames, self._gain, np.float32)
            out[:] = 0
            out[: len(now)] = (now * ramp[: len(now)])[:, None]
            if len(now) and not self._playing:
                self._playing = True
                self._reports.append(REPORT.pack(heard, BEGUN, self._sent))
            if self._playing and not len(self._sound):
                self._playing = False
                end = heard + len(now) / self._rate
                self._reports.append(REPORT.pack(end, ENDED, self._sent))


def run(name: str | None) -> NoReturn:
    """Play until the device stops or the sender closes."""
    library = devices.portaudio()
    device = devices.find(name, Kind.LOUDSPEAKER)
    rate, player, stream = _opened(library, device)
    hello(name=device.name, rate=rate)
    threading.Thread(target=_report, args=(player, stream), daemon=True).start()
    orders = sys.stdin.buffer
    while len(head := orders.read(ORDER.size)) == ORDER.size:
        what, number = ORDER.unpack(head)
        if what == PLAY:
            samples = np.frombuffer(orders.read(number), "<i2")
            player.play(samples.astype(np.float32) / np.float32(32768))
        elif what == STOP:
            player.stop()
        elif what == GAIN:
            player.gain(number / 100)
    leave()


def _opened(library: Any, device: Device) -> tuple[int, Player, Any]:
    """Open the device at its own rate, with one channel or with the two that some insist on."""
    rate = round(library.query_devices(device.number)["default_samplerate"])
    for channels in (1, 2):
        player = Player(rate)
        try:
            stream = library.OutputStream(
                samplerate=rate,
                channels=channels,
                dtype="float32",
                device=device.number,
                latency=PLAYING.latency_s,
                callback=player,
            )
            stream.start()
        except library.PortAudioError as error:
            if channels == 1 and devices.is_bad_channel_count(error):
                continue
            raise devices.refused(error, device, Kind.LOUDSPEAKER) from None
        return rate, player, stream
    raise AssertionError


def _report(player: Player, stream: Any) -> None:
    out = sys.stdout.buffer
    moved, calls = time.monotonic(), -1
    while True:
        now = time.monotonic()
        if player.calls != calls:
            moved, calls = now, player.calls
        if not stream.active or now - moved > PLAYING.silent_s:
            leave()
        if reports := player.reports():
            try:
                out.write(reports)
                out.flush()
            except OSError:
                leave()
        time.sleep(PLAYING.poll_s)


if __name__ == "__main__":
    serve(run)
