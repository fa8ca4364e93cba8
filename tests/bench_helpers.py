"""A bench without sound for the tests: a small procedure, a clock set by hand, typed phrases."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

from assistant.audio.cue import Cue
from assistant.audio.manner import Manner
from assistant.bench.job import Bench
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.procedure.model import Procedure

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
        """Each twice: shown, and as a tone."""
        self.on_saying: Callable[[str], None] = lambda text: None

    def heard(self, words: str) -> None:
        pass

    def cue(self, cue: Cue) -> None:
        self.cues.append(cue)

    def stop(self) -> bool:
        return False

    def not_taken(self, words: str, why: str) -> None:
        self.refused.append(words)

    def said(self, text: str) -> None:
        self.replies.append(text)

    def say(self, text: str) -> None:
        self.speaking = True
        self.on_saying(text)
        self.speaking = False

    def audible(self, since: float, until: float) -> bool:
        return self.speaking


class Hands:
    """Types phrases at a bench, and gives what the assistant said to each."""

    def __init__(self, path: Path, text: str = SMALL, open_job: bool = True) -> None:
        self.now = datetime(2031, 3, 4, 9, 0, tzinfo=UTC).astimezone(ZONE)
        self.notes = Notes()
        self.procedure: Procedure = reading.parse(text, "small.yaml")
        self.path = path
        self.technicians: tuple[str, ...] = ()
        self.bench = self._bench()
        if open_job:
            self.bench.open(self.procedure, text)

    def _bench(self) -> Bench:
        return Bench(
            Journal(self.path),
            self.notes,
            self.notes,
            lambda: self.now,
            by="sam",
            technicians=self.technicians,
        )

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
