"""Transcribes free speech with a Whisper model of any size from a local folder."""

from pathlib import Path
from typing import Any

import numpy as np

from assistant.audio.pcm import Pcm
from assistant.errors import AssistantError

_NEEDED = ("model.bin", "config.json", "tokenizer.json")
"""Files of a model. The library would look on the internet for a missing one."""


class FasterWhisper:
    """The library faster-whisper with a model that was converted for CTranslate2.

    It transcribes English. Nothing is ever downloaded. Raises AssistantError if the library is
    missing or `folder` has no such model.
    """

    def __init__(self, folder: Path) -> None:
        missing = [name for name in _NEEDED if not (folder / name).is_file()]
        if missing:
            raise AssistantError(
                f"{folder} has no Whisper model for CTranslate2: {', '.join(missing)} missing. "
                "Give the folder of a model with --model."
            )
        try:
            import faster_whisper
        except ImportError:
            raise AssistantError(
                "Transcripts need the package faster-whisper: pip install faster-whisper"
            ) from None
        folder = folder.resolve()
        # The name "model" says nothing, so the name of the folder around it counts.
        called = folder.parent.name if folder.name == "model" else folder.name
        self._name = f"faster-whisper {called}"
        try:
            self._model: Any = faster_whisper.WhisperModel(
                str(folder), device="cpu", compute_type="int8", local_files_only=True
            )
        except Exception as error:  # The tokenizer's library raises bare Exception.
            raise AssistantError(
                f"The Whisper model in {folder} cannot be loaded: {error}"
            ) from None

    @property
    def name(self) -> str:
        """The names of the library and of the model's folder."""
        return self._name

    def transcribe(self, pcm: Pcm) -> str:
        """Return the words of the sound, 16 kHz mono; "" if there is no speech in it."""
        segments, _ = self._model.transcribe(
            pcm.samples.astype(np.float32) / 32768,
            language="en",
            beam_size=5,
            condition_on_previous_text=False,
        )
        return " ".join(segment.text.strip() for segment in segments).strip()
