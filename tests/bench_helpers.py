"""A bench without sound for the tests: a small procedure, a clock set by hand, typed phrases."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from assistant.audio import pcm
from assistant.audio.cue import Cue
from assistant.audio.manner import Manner
from assistant.audio.pcm import Pcm
from assistant.bench.conversation import Conversation
from assistant.bench.keeper import Keeper
from assistant.bench.photographer import Photographer
from assistant.bench.presenter import Presenter
from assistant.bench.protocols import Camera, Situation
from assistant.bench.session import Clock, JobSession
from assistant.dialogue.intents import Intent
from assistant.dialogue.turn import Reply
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.procedure.model import Procedure
from assistant.recognition.utterance import Utterance, Verdict

SMALL = """\
procedure: small-box
title: Small box
revision: A
sample: true
equipment: {kind: test box}
parts:
  - {name: drain plug, number: TB-1}
  - {name: circlip, count: 2, number: TB-2}
  - {name: end plate}
places: [drum side]
stages:
  - name: Strip-down
    steps:
      - id: open
        say: Take off the end plate.
        hazards: [{signal: warning, say: The spring is under load.}]
        remove: [{part: end plate}]
        fasteners: [{name: plate bolt, count: 4, thread: M6}]
        bag: 1
      - id: which
        say: Look at the shaft.
        question:
          name: shaft
          say: Which shaft is it?
          answers:
            - {say: keyed shaft, then: Keep the key.}
            - {say: splined shaft, go_to: measure}
      - id: key
        say: Take out the key.
        when: {shaft: keyed shaft}
      - id: measure
        say: Measure bore and shaft.
        readings:
          - {name: bore, unit: mm, limits: {least: 24.95 mm, most: 25.05 mm},
             plausible: {least: 20 mm, most: 30 mm}}
          - {name: shaft, unit: mm}
        derived:
          - {name: clearance, formula: bore - shaft, unit: mm, limits: {most: 0.05 mm}}
        choice:
          of: clearance
          rows:
            - {up_to: 0.02 mm, part: drain plug}
            - {over: 0.02 mm, part: circlip}
  - name: Build-up
    steps:
      - id: close
        say: Fit the end plate.
        from_bag: 1
        before: [{affirm: Is the box clean?}]
        fasteners:
          - {name: long bolt, count: 2, thread: M8}
          - {name: short bolt, count: 2, thread: M8}
        tighten:
          - fastener: long bolt
            passes: [7 N·m]
            torque: 14 N·m
            angle: 90 °
            locker: {strength: medium}
          - {fastener: short bolt, torque: 10 N·m}
      - id: cure
        say: Let it cure.
        wait: {purpose: cure, time: 10 min}
