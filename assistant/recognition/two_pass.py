"""Recognition at a bench: noise suppression, a first and a second pass, and the judgement on both.

The first pass is fast and limited to the grammar. It is trusted alone if a mistake would be cheap,
the room is quiet and its confidence is high. Everything else goes through the second pass as well,
and `assistant.recognition.weighing` gives the verdict: accepted, doubtful or rejected.

This module must never know what words mean. It asks an `Understanding`, once for each sentence of a
phrase.
"""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial
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
    """When the first pass is trusted alone, and how the sound is prepared for both passes.

    All values were set on the voices of audio_fixtures in six shop noises, and on 80 sentences of
    other talk. `python -m tests.benchmark` reports on other voices and other talk.
    """

    noise_share: float = 0.03
    second_noise_share: float = 0.1
    """Share (0 to 1) of the suppressed noise that is mixed back for each pass. Lower: recognisers
    suffer from what suppression removed from the speech. Higher: they suffer from the noise. The
    second pass does best with more of it."""
    silent_db: float = 35.0
    """Level of speech above its pauses (dB) from which noise is not suppressed. Lower saves time in
    quiet rooms."""
    speech_probability: float = 0.5
    """Voice probability below which a phrase is noise. Commands in noise at 5 dB had 0.69 and more,
    noises without speech 0.29 and less."""
    quiet_db: float = 15.0
    """Signal-to-noise ratio (dB) from which the first pass may be trusted alone. Lower answers
    faster in noise, and is wrong more often."""
    sure_alone: float = 0.8
    sure_alone_in_noise: float = 0.95
    """Confidence from which the first pass is trusted alone, in a silent room and in any other. The
    blows of an impact wrench are over before suppression reacts, so a room may only seem quiet."""
    nothing_found_fit: float = -1.6
    nothing_found_score: float = -5.0
    """The second pass found nothing if its text (mean log-probability of a token) and its best
    sentence (score) are both below these. Higher: the first pass is trusted alone more often."""
    sure_if_nothing_found: float = 0.9
    """Confidence from which the first pass is trusted alone if the second pass found nothing and
    the room is quiet."""
    more_number_s: float = 0.15
    """Voice (s) after a number from which it may be another digit that both passes lost in the
    noise. Longer: more numbers are accepted with a digit missing."""
    free_speech_s: float = 0.6
    """Speech (s) after the last word from which it is free speech. Shorter: the end of a word
    counts as free speech."""


FIRST_PASS = FirstPass()
_PROCESSORS = os.cpu_count() or 1


class Second(Protocol):
    """The recogniser of the second pass. It scores sentences for a whole phrase."""

    name: str

    def listen_for(self, grammar: Grammar) -> None:
        """Prepare for a grammar; quick if it was prepared before."""

    def begin(self, sound: Pcm) -> None:
        """Begin, on another processor, with what will be the first of the next `ways`."""

    def opinion(self, ways: Iterable[Pcm], grammar: Grammar, also: tuple[str, ...] = ()) -> Opinion:
        """Return the sentences of the grammar that the phrase may be, with their scores.

        `also` is scored too if it is a sentence. `ways` are versions of the phrase, with noise
        suppression and without; only as many are taken as are needed.
        """


