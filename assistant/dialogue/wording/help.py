"""What can be said: answers to "what words"."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue.state import Mode
from assistant.dialogue.wording.quantities import listing, sentence

_THEMES = {
    "move": "to move",
    "hear": "to hear",
    "ask": "to ask",
    "record": "to record",
    "answer": "to answer",
    "find": "for a finding",
    "supply": "for parts",
    "take down": "for what comes off",
    "build up": "for what goes on again",
    "settle": "for what fails",
    "mend": "to mend",
    "time": "for time",
    "voice": "for my voice",
    "attend": "to begin and end",
}


def what_can_be_said(mode: Mode, examples: Sequence[tuple[str, tuple[str, ...]]]) -> str:
    """Say what can be said in a mode, by theme; the answers where one is waited for."""
    match mode:
        case Mode.NOTING:
            return "Say your note; it ends when you pause. Or say disregard."
        case Mode.CLOSED:
            return "The job is closed."
        case Mode.WORKING | Mode.TAKING_DOWN | Mode.BUILDING_UP:
            themes = [f"{_THEMES[theme]}: {_any_of(said)}" for theme, said in examples]
            return " ".join(sentence(theme) for theme in themes)
    said = [one for _, ones in examples for one in ones]
    return sentence(f"say {_any_of(said)}")


def _any_of(examples: Sequence[str]) -> str:
    """Join examples with "or", after a comma where one of them has a comma of its own."""
    if len(examples) < 2 or not any("," in one for one in examples):
        return listing(examples, "or")
    return f"{', '.join(examples[:-1])}, or {examples[-1]}"
