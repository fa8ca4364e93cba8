"""The PocketSphinx recogniser, which is always available: its package contains an English model.

Its confidence is worked out here. PocketSphinx's own score says how well the sound fits the best
sentence of the grammar, but some sentence always fits best. Therefore the sound is decoded a second
time with a loop of phones, which fits any speech. The log-likelihood that the sentence loses
against the loop, per frame of 10 ms, tells a command from other talk.
"""

import math
import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from cachetools import LRUCache

from assistant.audio.pcm import RATE, Samples, from_bytes
from assistant.errors import AssistantError
from assistant.grammar.jsgf import GARBAGE, Grammar
from assistant.grammar.network import Network
from assistant.grammar.respelling import Respellings
from assistant.recognition.pronunciation import PHONES, pronounce
from assistant.recognition.recogniser import Acceptance, Hypothesis

_FRAME = RATE // 100


@dataclass(frozen=True)
class Decoding:
    """How PocketSphinx searches. Measured on 480 synthetic commands in the bench's own grammar."""

    language_weight: float = 3.0
    """Weight of the grammar's probabilities against the sound. Higher: likely sentences are heard
    in place of unlikely ones."""
    word_penalty: float = 1e-4
    """Probability of each further word. At the default of 0.65, short words ("oh") are inserted
    between digits; lower values lose words that were said."""
    beam: float = 1e-60
    word_beam: float = 1e-40
    """Likelihood, relative to the best path, down to which a path is followed: for phones and for
    words. Wider beams lose fewer sentences in noise, and cost little with small grammars."""
    garbage_probability: float = 1e-3
    """Probability of each further phone of free speech. Higher: commands become free speech."""
    shortest_s: float = 0.1
    """Sound (s) below which nothing is decoded."""
    dither_floor_dbfs: float = -70.0
    dither_below_speech_db: float = 35.0
    """Level of the pink noise that is mixed in: its minimum, and its distance below the speech. The
    model was never trained on digital silence; louder dither hides soft sounds."""
    grammars: int = 32
    """Number of grammars kept ready."""


@dataclass(frozen=True)
class SphinxConfidence:
    """The mapping from log-likelihood ratios to confidence.

    Set on 480 synthetic commands, people's commands, people reading prose, and other talk.
    """

    half_sure: float = -3.0
    """Mean log-likelihood ratio per 1000 frames at a confidence of 0.5."""
    spread: float = 0.7
    """Scale of the logistic curve there. Larger: confidence rises more slowly."""
    spoken_silence: float = -4.0
    """Log-likelihood ratio per 1000 frames below which a silence was not silent: the phone loop
    found speech in it."""


DECODING = Decoding()
CONFIDENCE = SphinxConfidence()
ACCEPTANCE = Acceptance(accepted=0.5, doubtful=0.25)
_FORCED = "forced"


class _Searches(LRUCache[Grammar, str]):
    """The name of the decoder's search for each grammar; empty if nothing can be said in it."""

    def __init__(self, decoder: Any, most: int) -> None:
        super().__init__(most)
        self._decoder = decoder

    def popitem(self) -> tuple[Grammar, str]:
        """Drop the least recently used search, from the decoder as well."""
        grammar, search = super().popitem()
        if search:
            self._decoder.remove_search(search)
        return grammar, search


