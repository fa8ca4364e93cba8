"""Writing files that somebody goes on with: what is there already is not lost unasked."""

from __future__ import annotations

import argparse
from pathlib import Path

from assistant.errors import AssistantError


def force_option(parser: argparse.ArgumentParser) -> None:
    """Add `--force`."""
    parser.add_argument(
        "--force", action="store_true", help="write it even where there is a file already"
    )


def write(out: Path, contents: str | bytes, force: bool) -> None:
    """Write a file; one that somebody has changed is lost only where that was asked for.

    Raises AssistantError where there is one already, and where it cannot be written.
    """
    try:
        with out.open("wb" if force else "xb") as file:
            file.write(contents.encode() if isinstance(contents, str) else contents)
    except FileExistsError:
        raise AssistantError(
            f"There is a file {out} already. Give another name, or --force to write over it."
        ) from None
    except OSError as error:
        raise AssistantError(f"Cannot write {out}: {error.strerror}.") from error
