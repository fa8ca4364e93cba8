"""Who is spoken to: standing by, listening, signing on, leaving."""

from __future__ import annotations

from assistant.dialogue.wording.quantities import sentence

STANDING_BY = "Standing by. Say resume."
LISTENING = "Listening."
ALREADY_LISTENING = "I am listening."
SET_ASIDE = "Job set aside. It stays open."


def signed_on(name: str) -> str:
    """Word who is at the bench from now on."""
    return f"{name} at the bench."


def at_the_bench(name: str | None, by_voice: bool) -> str:
    """Say who is signed on; where nobody is, how to sign on (`by_voice`: the shop has a list)."""
    if name is not None:
        return sentence(f"{name} is at the bench")
    return "Nobody has signed on." + (" Say this is, and your name." if by_voice else "")
