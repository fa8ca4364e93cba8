"""The demo's overhaul: what the page, the PDF and the tags are seen on.

The phrases are given to the bench as heard, with their recordings as clips, so that nothing has to
be recognised and the same job comes out each time.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta, timezone
from pathlib import Path

from assistant.audio import pcm
from assistant.bench.conversation import Conversation
from assistant.cli.demo import PROCEDURE, TECHNICIANS, Pause, WorkingClock, script
from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of
from assistant.dialogue.state import Mode
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.recognition.utterance import Verdict
from assistant.report import record
from assistant.report.model import Record
from tests.bench_helpers import Notes, bench, heard

ZONE = timezone(timedelta(hours=1))


class Overhaul:
    """The job, its record and its clips."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.clock = WorkingClock(datetime(2031, 3, 4, 7, 30, tzinfo=ZONE))
        self.chance = random.Random(7)
        loaded = reading.load(reading.find(PROCEDURE))
        self.bench = self._bench()
        self.bench.open(loaded.procedure, loaded.text, unit="winch 2, port side")
        for part in script():
            if isinstance(part, Pause):
                self.clock.rest(part)
                if part.stop:
                    self._next_day()
                self.bench.tick()
            else:
                self._say(part.text, part.recording)

    def _bench(self) -> Conversation:
        journal, by = Journal(self.path), TECHNICIANS[0]
        return bench(journal, Notes(), self.clock, by=by, technicians=TECHNICIANS)

    def _next_day(self) -> None:
        job = self.bench.job
        self.bench.journal.close()
        self.bench = self._bench()
        self.bench.take_up(job)

    def _say(self, words: str, recording: Path) -> None:
        self.clock.work(words, self.bench.state.step)
        self.bench.tick()
        noting = self.bench.state.mode is Mode.NOTING
        sure = round(self.chance.uniform(0.86, 0.99), 2)
        utterance = heard(
            self.bench,
            words,
            Verdict.REJECTED if noting else Verdict.ACCEPTED,
            sound=pcm.read(recording).tobytes(),
            free_speech=noting,
            confidence=sure,
            recogniser="pocketsphinx and whisper",
        )
        self.bench.take(utterance)

    @property
    def events(self) -> tuple[events.Event, ...]:
        return self.bench.journal.events(self.bench.job)

    @property
    def clips(self) -> dict[int, bytes]:
        return self.bench.journal.clips(self.events)

    def record(self) -> Record:
        job = self.bench.job
        return record.build(
            self.events,
            procedure_of(self.events, job),
            job,
            seal=self.bench.journal.seal(job),
        )
