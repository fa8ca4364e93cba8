"""How two listeners are weighed, on opinions made up for it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from assistant import ears
from assistant.audio.pcm import Pcm
from assistant.audio.recogniser import Hearing
from assistant.audio.whisper import Candidate, Opinion
from assistant.language import live, understanding
from assistant.language.jsgf import Grammar
from assistant.session.state import State
from tests.fixtures import state_of

STATE: State = state_of("winch-gearbox/fit-top-cover", "")


def opinion(*scores: tuple[str, float], free_fit: float = -0.4) -> Opinion:
    found = [Candidate(tuple(t.split()), s, 0.4, -0.8, 3 * len(t.split())) for t, s in scores]
    return Opinion(tuple(sorted(found, key=lambda c: -c.score)), "", free_fit, 0.1)


def judged(
    first: str,
    second: Opinion,
    fits: bool = True,
    confidence: float = 0.95,
    loss: float = math.inf,
) -> Hearing:
    hearing = Hearing(tuple(first.split()), True, confidence, "fast")
    return ears.judge(
        hearing,
        second,
        lambda words: understanding.understand(words, STATE),
        lambda meaning: fits,
        "second",
        lambda words: loss,
    )


def test_where_both_hear_the_same_it_is_taken() -> None:
    found = judged("tightened one four", opinion(("tightened one four", 8), ("next step", -9)))
    assert found.accepted and not found.doubtful
    assert found.words == ("tightened", "one", "four")
    assert found.recogniser == "fast and second"


@pytest.mark.parametrize("said", ["tightened one four", "bag three", "affirm"])
def test_what_is_recorded_is_asked_for_where_they_differ(said: str) -> None:
    found = judged("disregard", opinion((said, 12), ("note", -9)))
    assert not found.accepted and found.doubtful


@pytest.mark.parametrize(("loss", "accepted"), [(0.1, True), (1.0, False)])
def test_what_the_fast_one_finds_as_likely_is_agreed(loss: float, accepted: bool) -> None:
    heard = opinion(("tightened one four", 8), ("tightened nine four", 4), ("next step", -9))
    found = judged("tightened nine four", heard, loss=loss)
    assert found.accepted is accepted and found.doubtful is not accepted
    assert found.words == ("tightened", "one", "four")


def test_fourteen_is_not_agreed_where_the_fast_one_heard_forty() -> None:
    heard = opinion(("tightened fourteen", 8), ("tightened forty", 3), ("next step", -9))
    assert not judged("tightened forty", heard, loss=0.0).accepted


def test_a_move_is_taken_on_the_second_ones_word() -> None:
    assert judged("affirm", opinion(("next step", 12), ("affirm", -9)), confidence=0.6).accepted


def test_the_same_meaning_in_other_words_is_agreement() -> None:
    assert judged("order drain plug", opinion(("order a drain plug", 8), ("note", -9))).accepted


@pytest.mark.parametrize(("fits", "accepted"), [(True, False), (False, True)])
def test_fourteen_or_forty_is_asked_unless_the_step_questions_it_anyhow(
    fits: bool, accepted: bool
) -> None:
    found = judged(
        "tightened fourteen",
        opinion(("tightened fourteen", 8), ("tightened forty", 4.5), ("next step", -9)),
        fits,
    )
    assert found.accepted is accepted
    assert found.doubtful is not accepted


def test_a_digit_that_only_whisper_says_again_does_not_count() -> None:
    heard = opinion(("tightened one four", 8), ("tightened one four four", 7.9))
    assert judged("tightened one four", heard).accepted
    assert not judged("tightened one four", heard, confidence=0.7).accepted


def test_talk_that_is_like_nothing_is_not_taken_and_not_asked_for() -> None:
    far = replace(opinion(("note", -17.0)).candidates[0], distance=8.0, phones=3)
    found = judged("note", Opinion((far,), "no not that one", -0.1, 0.1))
    assert not found.accepted and not found.doubtful


@pytest.mark.parametrize(
    ("phones", "accepted", "doubtful"), [(9, True, False), (14, False, True), (25, False, False)]
)
def test_more_than_the_sentence_is_not_the_sentence(
    phones: int, accepted: bool, doubtful: bool
) -> None:
    heard = replace(opinion(("bag four one", 8), ("note", -9)), free_phones=phones)
    found = judged("bag four one", heard, confidence=0.7)
    assert (found.accepted, found.doubtful) == (accepted, doubtful)
    assert judged("bag four one", heard, confidence=0.95).accepted


def test_nothing_heard_is_nothing() -> None:
    found = judged("next step", Opinion((), "", 0.0, 0.1))
    assert (found.words, found.accepted, found.doubtful) == ((), False, False)


class Given:
    """A listener that hears what it is told to, and counts how often it is asked."""

    name = "given"

    def __init__(self, words: str) -> None:
        self.words = tuple(words.split())
        self.asked = 0

    def listen_for(self, grammar: Grammar) -> None:
        pass

    def feed(self, block: bytes) -> None:
        pass

    def finish(self) -> Hearing:
        return Hearing(self.words, True, 0.95, self.name)

    def opinion(self, pcm: Pcm, grammar: Grammar, also: tuple[str, ...] = ()) -> Opinion:
        self.asked += 1
        return opinion((" ".join(self.words), 8.0))


@pytest.mark.parametrize("for_us", [True, False])
def test_what_is_not_for_us_is_not_heard_twice_and_not_taken(for_us: bool) -> None:
    sound = Pcm(np.random.default_rng(1).normal(0, 1000, 16000).astype(np.int16))
    second = Given("tightened one four")
    both = ears.Ears(Given("tightened one four"), second)
    heard = both.hear(
        sound,
        live.grammar_for(STATE),
        lambda words: understanding.understand(words, STATE),
        for_us=lambda words: for_us,
    )
    assert (heard.accepted, second.asked) == (for_us, for_us)
