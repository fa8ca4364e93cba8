"""One thing said, while its consequences are worked out: events so far, and replies."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, TypeVar

from assistant.session import events as ev
from assistant.session import state as st
from assistant.session.intents import Change
from assistant.session.state import State

E = TypeVar("E", bound=ev.Base)


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

    events: tuple[ev.Event, ...] = ()
    replies: tuple[Reply, ...] = ()
    say_again: bool = False
    """Repeat the last replies; the caller has them."""
    voice: Change | None = None
    """Speak otherwise from now on, the replies too; the caller has the voice."""
    leave: bool = False
    """The job is set aside; it stays open."""


class Turn:
    """One thing said, while its consequences are worked out: the events so far, the replies."""

    def __init__(self, state: State, now: datetime) -> None:
        self.state = state
        self.now = now
        self.number = state.turn + 1
        self.events: list[ev.Event] = []
        self.replies: list[Reply] = []
        self.again = False
        self.voice: Change | None = None
        self.leave = False

    def record(self, kind: type[E], **fields: Any) -> E:
        """Add an event of the present step, and go on from the state that it leads to."""
        step = fields.pop("step", self.state.step_id)
        event = kind(at=self.now, turn=self.number, step=step, **fields)
        self.add(event)
        return event

    def add(self, event: Any) -> None:
        """Add an event that is ready."""
        self.events.append(event)
        self.state = st.apply(self.state, event)

    def say(self, text: str, tone: Tone = Tone.INFORM) -> None:
        """Add a reply."""
        self.replies.append(Reply(text, tone))

    def outstanding(self) -> tuple[st.Outstanding, ...]:
        """Return what is outstanding at the present step."""
        return st.outstanding(self.state, self.now)

    def decision(self) -> Decision:
        """Return what came of it."""
        return Decision(tuple(self.events), tuple(self.replies), self.again, self.voice, self.leave)


Handler = Callable[[Turn, Any], None]
