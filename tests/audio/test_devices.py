"""Devices by name, and their processes: opened, lost, found again, and what they could not keep."""

from __future__ import annotations

import io
import sys
import time
import types
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.audio import capture, devices, levels, playback
from assistant.audio.capture import BLOCK_BYTES, HEAD, Taker
from assistant.audio.devices import Kind
from assistant.audio.loudspeaker import Loudspeaker
from assistant.audio.microphone import Block, Microphone
from assistant.audio.playback import REPORT, Player
from assistant.bench import settings
from assistant.errors import AssistantError


class FakePortAudioError(Exception):
    pass


def _device(name: str, inputs: int, outputs: int, interface: int = 0) -> dict[str, Any]:
    return {
        "name": name,
        "hostapi": interface,
        "max_input_channels": inputs,
        "max_output_channels": outputs,
        "default_samplerate": 44100.0,
    }


_SHOP = [
    _device("Built-in Audio", 2, 2),
    _device("USB Headset Mono", 1, 1),
    _device("USB Headset Stereo", 0, 2),
    _device("USB Headset Mono", 1, 1, interface=1),
]


def _library(there: list[dict[str, Any]], **members: Any) -> types.ModuleType:
    """A sound library with these devices: what a build server has is not what a shop has."""
    module = types.ModuleType("sounddevice")
    query = lambda number=None: there if number is None else there[number]  # noqa: E731
    vars(module).update(
        PortAudioError=FakePortAudioError,
        query_devices=query,
        query_hostapis=lambda: [{"name": "one"}, {"name": "other"}],
        default=types.SimpleNamespace(device=[0, 0]),
        **members,
    )
    return module


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", _library(_SHOP))


@pytest.mark.usefixtures("shop")
def test_a_device_is_found_by_part_of_its_name() -> None:
    assert devices.find(None, Kind.MICROPHONE).number == 0
    assert devices.find("built", Kind.LOUDSPEAKER).number == 0
    # The same device through two interfaces is one device.
    assert devices.find("headset", Kind.MICROPHONE).number == 1
    assert devices.find("usb headset stereo", Kind.LOUDSPEAKER).number == 2


@pytest.mark.usefixtures("shop")
def test_a_name_that_fits_none_or_several_lists_what_there_is() -> None:
    with pytest.raises(AssistantError, match="any of: USB Headset Mono; USB Headset Stereo"):
        devices.find("headset", Kind.LOUDSPEAKER)
    with pytest.raises(AssistantError, match=r"no microphone with 'boom'.*Built-in Audio; USB"):
        devices.find("boom", Kind.MICROPHONE)


def test_no_device_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", _library([]))
    with pytest.raises(AssistantError, match=r"no microphone. Plug one in, or use --typed"):
        devices.find(None, Kind.MICROPHONE)
    with pytest.raises(AssistantError, match=r"no loudspeaker. Plug one in, or use --silent"):
        devices.find("any", Kind.LOUDSPEAKER)


def _opening(monkeypatch: pytest.MonkeyPatch, refuses: dict[tuple[int, int], int]) -> list[Any]:
    """Devices that refuse some (rate, channels) with a code; return what was tried."""
    tried: list[Any] = []

    def stream(*, samplerate: int, channels: int, **rest: Any) -> Any:
        tried.append((samplerate, channels))
        if (samplerate, channels) in refuses:
            raise FakePortAudioError("refused", refuses[samplerate, channels])
        return types.SimpleNamespace(start=lambda: None)

    library = _library(_SHOP, RawInputStream=stream, OutputStream=stream)
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    return tried


