"""What is talked about at the bench now: a job, or, between jobs, which one to work on.

A session knows what can be said, what it means and what follows from it. It records nothing, makes
no sound and shows nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from assistant.bench import ahead
from assistant.dialogue import decide as deciding
from assistant.dialogue import events, intents, live, lobby_words, stakes, understanding
from assistant.dialogue import lobby as between
from assistant.dialogue import state as job_state
from assistant.dialogue.intents import Intent
from assistant.dialogue.lobby import Lobby
from assistant.dialogue.state import Mode, State
from assistant.dialogue.turn import Decision
from assistant.grammar.jsgf import Grammar
from assistant.recognition.utterance import Utterance, Verdict

Clock = Callable[[], datetime]
"""Returns the time now, local, with its offset from UTC."""


class _Stakes:
    """How much depends on having heard a meaning right; the same in a job and between jobs."""

    def at_stake(self, meaning: Intent) -> bool:
        """Return whether both listeners must hear it before it is acted on."""
        return stakes.high(meaning)

    def numeric(self, meaning: Intent) -> bool:
        """Return whether there is a number in it."""
        return stakes.numeric(meaning)


@dataclass
class JobSession(_Stakes):
    """A job being worked on. Its state changes only by events that are on disk: `go_on`."""

    state: State
    clock: Clock

    @property
    def standing_by(self) -> bool:
        """Whether only "resume" is listened for."""
        return self.state.mode is Mode.STANDING_BY

    @property
    def asks(self) -> bool:
        """Whether a question waits for its answer."""
        return self.state.pending is not None

    def grammar(self) -> Grammar:
        """Return what can be said at the present step."""
        return live.grammar_for(self.state)

    def means(self, words: Sequence[str]) -> Intent | None:
        """Return what the words mean at the present step; None where they mean nothing."""
        return understanding.understand(words, self.state)

    def means_typed(self, line: str) -> Intent | None:
        """Return what a typed line means; None where it means nothing."""
        return understanding.understand_typed(line, self.state)

    def fits(self, meaning: Intent) -> bool:
        """Return whether the step would take it without questioning its value."""
        return deciding.fits(self.state, meaning, self.clock())

    def in_context(self, utterance: Utterance[Intent]) -> Utterance[Intent]:
        """Return the phrase with the meaning that it has while a note is being taken."""
        return as_note(utterance, noting=self.state.mode is Mode.NOTING)

    def decide(self, intent: Intent) -> Decision:
        """Return what follows from an intent; nothing has happened yet."""
        return deciding.decide(self.state, intent, self.clock())

    def go_on(self, stored: Iterable[events.Event]) -> None:
        """Move on to the state that stored events lead to."""
        for event in stored:
            self.state = job_state.apply(self.state, event)

    def likely(self) -> list[str]:
        """Return the replies to what is likely to be said next, the likeliest first."""
        return ahead.likely(self.state, self.clock())


@dataclass
class LobbySession(_Stakes):
    """Between jobs: which are open, taking one up, beginning another. Nothing is recorded."""

    lobby: Lobby

    @property
    def standing_by(self) -> bool:
        """Whether only "resume" is listened for."""
        return self.lobby.standing_by

    @property
    def asks(self) -> bool:
        """Whether a question waits for its answer."""
        return self.lobby.asks

    def grammar(self) -> Grammar:
        """Return what can be said between jobs."""
        return lobby_words.grammar(self.lobby)

    def means(self, words: Sequence[str]) -> Intent | None:
        """Return what the words mean between jobs; None where they mean nothing."""
        return lobby_words.understand(words, self.lobby)

    def means_typed(self, line: str) -> Intent | None:
        """Return what a typed line means; None where it means nothing."""
        return lobby_words.understand_typed(line, self.lobby)

    def fits(self, meaning: Intent) -> bool:
        """Return True: no value is given between jobs."""
        return True

    def in_context(self, utterance: Utterance[Intent]) -> Utterance[Intent]:
        """Return the phrase as it is: no note is taken between jobs."""
        return utterance

    def decide(self, intent: Intent) -> Decision:
        """Return what follows from an intent, and move on: there are no events to wait for."""
        self.lobby, decision = between.decide(self.lobby, intent)
        return decision

    def likely(self) -> list[str]:
        """Return the replies to what is likely to be said next, the likeliest first."""
        asked = (between.WhichJobs(), between.NewJob(), intents.Help())
        return [
            reply.text
            for intent in asked
            for reply in between.decide(self.lobby, intent)[1].replies
        ]


Session = JobSession | LobbySession


def as_note(utterance: Utterance[Intent], *, noting: bool) -> Utterance[Intent]:
    """Return a phrase with the meaning that it has where free speech is expected.

    While a note is being taken (`noting`), everything that is no command is the note, whatever the
    recogniser made of it: the words are in the clip. After "note", what was said on in the same
    breath is the note.
    """
    command = utterance.meaning if utterance.accepted else None
    note = intents.Note(clipped=True)
    if command is None and noting:
        # What a recogniser made of free speech is not what was said, so it is not kept.
        return replace(utterance, words=(), meaning=note, verdict=Verdict.ACCEPTED)
    if isinstance(command, intents.Note) and utterance.free_speech:
        return replace(utterance, meaning=note)
    return utterance
