"""Where the sample grammars, procedures and recordings are: in a checkout, or inside the wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """Return the folder `name` ("grammars", "procedures", "audio_fixtures") that ships with us.

    In a checkout the folders stand beside the package; the wheel carries copies in its `data`.
    """
    checkout = _PACKAGE.parent
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    return _PACKAGE / "data" / name
