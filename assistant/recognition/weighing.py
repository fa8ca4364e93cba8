"""Weighs the results of both passes for one phrase, and gives the verdict.

This takes two logistic regressions. The first finds the sentence, by a linear utility of each
candidate. The utility grows with the second pass's score, falls with the distance in phones between
the candidate and the second pass's own text, and depends on whether the first pass heard the same
and, if not, on how much worse the candidate fits the sound there. (As a softmax this is the
conditional logit model of McFadden, 1974.) The second regression gives the probability that this
sentence was meant, from its lead over the others, the confidence of each pass, and what else was
said.

If something is at stake, a sentence must never be accepted on one pass alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Generic, TypeVar

from assistant.recognition.recogniser import Hypothesis
from assistant.recognition.utterance import Understanding, Utterance, Verdict
from assistant.recognition.whisper import Candidate, Opinion

M = TypeVar("M")
Loss = Callable[[tuple[str, ...]], float]
"""How much worse other words fit the sound in the first pass: see `Rescoring.loss`."""


@dataclass(frozen=True)
class Weights:
    """The weights of the two regressions.

    `tests.benchmark.fit` fitted them to the voices of audio_fixtures in six shop noises, and to
    other talk in such voices. `tests.benchmark` reports on other voices and other talk.
    """

    utility: tuple[float, ...] = (0.526, -2.011, 0.69, 1.108, -1.109, -2.473)
    """Weights of `Weighed.features`, in their order."""
    sure: tuple[float, ...] = (-0.659, 0.28, 0.188, 0.467, -0.119)
    """Weights of `signs`, in their order."""


@dataclass(frozen=True)
class Weighing:
    """Bounds and thresholds, set on the same voices, noises and talk as the weights.

    Utilities and their leads are log-odds; losses are log-likelihoods per 1000 frames of 10 ms;
    scores and fits are natural logarithms of probabilities.
    """

    certain: float = 0.8
    """Confidence from which the first pass is certain. Lower: it counts more against what only the
    second pass hears."""
    largest_loss: float = 4.0
    """Cap on the losses. Sentences that fit worse than this are all equally bad."""
    rescored: int = 3
    """Number of sentences that the first pass scores, at 0.05 s each."""
    clear: float = 0.95
    """Probability from which nothing needs rescoring. Lower answers faster, on less evidence."""
    largest_lead: float = 8.0
    lowest_score: float = -15.0
    highest_score: float = 12.0
    """Caps on the lead and on the score in the second regression."""
    unsure_logit: float = -2.0
    """Logit of the first pass's confidence if it accepts nothing."""
    accepted: float = 0.5
    at_stake: float = 0.55
    """Probability from which a sentence is accepted, and one with something at stake. Higher: more
    is asked again and less is wrong."""
    number_lead: float = 2.0
    """Lead that a number needs over any other meaning. Higher: more numbers are asked again."""
    doubtful: float = 0.2
    """Probability from which the phrase is asked for again. Lower: other talk is answered."""
    as_good: float = 1.0
    """Largest loss at which something at stake is accepted although the first pass heard something
    else. Higher: more is accepted, and more is wrong."""
    clear_fit: float = -0.8
    clear_score: float = -10.0
    """If the second pass wrote clear words (mean log-probability of a token above the first value)
    but its best sentence scores below the second one, it was other talk and is never accepted."""
    much_more: int = 10
    """Extra phones, beyond the sentence, from which the phrase is other talk."""
    twin_lead: float = 5.0
    """Lead that fourteen needs over forty if both would fit. Lower: they are confused."""
    free_phones: int = 3
    """Phones after the sentence from which they are free speech; fewer are the end of a word."""
    note_fit: float = -2.5
    """Lowest mean log-probability of a token of the words before free speech."""


WEIGHTS = Weights()
WEIGHING = Weighing()


@dataclass
class Weighed(Generic[M]):
    """A sentence that the phrase may be, and the evidence for it."""

    candidate: Candidate
    meaning: M
    same: bool
    """Whether the first pass heard the same meaning."""
    loss: float | None
    """How much worse it fits the sound in the first pass; None if it was not rescored."""

    @property
    def features(self) -> tuple[float, ...]:
        """The variables of the linear utility, in the order of `Weights.utility`.

        They are the second pass's score, the distance per phone, the mean log-probability of a
        token, whether both passes heard the same, the first pass's loss, and whether that is
        unknown.
        """
        return (
            self.candidate.score,
            self.candidate.distance / max(1, self.candidate.phones),
            self.candidate.fit,
            float(self.same),
            0.0 if self.loss is None else min(max(self.loss, -1.0), WEIGHING.largest_loss),
            float(self.loss is None),
        )

    @property
    def utility(self) -> float:
        """Log-odds of this sentence, up to a constant for the phrase."""
        return _dot(WEIGHTS.utility, self.features)


