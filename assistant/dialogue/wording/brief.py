"""Telling several things within half a minute, whatever there is to tell.

Each topic has a full form, shorter ones, and one that only counts. All are told in the shortest
form that says them; then, the most important first, each takes the fullest form for which there is
room. So no topic is ever left out because another is long.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.dialogue.wording.quantities import sentence

MOST_WORDS = 75
"""Words: at 150 a minute, as the voice speaks, 30 seconds."""


@dataclass(frozen=True)
class Topic:
    """What is told of one thing."""

    rank: int
    """How much it matters, the most important 0; of equal ones, the first told goes first."""
    forms: tuple[str, ...]
    """Ways to say it, the fullest first; no full stop."""


def told(topics: Sequence[Topic]) -> list[str]:
    """Word topics, a sentence for each, in their order and in at most `MOST_WORDS` words in all.

    More only where their shortest forms are more.
    """
    chosen = [min(topic.forms, key=_words) for topic in topics]
    for place in sorted(range(len(topics)), key=lambda place: topics[place].rank):
        room = MOST_WORDS - sum(_words(form) for at, form in enumerate(chosen) if at != place)
        fitting = (form for form in topics[place].forms if _words(form) <= room)
        chosen[place] = next(fitting, chosen[place])
    return [sentence(form) for form in chosen]


def _words(text: str) -> int:
    return len(text.split())