"""

ZONE = timezone(timedelta(hours=2))


class Notes:
    """A screen and a voice that only remember."""

    def __init__(self) -> None:
        self.manner = Manner()
        self.replies: list[str] = []
        self.refused: list[str] = []
        self.speaking = False
        self.cues: list[Cue] = []
        self.plays = True
        """Whether there is a loudspeaker."""
        self.played: list[Pcm] = []
        self.situation = Situation()
        self.on_saying: Callable[[str], None] = lambda text: None

    def heard(self, words: str) -> None:
        pass

    def update(self, situation: Situation) -> None:
        self.situation = situation

    def cue(self, cue: Cue) -> None:
        self.cues.append(cue)

    def stop(self) -> bool:
        return False

    def not_taken(self, words: str, why: str) -> None:
        self.refused.append(words)

    def said(self, replies: Sequence[Reply], cue: Cue | None) -> None:
        self.replies.append(" ".join(reply.text for reply in replies))

    def say(self, text: str) -> None:
        self.speaking = True
        self.on_saying(text)
        self.speaking = False

    def play(self, sound: Pcm) -> bool:
        if self.plays:
            self.played.append(sound)
        return self.plays

    def audible(self, since: float, until: float) -> bool:
        return self.speaking


def bench(
    journal: Journal, notes: Notes, clock: Clock, by: str | None = None, **more: Any
) -> Conversation:
    """Return a bench without a job yet, which speaks and shows to `notes`."""
    return Conversation(Keeper(journal, by), Presenter(notes, [notes]), clock, **more)


def heard(
    at: Conversation,
    words: str,
    verdict: Verdict = Verdict.ACCEPTED,
    *,
    sound: bytes = b"",
    free_speech: bool = False,
    confidence: float = 0.87,
    recogniser: str = "test",
) -> Utterance[Intent]:
    """Return a phrase as ears would give it at a bench now; `sound` is 16-bit PCM."""
    said = tuple(words.split())
    return Utterance(
        said,
        at.means(said),
        verdict,
        confidence,
        recogniser,
        pcm.from_bytes(sound),
        free_speech,
    )


def flac(sound: bytes) -> bytes:
    """Return the clip that is kept of a phrase with this sound."""
    return pcm.write_flac(sound)


class Typist:
    """Types phrases at a bench, and gives what the assistant said to each."""

    now: datetime
    notes: Notes
    bench: Conversation

    def say(self, *phrases: str) -> str:
        """Type the phrases; return what was said to the last one, "" for nothing."""
        for phrase in phrases:
            self.notes.replies.clear()
            self.now += timedelta(seconds=10)
            self.bench.typed(phrase)
        return " ".join(self.notes.replies)

    def wait(self, **time: float) -> str:
        """Let time pass; return what was said when it had."""
        self.notes.replies.clear()
        self.now += timedelta(**time)
        self.bench.tick()
        return " ".join(self.notes.replies)


class Hands(Typist):
    """Types phrases at a bench that works on one job."""

    def __init__(self, path: Path, text: str = SMALL, open_job: bool = True) -> None:
        self.now = datetime(2031, 3, 4, 9, 0, tzinfo=UTC).astimezone(ZONE)
        self.notes = Notes()
        self.procedure: Procedure = reading.parse(text, "small.yaml")
        self.path = path
        self.technicians: tuple[str, ...] = ()
        """Who may sign on where the job is taken up next."""
        self.camera: Camera | None = None
        """The camera of a bench that is made from now on."""
        self.bench = self._bench()
        if open_job:
            self.bench.open(self.procedure, text)

    def _bench(self) -> Conversation:
        journal, people = Journal(self.path), self.technicians
        sees = Photographer(self.camera)
        return bench(
            journal, self.notes, lambda: self.now, "sam", technicians=people, photographer=sees
        )

    def with_camera(self, camera: Camera) -> None:
        """Put a camera over the bench, now and where the job is taken up next."""
        self.camera = camera
        self.bench.photographer = Photographer(camera)

    def hear(self, words: str, verdict: Verdict = Verdict.ACCEPTED, **how: Any) -> str:
        """Have a phrase heard, as `heard` makes it; return what was said to it."""
        self.notes.replies.clear()
        self.bench.take(heard(self.bench, words, verdict, **how))
        return " ".join(self.notes.replies)

    def set_clock(self, clock: Clock) -> None:
        """Have the bench read another clock from now on, in the job that it works on too."""
        self.bench.clock = clock
        if isinstance(getattr(self.bench, "session", None), JobSession):
            self.bench.session.clock = clock

    def stop_and_take_up(self, **time: float) -> str:
        """Stop the program, let time pass, and go on with the job in another."""
        job = self.bench.job
        self.bench.journal.close()
        self.now += timedelta(**time)
        self.notes.replies.clear()
        self.bench = self._bench()
        self.bench.take_up(job)
        return " ".join(self.notes.replies)

    def events(self, kind: str) -> list[object]:
        """Return the events of a kind that are on disk, withdrawn ones too."""
        return [e for e in self.bench.journal.events(self.bench.job) if e.kind == kind]

    def at_close(self) -> None:
        """Go to the step with the torques, everything before it done."""
        self.say("affirm", "bag one", "next step", "splined shaft", "next step")
        self.say("reading bore 25.01", "reading shaft 24.98", "next step")
