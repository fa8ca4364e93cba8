"""A shift at one bench, from job to job without a click: the lobby, a job, the lobby again.

The timers of open jobs that nobody works on run too, and are announced with the job's number.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from datetime import timedelta
from pathlib import Path

from assistant.audio.cue import Cue
from assistant.bench import cues
from assistant.bench.job import Bench, Screen, called, change_voice
from assistant.dialogue import clocks, intents, lobby_words, stakes, timers, wording
from assistant.dialogue import lobby as between
from assistant.dialogue.lobby import Lobby, OpenJob, Outcome
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.dialogue.turn import Reply, Tone
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Grammar
from assistant.grammar.numbers import spell_digits
from assistant.journal.records import JobSummary
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.procedure.reading import Loaded
from assistant.recognition.utterance import Utterance, Verdict

_MOST_OPEN = 100
"""So many open jobs, the latest, can be taken up by voice."""
_MOST_WATCHED = 20
"""Of so many of them the timers are kept."""
_MOST_SAID = 150
"""Letters of a job's title and unit."""


def on_offer(folder: Path | None, warn: Callable[[str], None]) -> dict[str, Loaded]:
    """Return the procedures of a folder, or the samples, by the files' names as they are said.

    Those with faults are left out with a warning. None left: AssistantError.
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
            found[name] = reading.load(file)
        except AssistantError as error:
            warn(f"Left out: {file}. {error}")
    if not found:
        raise AssistantError(f"There is no procedure in {folder} that could be worked from.")
    return found


def respellings(journal: Journal, procedures: Mapping[str, Loaded]) -> dict[str, str]:
    """Return the respellings of all that may be worked on; those on offer win.

    One recogniser hears a whole shift, and looks up only what it lacks.
    """
    found: dict[str, str] = {}
    for job in journal.jobs(_MOST_WATCHED, closed=False):
        with suppress(AssistantError):
            found |= journal.procedure(job.job).respell
    for loaded in procedures.values():
        found |= loaded.procedure.respell
    return found


@dataclass
class Shift:
    """What is spoken to from power-on: the lobby, or the job that is being worked on."""

    blank: Bench
    """Without a job; the benches that jobs are worked on and watched with are made like it."""
    procedures: dict[str, Loaded]
    """Those that jobs can be begun of, by the name they are called by."""
    bench: Bench | None = None
    """Where a job is being worked on."""
    lobby: Lobby = field(init=False)
    _others: list[tuple[int, clocks.Clock]] = field(default_factory=list)
    """The timers of jobs that nobody works on here."""
    _announced: set[tuple[int, clocks.Clock]] = field(default_factory=set)
    _last: tuple[Reply, ...] = ()

    def begin(self) -> None:
        """Come in, and say what can be done."""
        self._come_in()
        self._speak(between.welcome(self.lobby, self.blank.by is not None))

    def _come_in(self) -> None:
        summaries = self.blank.journal.jobs(_MOST_OPEN, closed=False)
        told = between.TOLD_AT_ONCE
        self.lobby = Lobby(
            tuple(self._open_job(job, number < told) for number, job in enumerate(summaries)),
            tuple(_names(name, one) for name, one in self.procedures.items()),
            self.blank.technicians,
        )
        self._others = [
            (job.job, clock)
            for job in summaries[:_MOST_WATCHED]
            for clock in self._running(job.job)
            if (job.job, clock) not in self._announced
        ]

    def _open_job(self, job: JobSummary, with_place: bool) -> OpenJob:
        about = textwrap.shorten(
            job.title + (f", {job.unit}" if job.unit else ""), _MOST_SAID, placeholder=""
        )
        place = ""
        if with_place and job.step is not None:
            try:
                procedure = self.blank.journal.procedure(job.job)
                number = wording.count(procedure.index(job.step) + 1)
                place = f"at step {number} of {wording.count(len(procedure.steps))}"
            except (AssistantError, LookupError):
                place = "damaged"
        return OpenJob(job.job, re.sub(r"\d+", lambda m: spell_digits(m[0]), about), place)

    def _running(self, job: int) -> tuple[clocks.Clock, ...]:
        try:
            history = self.blank.journal.events(job)
            state = replay_stored(procedure_of(history, job), history)
        except AssistantError:
            return ()  # Whoever opens it is told what is wrong with it.
        return clocks.running_clocks(state)

    # What can be spoken to, as `Attended` has it.

    @property
    def at_bench(self) -> Bench:
        """The bench with the job that is being worked on; between jobs, one without."""
        return self.bench or self.blank

    @property
    def screen(self) -> Screen:
        """Shows what goes on."""
        return self.blank.screen

    @property
    def over(self) -> bool:
        """A shift ends with the program."""
        return False

    @property
    def standing_by(self) -> bool:
        """Whether only "resume" is listened for."""
        return self.lobby.standing_by if self.bench is None else self.bench.standing_by

    def grammar(self) -> Grammar:
        """Return what can be said now."""
        return lobby_words.grammar(self.lobby) if self.bench is None else self.bench.grammar()

    def means(self, words: Sequence[str]) -> intents.Intent | None:
        """Return what words mean now; None where they mean nothing."""
        if self.bench is not None:
            return self.bench.means(words)
        return lobby_words.understand(words, self.lobby)

    def at_stake(self, meaning: intents.Intent) -> bool:
        """Return whether both listeners must hear it before it is acted on."""
        return stakes.high(meaning)

    def numeric(self, meaning: intents.Intent) -> bool:
        """Return whether there is a number in it."""
        return stakes.numeric(meaning)

    def fits(self, meaning: intents.Intent) -> bool:
        """Return whether it would be taken without questioning its value."""
        return self.bench is None or self.bench.fits(meaning)

    def tick(self, speaking: bool = False) -> bool:
        """Say what has become due in any job; return whether anything was said."""
        spoke = False
        if self.bench is not None:
            with self._in_job():
                spoke = self.bench.tick(speaking)
        return self._tick_others(speaking) or spoke

    def _tick_others(self, speaking: bool = False) -> bool:
        """Announce what is due in the jobs that nobody works on here, but not over a number.

        It is recorded when the job is taken up: it may be worked on elsewhere, and a record that
        grew from here would be refused there.
        """
        now = self.blank.clock()
        if self.bench is not None:
            speaking |= timers.about_a_number(self.bench.state, now)
        late = timedelta(seconds=timers.MOST_HELD_S if speaking else 0)
        due = [other for other in self._others if other[1].due + late <= now]
        spoke = False
        for job, clock in due:
            self._others.remove((job, clock))
            self._announced.add((job, clock))
            if clock in self._running(job):
                text = f"Job {wording.count(job)}. Time. The {clock.name} is up."
                self._speak((Reply(text, Tone.ALERT),), Cue.TIMER, remember=False)
                spoke = True
        return spoke

    def tell(self, text: str) -> None:
        """Say something about the assistant itself: that its microphone is gone, and the like."""
        self.at_bench.tell(text)

    def likely(self) -> list[str]:
        """Return what is likely to be said next."""
        if self.bench is not None:
            return self.bench.likely()
        asked = (between.WhichJobs(), between.NewJob(), intents.Help())
        return [
            reply.text for intent in asked for reply in between.decide(self.lobby, intent).replies
        ]

    def called(self) -> None:
        """Answer to the call word said alone."""
        if self.bench is not None:
            self.bench.called()
        else:
            self._speak((called(self.standing_by),), remember=False)

    def typed(self, line: str, by: str = "typed") -> None:
        """Take one phrase that is surely meant, `by` typing or a key."""
        if self.bench is not None:
            with self._in_job():
                self.bench.typed(line, by)
            self._tick_others()
            return
        self._tick_others()
        words = " ".join(line.split())
        intent = lobby_words.understand_typed(line, self.lobby)
        if intent is not None:
            self._carry_out(intent, words)
        elif words:
            self.blank.screen.not_taken(words, "not understood; try: what words")

    def take(self, utterance: Utterance[intents.Intent]) -> None:
        """Take one phrase that a recogniser heard."""
        if self.bench is not None:
            with self._in_job():
                self.bench.take(utterance)
            self._tick_others()
            return
        if utterance.accepted:
            self.blank.speaker.stop()
        self._tick_others()
        if utterance.accepted and utterance.meaning is not None:
            self._carry_out(utterance.meaning, utterance.text)
            return
        self.blank.screen.not_taken(utterance.text, "no command")
        if utterance.verdict is Verdict.DOUBTFUL or self.lobby.asks:
            self._speak((Reply("Say again.", Tone.QUESTION),), remember=False)

    def _carry_out(self, intent: intents.Intent, words: str) -> None:
        self.blank.screen.heard(words)
        outcome = between.decide(self.lobby, intent)
        self.lobby = outcome.lobby
        self.blank.by = outcome.signed_on or self.blank.by
        if outcome.say_again:
            self._speak(self._last)
        elif outcome.voice is not None:
            changed = change_voice(self.blank.speaker, outcome.voice, self.blank.remember_manner)
            self._speak((changed, *outcome.replies), remember=False)
        else:
            self._speak(outcome.replies)
        if outcome.take_up is not None or outcome.begin is not None:
            self._go(outcome)

    def _go(self, to: Outcome) -> None:
        """Go on with a job, or begin one; where that cannot be, say why, and stay."""
        # In its place before it speaks: a display shows the bench that is being worked at.
        bench = self.bench = replace(self.blank)
        try:
            if to.take_up is not None:
                bench.take_up(to.take_up)
            elif to.begin is not None:
                begun = self.procedures[to.begin]
                bench.open(begun.procedure, begun.text)
        except AssistantError as error:
            self.bench = None
            self._speak((Reply(str(error), Tone.REFUSED),))
            self._come_in()
            return
        self._others = [other for other in self._others if other[0] != bench.job]

    @contextmanager
    def _in_job(self) -> Iterator[None]:
        """Come back to the lobby after what closed the job, set it aside, or lost it."""
        try:
            yield
        except AssistantError as error:
            # The bench has said it: the job went on elsewhere. Its shift does not end with it.
            self.blank.screen.not_taken("", str(error))
        else:
            if self.bench is None or not self.bench.over:
                return
        if self.bench is not None:
            self.blank.by = self.bench.by
            self.bench = None
        self.begin()

    def _speak(
        self, replies: tuple[Reply, ...], cue: Cue | None = None, remember: bool = True
    ) -> None:
        if not replies:
            return
        if remember:
            self._last = replies
        self.blank.speak(replies, cue or cues.of(replies))


def _names(name: str, loaded: Loaded) -> tuple[str, ...]:
    """Return what a procedure may be called: by its file, and by its title if it is in letters."""
    title = loaded.procedure.title.lower()
    return (name, title) if re.fullmatch(r"[a-z' ]+", title) and title != name else (name,)
