"""The camera over the bench: which there are, and taking a picture with one.

The camera is opened for each picture and closed after it, so that it sees nothing in between and
may be plugged in at any time. It is opened in a thread of its own, because a camera that hangs must
not hold up the bench: after `PATIENCE_S` there is no picture, and work goes on.

A camera is named by its device as the system knows it, by part of its name, or, for trying things
out, by the path of a picture or video file, of which a frame is taken.
"""

from __future__ import annotations

import sys
import threading
from concurrent.futures import Future
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from assistant.errors import AssistantError
from assistant.imaging import pictures
from assistant.imaging.pictures import Picture

if TYPE_CHECKING:
    from PIL import Image

Trouble = Literal["not there", "no answer", "no picture"]
"""Why there is no picture: the camera cannot be opened; it did not answer in time; it answered
with none."""

PATIENCE_S = 6.0
"""How long a camera may take, in seconds. A USB camera takes one to two to open and to adjust."""
_FRAMES = 12
"""How many frames are taken; the last is kept. The first are dark while the exposure adjusts."""
DARK = 12.0
"""Mean brightness, 0 to 255, below which a picture shows nothing: a lens cap, or no light."""

_FORMATS = {"linux": "v4l2", "darwin": "avfoundation", "win32": "dshow"}
"""What FFmpeg calls cameras on each system."""
_LISTS_NONE = "assistant devices lists the cameras"


class NoPicture(AssistantError):
    """No picture was taken; `why` says of which kind the trouble is."""

    def __init__(self, text: str, why: Trouble) -> None:
        super().__init__(text)
        self.why: Trouble = why


@dataclass(frozen=True)
class Device:
    """A camera of this computer: the name that it is opened by, and what it calls itself."""

    name: str
    description: str

    def matches(self, name: str) -> bool:
        """Whether it is meant by a name: its own, or part of what it calls itself."""
        return name == self.name or name.casefold() in self.description.casefold()


def listed() -> list[Device]:
    """Return the cameras of this computer; none where the system names none."""
    import av

    kind = _FORMATS.get(sys.platform)
    if kind is None:
        return []
    try:
        found = av.enumerate_input_devices(kind)
    except (av.FFmpegError, OSError, ValueError):
        return []
    return [
        Device(one.name, one.description)
        for one in found
        # A system may not say which of its devices sees and which hears.
        if not one.media_types or "video" in one.media_types
    ]


def known(name: str) -> str:
    """Return the name that a camera is remembered by. Raises AssistantError where there is none of
    that name now.
    """
    if Path(name).is_file():
        return str(Path(name).resolve())
    # A device has a path, or on macOS a number, whether it is listed or not.
    if Path(name).exists() or (sys.platform == "darwin" and name.isdecimal()):
        return name
    there = listed()
    if any(one.matches(name) for one in there):
        return name
    names = "; ".join(f"{one.name} ({one.description})" for one in there)
    raise AssistantError(
        f"There is no camera {name!r}. "
        + (f"There are: {names}." if there else "There is none at all: plug one in.")
    )


@dataclass
class Camera:
    """A camera by its name; nothing is opened until a picture is taken."""

    name: str
    patience_s: float = PATIENCE_S
    _running: Future[Image.Image] | None = field(default=None, repr=False)

    def take(self) -> Picture:
        """Take a picture. Raises NoPicture where the camera gives none in time."""
        try:
            return pictures.kept(self._frame())
        except ValueError as error:
            raise NoPicture(f"The camera {self.name} gives no picture.", "no picture") from error

    def brightness(self) -> float:
        """Return how bright a picture is, 0 to 255. Raises NoPicture as `take` does."""
        from PIL import ImageStat

        return float(ImageStat.Stat(self._frame().convert("L")).mean[0])

    def _frame(self) -> Image.Image:
        if self._running is not None and not self._running.done():
            # A second thread would wait for the same device.
            raise self._silent()
        future: Future[Image.Image] = Future()
        self._running = future
        threading.Thread(target=self._run, args=(future,), name="camera", daemon=True).start()
        try:
            return future.result(self.patience_s)
        except TimeoutError as error:
            raise self._silent() from error
        except NoPicture:
            raise
        except Exception as error:
            # Whatever trips over a camera, the job goes on.
            raise NoPicture(
                f"The camera {self.name} gives no picture ({_told(error)}).", "no picture"
            ) from error

    def _silent(self) -> NoPicture:
        return NoPicture(
            f"The camera {self.name} gave no picture within {self.patience_s:.0f} s. Pull its plug "
            "and put it in again.",
            "no answer",
        )

    def _run(self, future: Future[Image.Image]) -> None:
        try:
            future.set_result(_grab(self.name))
        except BaseException as error:
            future.set_exception(error)


def _grab(name: str) -> Image.Image:
    """Return the last of a camera's first frames. Raises NoPicture."""
    import av
    from PIL import Image

    address, kind = _address(name)
    try:
        source = av.open(address, format=kind)
    except (av.FFmpegError, OSError, ValueError) as error:
        raise NoPicture(
            f"The camera {name} cannot be opened ({_told(error)}). See that it is plugged in and "
            f"that no other program uses it; {_LISTS_NONE}.",
            "not there",
        ) from error
    with source:
        frame = None
        try:
            for number, frame in enumerate(source.decode(video=0), 1):  # noqa: B007
                if number == _FRAMES:
                    break
        except (av.FFmpegError, OSError, ValueError, IndexError) as error:
            if frame is None:
                raise NoPicture(
                    f"The camera {name} gives no picture ({_told(error)}). Try another, with "
                    f"--camera; {_LISTS_NONE}.",
                    "no picture",
                ) from error
        if frame is None:
            raise NoPicture(f"The camera {name} gives no picture.", "no picture")
        return Image.fromarray(frame.to_ndarray(format="rgb24"))


def _told(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error) or type(error).__name__).rstrip(".")


def _address(name: str) -> tuple[str, str | None]:
    """Return what FFmpeg opens for a camera's name, and as what; None for a file."""
    if Path(name).is_file():
        return name, None
    kind = _FORMATS.get(sys.platform)
    # The device of that very name before one that has it in its description.
    meant = sorted((one for one in listed() if one.matches(name)), key=lambda d: d.name != name)
    device = meant[0].name if meant else name
    # DirectShow wants to be told that it is a name of a thing that sees.
    return (f"video={device}" if kind == "dshow" else device), kind
