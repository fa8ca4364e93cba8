"""Finds files: the sample grammars, procedures and recordings, in a checkout or in the wheel."""

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


def is_file(path: Path) -> bool:
    """Whether there is a file at a path that somebody wrote; no error for what can be no path.

    That is a name too long for the file system, links in a circle, a character that no name has.
    """
    try:
        return path.is_file() and bool(path.resolve())
    except (OSError, RuntimeError, ValueError):
        return False