class PocketSphinx:
    """PocketSphinx with the English model of its package, limited to a grammar.

    A phrase is decoded as a whole when it ends. The normalisation of its spectrum then uses all of
    it, and earlier phrases have no influence. `warn` gets a sentence about words that may be heard
    badly. Raises AssistantError if the model cannot be loaded.
    """

    name = "pocketsphinx"

    def __init__(
        self,
        respellings: Respellings | None = None,
        warn: Callable[[str], None] = lambda text: None,
        tuning: Decoding = DECODING,
    ) -> None:
        import pocketsphinx

        model = Path(pocketsphinx.__file__).parent / "model" / "en-us"
        try:
            self._decoder: Any = pocketsphinx.Decoder(
                hmm=str(model / "en-us"),
                dict=str(model / "cmudict-en-us.dict"),
                lm=None,
                loglevel="FATAL",
                bestpath=False,
                lw=tuning.language_weight,
                wip=tuning.word_penalty,
                beam=tuning.beam,
                wbeam=tuning.word_beam,
                pbeam=tuning.beam,
                compallsen=True,
                allphone_ci=True,
            )
            self._decoder.add_allphone_file("phones", str(model / "en-us-phone.lm.bin"))
        except (RuntimeError, ValueError):
            raise AssistantError(
                "The English model of the pocketsphinx package cannot be loaded. Install the "
                "package again."
            ) from None
        for phone in PHONES:
            self._decoder.add_word(_phone_word(phone), phone, False)
        self._respellings = respellings or Respellings()
        self._warn = warn
        self._tuning = tuning
        self._searches = _Searches(self._decoder, tuning.grammars)
        self._made = 0
        self._grammar: Grammar | None = None
        self._search = ""
        self._blocks = bytearray()
        self._last: tuple[bytes, list[_Segment]] | None = None
        """The sound of the last phrase as it was decoded, and its segments."""

    def listen_for(self, grammar: Grammar) -> None:
        """Limit recognition to a grammar; quick for one that was used before."""
        if grammar not in self._searches:
            self._searches[grammar] = self._make_search(grammar)
        self._grammar, self._search = grammar, self._searches[grammar]

    def feed(self, block: bytes) -> None:
        """Take the next block of the phrase: 16 kHz mono 16-bit PCM of any length."""
        self._blocks += block

    def finish(self) -> Hypothesis:
        """End the phrase, decode it and return the hypothesis."""
        started = time.perf_counter()
        if self._grammar is None:
            raise RuntimeError("call listen_for before finish")
        samples = from_bytes(bytes(self._blocks)).samples
        self._blocks.clear()
        audio_s = len(samples) / RATE
        search = self._search
        words: tuple[str, ...] = ()
        times: tuple[tuple[str, float, float], ...] = ()
        confidence = 0.0
        self._last = None
        if search and audio_s >= self._tuning.shortest_s and samples.any():
            sound = dithered(samples, self._tuning).tobytes()
            segments = self._decode(sound, search)
            self._last = sound, segments
            times = tuple(
                (word, start / 100, (end + 1) / 100)
                for word, start, end, _ in segments
                if not _is_filler(word)
            )
            words = tuple(word for word, _, _ in times)
            if words:
                confidence = _confidence(segments, self._decode(sound, "phones"))
        sentence = bool(words) and self._grammar.network().accepts(words)
        return Hypothesis(
            words=words,
            is_sentence=sentence,
            verdict=ACCEPTANCE.verdict(sentence, confidence),
            confidence=round(confidence, 3),
            recogniser=self.name,
            times=times,
            audio_s=audio_s,
            took_s=time.perf_counter() - started,
        )

    def loss(self, words: Sequence[str]) -> float:
        """Return how much less likely these words make the last phrase than the words recognised.

        The unit is log-likelihood per 1000 frames of 10 ms; infinite if the words cannot fit.
        """
        if self._last is None or not words or self._grammar is None:
            return math.inf
        sound, best = self._last
        self._add_missing(set(words))
        states = [(n, n + 1, 1.0, word) for n, word in enumerate(words)]
        fsg = self._decoder.create_fsg(_FORCED, 0, len(words), states)
        self._decoder.add_fsg(_FORCED, fsg)
        forced = self._decode(sound, _FORCED)
        self._decoder.remove_search(_FORCED)
        said = [word for word, *_ in forced if not _is_filler(word)]
        if said != list(words) or not best:
            return math.inf
        lost = sum(score for *_, score in best) - sum(score for *_, score in forced)
        return lost / (best[-1][2] + 1) * 1000

    def _decode(self, sound: bytes, search: str) -> "list[_Segment]":
        # What is kept of the sound before changes the spectrum of this; a new front end has none.
        self._decoder.reinit_feat()
        self._decoder.activate_search(search)
        self._decoder.start_utt()
        self._decoder.process_raw(sound, no_search=False, full_utt=True)
        self._decoder.end_utt()
        if self._decoder.hyp() is None:
            return []
        return [
            (
                re.sub(r"\(\d+\)$", "", segment.word),
                segment.start_frame,
                segment.end_frame,
                math.log(segment.ascore) if segment.ascore > 0 else -700.0,
            )
            for segment in self._decoder.seg()
            if segment.word != "(NULL)" and segment.end_frame >= segment.start_frame
        ]

    def _make_search(self, grammar: Grammar) -> str:
        """Add the grammar to the decoder. Returns an empty name if nothing can be said in it."""
        network = grammar.network().compact()
        if not network.finals or not network.arcs:
            return ""
        self._add_missing(grammar.words())
        self._made += 1
        name = f"grammar {self._made}"
        transitions = _transitions(network, self._tuning.garbage_probability)
        fsg = self._decoder.create_fsg(name, network.start, network.states, transitions)
        self._decoder.add_fsg(name, fsg)
        return name

    def _add_missing(self, words: set[str]) -> None:
        missing = sorted(word for word in words if self._decoder.lookup_word(word) is None)
        guessed = []
        for word in missing:
            phones = self._respelt(word)
            if phones:
                self._decoder.add_word(word, phones, False)
            else:
                guessed.append(word)
        for word, sounds in pronounce(guessed).items():
            if not sounds:
                raise AssistantError(
                    f"No pronunciation was found for the word {word!r}. Give it a respelling, such "
                    "as 'circlip: sir clip', in a file for --respell."
                )
            self._decoder.add_word(word, " ".join(sounds), False)
        if guessed:
            self._warn(
                f"Not in the dictionary, pronounced by rule: {', '.join(guessed)}. If one is "
                "heard badly, give it a respelling."
            )

    def _respelt(self, word: str) -> str | None:
        respelling = self._respellings.of(word, self.name)
        if respelling is None:
            return None
        if all(part in PHONES for part in respelling):
            return " ".join(respelling)
        parts = [self._decoder.lookup_word(part.casefold()) for part in respelling]
        if None in parts:
            lacking = [p for p, found in zip(respelling, parts, strict=True) if found is None]
            self._warn(
                f"The respelling of {word!r} uses words that are not in the dictionary either: "
                f"{', '.join(lacking)}. Use other words."
            )
            return None
        return " ".join(parts)


