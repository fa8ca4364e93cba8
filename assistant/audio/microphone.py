"""The microphone, as blocks of 16 kHz mono 16-bit PCM."""

import queue
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from assistant.audio.pcm import RATE
from assistant.errors import AssistantError

BLOCK_S = 0.03
"""Length of a block."""

_QUEUED_BLOCKS = 500
_SILENT_S = 5.0


@contextmanager
def blocks(device: str | int | None = None) -> Iterator[Iterator[bytes]]:
    """Open the microphone; within the context its blocks come one after another without end.

    The queue holds 15 s. Where whoever takes them falls behind that, the oldest are lost rather
    than the latest. No sound library, no device, or a device that stops: AssistantError.
    """
    try:
        import sounddevice
    except (ImportError, OSError):
        # The wheels for Linux bring no PortAudio.
        raise AssistantError(
            "No microphone can be used: PortAudio is not installed (on Debian: apt install "
            "libportaudio2). Without it use --typed or --from FILE."
        ) from None
    waiting: queue.Queue[bytes] = queue.Queue(_QUEUED_BLOCKS)

    def take(data: Any, frames: int, time: Any, status: Any) -> None:
        if waiting.full():
            waiting.get_nowait()
        waiting.put_nowait(bytes(data))

    try:
        stream = sounddevice.RawInputStream(
            samplerate=RATE,
            blocksize=round(BLOCK_S * RATE),
            channels=1,
            dtype="int16",
            device=device,
            callback=take,
        )
        stream.start()
    except (sounddevice.PortAudioError, ValueError) as error:
        raise AssistantError(
            f"No microphone found ({error}). Plug one in, or use --typed or --from FILE."
        ) from None
    try:
        yield _taken(waiting)
    finally:
        stream.stop()
        stream.close()


def _taken(waiting: "queue.Queue[bytes]") -> Iterator[bytes]:
    while True:
        try:
            yield waiting.get(timeout=_SILENT_S)
        except queue.Empty:
            raise AssistantError(
                f"The microphone has given nothing for {_SILENT_S:.0f} s. Plug it in again, and "
                "take the job up with: assistant resume"
            ) from None
