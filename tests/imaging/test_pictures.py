"""Pictures as they are kept, against files as cameras and telephones write them, and worse ones."""

from __future__ import annotations

import io
import zlib
from pathlib import Path

import pytest
from PIL import Image, PngImagePlugin

from assistant.errors import AssistantError
from assistant.imaging import pictures
from tests import snapshots


def opened(picture: pictures.Picture) -> Image.Image:
    image = Image.open(io.BytesIO(picture.jpeg))
    image.load()
    assert (image.format, image.mode) == ("JPEG", "RGB")
    assert image.size == (picture.width, picture.height)
    return image


def near(image: Image.Image, where: tuple[int, int], colour: tuple[int, int, int]) -> bool:
    found = image.getpixel(where)
    assert isinstance(found, tuple)
    return all(abs(a - b) < 40 for a, b in zip(found, colour, strict=True))


def test_where_and_by_what_it_was_taken_is_left_out(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x010F] = "SECRETMAKER"
    exif[0x9286] = "SECRETCOMMENT"
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)
    exif.get_ifd(0x8825)[29] = "SECRETDATE"
    path = snapshots.file(tmp_path / "in.jpg", exif=exif, comment=b"SECRETTOO", dpi=(72, 72))
    assert path.read_bytes().count(b"SECRET") == 4
    picture = pictures.read(path)
    assert b"SECRET" not in picture.jpeg
    assert not dict(opened(picture).getexif())
    assert b"Exif" not in picture.jpeg


def test_the_text_of_a_png_is_left_out(tmp_path: Path) -> None:
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", "SECRET")
    picture = pictures.read(snapshots.file(tmp_path / "in.png", pnginfo=text))
    assert b"SECRET" not in picture.jpeg
    assert near(opened(picture), (40, 28), (255, 0, 0))


def test_a_picture_taken_on_its_side_stands_upright(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # To be turned a quarter to the right (EXIF 2.32, table 6).
    picture = pictures.read(snapshots.file(tmp_path / "in.jpg", exif=exif))
    assert (picture.width, picture.height) == (32, 48)
    image = opened(picture)
    assert near(image, (30, 2), (255, 255, 255)), "the upper left is the upper right now"
    assert near(image, (2, 2), (255, 0, 0))


def test_a_large_one_is_made_smaller_and_keeps_its_shape(tmp_path: Path) -> None:
    path = snapshots.file(tmp_path / "in.png", size=(6000, 3000))
    assert (pictures.read(path).width, pictures.read(path).height) == (2048, 1024)


def test_one_with_much_in_it_is_encoded_more_coarsely() -> None:
    noise = Image.effect_noise((2048, 2048), 120)
    picture = pictures.kept(noise)
    assert len(picture.jpeg) <= pictures.MOST_BYTES
    assert (picture.width, picture.height) == (2048, 2048)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16", "CMYK"])
def test_every_mode_of_file_is_kept_in_colour(tmp_path: Path, mode: str) -> None:
    form = "JPEG" if mode == "CMYK" else "PNG"
    grey = snapshots.image("grey")
    made = Image.new("I;16", (48, 32), 128 * 256) if mode == "I;16" else grey.convert(mode)
    path = tmp_path / "in"
    path.write_bytes(snapshots.data(made, form))
    picture = pictures.read(path)
    assert (picture.width, picture.height) == (48, 32)
    if mode not in ("1", "P"):
        assert near(opened(picture), (40, 28), (128, 128, 128))


def test_what_can_be_seen_through_is_white() -> None:
    clear = Image.new("RGBA", (8, 8), (0, 0, 0, 0))
    assert near(opened(pictures.kept(clear)), (4, 4), (255, 255, 255))


def _png_of_a_billion() -> bytes:
    """A PNG's head that promises far more pixels than its few bytes have."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            len(body).to_bytes(4, "big") + kind + body + zlib.crc32(kind + body).to_bytes(4, "big")
        )

    head = (40_000).to_bytes(4, "big") * 2 + bytes([8, 2, 0, 0, 0])
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(bytes(1000)))
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"not a picture",
        b"\xff\xd8\xff\xe0",
        snapshots.data(snapshots.image(), "JPEG")[:-200],
        snapshots.data(snapshots.image(), "PNG")[:60],
        snapshots.data(snapshots.image(), "GIF"),
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        _png_of_a_billion(),
    ],
)
def test_what_is_no_picture_is_refused_in_plain_words(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "in.jpg"
    path.write_bytes(data)
    with pytest.raises(AssistantError, match=r"in\.jpg is not a picture .* whole JPEG or PNG"):
        pictures.read(path)
    with pytest.raises(AssistantError, match="cannot be decoded"):
        pictures.small(data, 10)


def test_a_file_that_is_not_there_or_far_too_large_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(AssistantError, match="No such file"):
        pictures.read(tmp_path / "none.jpg")
    with pytest.raises(AssistantError, match="Cannot read"):
        pictures.read(tmp_path)
    monkeypatch.setattr(pictures, "MOST_FILE_BYTES", 100)
    with pytest.raises(AssistantError, match="is larger than"):
        pictures.read(snapshots.file(tmp_path / "in.png"))


def test_the_same_file_gives_the_same_bytes(tmp_path: Path) -> None:
    path = snapshots.file(tmp_path / "in.png")
    assert pictures.read(path) == pictures.read(path)
