"""All that hears at a bench: noise suppression, the fast listener, the second one, and a judge.

What is cheap to get wrong is taken on the fast listener's word where the room is quiet and it is
sure. All else is heard by both, and the judge weighs them: taken, asked about, or not taken.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Protocol

from assistant.audio import suppression
from assistant.audio.activity import VoiceActivity
from assistant.audio.pcm import Pcm
from assistant.audio.recogniser import Comparing, Hearing, Recogniser, hear_all
from assistant.audio.suppression import Suppressor
from assistant.audio.whisper import Opinion
from assistant.language.jsgf import Grammar
from assistant.session import stakes

Understand = Callable[[tuple[str, ...]], object | None]
"""What words mean where the job stands, an intent mostly; None where they mean nothing."""

# All of these were set on the voices of audio_fixtures in six shop noises, and on 80 sentences of
# other talk; other voices, and other talk, are what `python -m tests.benchmark` reports.
_FAST_NOISE_SHARE = 0.03
_SECOND_NOISE_SHARE = 0.25
"""How much of what was suppressed each listener gets back: Whisper likes more of it."""
_SILENT_DB = 35.0
"""Speech so far above its pauses needs no suppression."""
_SPEECH = 0.5
"""Probability of a voice below which nothing was said; commands in noise at 5 dB had 0.69 and more,
noises without speech 0.29 and less."""
_QUIET_DB = 15.0
"""With so little suppressed the fast listener can be believed alone."""
_SURE_ALONE = 0.8
_LEAST_SCORE = -8.0
_AGREEMENT = 2.0
"""What it adds to a sentence's score that the fast listener heard the same."""
_TAKEN = 0.6
_TAKEN_ALONE = 0.7
"""The same where the fast listener heard something else."""
_TAKEN_MARGIN = 1.0
"""How much likelier than any other meaning the second listener must find what is recorded."""
_TIE_LOSS = 0.2
_TIE_MARGIN = 2.0
_TIE_DISTANCE = 0.2
"""Where the fast listener heard something else, it agrees all the same if the second one's sentence
costs it so little, and the second one is so sure and heard it so nearly (phones missed of all)."""
_DOUBTFUL = 0.3
_TWIN_MARGIN = 5.0
"""The same where fifteen and fifty, or their like, would both do."""
_CLUELESS_FIT = -1.6
_CLUELESS_SCORE = -5.0
_SURE_IN_QUIET = 0.9
"""Where the second listener neither hears words nor finds a sentence, a quiet room will do."""
_CLEAR_FIT = -0.8
_CLEAR_SCORE = -10.0
"""Where it hears clear words, and the nearest sentence is this unlikely, it was other talk."""
_MORE_PHONES, _MUCH_MORE_PHONES = 5, 10
"""Where what it hears clearly is so much longer than the sentence, more was said than that: it is
asked again, or was other talk."""
_FREE_PHONES = 3
"""Fewer are no speech, but the end of a word."""
_FREE_SPEECH_S = 0.6
"""The same where the fast listener tells when the words ended."""
_NOTE_FIT = -2.5
"""Mean log-probability of a token that the words before free speech must have."""


class Second(Protocol):
    """The second listener: gives its opinion of a whole phrase."""

    name: str

    def listen_for(self, grammar: Grammar) -> None:
        """Make ready for a grammar; quick for one it has had before."""

    def opinion(self, pcm: Pcm, grammar: Grammar, also: tuple[str, ...] = ()) -> Opinion:
        """Which sentences of the grammar it may have been, `also` among them if it is one."""


@dataclass
class Ears:
    """What hears at one bench. Without `second` all is taken on the fast listener's word."""

    fast: Recogniser
    second: Second | None = None
    suppressor: Suppressor | None = None
    activity: VoiceActivity | None = None

    @property
    def name(self) -> str:
        """Who listens, for people to read."""
        return self.fast.name + (f" and {self.second.name}" if self.second else "")

    def prepare(self, grammar: Grammar) -> None:
        """Make ready for what can be said now, so that its first phrase need not wait."""
        self.fast.listen_for(grammar)
        if self.second is not None:
            self.second.listen_for(grammar)

    def hear(
        self,
        sound: Pcm,
        grammar: Grammar,
        understand: Understand,
        fits: Callable[[object], bool] = lambda meaning: True,
        *,
        for_us: Callable[[tuple[str, ...]], bool] = lambda words: True,
        early: bool = False,
        pause_s: float = 0.0,
    ) -> Hearing:
        """What was said in one phrase; `grammar` is what can be said now.

        `fits` tells whether a value is one that the step can mean; what does not fit is
        questioned anyhow. `for_us` tells whether the words that the fast listener heard are for
        the assistant; what is not, is not heard twice. The sound ends with `pause_s` of silence. A
        phrase heard `early` may go on: the second listener is only troubled with it where the fast
        one finds a whole sentence.
        """
        started = time.perf_counter()
        if self.activity and self.activity.probability(sound) < _SPEECH:
            took_s = time.perf_counter() - started
            return Hearing((), False, 0.0, self.name, audio_s=sound.seconds, took_s=took_s)
        first, second = sound, sound
        quiet = suppression.floor_ratio(sound) >= _SILENT_DB
        if self.suppressor and not quiet:
            clean = self.suppressor.clean(sound)
            first = suppression.blend(clean, sound, _FAST_NOISE_SHARE)
            second = suppression.blend(clean, sound, _SECOND_NOISE_SHARE)
            quiet = suppression.noise_ratio(clean, sound) >= _QUIET_DB
        self.fast.listen_for(grammar)
        hearing = hear_all(self.fast, first)
        speech_s = sound.seconds - pause_s
        hearing = replace(hearing, free_speech=_goes_on(hearing, speech_s))
        if not for_us(hearing.words):
            hearing = replace(hearing, accepted=False, doubtful=False)
        elif self.second is not None:
            meant = understand(hearing.words) if hearing.accepted else None
            alone = quiet and hearing.confidence >= _SURE_ALONE
            is_sentence = bool(hearing.words) and grammar.network().accepts(hearing.words)
            if early and not is_sentence:
                hearing = replace(hearing, accepted=False, doubtful=False)
            elif meant is None or stakes.high(meant) or not alone:
                also = hearing.words if is_sentence else ()
                opinion = self.second.opinion(second, grammar, also)
                loss = self.fast.loss if isinstance(self.fast, Comparing) else _never_as_good
                judged = judge(hearing, opinion, understand, fits, self.second.name, loss)
                clueless = (
                    opinion.free_fit < _CLUELESS_FIT
                    and max((c.score for c in opinion.candidates), default=-99) < _CLUELESS_SCORE
                )
                believed = quiet and hearing.accepted and hearing.confidence >= _SURE_IN_QUIET
                if not (clueless and believed):
                    hearing = judged
        return replace(hearing, took_s=time.perf_counter() - started)


