"""Which clip and which picture a stored event names, given as JSON that may be of any shape."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def clip(event: Mapping[str, Any]) -> str | None:
    """Return the SHA-256 of the clip that an event names; None where it names none.

    Raises AttributeError where what stands for how it was heard is no JSON object.
    """
    heard = event.get("heard") or {}
    digest = heard.get("clip_sha256") if heard.get("clip") is not None else None
    return None if digest is None else str(digest)


def picture(event: Mapping[str, Any]) -> str | None:
    """Return the SHA-256 of the picture that an event names; None where it names none."""
    return str(event.get("sha256")) if event.get("kind") == "picture taken" else None
