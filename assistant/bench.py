"""The live loop: what is heard becomes an intent, the session decides, the journal keeps, the
voice speaks. In that order: nothing is spoken as recorded before it is on disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from functools import lru_cache
from hashlib import sha256
from typing import TYPE_CHECKING, Protocol

from assistant import cue as cues
from assistant.cue import Cue
from assistant.errors import AssistantError
from assistant.journal.store import CannotRecord, Journal, Transcript
from assistant.language import understanding
from assistant.language import wording as say
from assistant.procedure import reading
from assistant.procedure.model import Procedure
from assistant.session import decide as session
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import ledger
from assistant.session import state as st
from assistant.session.state import Mode
from assistant.session.turn import Decision, Reply, Tone

if TYPE_CHECKING:
    from assistant.audio.recogniser import Transcriber

_AGAIN = "Say again."
_DIGIT_BY_DIGIT = "Say again, digit by digit, as in one four."


_WITH_NUMBERS = it.Tightened | it.Reading | it.Value | it.Correction


def local_now() -> datetime:
    """Return the time now, local, with its offset from UTC."""
    return datetime.now().astimezone()


class Speaker(Protocol):
    """Says replies, one after another."""

    def cue(self, cue: Cue) -> None:
        """Give the tone of the reply that follows."""

    def say(self, text: str) -> None:
        """Say the text; returns when it is said, or is sure to be."""

    def stop(self) -> bool:
        """Stop what is being said; return whether anything was cut short."""


class Screen(Protocol):
    """Shows what goes on, for whoever looks."""

    def heard(self, words: str) -> None:
        """Show what was understood."""

    def not_taken(self, words: str, why: str) -> None:
        """Show what was heard and not taken."""

    def cue(self, cue: Cue) -> None:
        """Show what kind of answer follows, as the tone tells it."""

    def said(self, text: str) -> None:
        """Show what the assistant says."""


@dataclass
class Bench:
    """One job at the bench, live."""

    journal: Journal
    speaker: Speaker
    screen: Screen
    clock: Callable[[], datetime] = local_now
    by: str | None = None
    transcriber: Transcriber | None = None
    """Writes down what is said freely, for the record; nothing is decided on it."""
    job: int = 0
    state: st.State = field(init=False)
    known: int = 0
    """How many of the job's events this bench has seen."""
    _last: tuple[Reply, ...] = ()
    _cut: tuple[Reply, ...] = ()
    """What was cut short by standing by, until it is asked for again."""
    _told: tuple[Reply, ...] = ()
    """What was announced as due and could not be recorded yet; not to be announced again."""

    def open(
        self,
        procedure: Procedure,
        source: str,
        *,
        unit: str | None = None,
        remark: str | None = None,
    ) -> None:
        """Open a new job and speak its first step."""
        decision = session.open_job(procedure, source, self.clock(), unit=unit, remark=remark)
        events = [event.model_copy(update={"by": self.by}) for event in decision.events]
        self.job = self.journal.open_job(events)
        self.state = st.replay(procedure, events)
        self.known = len(events)
        self._speak(decision.replies)

    def take_up(self, job: int) -> None:
        """Go on with a job from the journal, at the place where it stopped."""
        events = self.journal.events(job)
        procedure = procedure_of(events, job)
        self.job, self.known = job, len(events)
        self.state = st.replay(procedure, events)
        if self.state.closed:
            raise AssistantError(f"Job {job} is closed. See assistant report {job}.")
        # What the parts desk entered meanwhile is no work.
        stopped = next(e.at for e in reversed(events) if not ledger.from_desk(e))
        decision = session.take_up(self.state, self.clock(), stopped)
        # At the start of a run it is better not to begin than to begin on what is not kept.
        self._keep(decision, None, None)
        self._speak(decision.replies)

    @property
    def over(self) -> bool:
        """Whether the job is closed."""
        return self.state.closed

    def typed(self, line: str, by: str = "typed") -> None:
        """Take one phrase that is surely meant, `by` typing or a key."""
        self.tick()
        intent = understanding.understand_typed(line, self.state)
        words = " ".join(line.split())
        if intent is None:
            if words:
                self.screen.not_taken(words, "not understood; try: what can i say")
            return
        self.screen.heard(words)
        heard = ev.Heard(words=words, recogniser=by)
        self._carry_out(session.decide(self.state, intent, self.clock()), heard, None)

    def tick(self) -> bool:
        """Say what has become due, and what the parts desk has entered; return whether it was.

        A timer that is up is announced even where it cannot be recorded: once, and it is recorded
        as soon as that can be.
        """
        entered = self._take_in()
        decision = session.decide(self.state, it.Tick(), self.clock())
        if not decision.events:
            return entered
        told = decision.replies == self._told
        try:
            self._keep(decision, None, None)
        except CannotRecord as error:
            if told:
                return entered
            self._told = decision.replies
            self._speak((*decision.replies, _refusal(error)), Cue.TIMER, remember=False)
            return True
        self._told = ()
        if not told:
            self._speak(decision.replies, Cue.TIMER)
        return entered or not told

    def _take_in(self) -> bool:
        """Go on from what the parts desk has put into the record meanwhile, and say it."""
        try:
            head = self.journal.head(self.job)
            if head is None or head.place == self.known:
                return False
            new = self.journal.events(self.job)[self.known :]
        except AssistantError:
            # What cannot be read now is told when something is to be recorded.
            return False
        if not new or not all(map(ledger.from_desk, new)):
            # The job was taken up elsewhere: this bench is told so when it records.
            return False
        for event in new:
            self.state = st.apply(self.state, event)
        self.known += len(new)
        if self.state.mode is Mode.STANDING_BY:
            return False
        entered = say.listing(say.event(event) for event in new)
        told = Reply(say.sentence(f"From the parts desk: {entered}"))
        self._speak((told,), Cue.HEARD, remember=False)
        return True

    def tell(self, text: str) -> None:
        """Say something about the assistant itself: that its microphone is gone, and the like."""
        self._speak((Reply(text, Tone.ALERT),), Cue.REFUSED, remember=False)

    def called(self) -> None:
        """Answer to the call word said alone."""
        standing_by = self.state.mode is Mode.STANDING_BY
        text = "Standing by. Say resume." if standing_by else "Listening."
        self._speak((Reply(text),), Cue.HEARD, remember=False)

    def spoken(
        self,
        heard: ev.Heard,
        accepted: bool,
        clip: Callable[[], bytes],
        free_speech: bool = False,
        doubtful: bool = False,
    ) -> None:
        """Take one phrase that a recogniser heard; `clip` gives its sound as FLAC if it is kept.

        `free_speech` says that more was spoken than the words: after "note", the note itself.
        What is `doubtful` is asked for again; other talk is left unanswered, but for an answer
        that is waited for.
        """
        # Whoever speaks over a reply does not want the rest of it, now.
        cut = accepted and self.speaker.stop()
        self.tick()
        intent: it.Intent | None = None
        if accepted:
            intent = understanding.understand(heard.words.split(), self.state)
        if intent is None and self.state.mode is Mode.NOTING:
            intent = it.Note(clipped=True)
            # Its words are in the clip; what a recogniser made of them is not what was said.
            heard = heard.model_copy(update={"words": ""})
        if isinstance(intent, it.Note) and free_speech:
            intent = it.Note(clipped=True)
        if intent is None:
            self.screen.not_taken(heard.words, "no command")
            if doubtful or self.state.pending is not None:
                unsure = understanding.understand(heard.words.split(), self.state)
                ask = _DIGIT_BY_DIGIT if isinstance(unsure, _WITH_NUMBERS) else _AGAIN
                self._speak((Reply(ask, Tone.QUESTION),), Cue.QUESTION, remember=False)
            return
        if cut and isinstance(intent, it.StandBy):
            self._cut = self._last
        elif not isinstance(intent, it.StandBy | it.Resume | it.SayAgain):
            self._cut = ()
        shown = "…" if isinstance(intent, it.Note) and intent.clipped else heard.words
        self.screen.heard(shown)
        decision = session.decide(self.state, intent, self.clock())
        free = any(
            isinstance(e, ev.NoteRecorded)
            or (isinstance(e, ev.StepSkipped) and isinstance(intent, it.Note))
            for e in decision.events
        )
        keep = free or any(isinstance(e, ev.FindingRecorded) for e in decision.events)
        kept = clip() if keep else None
        if self.transcriber is None or kept is None or not free:
            self._carry_out(decision, heard, kept)
            return
        # It is written down while the reply is spoken, when nobody is listened to anyhow.
        with ThreadPoolExecutor(1) as pool:
            text = pool.submit(_written_down, self.transcriber, kept)
            if self._carry_out(decision, heard, kept):
                self._add_transcript(kept, text.result(), self.transcriber.name)

    def _add_transcript(self, clip: bytes, text: str, recogniser: str) -> None:
        """Put beside a clip what was made of it; what cannot be kept can be made again."""
        if not text:
            return
        made = Transcript(text, recogniser, self.clock())
        try:
            self.journal.add_transcript(self.job, sha256(clip).hexdigest(), made)
        except CannotRecord as error:
            self.screen.not_taken("", error.detail)

    def _carry_out(self, decision: Decision, heard: ev.Heard | None, clip: bytes | None) -> bool:
        """Keep what was decided, and then say it; where it cannot be kept, say that, and stay.

        Returns whether it was kept.
        """
        try:
            self._keep(decision, heard, clip)
        except CannotRecord as error:
            self.screen.not_taken(heard.words if heard else "", error.detail)
            self._speak((_refusal(error),), Cue.REFUSED, remember=False)
            return False
        if decision.say_again:
            self._speak((*self._cut, *self._last), Cue.HEARD)
            self._cut = ()
        else:
            self._speak(decision.replies, cues.of(decision.replies))
        return True

    def _keep(self, decision: Decision, heard: ev.Heard | None, clip: bytes | None) -> None:
        """Put the events on disk, and go on to the state that they lead to: in that order."""
        if not decision.events:
            return
        events = [
            event.model_copy(update={"by": self.by, "heard": heard}) for event in decision.events
        ]
        try:
            stored = self.journal.append(self.job, self.known, events, clip)
        except CannotRecord:
            raise
        except AssistantError as error:
            known = self.known
            self._take_in()
            if self.known > known:
                # Between deciding and recording; what was decided did not know of it.
                raise CannotRecord("Nothing was kept. Say it again.", str(error)) from error
            # The run ends with it, and nobody at the bench looks at a screen.
            self.speaker.say(str(error))
            raise
        for event in stored:
            self.state = st.apply(self.state, event)
        self.known += len(stored)

    def _speak(
        self, replies: Iterable[Reply], cue: Cue | None = None, remember: bool = True
    ) -> None:
        replies = tuple(replies)
        if not replies:
            return
        if remember:
            self._last = replies
        if cue is not None:
            self.screen.cue(cue)
            self.speaker.cue(cue)
        text = " ".join(reply.text for reply in replies)
        self.screen.said(text)
        self.speaker.say(text)


def _written_down(transcriber: Transcriber, clip: bytes) -> str:
    from assistant.audio import pcm

    try:
        return transcriber.transcribe(pcm.read_flac(clip))
    except Exception:
        # Whatever trips over free speech, the note is kept as sound, and the job goes on.
        return ""


def _refusal(error: CannotRecord) -> Reply:
    return Reply(str(error), Tone.ALERT)


def procedure_of(events: Sequence[ev.Event], job: int) -> Procedure:
    """Return the procedure as the job was begun with, not as its file stands today."""
    opened = events[0]
    if not isinstance(opened, ev.JobOpened):
        raise AssistantError(f"Job {job} does not start with its opening; it is damaged.")
    return _stored(opened.source, job)


@lru_cache(maxsize=2)
def _stored(source: str, job: int) -> Procedure:
    # Asked for by whoever makes the ears and again by the bench.
    return reading.parse(source, f"job {job}'s procedure", stored=True)


def still_open(bench: Bench) -> str:
    """Return one sentence on where the job was left and how to go on."""
    return (
        f"Job {bench.job} stays open at step {bench.state.number}. "
        f"Go on with: assistant resume {bench.job}"
    )
