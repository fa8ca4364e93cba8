"""A whole small job, typed and spoken at a real bench, and what its record is checked against."""

from __future__ import annotations

import io
from dataclasses import dataclass
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import soundfile

from assistant.audio import pcm
from assistant.dialogue import events
from assistant.recognition.utterance import Verdict
from assistant.report import record
from assistant.report.model import Record
from tests.bench_helpers import Hands

PROCEDURE = """\
procedure: tail-box
title: Tail box check
revision: C
sample: true
equipment: {kind: bench box, maker: Pellwick Works, model: TB two}
parts:
  - {name: drain plug, number: "=TB-1"}
  - {name: circlip, count: 2, number: TB-2}
  - {name: thin shim}
  - {name: thick shim}
places: [drum side]
stages:
  - name: strip-down
    steps:
      - id: open
        say: Take off the end plate.
        hazards: [{signal: warning, say: The spring is under load.}]
        fasteners: [{name: plate bolt, count: 4, thread: M6}]
        bag: 1
      - id: which
        say: Look at the shaft.
        question:
          name: shaft
          say: Which shaft is it?
          answers: [{say: keyed shaft}, {say: splined shaft}]
      - id: key
        say: Take out the key.
        when: {shaft: keyed shaft}
      - id: measure
        say: Measure bore and shaft.
        readings:
          - {name: bore, unit: mm, limits: {least: 24.95 mm, most: 25.05 mm}}
          - {name: shaft, unit: mm}
        derived:
          - {name: clearance, formula: bore - shaft, unit: mm, limits: {most: 0.05 mm}}
        choice:
          of: clearance
          rows: [{up_to: 0.02 mm, part: thin shim}, {over: 0.02 mm, part: thick shim}]
  - name: build-up
    steps:
      - id: close
        say: Fit the end plate.
        before: [{affirm: Is the box clean?}]
        fasteners: [{name: long bolt, count: 2, thread: M8}]
        tighten: [{fastener: long bolt, passes: [7 N·m], torque: 14 N·m, angle: 90 °}]
      - id: cure
        say: Let it cure.
        wait: {purpose: cure, time: 10 min}
      - id: gauge
        say: Look at the gauge.
      - id: paint
        say: Paint it.
"""

FAILING = """\
procedure: hoist-box
title: Hoist box overhaul
revision: B
sample: true
equipment: {kind: hoist box, maker: Pellwick Works, model: HB four}
hazards: [{signal: danger, say: The load line can run out.}]
parts:
  - {name: seal, number: HB-1}
  - {name: plug}
  - {name: thin shim}
  - {name: thick shim}
concessions_by: [mara]
stages:
  - name: inspection
    steps:
      - id: look
        say: Measure the play as found.
        readings:
          - {name: found backlash, unit: mm, limits: {most: 0.30 mm}}
          - {name: bore, unit: mm, limits: {least: 24.95 mm, most: 25.05 mm}, times: 3}
  - name: build-up
    steps:
      - id: seal
        say: Fit the seal.
        fit: [{part: seal, new: true}]
      - id: shim
        say: Measure the gap and fit the shim.
        readings: [{name: gap, unit: mm}]
        choice:
          of: gap
          rows: [{up_to: 0.50 mm, part: thin shim}, {over: 0.50 mm, part: thick shim}]
      - id: fit-shim
        say: Fit the shim.
        fit: [{part: thin shim, chosen_by: gap}]
      - id: cover
        say: Tighten the cover.
        fasteners: [{name: cover bolt, count: 4, thread: M8}]
        tighten: [{fastener: cover bolt, torque: 24 N·m, order: star}]
      - id: play
        say: Measure the play.
        readings: [{name: backlash, unit: mm, limits: {most: 0.30 mm}}]
  - name: test
    steps:
      - id: hold
        say: Hold it under pressure.
        readings:
          - {name: start pressure, unit: bar}
          - {name: final pressure, unit: bar}
        leak: {start: start pressure, final: final pressure, allowed: 0.05 bar}
      - id: paint
        say: Paint it.
"""

HOSTILE = '<script>alert(1)</script> & "quoted"'
FORMULA = "=cmd|' /C calc'!A0"


def tone(hertz: float) -> bytes:
    """Return a quarter of a second of a tone as FLAC, as clips are kept."""
    samples = (8000 * np.sin(2 * np.pi * hertz * np.arange(4000) / 16000)).astype(np.int16)
    out = io.BytesIO()
    soundfile.write(out, samples, 16000, format="FLAC", subtype="PCM_16")
    return out.getvalue()


