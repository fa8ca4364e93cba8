"""Chooses the recogniser: Vosk if an English model is installed, else PocketSphinx."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path

from assistant.errors import AssistantError
from assistant.grammar.respelling import Respellings
from assistant.recognition.kaldi import Vosk
from assistant.recognition.recogniser import Recogniser
from assistant.recognition.sphinx import PocketSphinx

MODEL_VARIABLE = "ASSISTANT_VOSK_MODEL"
"""Environment variable that names the folder of a Vosk model."""


def choose(
    kind: str = "auto",
    model: Path | None = None,
    respellings: Respellings | None = None,
    warn: Callable[[str], None] = lambda text: None,
) -> Recogniser:
    """Return the recogniser of this kind: "auto", "vosk" or "pocketsphinx".

    "auto" is Vosk if `model` is given or an English model is found, else PocketSphinx. Nothing is
    ever downloaded. `warn` gets a sentence for people about words that the recogniser will hear
    badly or not at all. Raises AssistantError if there is no such recogniser, or if its model
    cannot be used.
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
            return Vosk(folder, respellings, warn)
        if kind == "vosk":
            looked = ", ".join(str(place) for place in _model_places())
            raise AssistantError(
                "No English Vosk model was found. Download one that is marked small, unpack it, "
                f"and give its folder with --model PATH or in {MODEL_VARIABLE}. "
                f"Looked in: {looked}."
            )
    return PocketSphinx(respellings, warn)


def find_model() -> Path | None:
    """Return the folder of an English Vosk model, or None if there is none.

    The environment variable `MODEL_VARIABLE` comes first, then the folders in which Vosk keeps its
    models. Small models come first, because most large ones take no grammar at run time.
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
    # The folders of Vosk's own MODEL_DIRS.
    named = os.environ.get("VOSK_MODEL_PATH")
    return [
        *([Path(named)] if named else []),
        Path("/usr/share/vosk"),
        Path.home() / "AppData/Local/vosk",
        Path.home() / ".cache/vosk",
    ]
