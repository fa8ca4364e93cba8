"""Weighs what two listeners heard of one phrase, and gives the verdict.

Two steps, each a logistic regression. The first finds the sentence, by a linear utility of each
candidate: how likely the second listener finds it, how far its own text is from it in phones,
whether the first listener heard the same, and if not, how much worse the sound fits it there. (As
a softmax that is the conditional logit model of McFadden, 1974.) The second says how sure that is:
from the utility's lead, from how sure each listener is, and from what was said besides.

Nothing at stake is accepted on one listener's word.
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
"""How much worse words would have fitted what the first listener heard: see `Rescoring`."""


@dataclass(frozen=True)
class Weights:
    """The weights of the two regressions.

    Fitted by `tests.benchmark.fit` to the voices of audio_fixtures in six shop noises, and to
    other talk in such voices. `tests.benchmark` reports other voices and other talk.
    """

    utility: tuple[float, ...] = (0.526, -2.011, 0.69, 1.108, -1.109, -2.473)
    """Weights of `Weighed.features`, in their order."""
    sure: tuple[float, ...] = (-0.659, 0.28, 0.188, 0.467, -0.119)
    """Weights of `signs`, in their order."""


@dataclass(frozen=True)
class Weighing:
    """Bounds and thresholds around the weights, set on the same voices, noises and talk.

    Utilities and their leads are log-odds; losses are log-likelihoods per 1000 frames of 10 ms;
    scores and fits are natural logarithms of probabilities.
    """

    certain: float = 0.8
    """Confidence from which the first listener is certain. Lower: its word counts more against
    what only the second one hears."""
    largest_loss: float = 4.0
    """Losses above this count as this much: sentences that fit so badly are all alike."""
    rescored: int = 3
    """How many sentences the first listener scores, at 0.05 s each."""
    clear: float = 0.95
    """Probability from which nothing needs rescoring. Lower answers faster, on less evidence."""
    largest_lead: float = 8.0
    lowest_score: float = -15.0
    highest_score: float = 12.0
    """Bounds of the lead and of the score as signs of being sure."""
    unsure_logit: float = -2.0
    """Logit of the first listener's confidence where it accepts nothing."""
    accepted: float = 0.5
    at_stake: float = 0.55
    """Probability to accept a sentence, and one that is recorded or answered for. Higher: more is
    asked again and less is wrong."""
    number_lead: float = 2.0
    """Lead that a number needs over any other meaning. Higher: more numbers are asked again."""
    doubtful: float = 0.2
    """Probability from which the phrase is asked for again. Lower: other talk is answered."""
    as_good: float = 1.0
    """Largest loss of what is at stake where the first listener heard something else."""
    clear_fit: float = -0.8
    clear_score: float = -10.0
    """The second listener wrote clear words (mean log-probability of a token) and its best sentence
    scores less than this: other talk, never accepted."""
    much_more: int = 10
    """So many phones more than the sentence are other talk."""
    twin_lead: float = 5.0
    """Lead that fourteen needs over forty where both would fit. Lower: they are confused."""
    free_phones: int = 3
    """Phones after the sentence that count as free speech; fewer are the end of a word."""
    note_fit: float = -2.5
    """Least mean log-probability of a token of the words before free speech."""


WEIGHTS = Weights()
WEIGHING = Weighing()


