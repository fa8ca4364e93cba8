"""Everything that listens at one bench: noise suppression, two recognition passes, and a judge.

The first pass is fast and limited to the grammar. Its word is enough for what is cheap to get
wrong, where the room is quiet and its confidence is high. Everything else goes through the second
pass too, and `assistant.recognition.weighing` decides: accepted, doubtful or rejected.

What words mean is never known here. An `Understanding` tells, and the meaning of each sentence is
worked out once for a phrase.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Protocol, TypeVar

from assistant.audio import suppression
from assistant.audio.activity import VoiceActivity
from assistant.audio.pcm import Pcm
from assistant.audio.suppression import Suppressor
from assistant.grammar.jsgf import Grammar
from assistant.recognition import weighing
from assistant.recognition.recogniser import Hypothesis, Recogniser, Rescoring, hear_all
from assistant.recognition.utterance import MeaningCache, Understanding, Utterance, Verdict
from assistant.recognition.whisper import Opinion

M = TypeVar("M")


@dataclass(frozen=True)
class FirstPass:
    """When the first pass is believed alone, and how sound is prepared for both passes.

    All were set on the voices of audio_fixtures in six shop noises, and on 80 sentences of other
    talk. `python -m tests.benchmark` reports other voices and other talk.
    """

    noise_share: float = 0.03
    second_noise_share: float = 0.1
    """Share of the suppressed noise that each pass gets back. Less: recognisers stumble over what
    suppression tore out of the speech. More: noise. The second pass likes more of it."""
    silent_db: float = 35.0
    """Speech so far above its pauses (dB) is not suppressed. Lower saves time in quiet rooms."""
    speech_probability: float = 0.5
    """Probability of a voice below which a phrase is noise. Commands in noise at 5 dB had 0.69 and
    more, noises without speech 0.29 and less."""
    quiet_db: float = 15.0
    """Signal to noise (dB) from which the first pass may be believed alone. Lower answers faster in
    noise, and is wrong more often."""
    sure_alone: float = 0.8
    sure_alone_in_noise: float = 0.95
    """Confidence from which it is, in a silent room and in any other. The blows of an impact wrench
    are over before much is suppressed, so a room may only seem quiet."""
    clueless_fit: float = -1.6
    clueless_score: float = -5.0
    """The second pass found nothing if what it wrote (mean log-probability of a token) and its best
    sentence (score) are both below these. Higher: the first pass is believed alone more often."""
    sure_if_clueless: float = 0.9
    """Confidence from which the first pass is then believed in a quiet room."""
    more_number_s: float = 0.15
    """So much voice (s) after a number may be another digit that both passes lost in the noise.
    Longer: more numbers are taken cut short."""
    free_speech_s: float = 0.6
    """Speech (s) after the last word that is free speech. Shorter: the end of a word counts."""


FIRST_PASS = FirstPass()


class Second(Protocol):
    """The second pass: gives its opinion of a whole phrase."""

    name: str

    def listen_for(self, grammar: Grammar) -> None:
        """Prepare for a grammar; quick for one it has had before."""

    def opinion(self, ways: Iterable[Pcm], grammar: Grammar, also: tuple[str, ...] = ()) -> Opinion:
        """Return which sentences of the grammar the phrase may be, `also` too if it is one.

        `ways` are versions of one phrase, suppressed and not. Takes no more of them than it needs.
        """


@dataclass
class Ears:
    """What listens at one bench. Without `second` the first pass decides alone."""

    fast: Recogniser
    second: Second | None = None
    suppressor: Suppressor | None = None
    activity: VoiceActivity | None = None
    tuning: FirstPass = FIRST_PASS

    @property
    def name(self) -> str:
        """Who listens, for people to read."""
        return self.fast.name + (f" and {self.second.name}" if self.second else "")

    def prepare(self, grammar: Grammar) -> None:
        """Load a grammar into both passes ahead of its first phrase."""
        self.fast.listen_for(grammar)
        if self.second is not None:
            self.second.listen_for(grammar)

    def hear(
        self,
        sound: Pcm,
        grammar: Grammar,
        understanding: Understanding[M],
        *,
        for_us: Callable[[tuple[str, ...]], bool] = lambda words: True,
        both: bool = False,
        early: bool = False,
        pause_s: float = 0.0,
    ) -> Utterance[M]:
        """Recognise one phrase, 16 kHz mono, that ends with `pause_s` seconds of silence.

        `grammar` is what can be said now, and `understanding` what it means. `for_us` tells
        whether the words of the first pass are addressed to the assistant; the second pass is
        saved for those that are. With `both` nothing is accepted on the first pass alone. A phrase
        heard `early` may go on: it gets a second pass only where the first finds a whole sentence.
        """
        started = time.perf_counter()
        if self.activity and self.activity.probability(sound) < self.tuning.speech_probability:
            heard: Utterance[M] = Utterance((), None, Verdict.REJECTED, 0.0, self.name)
        else:
            known = MeaningCache(understanding)
            first, ways = self._first_pass(sound, grammar, pause_s)
            if not for_us(first.words) or (early and self.second and not first.is_sentence):
                heard = _alone(replace(first, verdict=Verdict.REJECTED), known)
            else:
                heard = self._second_pass(first, ways, grammar, known, both)
            if heard.accepted and self._cut_short(heard, sound, known):
                heard = replace(heard, verdict=Verdict.DOUBTFUL)
        took_s = time.perf_counter() - started
        return replace(heard, sound=sound, audio_s=sound.seconds, took_s=took_s)

    def _first_pass(self, sound: Pcm, grammar: Grammar, pause_s: float) -> tuple[Hypothesis, _Ways]:
        ways = self._ways(sound)
        self.fast.listen_for(grammar)
        first = hear_all(self.fast, ways.fast)
        # Speech after the last word that was recognised: a note's own words.
        after_s = sound.seconds - pause_s - first.times[-1][2] if first.times else 0.0
        return replace(first, free_speech=after_s > self.tuning.free_speech_s), ways

    def _second_pass(
        self,
        first: Hypothesis,
        ways: _Ways,
        grammar: Grammar,
        known: MeaningCache[M],
        both: bool,
    ) -> Utterance[M]:
        """Return what the first pass heard where that is enough, else the judge's verdict."""
        tuning = self.tuning
        if self.second is None:
            return _alone(first, known)
        enough = tuning.sure_alone if ways.silent else tuning.sure_alone_in_noise
        sure = ways.quiet and not both and first.confidence >= enough
        meaning = known.means(first.words) if first.accepted else None
        if sure and meaning is not None and not known.at_stake(meaning):
            return _alone(first, known)
        also = first.words if first.is_sentence else ()
        opinion = self.second.opinion(ways.second, grammar, also)
        if not both and ways.quiet and self._clueless(opinion) and self._believed(first):
            return _alone(first, known)
        loss = self.fast.loss if isinstance(self.fast, Rescoring) else _never_as_good
        return weighing.judge(first, opinion, known, self.second.name, loss)

    def _clueless(self, opinion: Opinion) -> bool:
        """Whether the second pass neither understands words nor finds a sentence."""
        likeliest = max((candidate.score for candidate in opinion.candidates), default=-math.inf)
        return (
            not opinion.cut
            and opinion.free_fit < self.tuning.clueless_fit
            and likeliest < self.tuning.clueless_score
        )

    def _believed(self, first: Hypothesis) -> bool:
        return first.accepted and first.confidence >= self.tuning.sure_if_clueless

    def _cut_short(self, heard: Utterance[M], sound: Pcm, known: MeaningCache[M]) -> bool:
        """Whether somebody spoke on after what was recognised of a number."""
        if not (self.activity and heard.times and heard.meaning is not None):
            return False
        if not known.numeric(heard.meaning):
            return False
        return self.activity.voice_s(sound, heard.times[-1][2]) >= self.tuning.more_number_s

    def _ways(self, sound: Pcm) -> _Ways:
        tuning = self.tuning
        silent = suppression.floor_ratio(sound) >= tuning.silent_db
        if not self.suppressor:
            return _Ways(sound, iter((sound,)), silent, silent)
        if silent:
            return _Ways(sound, _and_cleaned(sound, self.suppressor), True, True)
        clean = self.suppressor.clean(sound)
        return _Ways(
            suppression.blend(clean, sound, tuning.noise_share),
            iter((suppression.blend(clean, sound, tuning.second_noise_share), sound)),
            suppression.noise_ratio(clean, sound) >= tuning.quiet_db,
            False,
        )


@dataclass(frozen=True)
class _Ways:
    """One phrase as each pass gets it, and how quiet the room is."""

    fast: Pcm
    second: Iterator[Pcm]
    quiet: bool
    silent: bool


def _and_cleaned(sound: Pcm, suppressor: Suppressor) -> Iterator[Pcm]:
    """Yield the sound, and if that is not enough, the same with its noise suppressed."""
    yield sound
    yield suppressor.clean(sound)


def _alone(first: Hypothesis, known: MeaningCache[M]) -> Utterance[M]:
    """Return the first pass's hypothesis as it is."""
    return Utterance(
        words=first.words,
        meaning=known.means(first.words),
        verdict=first.verdict,
        confidence=first.confidence,
        recogniser=first.recogniser,
        free_speech=first.free_speech,
        times=first.times,
        alternatives=first.alternatives,
    )


def _never_as_good(words: tuple[str, ...]) -> float:
    return math.inf
