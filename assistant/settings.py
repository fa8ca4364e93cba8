"""What a bench remembers from one run to the next: which devices it listens and speaks through."""

from __future__ import annotations

from pathlib import Path

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assistant.errors import AssistantError


class Settings(BaseModel):
    """The settings file, JSON. What is not there has its default."""

    model_config = ConfigDict(extra="ignore")

    microphone: str | None = Field(default=None, max_length=200)
    """Name of the microphone, or part of it; None is the system's own choice."""
    loudspeaker: str | None = Field(default=None, max_length=200)
    """The same of the loudspeaker or headset."""


def place() -> Path:
    """Return where the settings are, in the user's configuration folder."""
    return platformdirs.user_config_path("bench-assistant", appauthor=False) / "settings.json"


def read() -> Settings:
    """Return what is remembered; defaults where there is no file. Not readable: AssistantError."""
    path = place()
    try:
        return Settings.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        return Settings()
    except (OSError, ValidationError):
        raise AssistantError(
            f"{path} cannot be read as settings. Mend it, or delete it to begin with none."
        ) from None


def remember(**changes: str | None) -> None:
    """Change some of the settings, and write them whole or not at all."""
    path = place()
    changed = read().model_copy(update=changes)
    begun = path.with_suffix(".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        begun.write_text(changed.model_dump_json(indent=2) + "\n", encoding="utf-8")
        begun.replace(path)
    except OSError as error:
        raise AssistantError(f"{path}: cannot be written: {error.strerror or error}.") from None