def test_a_rate_that_is_not_offered_is_made_from_the_devices_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tried = _opening(monkeypatch, {(16000, 1): -9997})
    device = devices.find(None, Kind.MICROPHONE)
    rate, _, _ = capture._opened(devices.portaudio(), device)
    assert rate == 44100 and tried == [(16000, 1), (44100, 1)]
    convert = capture._converter(44100)
    times = np.arange(44100) / 44100
    tone = np.round(8000 * np.sin(2 * np.pi * 440 * times)).astype(np.int16)
    made = b"".join(convert(tone[i : i + 1323].tobytes()) for i in range(0, 44100, 1323))
    samples = np.frombuffer(made, np.int16).astype(float)
    # All but what the filter still holds, and still 440 Hz.
    assert 15000 < len(samples) <= 16000
    crossings = np.count_nonzero(np.diff(np.signbit(samples)))
    assert abs(crossings / (2 * len(samples) / 16000) - 440) < 5


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        (-9985, "in use by another program"),
        (-9997, "offers no sample rate"),
        (-9999, r"could not be opened \(refused\)"),
    ],
)
def test_a_device_that_refuses_is_told_in_a_sentence(
    monkeypatch: pytest.MonkeyPatch, code: int, sentence: str
) -> None:
    _opening(monkeypatch, {(16000, 1): code, (44100, 1): code})
    with pytest.raises(AssistantError, match=f"microphone Built-in Audio.*{sentence}.*--micro"):
        capture._opened(devices.portaudio(), devices.find(None, Kind.MICROPHONE))


def test_a_loudspeaker_that_wants_two_channels_gets_them(monkeypatch: pytest.MonkeyPatch) -> None:
    tried = _opening(monkeypatch, {(44100, 1): -9998})
    playback._opened(devices.portaudio(), devices.find(None, Kind.LOUDSPEAKER))
    assert tried == [(44100, 1), (44100, 2)]


_TIMES = types.SimpleNamespace(currentTime=5.0, inputBufferAdcTime=4.96, outputBufferDacTime=5.05)


def test_what_nobody_takes_in_time_is_counted() -> None:
    taker = Taker(16000)
    fine = types.SimpleNamespace(input_overflow=False)
    for number in range(510):
        taker(number.to_bytes(2, "little"), 480, _TIMES, fine)
    taker(b"ab", 480, _TIMES, types.SimpleNamespace(input_overflow=True))
    assert (taker.lost, taker.overflows) == (11, 1)
    at, block = taker.waiting.get()
    assert int.from_bytes(block, "little") == 11 and time.monotonic() - 1 < at < time.monotonic()


def _played(player: Player, frames: int) -> np.ndarray[Any, Any]:
    out = np.ones((frames, 2), np.float32)
    player(out, frames, _TIMES, None)
    assert np.array_equal(out[:, 0], out[:, 1])
    return out[:, 0]


def _reports(player: Player) -> list[tuple[bytes, int]]:
    return [(what, number) for _, what, number in REPORT.iter_unpack(player.reports())]


def test_the_player_plays_stops_and_reports() -> None:
    player = Player(1000)
    assert not _played(player, 10).any() and _reports(player) == []
    player.play(np.full(15, 0.5, np.float32))
    player.play(np.full(5, 0.25, np.float32))
    assert (_played(player, 10) == 0.5).all() and _reports(player) == [(playback.BEGUN, 2)]
    assert (_played(player, 10) == [0.5] * 5 + [0.25] * 5).all()
    assert _reports(player) == [(playback.ENDED, 2)]
    player.play(np.full(500, 0.5, np.float32))
    _played(player, 10)
    player.stop()
    fading = _played(player, 10)
    assert fading[0] == 0.5 and fading[4] == 0 and not fading[5:].any()
    assert _reports(player) == [(playback.BEGUN, 3), (playback.ENDED, 3)]
    player.play(np.full(500, 0.5, np.float32))
    player.gain(0.5)
    ramp = _played(player, 10)
    assert ramp[0] == 0.5 and (np.diff(ramp) < 0).all()
    assert (_played(player, 10) == 0.25).all()


# Processes: real ones, that do what a device does


class ScriptedMicrophone(Microphone):
    _module = "tests.audio.scripted_device"


class ScriptedLoudspeaker(Loudspeaker):
    _module = "tests.audio.scripted_device"


def _until(what: Any, seconds: float = 20.0) -> Any:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if result := what():
            return result
        time.sleep(0.01)
    raise AssertionError("it did not come")


def test_a_microphone_goes_and_comes_back() -> None:
    microphone = ScriptedMicrophone("twenty")
    microphone.open()
    assert microphone.device["name"] == "twenty"
    blocks = [_until(microphone.next) for _ in range(20)]
    assert [block.data[0] for block in blocks] == list(range(20))
    assert [block.follows for block in blocks] == [False] + [True] * 19
    assert "microphone is gone" in _until(microphone.tend)
    assert "microphone is back" in _until(microphone.tend)
    assert not _until(microphone.next).follows
    microphone.close()


