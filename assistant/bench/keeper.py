"""Keeps what is decided: the record of the job that is worked on, its clips and transcripts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING

from assistant.audio import pcm
from assistant.audio.pcm import Pcm
from assistant.dialogue import events, intents, ledger
from assistant.dialogue.events import Event
from assistant.dialogue.intents import Intent
from assistant.errors import AssistantError
from assistant.journal.records import Transcript
from assistant.journal.store import CannotRecord, Journal
from assistant.recognition.utterance import Utterance

if TYPE_CHECKING:
    from assistant.recognition.recogniser import Transcriber


@dataclass(frozen=True)
class Evidence:
    """What is kept of a phrase beside the events that it led to."""

    heard: events.Heard
    sound: Pcm | None = None
    """Its clip, where the phrase left a finding, or free speech."""
    free_speech: bool = False
    """Whether there is more in the clip than commands: it can be written down."""


@dataclass(frozen=True)
class Transcription:
    """Free speech that is being written down in another thread."""

    digest: str
    """SHA-256 of the clip, in hexadecimal."""
    text: Future[str]


@dataclass
class Keeper:
    """Writes the events of the present job into the journal, under the technician's name."""

    journal: Journal
    by: str | None = None
    """Who is at the bench; a sign-on changes it."""
    transcriber: Transcriber | None = None
    """Writes down free speech, for the record; nothing is decided on it."""
    job: int = 0
    """The job's number; 0 between jobs."""
    known: int = 0
    """How many of the job's events this bench has seen."""
    cannot_record: str | None = None
    """Why the last attempt to record failed; None if it succeeded."""

    def begin(self, opening: Iterable[Event]) -> list[Event]:
        """Begin a job with its first events. Returns them as kept; raises as `Journal.open_job`."""
        history: list[Event] = [self._signed(event, self.by) for event in opening]
        self.job = self.journal.open_job(history)
        self.known = len(history)
        return history

    def read(self, job: int) -> Sequence[Event]:
        """Go on with a job, and return its events. AssistantError where it cannot be read."""
        history = self.journal.events(job)
        self.job, self.known = job, len(history)
        return history

    def leave(self) -> None:
        """Let go of the job."""
        self.job = self.known = 0

    def keep(
        self,
        decided: Sequence[Event],
        evidence: Evidence | None = None,
        picture: bytes | None = None,
    ) -> tuple[tuple[Event, ...], bytes | None]:
        """Put events on disk, and the JPEG that one of them names. Returns them as stored, and the
        clip as FLAC where there is one.

        Raises CannotRecord where nothing can be written now, and AssistantError where the job went
        on elsewhere; nothing was written then.
        """
        if not decided:
            return (), None
        signed_on = [event.name for event in decided if isinstance(event, events.SignedOn)]
        by = signed_on[-1] if signed_on else self.by
        heard = evidence.heard if evidence else None
        sound = evidence.sound if evidence else None
        clip = pcm.write_flac(sound.tobytes()) if sound else None
        history = [self._signed(event, by, heard) for event in decided]
        try:
            stored = self.journal.append(self.job, self.known, history, clip, picture)
        except CannotRecord as error:
            self.cannot_record = str(error)
            raise
        self.cannot_record = None
        self.known += len(stored)
        self.by = by
        return stored, clip

    @staticmethod
    def _signed(event: Event, by: str | None, heard: events.Heard | None = None) -> Event:
        return event.model_copy(update={"by": by, "heard": heard})

    def entered(self) -> Sequence[Event]:
        """Return what was entered away from the bench since; the bench knows of it from now on.

        Nothing is returned where the job went on at another bench, or cannot be read: that is told
        when something is to be recorded.
        """
        try:
            head = self.journal.head(self.job)
            if head is None or head.place == self.known:
                return ()
            new = self.journal.events(self.job, after=self.known)
        except AssistantError:
            return ()
        if not new or not all(map(ledger.from_desk, new)):
            return ()
        self.known += len(new)
        return new

    def write_down(self, clip: bytes | None, evidence: Evidence) -> Transcription | None:
        """Start writing down a clip with free speech, in another thread, while the reply is spoken.

        Nobody is listened to meanwhile, so that it slows nothing down. None where there is nothing
        to write down, or nobody to do it.
        """
        if self.transcriber is None or clip is None or not evidence.free_speech:
            return None
        pool = ThreadPoolExecutor(1, "transcript")
        text = pool.submit(_written_down, self.transcriber, clip)
        pool.shutdown(wait=False)
        return Transcription(sha256(clip).hexdigest(), text)

    def add(self, transcription: Transcription, now: datetime) -> None:
        """Put a transcript beside its clip, when it is ready. Raises CannotRecord.

        Nothing is lost then: it can be made again from the clip.
        """
        text = transcription.text.result()
        if text and self.transcriber is not None:
            made = Transcript(text, self.transcriber.name, now)
            self.journal.add_transcript(self.job, transcription.digest, made)


def evidence(utterance: Utterance[Intent], intent: Intent, decided: Sequence[Event]) -> Evidence:
    """Return what is to be kept of a phrase that led to these events.

    Findings and free speech keep their sound: a note, or a note that is the reason of a skip.
    """
    heard = events.Heard(
        words=utterance.text, confidence=utterance.confidence, recogniser=utterance.recogniser
    )
    free = any(
        isinstance(event, events.NoteRecorded | events.Conceded)
        or (isinstance(event, events.StepSkipped) and isinstance(intent, intents.Note))
        for event in decided
    )
    keep = free or any(isinstance(event, events.FindingRecorded) for event in decided)
    return Evidence(heard, utterance.sound if keep else None, free)


def _written_down(transcriber: Transcriber, clip: bytes) -> str:
    try:
        return transcriber.transcribe(pcm.read_flac(clip))
    except Exception:
        # Whatever trips over free speech, the note is kept as sound, and the job goes on.
        return ""
