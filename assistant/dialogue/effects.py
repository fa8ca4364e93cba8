"""What a decision asks for besides events and replies: things that only the bench can do.

They are the same in a job and between jobs, and `bench` carries them out in one place.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.audio.manner import Change
from assistant.dialogue.facts import EventRef


@dataclass(frozen=True)
class SayAgain:
    """Repeat what was said last."""


@dataclass(frozen=True)
class ChangeVoice:
    """Speak slower, faster, louder or softer from now on, this reply too."""

    change: Change


@dataclass(frozen=True)
class SetAside:
    """Leave the job, open, and go back between jobs."""


@dataclass(frozen=True)
class TakeUpJob:
    """Go on with an open job."""

    job: int


@dataclass(frozen=True)
class BeginJob:
    """Begin a job of a procedure, given by the name that it is called by, or of none."""

    procedure: str


@dataclass(frozen=True)
class SignOnAs:
    """What is recorded from now on is this technician's."""

    name: str


@dataclass(frozen=True)
class TellLastTime:
    """Read in the journal what earlier jobs on the unit found and left, and say it."""


@dataclass(frozen=True)
class TakePicture:
    """Take a picture, and come back with `PictureReady` or `PictureFailed`."""

    of: EventRef
    """What it shows."""


@dataclass(frozen=True)
class PlayNotes:
    """Play the sound of notes; where that cannot be heard, say what their transcripts have."""

    clips: tuple[str | None, ...]
    """The SHA-256 of each note's clip, in hex; None where none was kept."""


Effect = (
    SayAgain
    | ChangeVoice
    | SetAside
    | TakeUpJob
    | BeginJob
    | SignOnAs
    | TellLastTime
    | TakePicture
    | PlayNotes
)
