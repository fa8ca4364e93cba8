"""Recognition in two passes, with fake recognisers that return what the test tells them to."""

from collections import Counter
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import ClassVar

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.audio.activity import Silero
from assistant.audio.pcm import Pcm
from assistant.dialogue import intents, live
from assistant.dialogue.intents import Intent
from assistant.dialogue.meaning import Meanings
from assistant.grammar.jsgf import Grammar
from assistant.recognition import two_pass
from assistant.recognition.recogniser import Hypothesis
from assistant.recognition.utterance import Verdict
from assistant.recognition.whisper import Candidate, Opinion
from tests.benchmark import speech
from tests.fixtures import AUDIO, NOW, meanings_at, state_of

STATE = state_of("winch-gearbox/fit-top-cover", "")


class Given:
    """A fake recogniser that returns what it is told to, and counts its calls."""

    name = "given"

    def __init__(self, words: str, ends_s: float = 1.0) -> None:
        self.words = tuple(words.split())
        self.ends_s = ends_s
        self.asked = 0

    def listen_for(self, grammar: Grammar) -> None:
        pass

    def feed(self, block: bytes) -> None:
        pass

    def finish(self) -> Hypothesis:
        times = tuple((word, 0.0, self.ends_s) for word in self.words)
        return Hypothesis(self.words, True, 0.95, self.name, Verdict.ACCEPTED, times=times)

    def begin(self, sound: Pcm) -> None: ...

    def opinion(self, ways: Iterable[Pcm], grammar: Grammar, also: tuple[str, ...] = ()) -> Opinion:
        self.asked += 1
        assert len(list(ways)) == 1
        same = Candidate(self.words, 8.0, 0.4, -0.8, 12)
        return Opinion((same,), "", -0.4, 0.1)


@pytest.mark.parametrize("for_us", [True, False])
def test_what_is_not_for_us_is_not_heard_twice_and_not_taken(for_us: bool) -> None:
    sound = Pcm(np.random.default_rng(1).normal(0, 1000, 16000).astype(np.int16))
    second = Given("tightened one four")
    both = two_pass.TwoPassRecogniser(Given("tightened one four"), second)
    heard = both.hear(
        sound,
        live.grammar_for(STATE),
        meanings_at(STATE),
        for_us=lambda words: for_us,
    )
    assert (heard.accepted, second.asked) == (for_us, for_us)


@pytest.mark.parametrize(("both", "asked"), [(False, 0), (True, 1)])
def test_a_question_is_taken_on_the_first_pass_alone_unless_both_are_wanted(
    both: bool, asked: int
) -> None:
    sound = np.zeros(16000, np.int16)
    sound[4000:12000] = np.random.default_rng(1).normal(0, 3000, 8000).astype(np.int16)
    second = Given("what torque")
    heard = two_pass.TwoPassRecogniser(Given("what torque"), second).hear(
        Pcm(sound),
        live.grammar_for(STATE),
        meanings_at(STATE),
        both=both,
    )
    assert heard.accepted and second.asked == asked


@pytest.mark.parametrize(("since_s", "accepted"), [(0.0, True), (0.3, False)])
def test_a_number_after_which_somebody_speaks_on_is_asked_for(
    since_s: float, accepted: bool
) -> None:
    said = pcm.read(AUDIO / "demo" / "001.flac")
    ends_s = speech.last_speech(said.samples) / pcm.RATE - since_s
    for words, taken in (("tightened one four", accepted), ("oil seal leaking", True)):
        heard = two_pass.TwoPassRecogniser(
            Given(words, ends_s), Given(words), activity=Silero()
        ).hear(said, live.grammar_for(STATE), meanings_at(STATE))
        assert heard.verdict is (Verdict.ACCEPTED if taken else Verdict.DOUBTFUL)


class Counted(Meanings):
    """Counts how often it is asked for the meaning of the same words."""

    asked: ClassVar[Counter[tuple[str, ...]]] = Counter()

    def means(self, words: Sequence[str]) -> Intent | None:
        self.asked[tuple(words)] += 1
        return super().means(words)


def test_the_meaning_is_worked_out_once_and_carried() -> None:
    sound = Pcm(np.random.default_rng(1).normal(0, 1000, 16000).astype(np.int16))
    both = two_pass.TwoPassRecogniser(Given("tightened one four"), Given("tightened one four"))
    counted = Counted(STATE, NOW)
    heard = both.hear(sound, live.grammar_for(STATE), counted)
    assert heard.meaning == intents.Tightened(Decimal(14))
    assert heard.sound is sound
    assert counted.asked == {("tightened", "one", "four"): 1}