def judge(
    first: Hypothesis,
    opinion: Opinion,
    understanding: Understanding[M],
    second: str,
    loss: Loss,
) -> Utterance[M]:
    """Weigh the results of both passes for one phrase, and return the utterance.

    A sentence with something at stake needs a higher probability, and the first pass must have
    heard it too or find it as good. If a limit of the second pass cut off part of the phrase, the
    best sentence may be only its beginning, so it is asked for again and never accepted.

    Args:
        first: the hypothesis of the first pass.
        opinion: the result of the second pass.
        understanding: what words mean now.
        second: name of the recogniser of the second pass.
        loss: scores other words in the first pass.
    """
    name = f"{first.recogniser} and {second}"
    weighed = weigh(first, opinion, understanding, loss)
    if not weighed:
        return _unjudged(first, opinion, understanding, name)
    top = weighed[0]
    best = top.candidate
    sure = 0.0 if _other_talk(top, first, opinion) else _sure(weighed, first, opinion)
    free_speech = free_follows(best, first)
    if (
        sure >= _enough(understanding.at_stake(top.meaning))
        and _undisputed(weighed, opinion, understanding)
        # If a note was cut off, the rest is free speech, which is kept as sound.
        and (free_speech or not opinion.cut)
    ):
        verdict = Verdict.ACCEPTED
    else:
        verdict = Verdict.DOUBTFUL if sure >= WEIGHING.doubtful else Verdict.REJECTED
    return Utterance(
        words=best.words,
        meaning=top.meaning,
        verdict=verdict,
        confidence=round(sure, 3),
        recogniser=name,
        free_speech=free_speech,
        times=first.times if first.words == best.words else (),
        alternatives=tuple(each.candidate.words for each in weighed[1:4]),
    )


def _unjudged(
    first: Hypothesis, opinion: Opinion, understanding: Understanding[M], name: str
) -> Utterance[M]:
    """Return the utterance for a phrase in which the second pass finds no sentence.

    If a limit cut off its end, the first pass's sentence is asked for again.
    """
    meaning = understanding.means(first.words) if opinion.cut and first.accepted else None
    if meaning is None:
        return Utterance((), None, Verdict.REJECTED, 0.0, name)
    return Utterance(
        words=first.words,
        meaning=meaning,
        verdict=Verdict.DOUBTFUL,
        confidence=0.0,
        recogniser=name,
        free_speech=first.free_speech,
        times=first.times,
    )


def weigh(
    first: Hypothesis, opinion: Opinion, understanding: Understanding[M], loss: Loss
) -> list[Weighed[M]]:
    """Return the sentences that the phrase may be, the most likely first.

    If the order is unclear, the first pass scores the most likely ones against the sound.
    """
    meant_first = understanding.means(first.words) if first.words else None
    found = []
    for candidate in opinion.candidates:
        meaning = understanding.means(candidate.words)
        # Whisper sometimes repeats itself, so only the first pass can tell that something was said
        # twice.
        if meaning is not None and not (_certain(first) and _echoes(candidate.words, first.words)):
            own = 0.0 if candidate.words == first.words else None
            found.append(Weighed(candidate, meaning, meaning == meant_first, own))
    found.sort(key=lambda each: -each.utility)
    if found and not _settled(found, first, opinion, understanding):
        for each in [each for each in found if each.loss is None][: WEIGHING.rescored]:
            each.loss = loss(each.candidate.words)
        found.sort(key=lambda each: -each.utility)
    return found


def _settled(
    weighed: Sequence[Weighed[M]],
    first: Hypothesis,
    opinion: Opinion,
    understanding: Understanding[M],
) -> bool:
    """Whether the order is clear without rescoring in the first pass."""
    top = weighed[0]
    if _other_talk(top, first, opinion):
        return True
    if not top.same or _sure(weighed, first, opinion) < WEIGHING.clear:
        return False
    return not understanding.numeric(top.meaning) or not any(
        each.meaning != top.meaning and top.utility - _at_best(each) < WEIGHING.number_lead
        for each in weighed
    )


def _more(best: Candidate, first: Hypothesis, opinion: Opinion) -> int:
    """Return how many phones the second pass heard besides the sentence and free speech."""
    longer = 0 if free_follows(best, first) else opinion.free_phones - best.phones
    return min(max(longer, 0), WEIGHING.much_more)


