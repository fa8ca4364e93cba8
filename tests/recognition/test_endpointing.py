"""Endpointing by what the grammar lets follow, on real speech with made-up results."""

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.audio.activity import Silero
from assistant.audio.endpoint import ENDPOINTING, Endpointer, Phrase
from assistant.grammar import jsgf
from assistant.recognition.endpointing import PhraseListener
from assistant.recognition.utterance import Utterance, Verdict
from tests.benchmark import noises, speech
from tests.fixtures import AUDIO

GRAMMAR = jsgf.parse(
    "#JSGF V1.0; grammar g; public <g> = affirm | tightened <digit>+ | note <GARBAGE>;"
    "<digit> = one | two;",
    "test",
)
_RECORDED = pcm.read(AUDIO / "demo" / "001.flac").samples
SPOKEN = _RECORDED[: speech.last_speech(_RECORDED)]
"""A voice that says one word."""
ENDS_S = len(SPOKEN) / pcm.RATE


def room(seconds: float) -> np.ndarray:
    return np.random.default_rng(1).normal(0, 10, round(seconds * pcm.RATE)).astype(np.int16)


class Stream:
    """Feeds sound in blocks like a microphone, and notes when each phrase was over."""

    def __init__(self, words: str, accepted: bool = True) -> None:
        self.now = 0.0
        self.takes_s = 0.0
        self.looks: list[bool] = []
        self.words, self.accepted = words, accepted
        self.grammar = GRAMMAR
        self.listener = PhraseListener(self.hear, lambda: self.grammar, lambda: self.now, Silero())

    def hear(self, phrase: Phrase, early: bool) -> Utterance[str]:
        self.looks.append(early)
        self.now += self.takes_s
        verdict = Verdict.ACCEPTED if self.accepted else Verdict.REJECTED
        return Utterance(tuple(self.words.split()), self.words, verdict, 0.9, "made up")

    def over(self, *sounds: np.ndarray) -> list[float]:
        """Feed the parts; return when each phrase was over, in seconds of the stream."""
        data = np.concatenate(sounds).tobytes()
        ends = []
        for start in range(0, len(data), 960):
            self.now = max(self.now, (start + 960) / 2 / pcm.RATE)
            ends += [self.now for _ in self.listener.feed(data[start : start + 960])]
        return ends


@pytest.mark.parametrize(
    ("words", "accepted", "least", "most"),
    [
        ("affirm", True, 0.0, 0.2),  # nothing can follow
        ("tightened one", True, 0.3, 0.6),  # another digit may
        ("tightened", True, 0.7, 1.0),  # only begun
        ("note", True, 0.7, 1.0),  # the note's own words may follow
        ("affirm", False, 0.3, 0.6),  # not sure
        ("", False, 0.3, 0.6),
    ],
)
def test_the_grammar_tells_how_long_to_wait(
    words: str, accepted: bool, least: float, most: float
) -> None:
    (end,) = Stream(words, accepted).over(room(1), SPOKEN, room(2))
    assert least < end - 1 - ENDS_S < most


def test_what_is_recorded_is_not_hurried() -> None:
    stream = Stream("affirm")
    stream.listener = PhraseListener(
        stream.hear, lambda: GRAMMAR, activity=Silero(), at_stake=lambda meaning: True
    )
    (end,) = stream.over(room(1), SPOKEN, room(2))
    assert 0.2 < end - 1 - ENDS_S < 0.4


def test_what_was_heard_early_is_not_heard_again_where_it_stands() -> None:
    stream = Stream("tightened one")
    stream.over(room(1), SPOKEN, room(2))
    assert stream.looks == [True]
    stream = Stream("tightened")
    stream.over(room(1), SPOKEN, room(2))
    assert stream.looks == [True, False]


def test_what_was_heard_early_has_the_sound_of_the_whole_phrase() -> None:
    stream = Stream("tightened one")
    data = np.concatenate([room(1), SPOKEN, room(2)]).tobytes()
    ((phrase, utterance),) = stream.listener.feed(data)
    assert utterance.sound is not None and utterance.sound.tobytes() == phrase.data


