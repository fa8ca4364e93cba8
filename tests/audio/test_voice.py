import builtins
import sys
import types
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.audio import microphone, pcm, voice
from assistant.errors import AssistantError


class FakePortAudioError(Exception):
    pass


def fake_sounddevice(**members: Any) -> types.ModuleType:
    """A sound library without a device: what a build server has is not what a shop has."""
    module = types.ModuleType("sounddevice")
    vars(module).update(PortAudioError=FakePortAudioError, **members)
    return module


def refuse(*args: Any, **kwargs: Any) -> None:
    raise FakePortAudioError("Error querying device -1")


def without_portaudio(name: str, *args: Any, **kwargs: Any) -> Any:
    if name == "sounddevice":
        raise OSError("PortAudio library not found")
    return real_import(name, *args, **kwargs)


real_import = builtins.__import__


def test_speech_is_written_and_is_speech(tmp_path: Path) -> None:
    path = tmp_path / "a.wav"
    voice.to_wav("Torque: one four newton metres.", path)
    first = pcm.read(path)
    assert 1.5 < first.seconds < 5 and np.abs(first.samples).max() > 3000
    voice.to_wav("Next step.", path)
    assert pcm.read(path).seconds < first.seconds


def test_nothing_to_say_and_nowhere_to_write(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="nothing to say"):
        voice.to_wav(" ", tmp_path / "a.wav")
    with pytest.raises(AssistantError, match="no such folder"):
        voice.to_wav("a", tmp_path / "none" / "a.wav")


def test_without_sound_the_job_goes_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", without_portaudio)
    speaker = voice.open_voice()
    monkeypatch.undo()
    speaker.say("Next step.")
    speaker.stop()
    told = capsys.readouterr()
    assert told.err.startswith("Replies are printed, not spoken: PortAudio is not installed")
    assert told.err.count("\n") == 1 and told.out == ""
    monkeypatch.setitem(sys.modules, "sounddevice", fake_sounddevice(check_output_settings=refuse))
    assert isinstance(voice.open_voice(), voice.PrintedVoice)
    assert "no loudspeaker found" in capsys.readouterr().err
    assert isinstance(voice.open_voice(silent=True), voice.PrintedVoice)
    assert capsys.readouterr().err == ""


def test_spoken_words_go_to_the_device_and_can_be_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    played: list[tuple[int, int]] = []
    stopped: list[bool] = []
    device = fake_sounddevice(
        check_output_settings=lambda: None,
        play=lambda sound, rate: played.append((len(sound), rate)),
        wait=lambda: None,
        stop=lambda: stopped.append(True),
    )
    monkeypatch.setitem(sys.modules, "sounddevice", device)
    speaker = voice.open_voice()
    speaker.say("Read back: one four.")
    speaker.stop()
    (length, rate), *_ = played
    assert 0.8 < length / rate < 4 and stopped == [True]


def test_no_microphone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", fake_sounddevice(RawInputStream=refuse))
    with (
        pytest.raises(AssistantError, match=r"No microphone found .*--typed or --from FILE"),
        microphone.blocks(),
    ):
        pass
    monkeypatch.delitem(sys.modules, "sounddevice")
    monkeypatch.setattr(builtins, "__import__", without_portaudio)
    with pytest.raises(AssistantError, match="PortAudio is not installed"), microphone.blocks():
        pass


def test_blocks_come_in_order_and_the_stream_is_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    log: list[str] = []

    class Stream:
        def __init__(self, *, callback: Any, samplerate: int, dtype: str, **rest: Any) -> None:
            assert (samplerate, dtype, rest["channels"]) == (16000, "int16", 1)
            self.callback = callback

        def start(self) -> None:
            for number in range(600):
                self.callback(number.to_bytes(2, "little"), 1, None, None)

        def stop(self) -> None:
            log.append("stop")

        def close(self) -> None:
            log.append("close")

    monkeypatch.setitem(sys.modules, "sounddevice", fake_sounddevice(RawInputStream=Stream))
    monkeypatch.setattr(microphone, "_SILENT_S", 0.05)
    with microphone.blocks() as blocks:
        taken = [int.from_bytes(next(blocks), "little") for _ in range(500)]
        assert taken == list(range(100, 600))
        with pytest.raises(AssistantError, match="has given nothing"):
            next(blocks)
    assert log == ["stop", "close"]


def test_a_long_reply_is_spoken_to_its_end(tmp_path: Path) -> None:
    voice.to_wav("The gearbox is open now. " * 2, tmp_path / "short.wav")
    voice.to_wav("The gearbox is open now. " * 40, tmp_path / "long.wav")
    short = pcm.read(tmp_path / "short.wav").seconds
    assert pcm.read(tmp_path / "long.wav").seconds > 15 * short
