"""Pictures as they are kept: JPEG, upright, of bounded size, and with nothing in it but the image.

Every picture is decoded and encoded anew before it is kept. That leaves out whatever else its file
holds, such as where it was taken, by whose telephone, and comments; and nothing but an image that
could be decoded gets into the record.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageOps

from assistant.errors import AssistantError

LONGEST = 2048
"""Pixels of the longer side that are kept; a crack or a stamped number still shows at that."""
MOST_BYTES = 2_000_000
"""Of a picture that is kept. One with more in it is encoded more coarsely."""
MOST_FILE_BYTES = 64_000_000
"""Of a file that is read; more than any camera makes of one picture."""

_QUALITIES = (85, 70, 50, 30)
"""JPEG quality (0 to 100), the first that keeps to MOST_BYTES is taken. At 85 no loss is seen."""


@dataclass(frozen=True)
class Picture:
    """A picture as it is kept: JPEG bytes, width and height in pixels."""

    jpeg: bytes
    width: int
    height: int


def read(path: Path) -> Picture:
    """Return the picture in a JPEG or PNG file, as it is kept.

    Raises AssistantError, naming the file, where there is none that can be read.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MOST_FILE_BYTES + 1)
    except OSError as error:
        raise AssistantError(f"Cannot read {path}: {error.strerror}.") from error
    if len(data) > MOST_FILE_BYTES:
        raise AssistantError(
            f"{path} is larger than {MOST_FILE_BYTES // 1_000_000} MB. Save the picture smaller, "
            "and give that."
        )
    try:
        return kept(_decoded(data))
    except _NO_PICTURE as error:
        raise AssistantError(
            f"{path} is not a picture that can be kept: it has to be a whole JPEG or PNG file. "
            "Save it as one of these, and give that."
        ) from error


_NO_PICTURE = (
    OSError,  # Pillow's UnidentifiedImageError among them.
    ValueError,
    SyntaxError,  # What Pillow raises for a broken PNG.
    EOFError,
    OverflowError,
    MemoryError,
    Image.DecompressionBombError,
    Image.DecompressionBombWarning,
)


def _decoded(data: bytes) -> Image.Image:
    """Return an image from a file's bytes, turned upright; one of far too many pixels is refused
    before it is unpacked.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        image = Image.open(io.BytesIO(data), formats=("JPEG", "PNG"))
        image.load()
        return ImageOps.exif_transpose(image)


def kept(image: Image.Image) -> Picture:
    """Return an image as it is kept. Raises ValueError for one that has no pixels."""
    if not image.width or not image.height:
        raise ValueError("no pixels")
    if image.mode.startswith("I;16") or image.mode == "I":
        # Sixteen bits of grey; the eye sees the upper eight.
        image = image.convert("I").point([value // 256 for value in range(65536)], "L")
    if image.has_transparency_data:
        solid = Image.new("RGBA", image.size, "white")
        solid.alpha_composite(image.convert("RGBA"))
        image = solid
    # Pasted into a new one, because Pillow carries comments along with an image.
    clean = Image.new("RGB", image.size)
    clean.paste(image.convert("RGB"))
    clean.thumbnail((LONGEST, LONGEST))
    for quality in _QUALITIES:
        jpeg = _encoded(clean, quality)
        if len(jpeg) <= MOST_BYTES:
            break
    return Picture(jpeg, clean.width, clean.height)


def small(jpeg: bytes, longest: int) -> bytes:
    """Return a kept picture with a longer side of at most so many pixels, as JPEG.

    Raises AssistantError where the bytes are no picture.
    """
    try:
        image = _decoded(jpeg).convert("RGB")
    except _NO_PICTURE as error:
        raise AssistantError("The picture cannot be decoded.") from error
    image.thumbnail((longest, longest))
    return _encoded(image, _QUALITIES[0])


def _encoded(image: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=quality)
    return out.getvalue()
