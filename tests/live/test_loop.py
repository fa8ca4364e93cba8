"""The live loop with made-up devices: its own voice, interruption, gaps, keys and levels."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.audio.cue import Cue
from assistant.audio.levels import Levels
from assistant.audio.pcm import RATE
from assistant.bench import keys, microphone
from assistant.bench.addressing import Addressing, Way
from assistant.bench.microphone import Live
from assistant.dialogue import events
from assistant.recognition.sphinx import PocketSphinx
from assistant.recognition.two_pass import TwoPassRecogniser
from tests.bench_helpers import Hands
from tests.benchmark import voices
from tests.fixtures import AUDIO
from tests.live.made_up import MadeUpMicrophone, MadeUpVoice, Samples, recorded

AFFIRM = pcm.read(AUDIO / "demo" / "001.flac").samples
PAUSE = np.zeros(2 * RATE, np.int16)


def _work(
    hands: Hands, sound: Samples, *, says: str = "", headset: bool = False, **live: object
) -> tuple[MadeUpMicrophone, MadeUpVoice]:
    """Have the loop hear a recording, to its end, while it says something first."""
    made_up = MadeUpMicrophone(recorded(sound))
    voice = MadeUpVoice(made_up.clock)
    for name, value in live.items():
        setattr(made_up, name, value)
    hands.bench.presenter.speaker = voice
    hands.notes.replies.clear()
    if says:
        voice.say(says)
    with suppress(KeyboardInterrupt):
        microphone.listen(
            hands.bench,
            TwoPassRecogniser(PocketSphinx()),
            Live(made_up, voice, headset, clock=made_up.clock),
        )
    return made_up, voice


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


def _said_at(seconds: float, sound: Samples = AFFIRM) -> Samples:
    return np.concatenate([np.zeros(round(seconds * RATE), np.int16), sound, PAUSE])


@pytest.mark.parametrize("timer_is_due", [True, False])
def test_it_does_not_answer_its_own_announcement(hands: Hands, timer_is_due: bool) -> None:
    hands.say("start timer ten minutes")
    hands.now += timedelta(minutes=11 if timer_is_due else 1)
    # Somebody, or the loudspeaker, says "affirm" just when the announcement would be made.
    _, voice = _work(hands, _said_at(1.2))
    assert (Cue.TIMER in voice.cues) is timer_is_due
    assert bool(hands.events("timer rang")) is timer_is_due
    assert bool(hands.events("hazards heard")) is not timer_is_due


def test_in_the_room_it_is_deaf_while_it_speaks_and_hears_right_after(hands: Hands) -> None:
    says = "Nobody has to affirm anything of this at all"
    _, voice = _work(hands, _said_at(1.0), says=says)
    assert not hands.events("hazards heard") and voice.cut == []
    _, voice = _work(hands, _said_at(voice.spoken_until() + 0.8), says=says)
    assert len(hands.events("hazards heard")) == 1


def test_what_it_just_said_and_comes_back_late_is_not_taken(hands: Hands) -> None:
    says = "If you heard that, affirm"
    late = len(says) / 14.0 + 0.25
    _work(hands, _said_at(late), says=says)
    assert not hands.events("hazards heard") and hands.notes.refused == ["affirm"]
    # The same sound, where it said something else, is somebody.
    _work(hands, _said_at(late), says="If you heard that, say so")
    assert len(hands.events("hazards heard")) == 1


def test_with_a_headset_it_is_talked_over_and_stops(hands: Hands) -> None:
    says = "A long story, " * 20
    _, voice = _work(hands, _said_at(1.0), says=says, headset=True)
    assert len(hands.events("hazards heard")) == 1
    assert voice.cut == [says] and voice.ducked and Cue.HEARD in voice.cues


def test_what_stand_by_cut_short_is_said_again_whole(hands: Hands) -> None:
    hands.say("affirm", "where are we")
    whole = hands.notes.replies[-1]
    phrases = [voices.speak(text, "heart", 0.2) for text in ("stand by", "resume", "say again")]
    sound = np.concatenate([part for phrase in phrases for part in (phrase, PAUSE)])
    _work(hands, _said_at(0.5, sound), says=whole * 3, headset=True)
    assert hands.notes.replies[-1].startswith(whole)
    assert hands.notes.replies[-1] != hands.notes.replies[-2]


def test_what_follows_a_long_answer_needs_no_call_word(hands: Hands) -> None:
    called = voices.speak("bench where are we", "heart", 0.2)
    # An answer of twenty seconds: the eight after it count from its end.
    sound = np.concatenate([called, np.zeros(24 * RATE, np.int16), AFFIRM, PAUSE])
    made_up = MadeUpMicrophone(recorded(sound))
    voice = MadeUpVoice(made_up.clock)
    hands.bench.presenter.speaker = voice
    real = voice.say
    voice.say = lambda text: real("x" * 14 * 20)  # type: ignore[method-assign]
    live = Live(made_up, voice, clock=made_up.clock)
    with suppress(KeyboardInterrupt):
        addressing = Addressing(Way.CALL_WORD)
        microphone.listen(hands.bench, TwoPassRecogniser(PocketSphinx()), live, addressing)
    assert len(hands.events("hazards heard")) == 1


def test_a_phrase_with_a_hole_in_it_is_not_taken_and_the_loss_is_told(hands: Hands) -> None:
    gone = "The microphone is back. Say the last thing again."
    sound = np.concatenate([_said_at(0.5), _said_at(0.5)])
    made_up, _ = _work(hands, sound, headset=True, news={0.9: gone})
    assert made_up.news == {} and hands.notes.replies[0] == gone
    assert len(hands.events("hazards heard")) == 1


def test_a_quiet_microphone_is_told_once(hands: Hands) -> None:
    quiet = (voices.speak("say again", "heart", 0.2) / 300).astype(np.int16)
    levels = Levels()
    told = [levels.phrase(quiet.tobytes()) for _ in range(6)]
    assert [t is not None for t in told] == [False, False, True, False, False, False]
    assert "too quiet" in str(told[2])


def test_a_key_affirms_once_while_it_is_held(hands: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    pressed = iter(["", "y", "y", "y", "", "\x1b[y", "x"])

    @contextmanager
    def presses() -> Iterator[object]:
        yield lambda: next(pressed, "")

    monkeypatch.setattr(keys, "presses", presses)
    made_up = MadeUpMicrophone(recorded(PAUSE))
    voice = MadeUpVoice(made_up.clock)
    live = Live(made_up, voice, answers=keys.Answers({"y": "affirm"}), clock=made_up.clock)
    with suppress(KeyboardInterrupt):
        microphone.listen(hands.bench, TwoPassRecogniser(PocketSphinx()), live)
    (heard,) = hands.events("hazards heard")
    assert isinstance(heard, events.HazardsHeard) and heard.heard is not None
    assert heard.heard.recogniser == "key"
