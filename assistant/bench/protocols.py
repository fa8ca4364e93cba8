"""What the parts of a bench know of each other: who is spoken to, what speaks, what shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from assistant.audio.cue import Cue
from assistant.audio.manner import Manner
from assistant.audio.pcm import Pcm
from assistant.bench.attached import Attached
from assistant.dialogue.intents import Intent
from assistant.dialogue.state import State
from assistant.dialogue.turn import Reply
from assistant.grammar.jsgf import Grammar
from assistant.imaging.pictures import Picture
from assistant.recognition.utterance import Understanding, Utterance


@dataclass(frozen=True)
class Situation:
    """Where a bench stands: a value that other threads may keep and read."""

    job: int = 0
    """0 between jobs."""
    by: str | None = None
    """The technician who signed on."""
    state: State | None = None
    """The job's; None between jobs."""
    cannot_record: str | None = None
    """Why the last attempt to record failed; None if it succeeded."""
    speaking: bool = False
    """Whether a reply can be heard now."""
    deaf: bool = False
    """Whether the microphone is gone."""


class Speaker(Protocol):
    """Says replies, one after another."""

    manner: Manner
    """How it speaks; applies to what is said next."""

    def cue(self, cue: Cue) -> None:
        """Play the tone of the reply that follows."""

    def say(self, text: str) -> None:
        """Say the text, after what is being said; may return before it is heard."""

    def play(self, sound: Pcm) -> bool:
        """Play sound after what is being said; return False where there is no loudspeaker."""

    def stop(self) -> bool:
        """Stop talking. Returns whether anything was cut short."""

    def audible(self, since: float, until: float) -> bool:
        """Return whether it is heard between these times, in seconds of time.monotonic."""


class Screen(Protocol):
    """Shows the conversation. Everything is called in the bench's own thread."""

    def heard(self, words: str) -> None:
        """Show what was understood."""

    def not_taken(self, words: str, why: str) -> None:
        """Show what was heard and not acted on."""

    def said(self, replies: Sequence[Reply], cue: Cue | None) -> None:
        """Show what the assistant says, and what its tone tells."""

    def update(self, situation: Situation) -> None:
        """Take the situation as it is from now on."""


class Camera(Protocol):
    """Sees the bench."""

    def take(self) -> Picture:
        """Take a picture; returns within seconds. Raises camera.NoPicture where there is none."""


class Attended(Understanding[Intent], Protocol):
    """Somebody who can be spoken to: what a microphone, a recording or a keyboard feeds."""

    @property
    def over(self) -> bool:
        """Whether there is nothing left to listen for."""

    @property
    def standing_by(self) -> bool:
        """Whether only "resume" is listened for."""

    def grammar(self) -> Grammar:
        """Return what can be said now."""

    def take(self, utterance: Utterance[Intent]) -> None:
        """Act on one phrase, or leave it, as its verdict says."""

    def typed(self, line: str, by: str = "typed") -> None:
        """Act on a line that was typed, or on the phrase of a key (`by` "key")."""

    def sent(self, by: Attached, line: str | None) -> None:
        """Act on a line that an instrument or a scanner sent; None for one that was cut off."""

    def called(self, words: str = "") -> None:
        """Answer the call word said alone; `words` are the call word as heard."""

    def not_taken(self, words: str, why: str) -> None:
        """Show a phrase that is not acted on, and why."""

    def tick(self, speaking: bool = False) -> bool:
        """Say what has become due. Returns whether anything was said.

        A timer waits a little while somebody is `speaking`.
        """

    def tell(self, text: str) -> None:
        """Say something about the assistant itself, such as that its microphone is gone."""

    def refresh(self, deaf: bool) -> None:
        """Show whether it can hear, and whether it is speaking; meant to be called often."""

    def likely(self) -> list[str]:
        """Return the replies to what is likely to be said next, the likeliest first."""
