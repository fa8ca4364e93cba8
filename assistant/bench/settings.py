"""What a bench remembers from one run to the next: its devices, its voice, who works there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from assistant.audio.manner import Manner
from assistant.bench import attached as attaching
from assistant.bench import technicians
from assistant.bench.attached import Attached
from assistant.errors import AssistantError


class Settings(BaseModel):
    """The settings file, in JSON. A setting that is missing has its default."""

    model_config = ConfigDict(extra="ignore")

    microphone: str | None = Field(default=None, max_length=200)
    """Name of the microphone, or part of it; None is the system's own choice."""
    loudspeaker: str | None = Field(default=None, max_length=200)
    """The same for the loudspeaker or headset."""
    camera: str | None = Field(default=None, max_length=500)
    """Name of the camera over the bench, or part of it; None for no camera."""
    shop: str | None = Field(default=None, max_length=500)
    """The shop's database, as a URL without a password; None for none."""
    manner: Manner = Manner()
    """How the voice speaks, as it was last asked to."""
    technicians: tuple[Annotated[str, Field(max_length=200)], ...] = Field(
        default=(), max_length=100
    )
    """Who may be at the bench, as `assistant.bench.technicians` reads them."""
    attached: tuple[Attached, ...] = Field(default=(), max_length=30)
    """The instruments and scanners that send."""

    @field_validator("attached")
    @classmethod
    def _are_told_apart(cls, devices: tuple[Attached, ...]) -> tuple[Attached, ...]:
        try:
            attaching.check(devices)
        except AssistantError as error:
            raise ValueError(str(error)) from None
        return devices

    @field_validator("technicians")
    @classmethod
    def _are_names(cls, entries: tuple[str, ...]) -> tuple[str, ...]:
        try:
            technicians.parse(entries, "technicians")
        except AssistantError as error:
            raise ValueError(str(error)) from None
        return entries


def place() -> Path:
    """Return the path of the settings file, in the user's configuration folder."""
    return platformdirs.user_config_path("bench-assistant", appauthor=False) / "settings.json"


def read() -> Settings:
    """Return the settings; defaults if there is no file. AssistantError if it cannot be read."""
    path = place()
    try:
        return Settings.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        return Settings()
    except (OSError, ValidationError):
        raise AssistantError(
            f"{path} cannot be read as settings. Mend it, or delete it to begin with none."
        ) from None


def read_or_usual(warn: Callable[[str], None] = lambda text: None) -> Settings:
    """Return the settings; if they cannot be read, warn, and return the defaults: work goes on."""
    try:
        return read()
    except AssistantError as error:
        warn(f"The usual settings are taken. {error}")
        return Settings()


def remember(**changes: str | Manner | tuple[Attached, ...] | None) -> None:
    """Change some of the settings; the file is written whole or not at all."""
    path = place()
    changed = read().model_copy(update=changes)
    begun = path.with_suffix(".new")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        begun.write_text(changed.model_dump_json(indent=2) + "\n", encoding="utf-8")
        begun.replace(path)
    except OSError as error:
        raise AssistantError(f"{path}: cannot be written: {error.strerror or error}.") from None
