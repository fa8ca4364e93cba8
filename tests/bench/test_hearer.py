"""What a bench is given of what was heard: the meaning, the clip, and no call word."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.audio.endpoint import Phrase
from assistant.bench.addressing import Addressing, Way
from assistant.bench.calling import Called, WithCallWord
from assistant.bench.hearer import Hearer
from assistant.dialogue import intents, stakes
from assistant.grammar.jsgf import Grammar
from assistant.recognition.recogniser import Hypothesis
from assistant.recognition.two_pass import TwoPassRecogniser
from assistant.recognition.utterance import Verdict
from tests.bench_helpers import Hands
from tests.benchmark import speech
from tests.fixtures import AUDIO

SOUND = np.arange(1600, dtype="<i2").tobytes()


class Scripted:
    """A recogniser that hears what it is told to, for sure."""

    name = "scripted"

    def __init__(self, *words: str) -> None:
        self.words = words

    def listen_for(self, grammar: Grammar) -> None:
        pass

    def feed(self, block: bytes) -> None:
        pass

    def finish(self) -> Hypothesis:
        return Hypothesis(self.words, True, 0.99, self.name, Verdict.ACCEPTED)


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


def hearer(hands: Hands, words: str, way: Way = Way.OPEN) -> Hearer:
    return Hearer(hands.bench, TwoPassRecogniser(Scripted(*words.split())), Addressing(way))


def phrase() -> Phrase:
    return Phrase(SOUND, 0.0, 0.1)


def test_a_phrase_is_taken_with_its_meaning_and_without_the_call_word(hands: Hands) -> None:
    called = hearer(hands, "bench affirm", Way.CALL_WORD)
    said = phrase()
    assert called.take(said, called.hear(said))
    (heard,) = hands.events("hazards heard")
    assert heard.heard.words == "affirm" and heard.heard.recogniser == "scripted"  # type: ignore[attr-defined]


def test_the_call_word_alone_is_answered_and_talk_to_others_is_not(hands: Hands) -> None:
    said = phrase()
    for words, taken, replies in (("bench", True, ["Listening."]), ("affirm", False, [])):
        hands.notes.replies.clear()
        called = hearer(hands, words, Way.CALL_WORD)
        assert called.take(said, called.hear(said)) is taken
        assert hands.notes.replies == replies
    assert not hands.events("hazards heard")


def test_what_was_heard_before_a_key_was_pressed_means_what_it_means_now(hands: Hands) -> None:
    hands.say("affirm", "bag one", "next step")
    chosen = hearer(hands, "splined shaft")
    phrases, voice = chosen.phrases(), pcm.read(AUDIO / "demo" / "001.flac").samples
    spoken = voice[: speech.last_speech(voice)].tobytes()
    assert not list(phrases.feed(spoken + bytes(pcm.RATE // 10 * 2)))
    # It was heard already, and nobody knew yet that it was over, when a key led elsewhere.
    hands.say("stand by")
    ((said, heard),) = phrases.feed(bytes(pcm.RATE * 2))
    assert heard.words == ("splined", "shaft")
    chosen.take(said, heard)
    assert hands.bench.standing_by and not hands.events("question answered")
    assert hands.notes.refused[-1] == "splined shaft"


class Digits:
    """Understands a word as its length; odd ones are at stake and even ones fit."""

    def means(self, words: Sequence[str]) -> int | None:
        return len(words[0]) if words else None

    def at_stake(self, meaning: int) -> bool:
        return meaning % 2 == 1

    def numeric(self, meaning: int) -> bool:
        return True

    def fits(self, meaning: int) -> bool:
        return meaning % 2 == 0


def test_a_call_word_is_understood_before_words_alone_and_not_at_all() -> None:
    called = WithCallWord(Digits(), ("hello", "bench"))
    assert called.means(("hello", "bench", "four")) == called.means(("four",)) == 4
    assert called.means(("Hello", "Bench")) == Called() and called.means(()) is None
    assert called.at_stake(Called()) and called.fits(Called()) and not called.numeric(Called())
    assert called.at_stake(3) and not called.at_stake(4)
    assert called.fits(4) and not called.fits(3) and called.numeric(3)


def test_stakes_are_the_dialogues(hands: Hands) -> None:
    for intent in (intents.Next(), intents.Bag(3), intents.Affirm()):
        assert hands.bench.at_stake(intent) is stakes.high(intent)
        assert hands.bench.numeric(intent) is stakes.numeric(intent)