def _other_talk(top: Weighed[M], first: Hypothesis, opinion: Opinion) -> bool:
    if free_follows(top.candidate, first):
        return top.candidate.fit < WEIGHING.note_fit
    # Whisper sometimes invents more words, so a first pass that is certain of the whole counts.
    if top.same and _certain(first):
        return False
    return _more(top.candidate, first, opinion) >= WEIGHING.much_more


def signs(weighed: Sequence[Weighed[M]], first: Hypothesis, opinion: Opinion) -> tuple[float, ...]:
    """Return the variables of the second regression, in the order of `Weights.sure`.

    They are 1; the lead of the most likely sentence, which comes first, over those that mean
    something else; its score; the first pass's confidence as a logit; and how many phones the
    second pass heard besides.
    """
    top = weighed[0]
    return (
        1.0,
        min(WEIGHING.largest_lead, _lead(weighed)),
        min(max(top.candidate.score, WEIGHING.lowest_score), WEIGHING.highest_score),
        _logit(first.confidence) if top.same or first.accepted else WEIGHING.unsure_logit,
        float(_more(top.candidate, first, opinion)),
    )


def _lead(weighed: Sequence[Weighed[M]]) -> float:
    """Return the lead of the first sentence over the next with another meaning, in log-odds."""
    top = weighed[0]
    others = (each.utility for each in weighed if each.meaning != top.meaning)
    return top.utility - next(others, -math.inf)


def _sure(weighed: Sequence[Weighed[M]], first: Hypothesis, opinion: Opinion) -> float:
    return _logistic(_dot(WEIGHTS.sure, signs(weighed, first, opinion)))


def _undisputed(
    weighed: Sequence[Weighed[M]], opinion: Opinion, understanding: Understanding[M]
) -> bool:
    """Whether no single piece of evidence rules out the most likely sentence."""
    top = weighed[0]
    if opinion.free_fit > WEIGHING.clear_fit and top.candidate.score < WEIGHING.clear_score:
        return False
    if not understanding.at_stake(top.meaning):
        return True
    if not top.same and (top.loss is None or top.loss > WEIGHING.as_good):
        return False
    if understanding.numeric(top.meaning) and _lead(weighed) < WEIGHING.number_lead:
        return False
    return not _has_twin(weighed, understanding)


def _has_twin(weighed: Sequence[Weighed[M]], understanding: Understanding[M]) -> bool:
    """Whether a twin of the most likely sentence, as fifteen is of fifty, fits and is close."""
    top = weighed[0]
    return understanding.fits(top.meaning) and any(
        top.utility - _at_best(each) < WEIGHING.twin_lead
        and each.meaning != top.meaning
        and _twins(each.candidate.words, top.candidate.words)
        and understanding.fits(each.meaning)
        for each in weighed
    )


def _at_best(weighed: Weighed[M]) -> float:
    """Return its utility; if it was not rescored, the utility that it has with a loss of 0."""
    return weighed.utility if weighed.loss is not None else replace(weighed, loss=0.0).utility


def _enough(at_stake: bool) -> float:
    return WEIGHING.at_stake if at_stake else WEIGHING.accepted


def _certain(first: Hypothesis) -> bool:
    return first.accepted and first.confidence >= WEIGHING.certain


def free_follows(best: Candidate, first: Hypothesis) -> bool:
    """Whether free speech follows the sentence.

    If both passes heard the same words, the first pass decides, because it has their times.
    """
    if first.words == best.words and first.times:
        return first.free_speech
    return best.free >= WEIGHING.free_phones


def _echoes(longer: tuple[str, ...], words: tuple[str, ...]) -> bool:
    """Whether the sentence `longer` is `words` with some of them repeated."""
    if len(longer) <= len(words):
        return False
    goes_on = longer[: len(words)] == words and set(longer) == set(words)
    return goes_on or _once(longer) == _once(words)


def _once(words: tuple[str, ...]) -> list[str]:
    return [word for word, _ in groupby(words)]


# Teens and tens are the most common confusion of numbers.
_TEENS = ("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
_TENS = ("thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_TWIN = dict(zip((*_TEENS, *_TENS), (*_TENS, *_TEENS), strict=True))


def _twins(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Whether two sentences differ only in that one has teens where the other has tens."""
    return len(one) == len(other) and all(
        a == b or _TWIN.get(a) == b for a, b in zip(one, other, strict=True)
    )


def _logit(probability: float) -> float:
    limited = min(max(probability, 0.02), 0.98)
    return math.log(limited / (1 - limited))


def _dot(weights: Sequence[float], values: Sequence[float]) -> float:
    return math.fsum(weight * value for weight, value in zip(weights, values, strict=True))


def _logistic(value: float) -> float:
    return 1 / (1 + math.exp(-value))
