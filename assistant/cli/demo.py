"""The demos: a whole job worked through by voice, from recordings, by the real code.

One works through the winch gearbox, the other takes down and builds up the capstan drive of a
hoist that has no procedure. Only the clock is the demo's own. It shows the time that the work would
take at a bench: before each phrase it is moved on by as long as hands would need, and where the
script says so over waits and nights. The record says that it was. The last of the days is
yesterday, so that nothing in the record is still to come.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from assistant import resources
from assistant.audio.voice import Voice, open_voice
from assistant.bench import ears as bench_ears
from assistant.bench import recordings
from assistant.bench.conversation import Conversation
from assistant.bench.keeper import Keeper
from assistant.bench.presenter import Presenter
from assistant.bench.terminal import Terminal
from assistant.dialogue import wording
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.journal.clock import local_now
from assistant.journal.store import Journal
from assistant.procedure import kit_list, lexicon, reading, unwritten
from assistant.procedure.model import Procedure, Step
from assistant.report import page, record

PROCEDURE = "winch-gearbox"
TECHNICIANS = ("Ann", "Peter")
"""The first begins the job; the second signs on by voice."""
REMARK = (
    "Demonstration: a synthetic voice from recordings. "
    "The clock was moved on by the time that the work would have taken."
)


@dataclass(frozen=True)
class Said:
    """A phrase of the script, and its recording."""

    text: str
    recording: Path


@dataclass(frozen=True)
class Pause:
    """Time that passes. With `stop` the program ends meanwhile, and the job is taken up in the
    morning of that many days later.
    """

    time: timedelta
    stop: bool


@dataclass(frozen=True)
class Work:
    """What a demo works on."""

    folder: str
    """Where its script and recordings are, under the recordings' folder."""
    unit: str
    begin: Callable[[Path], tuple[Procedure, str]]
    """Returns what the job begins with, and the text of it, given that folder."""


def _written(folder: Path) -> tuple[Procedure, str]:
    loaded = reading.load(reading.find(PROCEDURE))
    return loaded.procedure, loaded.text


def _unwritten(folder: Path) -> tuple[Procedure, str]:
    kit = kit_list.load(folder / "kit.csv")
    return unwritten.begin("Capstan drive", lexicon.read("gearbox"), kit.lines)


WRITTEN = Work("demo", "demo winch 1", _written)
UNWRITTEN = Work("demo/unwritten", "demo capstan 1", _unwritten)


def script(work: Work = WRITTEN) -> tuple[Said | Pause, ...]:
    """Return a demo's script: phrases, waits and stops, in order."""
    folder = resources.folder("audio_fixtures") / work.folder
    lines = (folder / "script.txt").read_text(encoding="utf-8").splitlines()
    parts: list[Said | Pause] = []
    number = 0
    for line in lines:
        if not line.strip() or line.startswith(("#", "@voice")):
            continue
        if line.startswith("@"):
            what, count, unit = line[1:].split()
            passed = timedelta(**{_UNITS[unit]: int(count)})
            parts.append(Pause(passed, stop=what == "stop"))
            continue
        number += 1
        parts.append(Said(line.split("|")[0].strip(), folder / f"{number:03}.flac"))
    return tuple(parts)


_UNITS = {"min": "minutes", "h": "hours", "days": "days"}

_REPORTS = ("next", "tightened", "all", "reading", "in", "bag", "start", "close")
"""The first words of what is said once hands have done something."""


