"""The technicians who may sign on by voice: their names, and how those are pronounced."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from assistant.errors import AssistantError

VARIABLE = "ASSISTANT_TECHNICIANS"
_MOST = 50
_MOST_BYTES = 10_000
_NAME = re.compile(r"[^\W\d_]+('[^\W\d_]+)*( [^\W\d_]+('[^\W\d_]+)*){0,2}")


@dataclass(frozen=True)
class Technicians:
    """Names as written, and respellings of those that are not pronounced as written."""

    names: tuple[str, ...] = ()
    respell: Mapping[str, str] = field(default_factory=dict)


def choose(file: Path | None, remembered: Iterable[str]) -> Technicians:
    """Return the names of a file, one a line; else of the environment; else those remembered.

    Raises AssistantError for an entry that is no name, and for a file that cannot be read.
    """
    if file is not None:
        try:
            if file.stat().st_size > _MOST_BYTES:
                raise AssistantError(f"{file}: too large for a list of names, one a line.")
            lines = file.read_text(encoding="utf-8").splitlines()
        except OSError as error:
            raise AssistantError(f"{file}: cannot be read: {error.strerror or error}.") from None
        except UnicodeDecodeError:
            raise AssistantError(f"{file}: is not UTF-8 text; save it as UTF-8.") from None
        return parse(lines, str(file))
    if os.environ.get(VARIABLE):
        return parse(os.environ[VARIABLE].split(","), VARIABLE)
    return parse(remembered, "the settings")


def parse(entries: Iterable[str], source: str) -> Technicians:
    """Read names such as "Ann", or "Siobhan: shiv on" with how it is pronounced.

    Empty entries are left out. Raises AssistantError, which names the source, for an entry that is
    no name.
    """
    names: list[str] = []
    respell: dict[str, str] = {}
    for entry in entries:
        name, _, sounds = (part.strip() for part in entry.partition(":"))
        if not name and not sounds:
            continue
        if not _NAME.fullmatch(name) or (sounds and not _NAME.fullmatch(sounds)):
            raise AssistantError(
                f"{source}: {entry.strip()[:40]!r} is no name; write it in up to three words of "
                "letters, and after a colon how it sounds where it is not said as written, as in "
                "'Siobhan: shiv on'."
            )
        if sounds and " " in name:
            raise AssistantError(
                f"{source}: respell the words of {name!r} one by one, in a file for --respell."
            )
        if name.lower() in (known.lower() for known in names):
            raise AssistantError(f"{source}: {name!r} is there twice; add a second name to one.")
        names.append(name)
        if sounds:
            respell[name] = sounds
    if len(names) > _MOST:
        raise AssistantError(f"{source}: more than {_MOST} names cannot be told apart by ear.")
    return Technicians(tuple(names), respell)
