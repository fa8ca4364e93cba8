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
from dataclasses import dataclass
from itertools import groupby

from assistant.audio.recogniser import Hearing
from assistant.audio.whisper import Candidate, Opinion
from assistant.session import stakes

Understand = Callable[[tuple[str, ...]], object | None]
"""What words mean where the job stands, an intent mostly; None where they mean nothing."""
Loss = Callable[[tuple[str, ...]], float]
"""How much worse words would have fitted what the fast listener heard: see `Comparing`."""

_CERTAIN = 0.8
"""The fast listener's confidence in what it is certain of."""

# The weights were fitted to the voices of audio_fixtures in six shop noises, and to other
# talk in voices of their kind. Other voices, and other talk, are what tests.benchmark reports.
_SCORE, _DISTANCE, _FIT, _SAME, _LOSS, _LOSS_UNKNOWN = 0.33, -3.08, 0.93, 1.52, -0.67, -2.48
_LARGEST_LOSS = 4.0
"""What fits worse than this is not told apart."""
_ASKED = 3
"""Of so many sentences the fast listener is asked for the loss; it takes 0.05 s each."""
_CLEAR = 0.97
"""So sure it need not be asked."""
_SURE, _SURE_LEAD, _SURE_SCORE, _SURE_CONFIDENCE, _SURE_MORE = -0.91, 0.455, 0.151, 0.744, -0.189
_LARGEST_LEAD = 8.0
_SCORES = -15.0, 12.0
_UNSURE = -2.0
"""The logit of the fast listener's confidence where it takes nothing."""

_TAKEN, _RECORDED, _NUMBER_IN_NOISE = 0.6, 0.7, 0.85
"""How sure it must be to be taken, to be recorded or answered for, and the same of a number where
it is not silent: in noise the end of one is lost unnoticed."""
_DOUBTFUL = 0.25
"""So sure, and it is asked for again."""
_AS_GOOD = 1.0
"""What is recorded though the fast listener heard something else may be no greater a loss."""
_SECOND_LEAD = -4.0
"""A number is not recorded where the second listener finds another one likelier by more."""
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
class _Weighed:
    candidate: Candidate
    meaning: object
    utility: float
    """Without what the fast listener has to say of it."""
    loss: float | None
    """None: it was not asked."""

    @property
    def total(self) -> float:
        if self.loss is None:
            return self.utility + _LOSS_UNKNOWN
        return self.utility + _LOSS * min(max(self.loss, -1.0), _LARGEST_LOSS)


def judge(
    first: Hearing,
    opinion: Opinion,
    understand: Understand,
    fits: Callable[[object], bool],
    second: str,
    loss: Loss,
    silent: bool,
) -> Hearing:
    """Weigh what the fast listener and the second one heard.

    `fits` and `loss` are as `Ears.hear` and `Comparing` have them; `silent` is for a room without
    noise. What is recorded must be surer
    than what is not, and the fast listener must have heard it too, or find it as good.
    """
    name = f"{first.recogniser} and {second}"
    meant_first = understand(first.words) if first.words else None
    weighed = _candidates(first, meant_first, opinion, understand)
    if not weighed:
        return Hearing((), False, 0.0, name, audio_s=first.audio_s)
    agree = weighed[0].meaning == meant_first
    if not agree or _sure(weighed, first, meant_first, opinion) < _CLEAR:
        for each in [each for each in weighed if each.loss is None][:_ASKED]:
            each.loss = loss(each.candidate.words)
        weighed.sort(key=lambda each: -each.total)
    top = weighed[0]
    best = top.candidate
    same_words = first.words == best.words
    free = _free(best, first)
    more = 0 if free else opinion.free_phones - best.phones
    other_talk = more >= _MUCH_MORE or (free and best.fit < _NOTE_FIT)
    sure = 0.0 if other_talk else _sure(weighed, first, meant_first, opinion)
    taken = sure >= _enough(top.meaning, silent)
    if opinion.free_fit > _CLEAR_FIT and best.score < _CLEAR_SCORE:
        taken = False
    if stakes.high(top.meaning):
        as_good = top.loss is not None and top.loss <= _AS_GOOD
        taken = taken and (top.meaning == meant_first or as_good) and not _twin(weighed, fits)
    if stakes.numeric(top.meaning):
        others = (each.candidate.score for each in weighed if each.meaning != top.meaning)
        taken = taken and best.score - max(others, default=-math.inf) >= _SECOND_LEAD
    return Hearing(
        words=best.words,
        accepted=taken,
        confidence=round(sure, 3),
        recogniser=name,
        times=first.times if same_words else (),
        alternatives=tuple(each.candidate.words for each in weighed[1:4]),
        audio_s=first.audio_s,
        doubtful=not taken and sure >= _DOUBTFUL,
        free_speech=free,
    )


def _candidates(
    first: Hearing, meant_first: object | None, opinion: Opinion, understand: Understand
) -> list[_Weighed]:
    """What it may have been, the likeliest first, as far as is known without asking for losses."""
    found = []
    for candidate in opinion.candidates:
        meaning = understand(candidate.words)
        # Whisper says again what was said once: whether it was is for the listener that does not.
        if meaning is not None and not (_certain(first) and _echoes(candidate.words, first.words)):
            own = 0.0 if candidate.words == first.words else None
            utility = _utility(candidate, meaning == meant_first)
            found.append(_Weighed(candidate, meaning, utility, own))
    return sorted(found, key=lambda each: -each.total)


def _twin(weighed: Sequence[_Weighed], fits: Callable[[object], bool]) -> bool:
    """Whether fifteen would do where fifty is likeliest, or the like, and is not far behind."""
    top = weighed[0]
    return fits(top.meaning) and any(
        top.total - (each.utility if each.loss is None else each.total) < _TWIN_LEAD
        and each.meaning != top.meaning
        and _twins(each.candidate.words, top.candidate.words)
        and fits(each.meaning)
        for each in weighed
    )


def _utility(candidate: Candidate, same: bool) -> float:
    return (
        _SCORE * candidate.score
        + _DISTANCE * candidate.distance / max(1, candidate.phones)
        + _FIT * candidate.fit
        + (_SAME if same else 0.0)
    )


def _sure(
    weighed: Sequence[_Weighed], first: Hearing, meant_first: object | None, opinion: Opinion
) -> float:
    """How sure it is that the likeliest was meant; `weighed` begins with it."""
    best, meaning = weighed[0].candidate, weighed[0].meaning
    others = (each.total for each in weighed if each.meaning != meaning)
    lead = min(_LARGEST_LEAD, weighed[0].total - next(others, -math.inf))
    agree = meaning == meant_first
    # A note goes on.
    more = 0 if _free(best, first) else max(0, opinion.free_phones - best.phones)
    return _logistic(
        _SURE
        + _SURE_LEAD * lead
        + _SURE_SCORE * min(max(best.score, _SCORES[0]), _SCORES[1])
        + _SURE_CONFIDENCE * (_logit(first.confidence) if agree or first.accepted else _UNSURE)
        + _SURE_MORE * more
    )


def _enough(meaning: object, silent: bool) -> float:
    if not stakes.high(meaning):
        return _TAKEN
    return _NUMBER_IN_NOISE if stakes.numeric(meaning) and not silent else _RECORDED


def _certain(first: Hearing) -> bool:
    return first.accepted and first.confidence >= _CERTAIN


def _free(best: Candidate, first: Hearing) -> bool:
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


def _logistic(value: float) -> float:
    return 1 / (1 + math.exp(-value))
