"""Finds the sample grammars, procedures and recordings, in a checkout or in the wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """Return a folder that ships with the assistant: "grammars", "procedures" or "audio_fixtures".

    In a checkout the folders are beside the package; the wheel has copies in its `data` folder.
    """
    checkout = _PACKAGE.parent
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    return _PACKAGE / "data" / name
