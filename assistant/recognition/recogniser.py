"""What a recogniser is, what it returns, and how one is chosen.

A recogniser is limited to a grammar and returns one `Hypothesis` for each phrase. `assistant.
recognition.ears` makes an `Utterance` of it, with the second listener where there is one.
"""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, runtime_checkable

from assistant.audio.pcm import Pcm
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Grammar
from assistant.grammar.respelling import Respellings
from assistant.recognition.utterance import Verdict

MODEL_VARIABLE = "ASSISTANT_VOSK_MODEL"
"""Environment variable that names the folder of a Vosk model."""


@dataclass(frozen=True)
class Hypothesis:
    """What one recogniser makes of one phrase. Free speech (`<GARBAGE>`) gives no words."""

    words: tuple[str, ...]
    is_sentence: bool
    """Whether the words are a whole sentence of the grammar."""
    confidence: float
    """0 to 1, on the recogniser's own scale."""
    recogniser: str
    verdict: Verdict = Verdict.REJECTED
    """What to do about the phrase where nobody else listens."""
    free_speech: bool = False
    """Whether more was said after the words; the recogniser leaves this to its caller."""
    times: tuple[tuple[str, float, float], ...] = ()
    """(word, start, end) in seconds from the start of the phrase."""
    alternatives: tuple[tuple[str, ...], ...] = ()
    """Other sentences that it may have been, the likeliest first, where the recogniser tells."""
    audio_s: float = 0.0
    took_s: float = 0.0

    @property
    def accepted(self) -> bool:
        """Whether this recogniser alone would act on it."""
        return self.verdict is Verdict.ACCEPTED


@dataclass(frozen=True)
class Acceptance:
    """Confidence at which one recogniser's hypothesis is acted on, or asked for again."""

    accepted: float
    """Least confidence, 0 to 1, to act on a sentence. Higher: more is asked, less is wrong."""
    doubtful: float
    """Least confidence to ask for the phrase again. Lower: more other talk is answered."""

    def verdict(self, is_sentence: bool, confidence: float) -> Verdict:
        """Return what to do about a phrase of this confidence."""
        if is_sentence and confidence >= self.accepted:
            return Verdict.ACCEPTED
        return Verdict.DOUBTFUL if confidence >= self.doubtful else Verdict.REJECTED


class Recogniser(Protocol):
    """Turns blocks of 16 kHz mono 16-bit PCM into words limited to a grammar."""

    @property
    def name(self) -> str:
        """Its name, as the record keeps it."""

    def listen_for(self, grammar: Grammar) -> None:
        """Limit recognition from the next phrase on; quick for a grammar it has had before."""

    def feed(self, block: bytes) -> None:
        """Take the next block of the phrase, of any length."""

    def finish(self) -> Hypothesis:
        """End the phrase and return what was heard since the last one ended."""


@runtime_checkable
class Rescoring(Protocol):
    """A recogniser that can also score other words against the phrase it heard last."""

    def loss(self, words: Sequence[str]) -> float:
        """Return how much less likely the last phrase is as these words than as it was heard.

        In log-likelihood per 1000 frames of 10 ms; infinite where the words do not fit at all.
        """


class Transcriber(Protocol):
    """Writes down free speech, where no grammar limits it: a note's transcript."""

    @property
    def name(self) -> str:
        """Its name and its model's, as they stand beside the transcript."""

    def transcribe(self, pcm: Pcm) -> str:
        """Return what is said in the sound; "" where it hears no speech."""


def hear_all(recogniser: Recogniser, pcm: Pcm) -> Hypothesis:
    """Recognise a whole stretch of sound as one phrase."""
    recogniser.feed(pcm.tobytes())
    return recogniser.finish()


def choose(
    kind: str = "auto",
    model: Path | None = None,
    respellings: Respellings | None = None,
    warn: Callable[[str], None] = lambda text: None,
) -> Recogniser:
    """Return the recogniser of this kind: "auto", "vosk" or "pocketsphinx".

    "auto" is Vosk where `model` is given or an English model is found, else PocketSphinx. Nothing
    is ever downloaded. `warn` takes a plain sentence about words that will be heard badly or not
    at all. Raises AssistantError where there is no such recogniser or its model cannot be used.
    """
    respellings = respellings or Respellings()
    if kind not in ("auto", "vosk", "pocketsphinx"):
        raise AssistantError(
            f"There is no recogniser called {kind!r}; choose auto, vosk or pocketsphinx."
        )
    if kind == "pocketsphinx":
        if model is not None:
            raise AssistantError(
                "PocketSphinx brings its own model; leave out --model, or choose --recogniser vosk."
            )
    else:
        folder = model or find_model()
        if folder is not None:
            from assistant.recognition.kaldi import Vosk

            return Vosk(folder, respellings, warn)
        if kind == "vosk":
            looked = ", ".join(str(place) for place in _model_places())
            raise AssistantError(
                "No English Vosk model was found. Download one that is marked small, unpack it, "
                f"and give its folder with --model PATH or in {MODEL_VARIABLE}. "
                f"Looked in: {looked}."
            )
    from assistant.recognition.sphinx import PocketSphinx

    return PocketSphinx(respellings, warn)


def find_model() -> Path | None:
    """Return the folder of an English Vosk model: the environment's, else where Vosk keeps them.

    Small models come first: they take a grammar at run time, the large ones mostly do not.
    """
    named = os.environ.get(MODEL_VARIABLE)
    if named:
        return Path(named)
    for place in _model_places():
        if place.name.startswith("vosk-model") and (place / "am").is_dir():
            return place
        found = sorted(place.glob("vosk-model*-en-*/"))
        if found:
            return min(found, key=lambda path: "small" not in path.name)
    return None


def _model_places() -> Sequence[Path]:
    # Vosk's own places, as in its MODEL_DIRS.
    named = os.environ.get("VOSK_MODEL_PATH")
    return [
        *([Path(named)] if named else []),
        Path("/usr/share/vosk"),
        Path.home() / "AppData/Local/vosk",
        Path.home() / ".cache/vosk",
    ]
