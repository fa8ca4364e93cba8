"""Tiny pictures for the tests, and cameras that are made up."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

from PIL import Image

from assistant.imaging.camera import NoPicture
from assistant.imaging.pictures import Picture, kept


def image(colour: str = "red", size: tuple[int, int] = (48, 32)) -> Image.Image:
    """Return a picture of one colour with a white corner, the upper left."""
    made = Image.new("RGB", size, colour)
    made.paste("white", (0, 0, size[0] // 4, size[1] // 4))
    return made


def file(path: Path, colour: str = "red", size: tuple[int, int] = (48, 32), **how: object) -> Path:
    """Write a picture in the form that the path's ending says."""
    image(colour, size).save(path, **how)
    return path


def data(of: Image.Image, form: str, **how: object) -> bytes:
    """Return a picture's file in a form that Pillow knows."""
    out = io.BytesIO()
    of.save(out, form, **how)
    return out.getvalue()


class Still:
    """A camera that gives pictures of these colours, one after another, the last for ever."""

    def __init__(self, *colours: str) -> None:
        self.colours = list(colours or ("red",))
        self.taken = 0
        self.on_taking: Callable[[], None] = lambda: None

    def take(self) -> Picture:
        self.on_taking()
        colour = self.colours[min(self.taken, len(self.colours) - 1)]
        self.taken += 1
        return kept(image(colour))


class Broken:
    """A camera that gives none."""

    def take(self) -> Picture:
        raise NoPicture("The camera /dev/video9 cannot be opened.", "not there")
