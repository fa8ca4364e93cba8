"""What a shift at one bench goes between: the open jobs, and the procedures to begin others of.

The timers of open jobs that nobody works on here run too; a shift knows which of them are up.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from assistant.dialogue import answers, clocks, wording
from assistant.dialogue import lobby as between
from assistant.dialogue.lobby import Lobby, OpenJob
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.errors import AssistantError
from assistant.grammar.numbers import spell_digits
from assistant.journal.records import JobSummary
from assistant.journal.store import Journal
from assistant.procedure import lexicon, reading, unwritten
from assistant.procedure.model import Procedure
from assistant.procedure.reading import Loaded

_MOST_OPEN = 100
"""How many open jobs, the latest first, can be taken up by voice."""
_MOST_WATCHED = 20
"""How many of them have their timers announced."""
_UNTITLED, _ANY_MACHINE = "Unwritten job", "general"
_MOST_SAID = 150
"""Characters of a job's title and unit that are read out."""


def on_offer(folder: Path | None, warn: Callable[[str], None]) -> dict[str, Loaded]:
    """Return the procedures of a folder, or the samples, by the names that they are called by.

    A procedure is called by its file's name, in letters. One with faults is left out, with a
    warning. Raises AssistantError if none is left.
    """
    if folder is None:
        files = list(reading.samples().values())
    elif folder.is_dir():
        files = sorted([*folder.glob("*.yaml"), *folder.glob("*.yml")])
    else:
        raise AssistantError(f"There is no folder {folder}; give one with procedure files.")
    found: dict[str, Loaded] = {}
    for file in files:
        name = " ".join(re.findall(r"[a-z]+", file.stem.lower()))
        try:
            if not name or name in found:
                raise AssistantError("its name, in letters, is that of no file or of another")
            if name == between.UNWRITTEN:
                raise AssistantError("a job without a procedure is begun by this word; rename it")
            found[name] = reading.load(file, answers.that_are_commands)
        except AssistantError as error:
            warn(f"Left out: {file}. {error}")
    if not found:
        raise AssistantError(f"There is no procedure in {folder} that could be worked from.")
    return found


def respellings(journal: Journal, procedures: Mapping[str, Loaded]) -> dict[str, str]:
    """Return the respellings of all procedures that may be worked on; those on offer win.

    One recogniser hears the whole shift.
    """
    found: dict[str, str] = {}
    for job in _open_jobs(journal)[:_MOST_WATCHED]:
        with suppress(AssistantError):
            found |= journal.procedure(job.job).respell
    for loaded in procedures.values():
        found |= loaded.procedure.respell
    return found


def _open_jobs(journal: Journal) -> list[JobSummary]:
    return list(journal.jobs(_MOST_OPEN, closed=False))


@dataclass
class Shift:
    """The jobs and procedures that a bench can go to, read from its journal."""

    journal: Journal
    procedures: dict[str, Loaded]
    """Those that jobs can be begun of, by the name they are called by."""
    _watched: list[tuple[int, clocks.Clock]] = field(default_factory=list)
    """The timers of jobs that nobody works on here, with the jobs' numbers."""
    _announced: set[tuple[int, clocks.Clock]] = field(default_factory=set)

    def lobby(self, technicians: tuple[str, ...]) -> Lobby:
        """Return what there is to go to now, and watch the timers of the open jobs."""
        summaries = _open_jobs(self.journal)
        self._watched = [
            (job.job, clock)
            for job in summaries[:_MOST_WATCHED]
            for clock in self._running(job.job)
            if (job.job, clock) not in self._announced
        ]
        return Lobby(
            tuple(
                self._open_job(job, number < between.TOLD_AT_ONCE)
                for number, job in enumerate(summaries)
            ),
            tuple(_names(name, one) for name, one in self.procedures.items()),
            technicians,
        )

    def beginning(self, name: str) -> tuple[Procedure, str, Path | None]:
        """Return what a job begins with, its text and its file: of a procedure, or of none by its
        word.

        Nobody has said then what machine it is, so its parts have the names of any machine.
        """
        if name == between.UNWRITTEN:
            return *unwritten.begin(_UNTITLED, lexicon.read(_ANY_MACHINE)), None
        loaded = self.procedures[name]
        return loaded.procedure, loaded.text, loaded.path

    def due(self, until: datetime) -> list[tuple[int, clocks.Clock]]:
        """Return the timers that were up by then, each once, with the number of its job.

        One that was stopped meanwhile, or rang where the job is worked on, is left out.
        """
        due = [one for one in self._watched if one[1].due <= until]
        for one in due:
            self._watched.remove(one)
            self._announced.add(one)
        return [(job, clock) for job, clock in due if clock in self._running(job)]

    def no_longer_watch(self, job: int) -> None:
        """Leave a job's timers to whoever works on it."""
        self._watched = [one for one in self._watched if one[0] != job]

    def _open_job(self, job: JobSummary, with_place: bool) -> OpenJob:
        about = textwrap.shorten(
            job.title + (f", {job.unit}" if job.unit else ""), _MOST_SAID, placeholder=""
        )
        place = ""
        if with_place and job.step is not None:
            try:
                procedure = self.journal.procedure(job.job)
                number = wording.count(procedure.number(job.step))
                place = f"at step {number} of {wording.count(len(procedure.steps))}"
            except (AssistantError, LookupError):
                place = "damaged"
        return OpenJob(job.job, re.sub(r"\d+", lambda m: spell_digits(m[0]), about), place)

    def _running(self, job: int) -> tuple[clocks.Clock, ...]:
        try:
            history = self.journal.events(job)
            procedure = procedure_of(history, job)
            state = replay_stored(procedure, history)
        except AssistantError:
            return ()  # Whoever takes it up is told what is wrong with it.
        return clocks.running_clocks(state)


def _names(name: str, loaded: Loaded) -> tuple[str, ...]:
    """Return what a procedure may be called: by its file, and by its title if it is in letters."""
    title = loaded.procedure.title.lower()
    return (name, title) if re.fullmatch(r"[a-z' ]+", title) and title != name else (name,)