def test_what_the_recorder_lost_is_told_once(caplog: pytest.LogCaptureFixture) -> None:
    microphone = ScriptedMicrophone("losing")
    microphone.open()
    blocks: list[Block] = [_until(microphone.next) for _ in range(4)]
    assert [block.follows for block in blocks] == [False, False, True, False]
    assert (microphone.lost_blocks, microphone.overflows) == (7, 1)
    assert "could not keep up" in str(microphone.tend())
    assert microphone.tend() is None
    err = caplog.messages
    assert err[0].startswith("Sound was lost: 0.21 s in the queue, 0 times")
    assert len(err) == 2
    microphone.close()


def test_a_device_that_cannot_be_opened_says_why() -> None:
    with pytest.raises(AssistantError, match=r"It is in use."):
        ScriptedMicrophone("busy").open()
    with pytest.raises(AssistantError, match="does not answer"):
        ScriptedMicrophone("crash").open()


def test_a_loudspeaker_that_ends_is_silent_until_it_is_back() -> None:
    loudspeaker = ScriptedLoudspeaker("plays")
    loudspeaker.open()
    before = time.monotonic()
    loudspeaker.play(np.zeros(100, np.float32), 1000)
    assert loudspeaker.playing and loudspeaker.audible(before - 1, before + 60)
    loudspeaker.wait()
    assert not loudspeaker.playing and loudspeaker.begun_at > before
    assert loudspeaker.audible(before, before + 60)
    assert not loudspeaker.audible(time.monotonic() + 1, time.monotonic() + 2)
    loudspeaker._order(b"X")
    assert "read the replies on the screen" in _until(loudspeaker.tend)
    loudspeaker.play(np.zeros(100, np.float32), 1000)
    loudspeaker.wait()
    assert not loudspeaker.stop()
    assert "is back" in _until(loudspeaker.tend)
    loudspeaker.close()


def test_a_recorder_ends_when_nobody_reads_it_any_more() -> None:
    microphone = ScriptedMicrophone("twenty")
    microphone.open()
    process = microphone._process
    assert process is not None
    microphone.close()
    assert process.returncode is not None and not microphone.connected


# Levels and settings


def _noise(level: float, seconds: float = 1.0) -> bytes:
    samples = np.random.default_rng(1).normal(0, level, round(seconds * 16000))
    return np.clip(samples, -32768, 32767).astype("<i2").tobytes()


def test_levels_are_in_decibels_below_full_scale() -> None:
    square = np.tile(np.array([32767, -32768], np.int16), 800)
    assert abs(levels.level(square)) < 0.01
    # A tenth of full scale is -20 dB; nothing at all has a bottom.
    assert abs(levels.level((square / 10).astype(np.int16)) + 20) < 0.05
    assert levels.level(np.zeros(10, np.int16)) == -120


def test_a_microphone_that_is_off_overdriven_or_drowned_is_told() -> None:
    watch = levels.Levels()
    assert "no sound at all" in str(watch.room(bytes(32000)))
    assert watch.room(bytes(32000)) is None
    assert watch.room(_noise(20)) is None
    assert [watch.phrase(_noise(3000)) for _ in range(4)] == [None] * 4
    assert "overdriven" in str([watch.phrase(_noise(30000)) for _ in range(3)][2])
    drowned = levels.Levels()
    drowned.room(_noise(2000))
    assert "nearly as loud as you" in str([drowned.phrase(_noise(3000)) for _ in range(3)][2])


def test_settings_are_remembered_and_a_broken_file_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(settings, "place", lambda: tmp_path / "there" / "settings.json")
    assert settings.read().microphone is None
    settings.remember(microphone="usb")
    settings.remember(loudspeaker="headset")
    assert (settings.read().microphone, settings.read().loudspeaker) == ("usb", "headset")
    settings.remember(microphone=None)
    assert settings.read().microphone is None
    settings.place().write_text("{", encoding="utf-8")
    with pytest.raises(AssistantError, match=r"cannot be read as settings. Mend it, or delete it"):
        settings.read()


def test_frames_are_what_both_sides_say_they_are() -> None:
    frame = HEAD.pack(1.5, 2, 3) + bytes(BLOCK_BYTES)
    assert HEAD.unpack_from(io.BytesIO(frame).read(HEAD.size)) == (1.5, 2, 3)