def test_what_was_heard_before_the_conversation_went_on_is_heard_again() -> None:
    stream = Stream("tightened one")
    stream.over(room(1), SPOKEN, room(0.2))
    assert stream.looks == [True]
    # Somebody pressed a key, so other things can be said now.
    stream.grammar = jsgf.parse("#JSGF V1.0; grammar g; public <g> = tightened one;", "test")
    assert len(stream.over(room(2))) == 1
    assert stream.looks == [True, False]


def test_speech_that_goes_on_is_one_phrase() -> None:
    stream = Stream("tightened one")
    ends = stream.over(room(1), SPOKEN, room(0.1), SPOKEN, room(2))
    assert len(ends) == 1
    assert stream.looks == [True, True]


def test_a_stop_between_two_words_does_not_end_a_command_that_talk_begins_like() -> None:
    stream = Stream("affirm")
    loud = np.flatnonzero(np.abs(SPOKEN) > 0.1 * np.abs(SPOKEN).max())
    ends = stream.over(room(1), SPOKEN, room(0.07), SPOKEN[loud[0] :], room(2))
    assert len(ends) == 1
    assert stream.looks == [True, True]


def test_what_was_said_while_it_was_heard_counts() -> None:
    stream = Stream("affirm")
    stream.takes_s = 0.5
    # The phrase seemed over, but more was said while it was recognised.
    ends = stream.over(room(1), SPOKEN, room(0.2), SPOKEN, room(2))
    assert len(ends) == 1
    assert stream.looks == [True, True]


def test_the_end_of_the_stream_ends_the_phrase() -> None:
    stream = Stream("affirm")
    assert stream.over(room(1), SPOKEN) == []
    assert [hearing.words for _, hearing in stream.listener.flush()] == [("affirm",)]
    assert list(stream.listener.flush()) == []


Noise = Callable[[int, np.random.Generator], np.ndarray]


def frames(sound: np.ndarray) -> Iterator[bytes]:
    data = sound.tobytes()
    return (data[start : start + 960] for start in range(0, len(data) - 959, 960))


@pytest.mark.parametrize("noise", ["pink", "compressor", "grinder", "impact wrench", "hum"])
def test_the_end_of_speech_is_noticed_in_noise(noise: str) -> None:
    sound = np.concatenate([room(1), SPOKEN, room(1.5)])
    under = speech.NOISES[noise](len(sound), np.random.default_rng(3))
    endpointer = Endpointer(Silero(), replace(ENDPOINTING, pause_s=9.0))
    noticed = None
    for number, frame in enumerate(frames(noises.mix(sound, under, 10.0))):
        endpointer.take(frame)
        at = (number + 1) * 0.03 - 1 - ENDS_S
        if noticed is None and at > 0 and endpointer.silent_s >= 0.06:
            noticed = at
    assert noticed is not None and noticed < 0.3


@pytest.mark.parametrize("noise", ["compressor", "grinder", "impact wrench"])
def test_a_short_word_in_noise_is_a_phrase(noise: str) -> None:
    sound = np.concatenate([room(1), SPOKEN, room(1.5)])
    under = speech.NOISES[noise](len(sound), np.random.default_rng(3))
    noisy = noises.mix(sound, under, 10.0).tobytes()
    (phrase,) = Endpointer(activity=Silero()).feed(noisy)
    assert phrase.start_s < 1.1
    assert phrase.start_s + phrase.seconds > 1 + ENDS_S


def test_noise_alone_is_no_phrase() -> None:
    for noise in ("compressor", "grinder", "impact wrench"):
        made = speech.NOISES[noise](8 * pcm.RATE, np.random.default_rng(4))
        loud = np.round(3000 * made / np.abs(made).max()).astype(np.int16)
        assert list(Endpointer(activity=Silero()).feed(loud.tobytes())) == []


def test_activity_at_the_end_is_that_of_the_end() -> None:
    activity = Silero()
    assert activity.at_end(pcm.Pcm(SPOKEN[: round(0.9 * ENDS_S * pcm.RATE)])) > 0.8
    assert activity.at_end(pcm.Pcm(np.concatenate([SPOKEN, room(0.5)]))) < 0.2
    assert activity.at_end(pcm.Pcm(room(0.01))) == 0.0
