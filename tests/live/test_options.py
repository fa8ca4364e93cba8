"""`assistant devices`, and the options of a live bench."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from assistant.audio import devices, loudspeaker, microphone
from assistant.audio.devices import Device
from assistant.bench import keys, settings
from assistant.cli import main as cli
from assistant.errors import AssistantError
from tests.benchmark import voices
from tests.live.made_up import MadeUpMicrophone, Samples, recorded
from tests.live.soak import NoLoudspeaker


@pytest.fixture(autouse=True)
def bench_of_two(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    there = [Device(0, "Built-in", "one", True), Device(1, "USB Headset\x1b[2J", "one", False)]
    monkeypatch.setattr(devices, "listed", lambda kind: there)
    monkeypatch.setattr(settings, "place", lambda: tmp_path / "settings.json")
    monkeypatch.setattr(loudspeaker, "Loudspeaker", lambda name: NoLoudspeaker(name))


def test_devices_are_listed_and_chosen_for_good(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["devices"]) == 0
    shown = capsys.readouterr().out
    assert shown.count("* Built-in") == 2 and "\x1b" not in shown
    assert cli.main(["devices", "--microphone", "usb"]) == 0
    assert settings.read().microphone == "usb"
    assert cli.main(["devices"]) == 0
    shown = capsys.readouterr().out
    assert "* USB Headset" in shown and "* Built-in" in shown
    assert cli.main(["devices", "--microphone", "default"]) == 0
    assert settings.read().microphone is None


def test_a_wrong_name_is_not_remembered(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["devices", "--loudspeaker", "boom"]) == 2
    assert "no loudspeaker with 'boom'" in capsys.readouterr().err
    assert not settings.place().exists()


def _check(monkeypatch: pytest.MonkeyPatch, sound: Samples) -> int:
    def made_up(name: str | None) -> MadeUpMicrophone:
        made = MadeUpMicrophone(recorded(sound))
        monkeypatch.setattr(made, "open", lambda: None)
        return made

    monkeypatch.setattr(microphone, "Microphone", made_up)
    return cli.main(["devices", "--check"])


def test_the_check_tells_what_is_wrong_and_what_to_do(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = np.zeros(16000 * 7, np.int16)
    phrase = voices.speak("next step", "heart", 0.2)
    said[32000 : 32000 + len(phrase)] = phrase
    assert _check(monkeypatch, said) == 0
    assert "Nothing was found wrong" in capsys.readouterr().out
    assert _check(monkeypatch, (said * 0).astype(np.int16)) == 1
    assert "heard nobody" in capsys.readouterr().out
    assert _check(monkeypatch, np.clip(said * 20.0, -32768, 32767).astype(np.int16)) == 1
    assert "overdriven" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["f5", "", "\x1b", "é" * 2])
def test_what_is_no_key_is_refused(name: str) -> None:
    with pytest.raises(AssistantError, match="is no key that can be used"):
        keys.key(name)


def test_keys_have_names_and_characters() -> None:
    assert [keys.key(name) for name in ("a", "Enter", "space", "TAB")] == ["a", "\r", " ", "\t"]
