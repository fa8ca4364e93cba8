"""One thing said, while its consequences are worked out: events so far, and replies."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Protocol, TypeVar

from assistant.dialogue import nonconformities, outstanding_work
from assistant.dialogue import state as job_state
from assistant.dialogue.effects import Effect
from assistant.dialogue.events import Base, Event
from assistant.dialogue.intents import Intent
from assistant.dialogue.state import Mode, State

E = TypeVar("E", bound=Base)


class Tone(StrEnum):
    """What kind of reply it is, for an earcon or a display beside the words."""

    INFORM = "inform"
    RECORDED = "recorded"
    QUESTION = "question"
    REFUSED = "refused"
    ALERT = "alert"


@dataclass(frozen=True)
class Reply:
    """One thing to say."""

    text: str
    tone: Tone = Tone.INFORM


@dataclass(frozen=True)
class Decision:
    """What follows from an intent."""

    events: tuple[Event, ...] = ()
    replies: tuple[Reply, ...] = ()
    effects: tuple[Effect, ...] = ()
    """What the bench is asked to do besides."""


class Rules(Protocol):
    """What a handler asks about the commands; made from their declarations."""

    @property
    def read_back(self) -> tuple[type[Base], ...]:
        """The events that "read back" tells."""

    @property
    def withdrawable(self) -> tuple[type[Base], ...]:
        """The events that "disregard" takes back."""

    @property
    def corrected_by_number(self) -> tuple[type[Base], ...]:
        """The events that "correction" and a bare number replaces."""

    def corrected_by(self, intent: type[Intent]) -> type[Base] | None:
        """Return the event that an intent replaces after "correction"; None where it can't."""

    def examples(self, mode: Mode) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return what can be said in a mode: a theme, and examples of its commands."""


class Turn:
    """One thing said, while its consequences are worked out: the events so far, the replies."""

    def __init__(self, state: State, now: datetime, rules: Rules) -> None:
        self.rules = rules
        self.state = state
        self.now = now
        self.number = state.turn + 1
        self.told = state.results
        """What follows from the readings, as far as it was told."""
        self.failed = nonconformities.standing(state)
        """The results that are known to fail, as they stand."""
        self.correcting = False
        """Whether a record is being put right. What is held now does not keep it from that."""
        self.elsewhere = False
        """Whether it is about another step than the one that the technician is at."""
        self.events: list[Event] = []
        self.replies: list[Reply] = []
        self.effects: list[Effect] = []

    def record(self, kind: type[E], **fields: Any) -> E:
        """Add an event of the present step, and go on from the state that it leads to."""
        step = fields.pop("step", self.state.step_id)
        event = kind(at=self.now, turn=self.number, step=step, **fields)
        self.add(event)
        return event

    def add(self, event: Any) -> None:
        """Add an event that is ready."""
        self.events.append(event)
        self.state = job_state.apply(self.state, event)

    def say(self, text: str, tone: Tone = Tone.INFORM) -> None:
        """Add a reply."""
        self.replies.append(Reply(text, tone))

    def ask_for(self, effect: Effect) -> None:
        """Ask the bench to do something besides recording and speaking."""
        self.effects.append(effect)

    def outstanding(self) -> tuple[outstanding_work.Outstanding, ...]:
        """Return what is outstanding at the present step."""
        return outstanding_work.outstanding(self.state, self.now)

    def decision(self) -> Decision:
        """Return what came of it."""
        return Decision(tuple(self.events), tuple(self.replies), tuple(self.effects))


Handler = Callable[[Turn, Any], None]
