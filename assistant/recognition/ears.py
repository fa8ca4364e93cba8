"""All that hears at a bench: noise suppression, the fast listener, the second one, and a judge.

What is cheap to get wrong is taken on the fast listener's word where the room is quiet and it is
sure. All else is heard by both, and the judge weighs them: taken, asked about, or not taken.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol

from assistant.audio import suppression
from assistant.audio.activity import VoiceActivity
from assistant.audio.pcm import Pcm
from assistant.audio.suppression import Suppressor
from assistant.dialogue import stakes
from assistant.grammar.jsgf import Grammar
from assistant.recognition import weighing
from assistant.recognition.recogniser import Comparing, Hearing, Recogniser, hear_all
from assistant.recognition.weighing import Understand
from assistant.recognition.whisper import Opinion

# All of these were set on the voices of audio_fixtures in six shop noises, and on 80 sentences of
# other talk; other voices, and other talk, are what `python -m tests.benchmark` reports.
_FAST_NOISE_SHARE = 0.03
_SECOND_NOISE_SHARE = 0.1
"""How much of what was suppressed each listener gets back: Whisper likes more of it."""
_SILENT_DB = 35.0
"""Speech so far above its pauses needs no suppression."""
_SPEECH = 0.5
"""Probability of a voice below which nothing was said; commands in noise at 5 dB had 0.69 and more,
noises without speech 0.29 and less."""
_QUIET_DB = 15.0
"""With so little suppressed the fast listener can be believed alone."""
_SURE_ALONE, _SURE_ALONE_IN_NOISE = 0.8, 0.95
"""Confidence with which it is: the blows of an impact wrench are over before much is suppressed."""
_CLUELESS_FIT = -1.6
_CLUELESS_SCORE = -5.0
_SURE_IN_QUIET = 0.9
"""Where the second listener neither hears words nor finds a sentence, a quiet room will do."""
_DIGIT_S = 0.15
"""So much voice after a number can be another digit, which both lost in the noise."""
_FREE_SPEECH_S = 0.6
"""Free speech is no shorter: the end of a word is."""


class Second(Protocol):
    """The second listener: gives its opinion of a whole phrase."""

    name: str

    def listen_for(self, grammar: Grammar) -> None:
        """Make ready for a grammar; quick for one it has had before."""

    def opinion(self, ways: Iterable[Pcm], grammar: Grammar, also: tuple[str, ...] = ()) -> Opinion:
        """Which sentences of the grammar it may have been, `also` among them if it is one.

        `ways` are of one phrase: suppressed and not, say. No more of them are taken than it needs.
        """


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
        both: bool = False,
        early: bool = False,
        pause_s: float = 0.0,
    ) -> Hearing:
        """What was said in one phrase; `grammar` is what can be said now.

        `fits` tells whether a value is one that the step can mean; what does not fit is
        questioned anyhow. `for_us` tells whether the words that the fast listener heard are for
        the assistant; what is not, is not heard twice. With `both` nothing is taken on the fast
        listener's word alone. The sound ends with `pause_s` of silence. A phrase heard `early` may
        go on: the second listener is only troubled with it where the fast one finds a whole
        sentence.
        """
        started = time.perf_counter()
        if self.activity and self.activity.probability(sound) < _SPEECH:
            took_s = time.perf_counter() - started
            return Hearing((), False, 0.0, self.name, audio_s=sound.seconds, took_s=took_s)
        ways = self._ways(sound)
        self.fast.listen_for(grammar)
        hearing = hear_all(self.fast, ways.fast)
        speech_s = sound.seconds - pause_s
        hearing = replace(hearing, free_speech=_goes_on(hearing, speech_s))
        is_sentence = bool(hearing.words) and grammar.network().accepts(hearing.words)
        if not for_us(hearing.words) or (early and self.second and not is_sentence):
            hearing = replace(hearing, accepted=False, doubtful=False)
        elif self.second is not None:
            meant = understand(hearing.words) if hearing.accepted else None
            enough = _SURE_ALONE if ways.silent else _SURE_ALONE_IN_NOISE
            alone = ways.quiet and not both and hearing.confidence >= enough
            if meant is None or stakes.high(meant) or not alone:
                also = hearing.words if is_sentence else ()
                opinion = self.second.opinion(ways.second, grammar, also)
                if both or not (ways.quiet and _clueless(opinion) and _believed(hearing)):
                    loss = self.fast.loss if isinstance(self.fast, Comparing) else _never_as_good
                    hearing = weighing.judge(
                        hearing, opinion, understand, fits, self.second.name, loss
                    )
        if hearing.accepted and self._cut_short(hearing, sound, understand):
            hearing = replace(hearing, accepted=False, doubtful=True)
        return replace(hearing, took_s=time.perf_counter() - started)

    def _cut_short(self, hearing: Hearing, sound: Pcm, understand: Understand) -> bool:
        """Whether somebody spoke on after what was heard of a number."""
        if not (self.activity and hearing.times and stakes.numeric(understand(hearing.words))):
            return False
        return self.activity.voice_s(sound, hearing.times[-1][2]) >= _DIGIT_S

    def _ways(self, sound: Pcm) -> _Ways:
        silent = suppression.floor_ratio(sound) >= _SILENT_DB
        if not self.suppressor:
            return _Ways(sound, iter((sound,)), silent, silent)
        if silent:
            return _Ways(sound, _and_cleaned(sound, self.suppressor), True, True)
        clean = self.suppressor.clean(sound)
        return _Ways(
            suppression.blend(clean, sound, _FAST_NOISE_SHARE),
            iter((suppression.blend(clean, sound, _SECOND_NOISE_SHARE), sound)),
            suppression.noise_ratio(clean, sound) >= _QUIET_DB,
            False,
        )


@dataclass(frozen=True)
class _Ways:
    """The ways in which one phrase is heard."""

    fast: Pcm
    second: Iterator[Pcm]
    quiet: bool
    silent: bool


def _and_cleaned(sound: Pcm, suppressor: Suppressor) -> Iterator[Pcm]:
    """The sound, and if that will not do, the same with its noise suppressed."""
    yield sound
    yield suppressor.clean(sound)


def _clueless(opinion: Opinion) -> bool:
    likeliest = max((candidate.score for candidate in opinion.candidates), default=-math.inf)
    return opinion.free_fit < _CLUELESS_FIT and likeliest < _CLUELESS_SCORE


def _believed(hearing: Hearing) -> bool:
    return hearing.accepted and hearing.confidence >= _SURE_IN_QUIET


def _never_as_good(words: tuple[str, ...]) -> float:
    return math.inf


def _goes_on(hearing: Hearing, speech_s: float) -> bool:
    """Whether there is speech after the last word that was recognised: a note's own words."""
    return bool(hearing.times) and speech_s - hearing.times[-1][2] > _FREE_SPEECH_S