@dataclass
class Job:
    """A job and what is on disk of it."""

    hands: Hands
    clips: dict[int, bytes]

    @property
    def events(self) -> tuple[events.Event, ...]:
        return self.hands.bench.journal.events(self.hands.bench.job)

    def of(self, kind: str) -> list[events.Event]:
        return [event for event in self.events if event.kind == kind]

    def record(self) -> Record:
        return record.build(self.events, self.hands.procedure, self.hands.bench.job)

    def speak(self, words: str, clip: bytes, free_speech: bool = False) -> None:
        """Say a phrase with sound, as a recogniser would give it."""
        self.hands.now += timedelta(seconds=10)
        self.hands.hear(
            words,
            Verdict.REJECTED if free_speech else Verdict.ACCEPTED,
            sound=pcm.read_flac(clip).tobytes(),
            free_speech=free_speech,
            recogniser="testear",
        )
        stored = self.events[-1].heard
        if stored and stored.clip is not None:
            self.clips[stored.clip] = clip


def whole_job(path: Path) -> Job:
    """Work through the procedure with everything that a record has to show, and leave it open."""
    job = Job(Hands(path, PROCEDURE), {})
    say = job.hands.say
    say("affirm")
    job.speak("circlip missing drum side", tone(440))
    say("order two drain plugs", "order one drain plug", "affirm", "order two circlips")
    say("drain plug worn", "disregard")
    say(f"note {HOSTILE}", f"note {FORMULA}")
    say("note")
    job.speak("", tone(660), free_speech=True)
    say("bag seven", "correction bag one", "next step", "splined shaft", "next step")
    job.hands.stop_and_take_up(days=3)
    say("reading bore 25.10", "affirm", "reading shaft 24.98", "correction reading 25.07")
    say("next step", "affirm", "tightened seven", "tightened four zero", "correction one four")
    say("turned nine zero degrees", "next step", "start timer")
    job.hands.wait(minutes=11)
    say("next step", "skip step", "waiting for part")
    return job


def failing_job(path: Path) -> Job:
    """Work through a job in which results fail, and are settled by every way there is; one that is
    conceded lapses, and one is left open.
    """
    job = Job(Hands(path, FAILING), {})
    say = job.hands.say
    say("affirm", "reading found backlash 0.62", "affirm")
    say("reading bore 25.01", "reading bore 25.03", "reading bore 24.99")
    say("concession", "note worn gears are renewed in this job", "next step")
    say("next step")
    say("reading gap 0.45", "next step", "next step")
    say("next bolt", "tightened two four", "next bolt", "tightened two eight", "affirm")
    say("all tightened two four", "retest", "tightened two four")
    job.hands.wait(hours=1)
    say("next step", "reading backlash 0.34", "affirm", "retest", "reading backlash 0.28")
    say("next step", "reading start pressure 1.50", "reading final pressure 1.30")
    job.hands.wait(minutes=20)
    say("rework step two", "next step", "reading gap 0.55", "next step", "next step")
    say("tightened two four", "next step")
    say("reading backlash 0.92", "affirm", "correction reading 0.29", "next step")
    say("reading start pressure 1.50", "reading final pressure 1.42")
    say("concession", "note the customer takes it as it is", "correction reading 1.40")
    say("correction step three", "0.45")
    return job


def close_failing_job(job: Job) -> None:
    """Concede what fails still, put right the slip, and close the job."""
    say = job.hands.say
    say("correction step three", "0.55", "concession")
    job.speak("note", tone(330))
    job.speak("", tone(550), free_speech=True)
    say("next step", "close job")


class Page(HTMLParser):
    """What a browser would make of a page, as far as the tests ask."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.cells: dict[str, list[list[str]]] = {}
        self._section = ""
        self.feed(text)
        self.close()
        assert not self.open, f"left open: {self.open}"

    _VOID = frozenset({"meta", "br", "link", "img", "input", "hr"})

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag in self._VOID:
            return
        self.open.append(tag)
        if tag == "section":
            self._section = dict(attrs)["aria-labelledby"] or ""
        if tag == "tr":
            self.cells.setdefault(self._section, []).append([])
        if tag in ("td", "th"):
            self.cells[self._section][-1].append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self.open:
            return
        self.words.append(data)
        if "td" in self.open or "th" in self.open:
            row = self.cells[self._section][-1]
            row[-1] += data

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def rows(self, section: str) -> list[list[str]]:
        return [[" ".join(cell.split()) for cell in row] for row in self.cells.get(section, [])]

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.tags if name == tag]
