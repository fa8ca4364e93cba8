"""Transcribes free speech with a Whisper model of any size, loaded from a local folder."""

from pathlib import Path
from typing import Any

import numpy as np

from assistant.audio.pcm import Pcm
from assistant.errors import AssistantError

_NEEDED = ("model.bin", "config.json", "tokenizer.json")
"""Without any of these the library would ask a hub for it."""


class FasterWhisper:
    """The library faster-whisper with a model that CTranslate2 converted.

    Raises AssistantError where the library is missing or `folder` holds no such model. Nothing is
    ever downloaded. What is written down is English.
    """

    def __init__(self, folder: Path) -> None:
        missing = [name for name in _NEEDED if not (folder / name).is_file()]
        if missing:
            raise AssistantError(
                f"{folder} holds no Whisper model for CTranslate2: {', '.join(missing)} is not "
                "there. Give a model's folder with --model."
            )
        try:
            import faster_whisper
        except ImportError:
            raise AssistantError(
                "Transcripts need the package faster-whisper: pip install faster-whisper"
            ) from None
        folder = folder.resolve()
        # A folder that is only called "model" says nothing; the one around it does.
        called = folder.parent.name if folder.name == "model" else folder.name
        self._name = f"faster-whisper {called}"
        try:
            self._model: Any = faster_whisper.WhisperModel(
                str(folder), device="cpu", compute_type="int8", local_files_only=True
            )
        except Exception as error:  # The tokenizer's library raises bare Exception.
            raise AssistantError(
                f"{folder} holds no Whisper model that can be loaded: {error}"
            ) from None

    @property
    def name(self) -> str:
        """The name of the library and of the model's folder."""
        return self._name

    def transcribe(self, pcm: Pcm) -> str:
        """Return what is said in the sound; "" where it hears no speech."""
        segments, _ = self._model.transcribe(
            pcm.samples.astype(np.float32) / 32768,
            language="en",
            beam_size=5,
            condition_on_previous_text=False,
        )
        return " ".join(segment.text.strip() for segment in segments).strip()
