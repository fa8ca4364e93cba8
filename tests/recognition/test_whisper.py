"""Whisper as it is used here, with the weights of its pip package."""

import numpy as np
import pytest

from assistant.audio.pcm import RATE, Pcm
from assistant.grammar import jsgf
from assistant.recognition import whisper
from tests.benchmark import speech, voices

GRAMMAR = jsgf.parse(
    "#JSGF V1.0; grammar g; public <g> = this is ann | tightened <d> <d> | next step;"
    "<d> = one | two | four;",
    "test",
)


@pytest.fixture(scope="module")
def made() -> whisper.Whisper:
    folder = whisper.find_model()
    assert folder is not None
    return whisper.Whisper(folder)


def test_no_length_of_sound_is_special(made: whisper.Whisper) -> None:
    # One whose encoded length is the number of mel bands was once taken for sound not yet encoded.
    said = voices.speak("this is ann", "heart", 0.3)
    ends = speech.last_speech(said)
    for more_s in np.arange(0.0, 0.2, 0.01):
        opinion = made.opinion([Pcm(said[: ends + round(more_s * RATE)])], GRAMMAR)
        assert opinion.candidates[0].words == ("this", "is", "ann"), more_s


def test_what_both_hear_needs_fewer_candidates(made: whisper.Whisper) -> None:
    sound = Pcm(voices.speak("tightened one four", "heart", 0.3))
    alone = made.opinion([sound], GRAMMAR)
    both = made.opinion([sound], GRAMMAR, ("tightened", "one", "four"))
    assert alone.candidates[0].words == both.candidates[0].words == ("tightened", "one", "four")
    assert len(both.candidates) <= 8 < len(alone.candidates)


def test_silence_and_speeches_are_no_sentence(made: whisper.Whisper) -> None:
    for samples in (np.zeros(RATE, np.int16), np.ones(13 * RATE, np.int16)):
        assert made.opinion([Pcm(samples)], GRAMMAR).candidates == ()


@pytest.mark.parametrize(
    ("heard", "once"),
    [
        ("Say again. Say again.", "Say again."),
        ("impeller cracked, impe", "impeller cracked,"),
        ("two two two", "two two"),
        ("order two drain plugs", "order two drain plugs"),
        ("bag bag four", "bag bag four"),
    ],
)
def test_what_whisper_says_again_is_said_once(heard: str, once: str) -> None:
    assert whisper._once(heard) == once