@dataclass
class TwoPassRecogniser:
    """The recogniser of one bench. Without `second`, the first pass decides alone."""

    first: Recogniser
    second: Second | None = None
    suppressor: Suppressor | None = None
    activity: VoiceActivity | None = None
    tuning: FirstPass = FIRST_PASS

    @property
    def name(self) -> str:
        """The names of the recognisers of both passes, for people to read."""
        return self.first.name + (f" and {self.second.name}" if self.second else "")

    def prepare(self, grammar: Grammar) -> None:
        """Load a grammar into both passes ahead of its first phrase."""
        self.first.listen_for(grammar)
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
        """Recognise one phrase.

        Args:
            sound: the phrase, 16 kHz mono.
            grammar: what can be said now.
            understanding: what words mean now.
            for_us: whether the words of the first pass are addressed to the assistant. Only those
                get a second pass.
            both: whether nothing may be accepted on the first pass alone.
            early: whether the phrase may still go on. It then gets a second pass only if the first
                pass finds a whole sentence.
            pause_s: seconds of silence at the end of `sound`.
        """
        started = time.perf_counter()
        if self.activity and self.activity.probability(sound) < self.tuning.speech_probability:
            heard: Utterance[M] = Utterance((), None, Verdict.REJECTED, 0.0, self.name)
        else:
            known = MeaningCache(understanding)
            ways = self._ways(sound)
            if self.second is not None and not both and _PROCESSORS > 1:
                self.second.begin(ways.second)
            first = self._first_pass(sound, ways.first, grammar, pause_s)
            if not for_us(first.words) or (early and self.second and not first.is_sentence):
                heard = _alone(replace(first, verdict=Verdict.REJECTED), known)
            else:
                heard = self._second_pass(first, ways, grammar, known, both)
            if heard.accepted and self._cut_short(heard, sound, known):
                heard = replace(heard, verdict=Verdict.DOUBTFUL)
        took_s = time.perf_counter() - started
        return replace(heard, sound=sound, audio_s=sound.seconds, took_s=took_s)

    def _first_pass(self, sound: Pcm, way: Pcm, grammar: Grammar, pause_s: float) -> Hypothesis:
        self.first.listen_for(grammar)
        first = hear_all(self.first, way)
        # Speech after the last recognised word is free speech, such as the text of a note.
        after_s = sound.seconds - pause_s - first.times[-1][2] if first.times else 0.0
        return replace(first, free_speech=after_s > self.tuning.free_speech_s)

    def _second_pass(
        self,
        first: Hypothesis,
        ways: _Ways,
        grammar: Grammar,
        known: MeaningCache[M],
        both: bool,
    ) -> Utterance[M]:
        """Return the result of the first pass if it can be trusted alone, else of both passes."""
        tuning = self.tuning
        if self.second is None:
            return _alone(first, known)
        enough = tuning.sure_alone if ways.silent else tuning.sure_alone_in_noise
        sure = ways.quiet and not both and first.confidence >= enough
        meaning = known.means(first.words) if first.accepted else None
        if sure and meaning is not None and not known.at_stake(meaning):
            return _alone(first, known)
        also = first.words if first.is_sentence else ()
        opinion = self.second.opinion(ways.for_second(), grammar, also)
        if not both and ways.quiet and self._found_nothing(opinion) and self._trusted(first):
            return _alone(first, known)
        loss = self.first.loss if isinstance(self.first, Rescoring) else _never_as_good
        return weighing.judge(first, opinion, known, self.second.name, loss)

    def _found_nothing(self, opinion: Opinion) -> bool:
        """Whether the second pass found neither clear words nor a sentence."""
        likeliest = max((candidate.score for candidate in opinion.candidates), default=-math.inf)
        return (
            not opinion.cut
            and opinion.free_fit < self.tuning.nothing_found_fit
            and likeliest < self.tuning.nothing_found_score
        )

    def _trusted(self, first: Hypothesis) -> bool:
        return first.accepted and first.confidence >= self.tuning.sure_if_nothing_found

    def _cut_short(self, heard: Utterance[M], sound: Pcm, known: MeaningCache[M]) -> bool:
        """Whether there is voice after the last recognised word of a number."""
        if not (self.activity and heard.times and heard.meaning is not None):
            return False
        if not known.numeric(heard.meaning):
            return False
        return self.activity.voice_s(sound, heard.times[-1][2]) >= self.tuning.more_number_s

    def _ways(self, sound: Pcm) -> _Ways:
        tuning = self.tuning
        silent = suppression.floor_ratio(sound) >= tuning.silent_db
        if not self.suppressor:
            return _Ways(sound, sound, silent, silent)
        if silent:
            return _Ways(sound, sound, True, True, partial(self.suppressor.clean, sound))
        clean = self.suppressor.clean(sound)
        return _Ways(
            suppression.blend(clean, sound, tuning.noise_share),
            suppression.blend(clean, sound, tuning.second_noise_share),
            suppression.noise_ratio(clean, sound) >= tuning.quiet_db,
            False,
            lambda: sound,
        )


@dataclass(frozen=True)
class _Ways:
    """The sound of one phrase for each pass, and how quiet the room is."""

    first: Pcm
    second: Pcm
    quiet: bool
    silent: bool
    other: Callable[[], Pcm] | None = None
    """Makes the second pass's other version of it, which is not always needed."""

    def for_second(self) -> Iterator[Pcm]:
        """Yield the versions for the second pass."""
        yield self.second
        if self.other is not None:
            yield self.other()


def _alone(first: Hypothesis, known: MeaningCache[M]) -> Utterance[M]:
    """Return the hypothesis of the first pass as an utterance, with its own verdict."""
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
