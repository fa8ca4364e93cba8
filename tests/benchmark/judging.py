"""What became of a command: understood, questioned, wrongly taken, or missed. Pure."""

import functools
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from typing import Any

from assistant.dialogue import events, intents
from assistant.dialogue.decide import decide
from assistant.dialogue.state import State, apply
from assistant.recognition.utterance import Utterance, Verdict
from tests.fixtures import NOW

RECORDING = (
    events.TorqueRecorded,
    events.ReadingRecorded,
    events.BagRecorded,
    events.PartOrdered,
    events.OrderMoved,
    events.KitItemChecked,
    events.FindingRecorded,
    events.NoteRecorded,
    events.QuestionAnswered,
    events.StepSkipped,
    events.HazardsHeard,
    events.ConditionAffirmed,
)
"""The events that put something said into the record for good."""


class Outcome(StrEnum):
    UNDERSTOOD = "understood"
    QUESTIONED = "questioned"
    WRONG = "wrong"
    MISSED = "missed"


@dataclass(frozen=True)
class Judged:
    outcome: Outcome
    wrong_recorded: bool = False
    """Wrongly taken, and put into the record without a question."""
    needless: bool = False
    """Questioned, though what was heard was right."""


def meant(hearing: Utterance[intents.Intent]) -> intents.Intent | None:
    """What the words mean, taken or not; more after "note" is the note's own sound."""
    intent = hearing.meaning
    return (
        intents.Note(clipped=True)
        if isinstance(intent, intents.Note) and hearing.free_speech
        else intent
    )


def judge(hearing: Utterance[intents.Intent], state: State, expected: dict[str, Any]) -> Judged:
    """Compare what was taken with the intent expected, as `intents.as_dict` gives it."""
    intent = meant(hearing)
    right = intent is not None and intents.as_dict(intent) == expected
    if hearing.verdict is Verdict.DOUBTFUL:
        return Judged(Outcome.QUESTIONED, needless=right)
    if not hearing.accepted or intent is None:
        return Judged(Outcome.MISSED)
    if right:
        return Judged(Outcome.UNDERSTOOD)
    return Judged(Outcome.WRONG, wrong_recorded=records(intent, state))


def records(intent: intents.Intent, state: State) -> bool:
    """Say whether the session would record it at once: what does not fit it asks about.

    A step that waits for others, or for its hazards to be heard, records little; so it is tried
    with all of that done too. What takes something out of the record counts as well.
    """
    if isinstance(intent, intents.Disregard):
        return True
    return any(
        isinstance(event, RECORDING)
        for where in (state, _begun(state))
        for event in decide(where, intent, NOW).events
    )


def _begun(state: State) -> State:
    """The same step with the others done, its hazards heard and its conditions affirmed."""
    others = frozenset(step.id for step in state.procedure.steps) - {state.step_id or ""}
    state = replace(state, done=others)
    while True:
        history = decide(state, intents.Affirm(), NOW).events
        if not any(
            isinstance(event, events.HazardsHeard | events.ConditionAffirmed) for event in history
        ):
            return state
        state = functools.reduce(apply, history, state)


@dataclass
class Counts:
    """How many phrases became what."""

    phrases: int = 0
    understood: int = 0
    questioned: int = 0
    wrong: int = 0
    missed: int = 0
    wrong_recorded: int = 0
    needless: int = 0

    def add(self, judged: Judged) -> None:
        self.phrases += 1
        name = judged.outcome.value
        setattr(self, name, getattr(self, name) + 1)
        self.wrong_recorded += judged.wrong_recorded
        self.needless += judged.needless

    def __iadd__(self, other: "Counts") -> "Counts":
        for name, value in other:
            setattr(self, name, getattr(self, name) + value)
        return self

    def __iter__(self) -> Iterator[tuple[str, int]]:
        return ((field.name, getattr(self, field.name)) for field in fields(self))
