"""Cameras: a file in place of one, one that is not there, one that hangs."""

from __future__ import annotations

import io
import threading
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from assistant.errors import AssistantError
from assistant.imaging import camera
from assistant.imaging.camera import Camera, Device, NoPicture
from tests import snapshots


def video(path: Path, shades: list[int]) -> Path:
    """Write a video whose frames are of these shades of grey."""
    with av.open(str(path), "w", format="matroska") as out:
        stream = out.add_stream("mjpeg", rate=Fraction(10))
        stream.width, stream.height, stream.pix_fmt = 32, 16, "yuvj420p"
        for shade in shades:
            frame = av.VideoFrame.from_ndarray(np.full((16, 32, 3), shade, np.uint8), "rgb24")
            out.mux(stream.encode(frame))
        out.mux(stream.encode())
    return path


def shade(jpeg: bytes) -> int:
    return int(np.asarray(Image.open(io.BytesIO(jpeg)).convert("L")).mean())


def test_a_picture_file_serves_as_a_camera(tmp_path: Path) -> None:
    picture = Camera(str(snapshots.file(tmp_path / "a.jpg"))).take()
    assert (picture.width, picture.height) == (48, 32)


def test_the_first_frames_are_left_for_the_exposure_to_adjust(tmp_path: Path) -> None:
    path = video(tmp_path / "a.mkv", [0] * 11 + [200] + [90] * 5)
    assert abs(shade(Camera(str(path)).take().jpeg) - 200) < 12
    short = video(tmp_path / "b.mkv", [0, 0, 150])
    assert abs(shade(Camera(str(short)).take().jpeg) - 150) < 12
    assert Camera(str(video(tmp_path / "c.mkv", [2, 2]))).brightness() < camera.DARK


def test_a_camera_that_is_not_there_is_named_with_what_to_do() -> None:
    with pytest.raises(NoPicture, match=r"/dev/video77 cannot be opened .*plugged in") as error:
        Camera("/dev/video77").take()
    assert error.value.why == "not there"


@pytest.mark.parametrize("content", [b"", b"no picture", b"\xff\xd8\xff\xe0 cut"])
def test_a_file_that_is_no_picture_gives_none(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "a.jpg"
    path.write_bytes(content)
    with pytest.raises(NoPicture):
        Camera(str(path)).take()


def test_a_file_with_sound_alone_gives_none(tmp_path: Path) -> None:
    import soundfile

    path = tmp_path / "a.wav"
    soundfile.write(path, np.zeros(800), 8000)
    with pytest.raises(NoPicture) as error:
        Camera(str(path)).take()
    assert error.value.why == "no picture"


def test_a_camera_that_hangs_holds_up_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    go_on, calls = threading.Event(), []

    def hang(name: str) -> Image.Image:
        calls.append(name)
        go_on.wait(20)
        return snapshots.image()

    monkeypatch.setattr(camera, "_grab", hang)
    slow = Camera("x", patience_s=0.05)
    for _ in range(3):
        with pytest.raises(NoPicture, match="no picture within") as error:
            slow.take()
        assert error.value.why == "no answer"
    assert calls == ["x"], "nobody waits behind the first"
    go_on.set()
    slow.patience_s = 20
    assert slow._running is not None
    slow._running.result(20)
    assert slow.take().width == 48


def test_whatever_trips_over_a_camera_is_no_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    def trip(name: str) -> Image.Image:
        raise RuntimeError("some library's own")

    monkeypatch.setattr(camera, "_grab", trip)
    with pytest.raises(NoPicture, match="some library's own"):
        Camera("x").take()


def test_a_camera_is_known_by_its_device_its_name_or_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    there = [Device("/dev/video0", "Bench Cam: USB"), Device("/dev/video2", "Other")]
    monkeypatch.setattr(camera, "listed", lambda: there)
    monkeypatch.setattr(camera.sys, "platform", "linux")
    assert camera.known("bench cam") == "bench cam"
    assert camera._address("bench cam") == ("/dev/video0", "v4l2")
    assert camera._address("/dev/video2") == ("/dev/video2", "v4l2")
    monkeypatch.setattr(camera.sys, "platform", "win32")
    assert camera._address("other") == ("video=/dev/video2", "dshow")
    path = snapshots.file(tmp_path / "a.jpg")
    monkeypatch.chdir(tmp_path)
    assert camera.known("a.jpg") == str(path.resolve()), "found from any folder the next time"
    assert camera._address(str(path)) == (str(path), None)
    with pytest.raises(AssistantError, match=r"no camera 'boom'\. There are: /dev/video0 \(Bench"):
        camera.known("boom")
    monkeypatch.setattr(camera, "listed", list)
    with pytest.raises(AssistantError, match="none at all: plug one in"):
        camera.known("boom")
