"""The voice: what is written to files, made ahead, said sentence by sentence, and stopped."""

from __future__ import annotations

import builtins
import sys
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from assistant.audio import devices, earcons, pcm, synthesis, voice
from assistant.audio.cue import Cue
from assistant.audio.devices import Kind
from assistant.audio.loudspeaker import Loudspeaker
from assistant.audio.synthesis import Synthesiser
from assistant.bench.presenter import cue_of
from assistant.dialogue.turn import Reply, Tone
from assistant.errors import AssistantError


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


class Heard(Loudspeaker):
    """A loudspeaker that only keeps what it is given; it plays it while `plays` is set."""

    def open(self) -> None:
        self.connected = True
        self.sounds: list[float] = []
        self.plays = False

    def play(self, sound: npt.NDArray[np.float32], rate: int) -> None:
        self.sounds.append(len(sound) / rate)

    def stop(self) -> bool:
        return self.plays


def test_a_reply_is_played_sentence_by_sentence_after_its_tone() -> None:
    loudspeaker = Heard()
    speaker = voice.SpokenVoice(loudspeaker)
    speaker.cue(Cue.RECORDED)
    speaker.say("Bag one. Recorded. Nothing more here.")
    assert len(loudspeaker.sounds) == 4
    assert all(0.2 < seconds < 2 for seconds in loudspeaker.sounds)
    quiet = Heard()
    voice.SpokenVoice(quiet, tones=False).cue(Cue.RECORDED)
    assert quiet.sounds == []


def test_kept_sound_is_played_after_what_is_said_and_stopped_with_it() -> None:
    loudspeaker = Heard()
    speaker = voice.SpokenVoice(loudspeaker, waits=False)
    second = pcm.Pcm(np.full(pcm.RATE, 1000, dtype=np.int16))
    speaker.say("A spoken note.")
    assert speaker.play(second)
    speaker.wait()
    assert len(loudspeaker.sounds) == 2 and 1 <= loudspeaker.sounds[1] < 2
    speaker.say("A spoken note.")
    speaker.stop()
    assert speaker.play(second)
    speaker.wait()
    assert loudspeaker.sounds[-1] >= 1
    assert not voice.PrintedVoice().play(second)


def test_what_is_stopped_is_not_said_later(monkeypatch: pytest.MonkeyPatch) -> None:
    making, stopped = threading.Event(), threading.Event()
    engine = synthesis.start_engine()
    real = engine.sound

    def sound(text: str, words_a_minute: int) -> Any:
        if text == "Two.":
            making.set()
            stopped.wait(30)
        return real(text, words_a_minute)

    monkeypatch.setattr(engine, "sound", sound)
    loudspeaker = Heard()
    speaker = voice.SpokenVoice(loudspeaker, waits=False)
    speaker.say("One. Two. Three.")
    assert making.wait(30)
    # One is heard, two is being made, and three waits.
    assert speaker.stop()
    stopped.set()
    speaker.wait()
    assert len(loudspeaker.sounds) == 1
    speaker.say("Four.")
    speaker.wait()
    assert len(loudspeaker.sounds) == 2


def test_what_was_prepared_is_there_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []
    engine = synthesis.start_engine()
    real = engine.sound

    def sound(text: str, words_a_minute: int) -> Any:
        made.append(text)
        return real(text, words_a_minute)

    monkeypatch.setattr(engine, "sound", sound)
    synthesiser = Synthesiser()
    synthesiser.prepare(["Step two.", "Fit the end plate."], 150)
    for _ in range(500):
        if len(made) == 2:
            break
        time.sleep(0.01)
    got: list[float] = []
    for sentence in ("Step two.", "Fit the end plate.", "Step two."):
        synthesiser.make(sentence, 150, lambda speech: got.append(len(speech.samples)))
    synthesiser.wait()
    assert made == ["Step two.", "Fit the end plate."] and got[0] == got[2] != got[1]
    # Said faster it is another sound.
    synthesiser.make("Step two.", 250, lambda speech: got.append(len(speech.samples)))
    synthesiser.wait()
    assert len(made) == 3 and got[3] < 0.8 * got[0]


class Scripted:
    """An engine that fails at some sentences."""

    rate = 16000

    def __init__(self, fails_at: str = "") -> None:
        self.fails_at = fails_at

    def sound(self, text: str, words_a_minute: int) -> npt.NDArray[np.float32]:
        if self.fails_at and self.fails_at in text:
            raise RuntimeError("the driver is gone")
        return np.ones(100, np.float32)


def _waits(synthesiser: Synthesiser) -> bool:
    """Whether waiting for it comes to an end."""
    waiting = threading.Thread(target=synthesiser.wait, daemon=True)
    waiting.start()
    waiting.join(10)
    return not waiting.is_alive()


