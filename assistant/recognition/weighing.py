"""Weighs what two listeners heard of one phrase: it is taken, asked about, or not taken.

Two steps, each a logistic regression. Which sentence it was comes from a linear utility of each:
how likely the second listener finds it, how far what that one heard is from it in phones, whether
the fast one heard the same, and if not, how much worse it would have fitted what that one heard.
(As a softmax that is the conditional logit model of McFadden, 1974.) How sure that is comes from
the utility's lead, from how sure each listener is, and from what was said besides.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from assistant.dialogue import stakes
from assistant.recognition.recogniser import Hearing
from assistant.recognition.whisper import Candidate, Opinion

Understand = Callable[[tuple[str, ...]], object | None]
"""What words mean where the job stands, an intent mostly; None where they mean nothing."""
Loss = Callable[[tuple[str, ...]], float]
"""How much worse words would have fitted what the fast listener heard: see `Comparing`."""

_CERTAIN = 0.8
"""The fast listener's confidence in what it is certain of."""

# Fitted by tests.benchmark.fit to the voices of audio_fixtures in six shop noises, and to other
# talk in such voices. How it does with other voices and talk is what tests.benchmark reports.
UTILITY = (0.526, -2.011, 0.69, 1.108, -1.109, -2.473)
"""Weights of `Weighed.features`."""
SURE = (-0.659, 0.28, 0.188, 0.467, -0.119)
"""Weights of `signs`."""

_LARGEST_LOSS = 4.0
"""What fits worse than this is not told apart."""
_ASKED = 3
"""Of so many sentences the fast listener is asked for the loss; it takes 0.05 s each."""
_CLEAR = 0.95
"""So sure it need not be asked."""
_LARGEST_LEAD = 8.0
_SCORES = -15.0, 12.0
_UNSURE = -2.0
"""The logit of the fast listener's confidence where it takes nothing."""

_TAKEN, _RECORDED = 0.5, 0.55
"""How sure it must be to be taken, and to be recorded or answered for."""
_NUMBER_LEAD = 2.0
"""What has a number in it must have this lead over another besides."""
_DOUBTFUL = 0.2
"""So sure, and it is asked for again."""
_AS_GOOD = 1.0
"""What is recorded though the fast listener heard something else may be no greater a loss."""
_CLEAR_FIT, _CLEAR_SCORE = -0.8, -10.0
"""Where it hears clear words and the nearest sentence is so unlikely, nothing is taken."""
_MUCH_MORE = 10
"""What the second listener hears as so many phones longer is other talk."""
_TWIN_LEAD = 5.0
"""Lead that fourteen must have over forty where both would do."""
_FREE_PHONES = 3
"""Fewer are no speech, but the end of a word."""
_NOTE_FIT = -2.5
"""Mean log-probability of a token that the words before free speech must have."""


@dataclass
class Weighed:
    """A sentence that it may have been, and what speaks for it."""

    candidate: Candidate
    meaning: object
    same: bool
    """Whether the fast listener heard the same."""
    loss: float | None
    """How much worse it fits what the fast listener heard; None: that was not asked."""

    @property
    def features(self) -> tuple[float, ...]:
        """The second listener's score, phones missed of all, and log-probability of a token; the
        same heard by both; the fast one's loss, and whether it is unknown.
        """
        return (
            self.candidate.score,
            self.candidate.distance / max(1, self.candidate.phones),
            self.candidate.fit,
            float(self.same),
            0.0 if self.loss is None else min(max(self.loss, -1.0), _LARGEST_LOSS),
            float(self.loss is None),
        )

    @property
    def utility(self) -> float:
        """Greater where it is likelier."""
        return _dot(UTILITY, self.features)


def judge(
    first: Hearing,
    opinion: Opinion,
    understand: Understand,
    fits: Callable[[object], bool],
    second: str,
    loss: Loss,
) -> Hearing:
    """Weigh what the fast listener and the second one heard.

    `fits` and `loss` are as `Ears.hear` and `Comparing` have them. What is recorded must be surer
    than what is not, and the fast listener must have heard it too, or find it as good.
    """
    name = f"{first.recogniser} and {second}"
    weighed = weigh(first, opinion, understand, loss)
    if not weighed:
        return Hearing((), False, 0.0, name, audio_s=first.audio_s)
    top = weighed[0]
    best = top.candidate
    same_words = first.words == best.words
    sure = 0.0 if _other_talk(top, first, opinion) else _sure(weighed, first, opinion)
    taken = sure >= _enough(top.meaning) and _undisputed(weighed, opinion, fits)
    return Hearing(
        words=best.words,
        accepted=taken,
        confidence=round(sure, 3),
        recogniser=name,
        times=first.times if same_words else (),
        alternatives=tuple(each.candidate.words for each in weighed[1:4]),
        audio_s=first.audio_s,
        doubtful=not taken and sure >= _DOUBTFUL,
        free_speech=free_follows(best, first),
    )


