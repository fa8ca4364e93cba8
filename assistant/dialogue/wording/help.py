"""What can be said: answers to "what words"."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import facts
from assistant.dialogue.state import Mode
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import count, listing, sentence

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


_AT_ONCE = 2
"""Ways on that are told together: more are not kept in mind."""
_OTHERWISE: dict[Mode, tuple[str, ...]] = {
    Mode.WORKING: ("next step",),
    Mode.TAKING_DOWN: ("removed and what came off", "bag and its number", "start build up"),
    Mode.BUILDING_UP: ("next step",),
}
"""What is said where nothing is outstanding."""


def what_fits(mode: Mode, outstanding: Sequence[facts.Outstanding]) -> tuple[str, ...]:
    """Say, at work, what goes on from here, what helps at any time, and how to hear the rest."""
    ways = list(dict.fromkeys(map(_way_on, outstanding)))[:_AT_ONCE]
    if not ways or mode is Mode.TAKING_DOWN:
        ways += _OTHERWISE[mode]
    return (
        sentence(f"here, say {_any_of(ways)}"),
        "At any time: say again, what is left, note, or disregard.",
        "For the rest, say more words.",
    )


def _way_on(item: facts.Outstanding) -> str:
    """Word what to say to something outstanding."""
    match item:
        case facts.GateToPass() | facts.StepBefore():
            return f"go to {steps.name(item.number)}"
        case facts.HazardsToHear() | facts.ConditionToAffirm():
            return "affirm"
        case facts.QuestionToAnswer():
            return listing(item.answers, "or")
        case facts.ReadingToTake():
            return f"reading {item.name} and its value"
        case facts.TorqueToRecord():
            return "tightened and the value"
        case facts.BagToRecord():
            return f"bag {count(item.number)}"
        case facts.TimeToPass() if item.left is None:
            return "start timer"
        case facts.TimeToPass():
            return "what is left"
        case _:
            return "what failed"


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
