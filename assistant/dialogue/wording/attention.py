"""Who is spoken to: standing by, listening, signing on, leaving."""

from __future__ import annotations

STANDING_BY = "Standing by. Say resume."
LISTENING = "Listening."
ALREADY_LISTENING = "I am listening."
SET_ASIDE = "Job set aside. It stays open."


def signed_on(name: str) -> str:
    """Word who is at the bench from now on."""
    return f"{name} at the bench."