@dataclass
class Weighed(Generic[M]):
    """A sentence that the phrase may be, and what speaks for it."""

    candidate: Candidate
    meaning: M
    same: bool
    """Whether the first listener heard the same meaning."""
    loss: float | None
    """How much worse it fits what the first listener heard; None where that was not asked."""

    @property
    def features(self) -> tuple[float, ...]:
        """What the utility is a linear function of.

        The second listener's score, phones missed of all, and mean log-probability of a token;
        whether both heard the same; the first listener's loss, and whether that is unknown.
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
        """Log-odds of this sentence, up to a constant of the phrase."""
        return _dot(WEIGHTS.utility, self.features)


def judge(
    first: Hypothesis,
    opinion: Opinion,
    understanding: Understanding[M],
    second: str,
    loss: Loss,
) -> Utterance[M]:
    """Weigh what the first listener and the second one, named `second`, heard of one phrase.

    What is at stake must be surer than what is not, and the first listener must have heard it
    too, or find it as good. Where a limit of the second listener cut off part of the phrase, the
    likeliest sentence may be only its beginning: it is asked for again, never accepted.
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
        # What was cut off a note is its free speech, and that is kept as sound.
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
    """Return what to make of a phrase of which the second listener finds no sentence.

    Where it could not hear the phrase to its end, the first listener's sentence is asked for.
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
    """Return the sentences that the phrase may be, the likeliest first.

    Where that is unclear, the first listener scores the likeliest of them against the sound.
    """
    meant_first = understanding.means(first.words) if first.words else None
    found = []
    for candidate in opinion.candidates:
        meaning = understanding.means(candidate.words)
        # Whisper repeats itself at times: whether something was said twice is for the listener
        # that does not.
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
    """Whether the first listener need not score the other sentences."""
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
    """How many phones the second listener heard besides the sentence; a note's own do not count."""
    longer = 0 if free_follows(best, first) else opinion.free_phones - best.phones
    return min(max(longer, 0), WEIGHING.much_more)


def _other_talk(top: Weighed[M], first: Hypothesis, opinion: Opinion) -> bool:
    if free_follows(top.candidate, first):
        return top.candidate.fit < WEIGHING.note_fit
    # Whisper goes on by itself at times, where the first listener is certain of the whole.
    if top.same and _certain(first):
        return False
    return _more(top.candidate, first, opinion) >= WEIGHING.much_more


def signs(weighed: Sequence[Weighed[M]], first: Hypothesis, opinion: Opinion) -> tuple[float, ...]:
    """Return the signs of how sure it is that the likeliest, which comes first, was meant.

    One; its lead over what means something else; its score; the first listener's confidence, as a
    logit, in this or in any sentence; how many phones more the second listener heard.
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
    """How much likelier the first is than the next that means something else."""
    top = weighed[0]
    others = (each.utility for each in weighed if each.meaning != top.meaning)
    return top.utility - next(others, -math.inf)


def _sure(weighed: Sequence[Weighed[M]], first: Hypothesis, opinion: Opinion) -> float:
    return _logistic(_dot(WEIGHTS.sure, signs(weighed, first, opinion)))


def _undisputed(
    weighed: Sequence[Weighed[M]], opinion: Opinion, understanding: Understanding[M]
) -> bool:
    """Whether neither listener speaks against the likeliest, however sure it is on the whole."""
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
    """Whether fifteen would fit where fifty is likeliest, or the like, and is not far behind."""
    top = weighed[0]
    return understanding.fits(top.meaning) and any(
        top.utility - _at_best(each) < WEIGHING.twin_lead
        and each.meaning != top.meaning
        and _twins(each.candidate.words, top.candidate.words)
        and understanding.fits(each.meaning)
        for each in weighed
    )


def _at_best(weighed: Weighed[M]) -> float:
    """Its utility if the first listener found that it fits as well, where it was not asked."""
    return weighed.utility if weighed.loss is not None else replace(weighed, loss=0.0).utility


def _enough(at_stake: bool) -> float:
    return WEIGHING.at_stake if at_stake else WEIGHING.accepted


def _certain(first: Hypothesis) -> bool:
    return first.accepted and first.confidence >= WEIGHING.certain


def free_follows(best: Candidate, first: Hypothesis) -> bool:
    """Whether free speech follows; the first listener knows best where its words ended."""
    if first.words == best.words and first.times:
        return first.free_speech
    return best.free >= WEIGHING.free_phones


def _echoes(longer: tuple[str, ...], words: tuple[str, ...]) -> bool:
    """Whether a sentence is these words with some of them said once more."""
    if len(longer) <= len(words):
        return False
    goes_on = longer[: len(words)] == words and set(longer) == set(words)
    return goes_on or _once(longer) == _once(words)


def _once(words: tuple[str, ...]) -> list[str]:
    return [word for word, _ in groupby(words)]


# Teens and tens: the classic mishearing.
_TEENS = ("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
_TENS = ("thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_TWIN = dict(zip((*_TEENS, *_TENS), (*_TENS, *_TEENS), strict=True))


def _twins(one: tuple[str, ...], other: tuple[str, ...]) -> bool:
    """Whether two sentences differ only by teens where the other has tens."""
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