_Segment = tuple[str, int, int, float]
"""A word, its first and last frame of 10 ms, and the acoustic log-likelihood."""


def _phone_word(phone: str) -> str:
    return f"+phone {phone}+"


def _is_filler(word: str) -> bool:
    return word[0] in "<[" or word.startswith("+")


def _transitions(
    network: Network, garbage_probability: float
) -> list[tuple[int, int, float] | tuple[int, int, float, str]]:
    """Return the network's arcs for PocketSphinx, with one final state and loops of phones.

    A loop of phones stands for free speech. The arcs are (source, target, probability[, word]).
    """
    final, state = network.states, network.states + 1
    transitions: list[tuple[int, int, float] | tuple[int, int, float, str]] = []
    for arc in network.arcs:
        assert arc.word is not None
        if arc.word != GARBAGE:
            transitions.append((arc.source, arc.target, arc.probability, arc.word))
            continue
        each = garbage_probability / len(PHONES)
        for phone in PHONES:
            word = _phone_word(phone)
            transitions.append((arc.source, state, arc.probability * each, word))
            transitions.append((state, state, each, word))
        transitions.append((state, arc.target, 1.0))
        transitions.append((arc.source, arc.target, arc.probability))
        state += 1
    transitions.extend((source, final, 1.0) for source in network.finals)
    return transitions


def dithered(samples: Samples, tuning: Decoding = DECODING) -> Samples:
    """Return the sound with faint pink noise added, which is the same each time.

    The noise is 35 dB below the speech, and at least -70 dBFS, so the noise of any real room hides
    it. The level of the speech is the root mean square of the louder 40 % of the frames.
    """
    sound = samples.astype(np.float64)
    frames = sound[: len(sound) // _FRAME * _FRAME].reshape(-1, _FRAME)
    power = np.mean(frames**2, axis=1)
    speech = math.sqrt(np.mean(power[power >= np.percentile(power, 60)]))
    level = max(
        speech * 10 ** (-tuning.dither_below_speech_db / 20),
        32768 * 10 ** (tuning.dither_floor_dbfs / 20),
    )
    noisy = sound + level * _pink_noise(len(sound))
    return np.clip(np.round(noisy), -32768, 32767).astype(np.int16)


def _pink_noise(length: int) -> npt.NDArray[np.float64]:
    """Return noise with power falling as 1/f above 50 Hz, root mean square 1."""
    spectrum = np.fft.rfft(np.random.default_rng(0).normal(size=length))
    spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(length, 1 / RATE), 50.0))
    noise = np.fft.irfft(spectrum, length)
    return noise / float(np.sqrt(np.mean(noise**2)))


def _confidence(sentence: list[_Segment], loop: list[_Segment]) -> float:
    """Return the confidence, 0 to 1: the words' mean log-likelihood ratio against the phone loop.

    Free speech and true silence do not count. Silence in which the loop found speech counts.
    """
    last = max((end for _, _, end, _ in [*sentence, *loop]), default=0)
    free = np.zeros(last + 1)
    for _, start, end, score in loop:
        free[start : end + 1] = score / (end - start + 1)
    total, frames = 0.0, 0
    for word, start, end, score in sentence:
        length = end - start + 1
        ratio = score - float(free[start : end + 1].sum())
        if not _is_filler(word) or (
            word[0] == "<" and ratio / length * 1000 < CONFIDENCE.spoken_silence
        ):
            total += ratio
            frames += length
    if not frames:
        return 0.0
    ratio = total / frames * 1000
    return 1 / (1 + math.exp(-(ratio - CONFIDENCE.half_sure) / CONFIDENCE.spread))
