"""The demo: the winch gearbox worked through by voice, from recordings, by the real code.

Only the clock is the demo's own: it is moved on where the script says that the work waited or
stopped, and the record says so.
"""

from __future__ import annotations

import sys
import tempfile
import time
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
from assistant.procedure import reading
from assistant.report import page, record

PROCEDURE = "winch-gearbox"
REMARK = (
    "Demonstration: a synthetic voice from recordings; the clock was moved on over waits and stops."
)


@dataclass(frozen=True)
class Said:
    """A phrase of the script, and its recording."""

    text: str
    recording: Path


@dataclass(frozen=True)
class Pause:
    """Time that passes; with `stop` the program ends meanwhile, and the job is taken up after."""

    time: timedelta
    stop: bool


def script() -> tuple[Said | Pause, ...]:
    """Return the demo's script: phrases, waits and stops, in order."""
    folder = resources.folder("audio_fixtures") / "demo"
    lines = (folder / "script.txt").read_text(encoding="utf-8").splitlines()
    parts: list[Said | Pause] = []
    number = 0
    for line in lines:
        if not line.strip() or line.startswith("#"):
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


class _Clock:
    """The time now, moved on."""

    def __init__(self) -> None:
        self.ahead = timedelta()

    def __call__(self) -> datetime:
        return local_now() + self.ahead


def run(out: Path | None, silent: bool, kind: str, model: Path | None, respell: Path | None) -> int:
    """Run the demo; print the dialogue, and where the journal and the report are."""
    folder = out or Path(tempfile.mkdtemp(prefix="assistant-demo-"))
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "journal.db"
    if path.exists():
        raise AssistantError(f"{path} is there already. Give another folder with --out.")
    begun = time.monotonic()
    loaded = reading.load(reading.find(PROCEDURE))
    ears = bench_ears.build(kind, model, respell, loaded.procedure.respell)
    clock = _Clock()
    voice = open_voice(silent=silent)
    bench = _bench(path, voice, clock, "demo technician")
    bench.open(loaded.procedure, loaded.text, unit="demo winch 1", remark=REMARK)
    heard = 0
    for part in script():
        if isinstance(part, Said):
            recordings.play(bench, ears, [part.recording])
            heard += 1
            continue
        clock.ahead += part.time
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


def _bench(path: Path, voice: Voice, clock: _Clock, by: str | None) -> Conversation:
    return Conversation(Keeper(Journal(path), by), Presenter(voice, [Terminal()]), clock)


def _stopped_and_taken_up(
    bench: Conversation, path: Path, voice: Voice, clock: _Clock
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
