"""Whisper as the second pass uses it, with the weights of its pip package."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soxr

from assistant.audio.pcm import RATE, Pcm
from assistant.grammar import jsgf
from assistant.recognition import whisper
from tests.benchmark import speech, voices

GRAMMAR = jsgf.parse(
    "#JSGF V1.0; grammar g; public <g> = this is ann | tightened <d> <d> | next step;"
    "<d> = one | two | four;",
    "test",
)


def made_folder() -> Path:
    folder = whisper.find_model()
    assert folder is not None
    return folder


@pytest.fixture(scope="module")
def made() -> whisper.Whisper:
    return whisper.Whisper(made_folder())


def test_no_length_of_sound_is_special(made: whisper.Whisper) -> None:
    # Sound with as many encoded frames as mel bands must not be mistaken for features.
    said = voices.speak("this is ann", "heart", 0.3)
    ends = speech.last_speech(said)
    for more_s in np.arange(0.0, 0.2, 0.01):
        opinion = made.opinion([Pcm(said[: ends + round(more_s * RATE)])], GRAMMAR)
        assert opinion.candidates[0].words == ("this", "is", "ann"), more_s


def test_what_both_hear_needs_fewer_candidates() -> None:
    sound = Pcm(voices.speak("tightened one four", "heart", 0.3))
    few = whisper.Whisper(made_folder(), tuning=replace(whisper.SECOND_PASS, candidates_if_same=3))
    alone = few.opinion([sound], GRAMMAR)
    both = few.opinion([sound], GRAMMAR, ("tightened", "one", "four"))
    assert alone.candidates[0].words == both.candidates[0].words == ("tightened", "one", "four")
    assert len(both.candidates) == 3 < len(alone.candidates)


def test_silence_is_no_sentence(made: whisper.Whisper) -> None:
    opinion = made.opinion([Pcm(np.zeros(RATE, np.int16))], GRAMMAR)
    assert (opinion.candidates, opinion.cut) == ((), False)


def test_a_speech_is_not_heard_and_that_is_told(made: whisper.Whisper) -> None:
    said = np.tile(voices.speak("next step", "heart", 0.1), 20)[: 13 * RATE]
    opinion = made.opinion([Pcm(said)], GRAMMAR)
    assert (opinion.candidates, opinion.cut) == ((), True)


ORDERS = jsgf.parse(
    "#JSGF V1.0; grammar g; public <g> = order <n> <part> and <n> <part> and <n> <part>"
    " for the <place>;"
    "<n> = one | two | four | six | eight; <part> = drain plug | end plate | key | pin | seal;"
    "<place> = pump | winch;",
    "test",
)
LONG = "order two drain plug and four end plate and six key for the pump"


def test_speech_counts_and_not_the_silence_around_it(made: whisper.Whisper) -> None:
    said = soxr.resample(voices.speak(LONG, "heart", 0.0), 4, 5).astype(np.int16)
    assert len(said) / RATE > 4
    sound = np.zeros(13 * RATE, np.int16)
    sound[5 * RATE : 5 * RATE + len(said)] = said
    # With its noise, it is 13 s of sound without a pause.
    noisy = sound + np.random.default_rng(1).normal(0, 300, len(sound)).astype(np.int16)
    for ways in ([Pcm(sound)], [Pcm(sound), Pcm(noisy)]):
        opinion = made.opinion(ways, ORDERS)
        assert opinion.candidates[0].words == tuple(LONG.split()) and not opinion.cut
    assert made.opinion([Pcm(noisy)], ORDERS).cut


@pytest.mark.parametrize("also", [(), tuple(LONG.split())])
def test_a_fast_talker_of_a_long_sentence_is_heard_to_the_end(
    made: whisper.Whisper, also: tuple[str, ...]
) -> None:
    said = voices.speak(LONG, "heart", 0.0)
    fast = soxr.resample(said, 3 * RATE, 2 * RATE).astype(np.int16)
    # Seven tokens a second.
    assert len(fast) / RATE < 2.3
    opinion = made.opinion([Pcm(fast)], ORDERS, also)
    assert opinion.candidates[0].words == tuple(LONG.split()), opinion.text
    assert not opinion.cut


def test_fewer_tokens_than_were_said_are_told() -> None:
    few = whisper.Whisper(made_folder(), tuning=replace(whisper.SECOND_PASS, tokens_a_second=2))
    opinion = few.opinion([Pcm(voices.speak(LONG, "heart", 0.0))], ORDERS)
    assert opinion.candidates and opinion.cut


def test_more_phones_than_are_aligned_are_told() -> None:
    tuning = replace(whisper.SECOND_PASS, longest_phones=30)
    short = whisper.Whisper(made_folder(), tuning=tuning)
    sound = Pcm(voices.speak(LONG, "heart", 0.0))
    opinion = short.opinion([sound], ORDERS)
    assert opinion.cut and opinion.free_phones == 30
    # The second pass aligns as many phones as the first pass's sentence has.
    whole = short.opinion([sound], ORDERS, tuple(LONG.split()))
    assert whole.candidates[0].words == tuple(LONG.split()) and not whole.cut


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


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        ("skip step, step, step, step, st", "skip step,"),
        ("Skip step, step, step, step.", "Skip step,"),
        ("bag two and then and then and then and", "bag two and then and"),
        ("four four", "four four"),
        ("reading two two point five", "reading two two point five"),
        ("", ""),
    ],
)
def test_a_loop_at_the_limit_is_no_speech(heard: str, said: str) -> None:
    assert whisper._before_loop(heard) == said
