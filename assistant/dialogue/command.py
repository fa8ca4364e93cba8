"""What a command is: everything the program knows of it, in one declaration.

`commands.py` declares them all. The grammar, the table of what each does in each mode, the stakes,
what "read back" tells, what "disregard" takes back and "correction" replaces, and the help are made
from the declarations, so they cannot disagree.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import TypeVar

from assistant.dialogue.events import Base
from assistant.dialogue.intents import Intent
from assistant.dialogue.said import Said
from assistant.dialogue.state import Mode
from assistant.dialogue.turn import Handler

WAITING = (
    Mode.QUESTIONING,
    Mode.SKIPPING,
    Mode.NOTING,
    Mode.CLOSING,
    Mode.CHECKING,
    Mode.CONCEDING,
    Mode.REVIEWING,
    Mode.REVISING,
    Mode.PLACING,
)
"""The modes in which an answer is waited for."""
AT_WORK = (Mode.WORKING, Mode.TAKING_DOWN, Mode.BUILDING_UP)
"""The modes in which nothing is asked, and the work goes on."""
EVERYDAY = (
    *AT_WORK,
    Mode.QUESTIONING,
    Mode.CLOSING,
    Mode.CHECKING,
    Mode.REVIEWING,
    Mode.REVISING,
    Mode.CLOSED,
)
"""The modes in which most commands are listened for. The others have a grammar of few words."""


class Theme(StrEnum):
    """What a command is for: how help and the card of commands are ordered."""

    MOVE = "move"
    HEAR = "hear"
    ASK = "ask"
    RECORD = "record"
    ANSWER = "answer"
    FIND = "find"
    SUPPLY = "supply"
    TAKE_DOWN = "take down"
    BUILD_UP = "build up"
    SETTLE = "settle"
    MEND = "mend"
    TIME = "time"
    VOICE = "voice"
    ATTEND = "attend"


@dataclass(frozen=True)
class Command:
    """One thing that can be said, and all that follows from it."""

    intent: type[Intent]
    theme: Theme
    working: Handler
    """What it does while the step is worked on."""
    phrases: str = ""
    """How it is said: a JSGF expansion. Empty for what nobody says, such as a tick of the clock."""
    means: Callable[[Said], Intent] | None = None
    """Makes the intent from what was said; None where the intent has no fields."""
    rule: str = ""
    """Its rule in the grammar; by default the intent's name in small letters."""
    help: tuple[str, ...] = ()
    """Examples as they are said, for help and the card of commands."""
    heard_in: tuple[Mode, ...] = EVERYDAY
    """The modes in which it is listened for."""
    phrases_in: Mapping[Mode, str] = field(default_factory=dict)
    """How it is said in modes where that is different."""
    low_stakes: bool = False
    """Whether it is cheap to get wrong: the reply tells what was understood, nothing is written."""
    always: bool = False
    """Whether it is answered as usual while an answer is waited for."""
    modes: Mapping[Mode, Handler] = field(default_factory=dict)
    """What it does in other modes, where that is not the mode's usual answer."""
    records: tuple[type[Base], ...] = ()
    """What it records that "read back" tells and "disregard" takes back."""
    progress: tuple[type[Base], ...] = ()
    """What it records that only "disregard" takes back: moves, things heard and affirmed."""
    other: tuple[type[Base], ...] = ()
    """What it records that stays: questions, their end, who is there."""
    corrects: type[Base] | None = None
    """The record that it replaces when it is said after "correction"."""
    corrects_by_number: bool = False
    """Whether "correction" and a bare number replaces that record too."""

    @property
    def rule_name(self) -> str:
        """Its rule in the grammar."""
        return self.rule or self.intent.__name__.lower()

    def heard(self, said: Said) -> Intent:
        """Return what was meant. Raises ValueError where its number words are no number."""
        return self.intent() if self.means is None else self.means(said)


@dataclass(frozen=True)
class Rulebook:
    """All commands, and the tables that are made from them."""

    commands: tuple[Command, ...]

    @cached_property
    def by_intent(self) -> Mapping[type[Intent], Command]:
        """The command of each intent. An intent that is declared twice: ValueError."""
        return _unique((command.intent, command) for command in self.commands)

    @cached_property
    def by_rule(self) -> Mapping[str, Command]:
        """The command of each rule of the grammar. A rule that is declared twice: ValueError."""
        return _unique((c.rule_name, c) for c in self.commands if c.phrases)

    @cached_property
    def read_back(self) -> tuple[type[Base], ...]:
        """The events that "read back" tells."""
        return _merged(command.records for command in self.commands)

    @cached_property
    def withdrawable(self) -> tuple[type[Base], ...]:
        """The events that "disregard" takes back."""
        return _merged((*command.records, *command.progress) for command in self.commands)

    @cached_property
    def corrected_by_number(self) -> tuple[type[Base], ...]:
        """The events that "correction" and a bare number replaces."""
        return tuple(c.corrects for c in self.commands if c.corrects and c.corrects_by_number)

    def corrected_by(self, intent: type[Intent]) -> type[Base] | None:
        """Return the event that an intent replaces after "correction"; None where it can't."""
        return self.by_intent[intent].corrects

    def examples(self, mode: Mode) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return what can be said in a mode: a theme, and examples of its commands.

        Where an answer is waited for, these are the answers alone.
        """
        found: dict[str, tuple[str, ...]] = {}
        for command in self.commands:
            if mode in AT_WORK:
                fits = mode in command.heard_in and command.theme is not Theme.ANSWER
            else:
                fits = mode in command.heard_in and mode in command.modes
            if fits and command.help:
                found[command.theme] = (*found.get(command.theme, ()), *command.help)
        return tuple(found.items())

    def grammar_rules(self, mode: Mode) -> tuple[tuple[str, str], ...]:
        """Return the rules of what is listened for in a mode, as (name, expansion).

        <command> is what can be said. In an everyday mode the other commands' rules are there as
        well, because a correction refers to some of them.
        """
        heard = [c for c in self.commands if c.phrases and mode in c.heard_in]
        there = [c for c in self.commands if c.phrases] if mode in EVERYDAY else heard
        # Free speech last, for it takes any words, "disregard" too.
        heard = sorted(heard, key=lambda c: c.phrases_in.get(mode, "").startswith("<GARBAGE>"))
        command = " | ".join(f"<{c.rule_name}>" for c in heard)
        return (
            ("command", command),
            *((c.rule_name, c.phrases_in.get(mode, c.phrases)) for c in there),
        )

    def table(self, usual: Mapping[Mode, Handler]) -> Mapping[Mode, Mapping[type[Intent], Handler]]:
        """Return what each intent does in each mode; `usual` is what a mode does with the rest."""

        def handler(command: Command, mode: Mode) -> Handler:
            if mode in command.modes:
                return command.modes[mode]
            if mode in AT_WORK:
                return command.working
            return command.working if command.always and mode in WAITING else usual[mode]

        return {mode: {c.intent: handler(c, mode) for c in self.commands} for mode in Mode}


K = TypeVar("K")
V = TypeVar("V")


def _unique(pairs: Iterable[tuple[K, V]]) -> Mapping[K, V]:
    found: dict[K, V] = {}
    for key, value in pairs:
        if key in found:
            raise ValueError(f"{key} is declared twice")
        found[key] = value
    return found


def _merged(groups: Iterable[tuple[type[Base], ...]]) -> tuple[type[Base], ...]:
    return tuple(dict.fromkeys(kind for group in groups for kind in group))