def judge(
    first: Hearing,
    opinion: Opinion,
    understand: Understand,
    fits: Callable[[object], bool],
    second: str,
    loss: Callable[[tuple[str, ...]], float],
) -> Hearing:
    """Weigh what two listeners heard.

    The sentence is the second listener's likeliest, where the fast one's own gets a bonus, and
    none is worse than a floor: below it the second listener has no idea. How sure that is comes
    from a logistic regression over both; what is recorded needs both to mean the same besides, or
    the fast one to find by `loss` that the other's sentence fits no worse than its own.
    """
    name = f"{first.recogniser} and {second}"
    meant_first = understand(first.words) if first.words else None
    scored = []
    certain = first.accepted and first.confidence >= _SURE_ALONE
    for candidate in opinion.candidates:
        meaning = understand(candidate.words)
        # Whisper says again what was said once: whether it was is for the listener that does not.
        if meaning is not None and not (certain and _echoes(candidate.words, first.words)):
            same = meaning == meant_first
            score = max(candidate.score, _LEAST_SCORE) + (_AGREEMENT if same else 0.0)
            # Below the floor the order still counts for something.
            scored.append((score + 1e-3 * candidate.score, candidate, meaning))
    if not scored:
        return Hearing((), False, 0.0, name, audio_s=first.audio_s)
    scored.sort(key=lambda each: -each[0])
    top, best, meaning = scored[0]
    agree = meaning == meant_first
    others = [score for score, _, other in scored if other != meaning]
    margin = top - max(others, default=top - 10.0)
    sure = _logistic(
        0.344
        + (0.903 * _logit(first.confidence) if agree else 0.0)
        + 0.489 * min(margin, 8.0)
        + 0.196 * min(10.0, max(-20.0, best.score))
        - 0.981 * best.distance / max(1, best.phones)
    )
    same_words = first.words == best.words
    free = first.free_speech if same_words and first.times else best.free >= _FREE_PHONES
    other_talk = opinion.free_fit > _CLEAR_FIT and best.score < _CLEAR_SCORE
    # Whisper goes on by itself at times: not where the fast one is certain of the whole.
    heard_more = opinion.free_fit > _CLEAR_FIT and not free and not (certain and agree)
    more = opinion.free_phones - best.phones if heard_more else 0
    if other_talk or (free and best.fit < _NOTE_FIT) or more >= _MUCH_MORE_PHONES:
        sure = 0.0
    taken = sure >= (_TAKEN if agree else _TAKEN_ALONE) and more < _MORE_PHONES
    if stakes.high(meaning):
        own = margin - (_AGREEMENT if agree else 0.0)
        as_good = (
            own >= _TIE_MARGIN
            and best.score > 0
            and best.distance <= _TIE_DISTANCE * best.phones
            and loss(best.words) <= _TIE_LOSS
        )
        taken = taken and (as_good or (agree and own >= _TAKEN_MARGIN))
        twins = [
            score
            for score, candidate, other in scored
            if other != meaning and _twins(candidate.words, best.words) and fits(other)
        ]
        if fits(meaning) and twins:
            taken = taken and top - max(twins) - _AGREEMENT >= _TWIN_MARGIN
    return Hearing(
        words=best.words,
        accepted=taken,
        confidence=round(sure, 3),
        recogniser=name,
        times=first.times if same_words else (),
        alternatives=tuple(candidate.words for _, candidate, _ in scored[1:4]),
        audio_s=first.audio_s,
        doubtful=not taken and sure >= _DOUBTFUL,
        free_speech=free,
    )


def _never_as_good(words: tuple[str, ...]) -> float:
    return math.inf


def _goes_on(hearing: Hearing, speech_s: float) -> bool:
    """Whether there is speech after the last word that was recognised: a note's own words."""
    return bool(hearing.times) and speech_s - hearing.times[-1][2] > _FREE_SPEECH_S


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