def test_an_engine_that_fails_at_a_sentence_is_reported_and_goes_on(
    caplog: pytest.LogCaptureFixture,
) -> None:
    synthesiser = Synthesiser(lambda: Scripted("two"))
    got: list[str] = []
    synthesiser.prepare(["Ahead of two."], 150)
    for sentence in ("Step one.", "Step two.", "Step three."):
        synthesiser.make(sentence, 150, lambda speech, said=sentence: got.append(said))  # type: ignore[misc]
    assert _waits(synthesiser)
    assert got == ["Step one.", "Step three."]
    told = [message for message in caplog.messages if "Step two." in message]
    assert len(told) == 1 and "the driver is gone" in told[0]


def test_a_sound_that_cannot_be_passed_on_does_not_end_the_voice(
    caplog: pytest.LogCaptureFixture,
) -> None:
    synthesiser = Synthesiser(Scripted)
    got: list[int] = []

    def refused(speech: synthesis.Speech) -> None:
        raise OSError("no space")

    synthesiser.make("Step one.", 150, refused)
    synthesiser.make("Step two.", 150, lambda speech: got.append(len(speech.samples)))
    assert _waits(synthesiser)
    assert got == [100] and "Step one." in caplog.text


def test_an_engine_that_cannot_start_is_no_voice() -> None:
    def start() -> Scripted:
        raise RuntimeError("no driver")

    with pytest.raises(AssistantError, match="no driver"):
        Synthesiser(start)


def test_sentences_are_told_apart_by_their_ends_not_by_points_in_numbers() -> None:
    text = "I heard 4.5 millimetres. Is that right?  Affirm, or say correction!"
    assert synthesis.sentences(text) == [
        "I heard 4.5 millimetres.",
        "Is that right?",
        "Affirm, or say correction!",
    ]
    assert synthesis.sentences(" ") == []


def test_without_sound_the_job_goes_on(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    caplog: pytest.LogCaptureFixture,
) -> None:
    def refuse(self: Loudspeaker) -> None:
        raise AssistantError("There is no loudspeaker.")

    monkeypatch.setattr(Loudspeaker, "open", refuse)
    speaker = voice.open_voice()
    speaker.say("Next step.")
    assert speaker.stop() is False
    assert caplog.messages == ["Replies are printed, not spoken. There is no loudspeaker."]
    assert capsys.readouterr().out == ""
    assert isinstance(voice.open_voice(silent=True), voice.PrintedVoice)
    assert len(caplog.messages) == 1
    # Whoever names one wants that one.
    with pytest.raises(AssistantError, match="no loudspeaker"):
        voice.open_voice(name="headset")


def test_without_portaudio_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    real_import = builtins.__import__

    def without(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real_import(name, *args, **kwargs)

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(AssistantError, match=r"PortAudio is not installed.*--typed"):
        devices.listed(Kind.MICROPHONE)


@pytest.mark.parametrize("cue", list(Cue))
def test_tones_are_short_low_and_not_clipped(cue: Cue) -> None:
    sound = earcons.sound(cue)
    assert 0.2 < np.abs(sound).max() < 0.9
    assert cue is Cue.TIMER or len(sound) / earcons.RATE <= earcons.LONGEST_S
    spectrum = np.abs(np.fft.rfft(sound))
    strongest = np.fft.rfftfreq(len(sound), 1 / earcons.RATE)[spectrum.argmax()]
    assert 300 <= strongest <= 1000
    # It begins and ends in silence, or it would click.
    assert abs(sound[0]) < 0.01 and abs(sound[-1]) < 0.05


def test_tones_differ_in_rhythm_alone() -> None:
    rhythms = set()
    for cue in Cue:
        loud = np.abs(earcons.sound(cue)) > 0.02
        frames = [bool(loud[i : i + 441].any()) for i in range(0, len(loud), 441)]
        rhythms.add(tuple(frames))
    assert len(rhythms) == len(Cue)


def test_the_cue_is_that_of_what_matters_most() -> None:
    said = [Reply("Step two."), Reply("Recorded.", Tone.RECORDED), Reply("Which?", Tone.QUESTION)]
    assert [cue_of(said[:n]) for n in (1, 2, 3)] == [Cue.HEARD, Cue.RECORDED, Cue.QUESTION]
    assert cue_of([*said, Reply("No.", Tone.REFUSED)]) is Cue.REFUSED


def test_a_long_reply_is_spoken_to_its_end(tmp_path: Path) -> None:
    voice.to_wav("The gearbox is open now. " * 2, tmp_path / "short.wav")
    voice.to_wav("The gearbox is open now. " * 40, tmp_path / "long.wav")
    short = pcm.read(tmp_path / "short.wav").seconds
    assert pcm.read(tmp_path / "long.wav").seconds > 15 * short