class WorkingClock:
    """The time as it would be if hands did the work.

    The first report of work at a step comes after the step's work: four minutes, and three for each
    kind of part that comes off or goes on. What has no procedure comes off in seven minutes. Each
    further report comes 40 s later, and anything else that is said 15 s later.
    """

    def __init__(self, begin: datetime) -> None:
        self.now = begin
        self._worked_at: str | None = ""
        """The step that its work is done of; None: the one that what came off last brings."""

    def __call__(self) -> datetime:
        """Return the time now."""
        return self.now

    def work(self, words: str, step: Step) -> None:
        """Let the time pass until a phrase is said at a step."""
        if words.startswith("removed "):
            self._worked_at = None
            self.now += timedelta(minutes=7)
        elif words.split()[0] not in _REPORTS:
            self.now += timedelta(seconds=15)
        elif self._worked_at in (None, step.id):
            self._worked_at = step.id
            self.now += timedelta(seconds=40)
        else:
            self._worked_at = step.id
            self.now += timedelta(minutes=4 + 3 * (len(step.remove) + len(step.fit)))

    def rest(self, pause: Pause) -> None:
        """Let a wait pass, or the nights until the work is taken up again."""
        self.now += pause.time
        if pause.stop:
            self.now = _morning(self.now)


def _morning(day: datetime) -> datetime:
    return day.replace(hour=7, minute=30, second=0, microsecond=0)


def first_morning(parts: Iterable[Said | Pause], now: datetime) -> datetime:
    """Return when the work begins, for its last day to be the one before `now`."""
    nights = sum((p.time for p in parts if isinstance(p, Pause) and p.stop), timedelta(days=1))
    return _morning(now - nights)


def run(
    out: Path | None,
    silent: bool,
    kind: str,
    model: Path | None,
    respell: Path | None,
    work: Work = WRITTEN,
) -> int:
    """Run a demo; print the dialogue, and where the journal and the report are."""
    folder = out or Path(tempfile.mkdtemp(prefix="assistant-demo-"))
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "journal.db"
    if path.exists():
        raise AssistantError(f"{path} is there already. Give another folder with --out.")
    begun = time.monotonic()
    procedure, text = work.begin(resources.folder("audio_fixtures") / work.folder)
    ears = bench_ears.build(kind, model, respell, procedure.respell)
    parts = script(work)
    clock = WorkingClock(first_morning(parts, local_now()))
    voice = open_voice(silent=silent)
    bench = _bench(path, voice, clock, TECHNICIANS[0])
    bench.open(procedure, text, unit=work.unit, remark=REMARK)
    heard = 0
    for part in parts:
        if isinstance(part, Said):
            clock.work(part.text, bench.state.step)
            bench.tick()
            recordings.play(bench, ears, [part.recording])
            heard += 1
            continue
        clock.rest(part)
        print(f"{'':13}({wording.duration(part.time.total_seconds())} later)")
        if part.stop:
            bench = _stopped_and_taken_up(bench, path, voice, clock)
        else:
            bench.tick()
    written = _write(bench, folder)
    seconds = time.monotonic() - begun
    print(
        f"\n{heard} phrases heard by {ears.name} in {seconds:.0f} s, replies included.\n"
        f"Record:  {path}   (assistant log {bench.job} --journal {path})\n"
        f"Report:  {written}"
    )
    if not bench.over:
        print("The job was not closed: some phrase was not heard as it was meant.", file=sys.stderr)
        return 1
    return 0


def _bench(path: Path, voice: Voice, clock: WorkingClock, by: str | None) -> Conversation:
    presenter = Presenter(voice, [Terminal()])
    return Conversation(Keeper(Journal(path), by), presenter, clock, technicians=TECHNICIANS)


def _stopped_and_taken_up(
    bench: Conversation, path: Path, voice: Voice, clock: WorkingClock
) -> Conversation:
    """Close the journal, and go on from what is on disk, as another day's run would."""
    job, by = bench.job, bench.keeper.by
    bench.journal.close()
    again = _bench(path, voice, clock, by)
    again.take_up(job)
    return again


def _write(bench: Conversation, folder: Path) -> Path:
    events = bench.journal.events(bench.job)
    procedure, seal = procedure_of(events, bench.job), bench.journal.seal(bench.job)
    built = record.build(
        events,
        procedure,
        bench.job,
        seal=seal,
        transcripts=bench.journal.transcripts(bench.job),
    )
    written = folder / "report.html"
    written.write_text(page.html(built, bench.journal.clips(events)), encoding="utf-8")
    return written
