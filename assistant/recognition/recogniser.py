"""What a recogniser is, and choosing one."""

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol, runtime_checkable

from assistant.audio.pcm import Pcm
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Grammar
from assistant.grammar.respelling import Respellings

MODEL_VARIABLE = "ASSISTANT_VOSK_MODEL"
"""Environment variable that names the folder of a Vosk model."""


@dataclass(frozen=True)
class Hearing:
    """What was heard in one phrase.

    `accepted` means: the words are a sentence of the grammar, and sound enough like it to act on.
    `times` holds (word, start, end) in seconds from the start of the phrase. `alternatives` holds
    other sentences it may have been, likeliest first, where the recogniser tells. Free speech
    (`<GARBAGE>`) gives no words.
    """

    words: tuple[str, ...]
    accepted: bool
    confidence: float
    recogniser: str
    times: tuple[tuple[str, float, float], ...] = ()
    alternatives: tuple[tuple[str, ...], ...] = ()
    audio_s: float = 0.0
    took_s: float = 0.0
    doubtful: bool = False
    """Not accepted, but likely enough a command to ask for it again."""
    free_speech: bool = False
    """Whether more was said after the words, where the grammar allows any speech."""


class Recogniser(Protocol):
    """Turns blocks of 16 kHz mono 16-bit PCM into words limited to a grammar."""

    @property
    def name(self) -> str:
        """Its name, as the record keeps it."""

    def listen_for(self, grammar: Grammar) -> None:
        """Limit what is heard from the next phrase on; quick for a grammar it has had before."""

    def feed(self, block: bytes) -> None:
        """Take the next block of the phrase, of any length."""

    def finish(self) -> Hearing:
        """End the phrase: what was heard since the last one ended."""


@runtime_checkable
class Comparing(Protocol):
    """A recogniser that can also tell how well other words would have fitted."""

    def loss(self, words: Sequence[str]) -> float:
        """How much less likely the last phrase is as these words than as what was heard."""


class Transcriber(Protocol):
    """Writes down free speech, where no grammar limits it: a note's transcript."""

    @property
    def name(self) -> str:
        """Its name and its model's, as they stand beside the transcript."""

    def transcribe(self, pcm: Pcm) -> str:
        """What is said in the sound; "" where it hears no speech."""


def hear_all(recogniser: Recogniser, pcm: Pcm) -> Hearing:
    """What is heard in a whole stretch of sound taken as one phrase."""
    recogniser.feed(pcm.tobytes())
    return recogniser.finish()


def choose(
    kind: str = "auto",
    model: Path | None = None,
    respellings: Respellings | None = None,
    warn: Callable[[str], None] = lambda text: None,
) -> Recogniser:
    """The recogniser of this kind: "auto", "vosk" or "pocketsphinx".

    "auto" is Vosk where `model` is given or an English model is found, else PocketSphinx. Nothing
    is ever downloaded. `warn` takes a plain sentence about words that will be heard badly or not
    at all.
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
    """The folder of an English Vosk model: as the environment says, else where Vosk keeps them.

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