def weigh(first: Hearing, opinion: Opinion, understand: Understand, loss: Loss) -> list[Weighed]:
    """What it may have been, the likeliest first; where it is unclear the fast one is asked."""
    meant_first = understand(first.words) if first.words else None
    found = []
    for candidate in opinion.candidates:
        meaning = understand(candidate.words)
        # Whisper says again what was said once: whether it was is for the listener that does not.
        if meaning is not None and not (_certain(first) and _echoes(candidate.words, first.words)):
            own = 0.0 if candidate.words == first.words else None
            found.append(Weighed(candidate, meaning, meaning == meant_first, own))
    found.sort(key=lambda each: -each.utility)
    if found and not _settled(found, first, opinion):
        for each in [each for each in found if each.loss is None][:_ASKED]:
            each.loss = loss(each.candidate.words)
        found.sort(key=lambda each: -each.utility)
    return found


def _settled(weighed: Sequence[Weighed], first: Hearing, opinion: Opinion) -> bool:
    """Whether the fast listener need not be asked what it makes of the other sentences."""
    top = weighed[0]
    if _other_talk(top, first, opinion):
        return True
    if not top.same or _sure(weighed, first, opinion) < _CLEAR:
        return False
    return not stakes.numeric(top.meaning) or not any(
        each.meaning != top.meaning and top.utility - _at_best(each) < _NUMBER_LEAD
        for each in weighed
    )


def _more(best: Candidate, first: Hearing, opinion: Opinion) -> int:
    """How many phones the second listener heard besides the sentence; what a note goes on with is
    its own.
    """
    longer = 0 if free_follows(best, first) else opinion.free_phones - best.phones
    return min(max(longer, 0), _MUCH_MORE)


def _other_talk(top: Weighed, first: Hearing, opinion: Opinion) -> bool:
    if free_follows(top.candidate, first):
        return top.candidate.fit < _NOTE_FIT
    # Whisper goes on by itself at times, where the fast listener is certain of the whole.
    if top.same and _certain(first):
        return False
    return _more(top.candidate, first, opinion) >= _MUCH_MORE


def signs(weighed: Sequence[Weighed], first: Hearing, opinion: Opinion) -> tuple[float, ...]:
    """What tells how sure it is that the likeliest, which comes first, was meant.

    One; its lead over what means something else; its score; the fast listener's confidence, as a
    logit, in this or in any sentence; how many phones more the second listener heard.
    """
    top = weighed[0]
    return (
        1.0,
        min(_LARGEST_LEAD, _lead(weighed)),
        min(max(top.candidate.score, _SCORES[0]), _SCORES[1]),
        _logit(first.confidence) if top.same or first.accepted else _UNSURE,
        float(_more(top.candidate, first, opinion)),
    )


def _lead(weighed: Sequence[Weighed]) -> float:
    """How much likelier the first is than the next that means something else."""
    top = weighed[0]
    others = (each.utility for each in weighed if each.meaning != top.meaning)
    return top.utility - next(others, -math.inf)


def _sure(weighed: Sequence[Weighed], first: Hearing, opinion: Opinion) -> float:
    return _logistic(_dot(SURE, signs(weighed, first, opinion)))


def _undisputed(
    weighed: Sequence[Weighed], opinion: Opinion, fits: Callable[[object], bool]
) -> bool:
    """Whether neither listener speaks against the likeliest, however sure it is on the whole."""
    top = weighed[0]
    if opinion.free_fit > _CLEAR_FIT and top.candidate.score < _CLEAR_SCORE:
        return False
    if not stakes.high(top.meaning):
        return True
    if not top.same and (top.loss is None or top.loss > _AS_GOOD):
        return False
    if stakes.numeric(top.meaning) and _lead(weighed) < _NUMBER_LEAD:
        return False
    return not _twin(weighed, fits)


def _twin(weighed: Sequence[Weighed], fits: Callable[[object], bool]) -> bool:
    """Whether fifteen would do where fifty is likeliest, or the like, and is not far behind."""
    top = weighed[0]
    return fits(top.meaning) and any(
        top.utility - _at_best(each) < _TWIN_LEAD
        and each.meaning != top.meaning
        and _twins(each.candidate.words, top.candidate.words)
        and fits(each.meaning)
        for each in weighed
    )


def _at_best(weighed: Weighed) -> float:
    """Its utility if the fast listener would say that it fits as well, where it was not asked."""
    return weighed.utility if weighed.loss is not None else replace(weighed, loss=0.0).utility


def _enough(meaning: object) -> float:
    return _RECORDED if stakes.high(meaning) else _TAKEN


def _certain(first: Hearing) -> bool:
    return first.accepted and first.confidence >= _CERTAIN


def free_follows(best: Candidate, first: Hearing) -> bool:
    """Whether free speech follows; the fast listener knows best where its words ended."""
    if first.words == best.words and first.times:
        return first.free_speech
    return best.free >= _FREE_PHONES


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
