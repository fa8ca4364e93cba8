"""Where each line of a procedure's text was written: in its own file, or in a fragment."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Origin:
    """Where a line was written."""

    source: str
    line: int
    """From 1."""
    at: Origin | None = None
    """The include by which it came; None for a line of the procedure's own file."""

    @property
    def by_way_of(self) -> str:
        """The includes by which it came, as sentences in brackets; empty for none."""
        told, at = "", self.at
        while at is not None:
            told, at = f"{told} (Included at {at.source}:{at.line}.)", at.at
        return told


@dataclass(frozen=True)
class Whole:
    """A procedure's text with the fragments in it."""

    source: str
    text: str
    origins: tuple[Origin, ...] = ()
    """That of each line; empty where nothing was included."""

    def origin(self, line: int) -> Origin:
        """Return where a line of the text, from 1, was written."""
        if not self.origins:
            return Origin(self.source, line)
        return self.origins[min(line, len(self.origins)) - 1]


def under(origin: Origin, here: Origin) -> Origin:
    """Return an origin as included at a place."""
    if origin == here:
        return origin
    at = here if origin.at is None else under(origin.at, here)
    return Origin(origin.source, origin.line, at)
