"""Weighing both passes, on made-up results of the second pass."""

import math
from dataclasses import replace

import pytest

from assistant.dialogue.intents import Intent
from assistant.dialogue.meaning import Meanings
from assistant.dialogue.state import State
from assistant.recognition import weighing
from assistant.recognition.recogniser import Hypothesis
from assistant.recognition.utterance import Utterance, Verdict
from assistant.recognition.whisper import Candidate, Opinion
from tests.fixtures import NOW, state_of

STATE: State = state_of("winch-gearbox/fit-top-cover", "")


def opinion(*scores: tuple[str, float], free_fit: float = -0.4) -> Opinion:
    found = [Candidate(tuple(t.split()), s, 0.4, -0.8, 3 * len(t.split())) for t, s in scores]
    return Opinion(tuple(sorted(found, key=lambda c: -c.score)), "", free_fit, 0.1)


class Given(Meanings):
    """Meanings whose values all fit the step, or none of them."""

    every_value_fits = True

    def fits(self, meaning: Intent) -> bool:
        return self.every_value_fits


class NothingFits(Given):
    every_value_fits = False


def judged(
    first: str,
    second: Opinion,
    fits: bool = True,
    confidence: float = 0.95,
    loss: float = math.inf,
) -> Utterance[Intent]:
    heard = Hypothesis(tuple(first.split()), True, confidence, "fast", Verdict.ACCEPTED)
    return weighing.judge(
        heard,
        second,
        (Given if fits else NothingFits)(STATE, NOW),
        "second",
        lambda words: loss,
    )


def test_where_both_hear_the_same_it_is_taken() -> None:
    found = judged("tightened one four", opinion(("tightened one four", 8), ("next step", -9)))
    assert found.accepted
    assert found.words == ("tightened", "one", "four")
    assert found.recogniser == "fast and second"


@pytest.mark.parametrize("said", ["tightened one four", "bag three", "affirm"])
def test_what_is_recorded_is_asked_for_where_they_differ(said: str) -> None:
    found = judged("disregard", opinion((said, 12), ("note", -9)))
    assert found.verdict is Verdict.DOUBTFUL


@pytest.mark.parametrize(("loss", "accepted"), [(0.1, True), (2.0, False)])
def test_what_the_first_pass_finds_as_likely_is_agreed(loss: float, accepted: bool) -> None:
    heard = opinion(("tightened one four", 12), ("tightened nine four", 4), ("next step", -9))
    found = judged("tightened nine four", heard, loss=loss)
    assert found.verdict is (Verdict.ACCEPTED if accepted else Verdict.DOUBTFUL)
    assert found.words == ("tightened", "one", "four") or not accepted


def test_a_number_is_asked_for_where_the_second_pass_finds_another_likelier() -> None:
    heard = opinion(("tightened one four", 9), ("tightened nine four", 4.5), ("next step", -9))
    found = judged("tightened nine four", heard, loss=0.5)
    assert found.verdict is Verdict.DOUBTFUL


def test_fourteen_is_not_agreed_where_the_first_pass_heard_forty() -> None:
    heard = opinion(("tightened fourteen", 8), ("tightened forty", 3), ("next step", -9))
    assert not judged("tightened forty", heard, loss=0.0).accepted
    assert not judged("tightened forty", heard, loss=4.0).accepted


def test_a_move_is_taken_on_the_second_pass_alone() -> None:
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
        loss=0.0,
    )
    assert found.verdict is (Verdict.ACCEPTED if accepted else Verdict.DOUBTFUL)


def test_a_digit_that_only_whisper_says_again_does_not_count() -> None:
    heard = opinion(("tightened one four", 8), ("tightened one four four", 7.9))
    assert judged("tightened one four", heard, loss=0.0).accepted
    assert not judged("tightened one four", heard, confidence=0.7, loss=0.0).accepted


def test_talk_that_is_like_nothing_is_not_taken() -> None:
    far = replace(opinion(("note", -17.0)).candidates[0], distance=8.0, phones=3)
    talk = Opinion((far,), "no not that one", -0.1, 0.1)
    assert not judged("note", talk).accepted
    found = judged("note", replace(talk, free_phones=9), confidence=0.3)
    assert found.verdict is Verdict.REJECTED


def test_the_more_was_said_besides_the_less_sure_it_is() -> None:
    heard = opinion(("bag four one", 8), ("note", -9))
    sure = [
        judged("bag four one", replace(heard, free_phones=phones), confidence=0.7).confidence
        for phones in (0, 9, 12, 16, 19, 30)
    ]
    assert sure[0] == sure[1] > sure[2] > sure[3] > sure[4] == sure[5] == 0.0
    # If the first pass is certain of the whole, Whisper may have invented the rest.
    assert judged("bag four one", replace(heard, free_phones=30), confidence=0.95).accepted


def _least_sure(words: str) -> float:
    """Return the lowest confidence at which the words are accepted."""
    for score in range(-100, 60):
        heard = opinion((words, score / 5), ("note", -30))
        found = judged(words, heard, confidence=0.5, loss=3.0)
        if found.accepted:
            return found.confidence
    raise AssertionError("never taken")


def test_what_is_recorded_needs_more_certainty_than_a_question() -> None:
    assert _least_sure("oil seal leaking") > _least_sure("what torque")


@pytest.mark.parametrize(("other", "accepted"), [(-2.0, True), (7.0, False)])
def test_a_number_must_be_well_ahead_of_another(other: float, accepted: bool) -> None:
    heard = opinion(("tightened one four", 8), ("tightened nine four", other), ("next step", -9))
    found = judged("tightened one four", heard, loss=0.0)
    assert found.verdict is (Verdict.ACCEPTED if accepted else Verdict.DOUBTFUL)


def test_nothing_heard_is_nothing() -> None:
    found = judged("next step", Opinion((), "", 0.0, 0.1))
    assert (found.words, found.meaning, found.verdict) == ((), None, Verdict.REJECTED)


def test_what_was_cut_off_is_asked_for_again() -> None:
    heard = opinion(("tightened one four", 8), ("next step", -9))
    assert judged("tightened one four", heard).accepted
    found = judged("tightened one four", replace(heard, cut=True))
    assert (found.text, found.verdict) == ("tightened one four", Verdict.DOUBTFUL)


def test_a_note_may_be_longer_than_is_heard() -> None:
    note = replace(opinion(("note", 8)).candidates[0], free=40)
    assert judged("note", Opinion((note,), "", -0.4, 0.1, cut=True)).accepted


def test_speech_too_long_for_the_second_pass_is_asked_for_where_the_first_understands() -> None:
    nothing = Opinion((), "", 0.0, 0.1, cut=True)
    found = judged("next step", nothing)
    assert (found.text, found.verdict) == ("next step", Verdict.DOUBTFUL)
    assert judged("of of of", nothing).verdict is Verdict.REJECTED
