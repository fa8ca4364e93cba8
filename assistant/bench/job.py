"""The live loop: what is heard becomes an intent, the session decides, the journal keeps, the
voice speaks. In that order: nothing is spoken as recorded before it is on disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from typing import TYPE_CHECKING, Protocol

from assistant.audio.cue import Cue
from assistant.audio.manner import Change, Manner
from assistant.bench import ahead, cues
from assistant.dialogue import decide as session
from assistant.dialogue import events, intents, ledger, live, stakes, understanding, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.effects import ChangeVoice, SayAgain, SetAside
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.dialogue.state import Mode
from assistant.dialogue.turn import Decision, Reply, Tone
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Grammar
from assistant.journal.clock import local_now
from assistant.journal.records import Transcript
from assistant.journal.store import CannotRecord, Journal
from assistant.procedure.model import Procedure
from assistant.recognition.utterance import Utterance, Verdict

if TYPE_CHECKING:
    from assistant.recognition.recogniser import Transcriber

_AGAIN = "Say again."
_DIGIT_BY_DIGIT = "Say again, digit by digit, as in one four."


_WITH_NUMBERS = intents.Tightened | intents.Reading | intents.Value | intents.Correction


class Speaker(Protocol):
    """Says replies, one after another."""

    manner: Manner
    """How it speaks; what is said next is said in it."""

    def cue(self, cue: Cue) -> None:
        """Give the tone of the reply that follows."""

    def say(self, text: str) -> None:
        """Say the text; returns when it is said, or is sure to be."""

    def stop(self) -> bool:
        """Stop what is being said; return whether anything was cut short."""

    def audible(self, since: float, until: float) -> bool:
        """Whether it is heard at any time between these, in seconds of time.monotonic."""


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


class Attended(Protocol):
    """What can be spoken to: a bench with its job, or a shift from job to job."""

    @property
    def at_bench(self) -> Bench:
        """The bench with the job that is being worked on; between jobs, one without."""

    @property
    def screen(self) -> Screen:
        """Shows what goes on."""

    @property
    def over(self) -> bool:
        """Whether nothing more is listened for."""

    @property
    def standing_by(self) -> bool:
        """Whether only "resume" is listened for."""

    def grammar(self) -> Grammar:
        """Return what can be said now."""

    def means(self, words: Sequence[str]) -> intents.Intent | None:
        """Return what words mean now; None where they mean nothing."""

    def at_stake(self, meaning: intents.Intent) -> bool:
        """Return whether both listeners must hear it before it is acted on."""

    def numeric(self, meaning: intents.Intent) -> bool:
        """Return whether there is a number in it."""

    def fits(self, meaning: intents.Intent) -> bool:
        """Return whether it would be taken without questioning its value."""

    def tick(self, speaking: bool = False) -> bool:
        """Say what has become due; return whether anything was said."""

    def tell(self, text: str) -> None:
        """Say something about the assistant itself: that its microphone is gone, and the like."""

    def likely(self) -> list[str]:
        """Return what is likely to be said next."""

    def called(self) -> None:
        """Answer to the call word said alone."""

    def typed(self, line: str, by: str = "typed") -> None:
        """Take one phrase that is surely meant, `by` typing or a key."""

    def take(self, utterance: Utterance[intents.Intent]) -> None:
        """Take one phrase that a recogniser heard."""


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
    technicians: tuple[str, ...] = ()
    """Who may sign on by voice; it changes `by`."""
    remember_manner: Callable[[Manner], None] = lambda manner: None
    """Told how it was asked to speak."""
    job: int = 0
    state: job_state.State = field(init=False)
    known: int = 0
    """How many of the job's events this bench has seen."""
    left: bool = False
    """Whether the job was set aside, open."""
    replies: tuple[Reply, ...] = ()
    """What is being said, or was said last."""
    deaf: bool = False
    """Whether it has lost its microphone."""
    cannot_record: str | None = None
    """Why nothing could be kept when it was last tried; None where it was kept."""
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
        history = [event.model_copy(update={"by": self.by}) for event in decision.events]
        self.job = self.journal.open_job(history)
        self.state = job_state.replay(procedure, history, self.technicians)
        self.known = len(history)
        self.speak(decision.replies)

    def take_up(self, job: int) -> None:
        """Go on with a job from the journal, at the place where it stopped."""
        history = self.journal.events(job)
        procedure = procedure_of(history, job)
        self.job, self.known = job, len(history)
        self.state = replay_stored(procedure, history, self.technicians)
        if self.state.closed:
            raise AssistantError(f"Job {job} is closed. See assistant report {job}.")
        # What the parts desk entered meanwhile is no work.
        stopped = next(e.at for e in reversed(history) if not ledger.from_desk(e))
        decision = session.take_up(self.state, self.clock(), stopped)
        # At the start of a run it is better not to begin than to begin on what is not kept.
        self._keep(decision, None, None)
        self.speak(decision.replies)

    @property
    def at_bench(self) -> Bench:
        """This one."""
        return self

    @property
    def over(self) -> bool:
        """Whether the job is closed, or set aside."""
        return self.state.closed or self.left

    @property
    def standing_by(self) -> bool:
        """Whether only "resume" is listened for."""
        return self.state.mode is Mode.STANDING_BY

    def grammar(self) -> Grammar:
        """Return what can be said now."""
        return live.grammar_for(self.state)

    def means(self, words: Sequence[str]) -> intents.Intent | None:
        """Return what words mean at the present step; None where they mean nothing."""
        return understanding.understand(words, self.state)

    def at_stake(self, meaning: intents.Intent) -> bool:
        """Return whether both listeners must hear it before it is acted on."""
        return stakes.high(meaning)

    def numeric(self, meaning: intents.Intent) -> bool:
        """Return whether there is a number in it."""
        return stakes.numeric(meaning)

    def fits(self, meaning: intents.Intent) -> bool:
        """Return whether the step would take an intent without questioning its value."""
        return session.fits(self.state, meaning, self.clock())

    def likely(self) -> list[str]:
        """Return what is likely to be said next."""
        return ahead.likely(self.state, self.clock())

    def typed(self, line: str, by: str = "typed") -> None:
        """Take one phrase that is surely meant, `by` typing or a key."""
        intent = understanding.understand_typed(line, self.state)
        self.tick(speaking=isinstance(intent, _WITH_NUMBERS))
        words = " ".join(line.split())
        if intent is None:
            if words:
                self.screen.not_taken(words, "not understood; try: what words")
            return
        self.screen.heard(words)
        heard = events.Heard(words=words, recogniser=by)
        self._carry_out(session.decide(self.state, intent, self.clock()), heard, None)

    def tick(self, speaking: bool = False) -> bool:
        """Say what has become due, and what the parts desk has entered; return whether it was.

        It waits a little where somebody is `speaking`, or said a number that is not answered yet.
        A timer that is up is announced even where it cannot be recorded: once, and it is recorded
        as soon as that can be.
        """
        entered = self._take_in()
        decision = session.decide(self.state, intents.Tick(speaking), self.clock())
        if not decision.events:
            return entered
        told = decision.replies == self._told
        try:
            self._keep(decision, None, None)
        except CannotRecord as error:
            if told:
                return entered
            self._told = decision.replies
            self.speak((*decision.replies, _refusal(error)), Cue.TIMER, remember=False)
            return True
        self._told = ()
        if not told:
            self.speak(decision.replies, Cue.TIMER)
        return entered or not told

    def _take_in(self) -> bool:
        """Go on from what the parts desk has put into the record meanwhile, and say it."""
        try:
            head = self.journal.head(self.job)
            if head is None or head.place == self.known:
                return False
            new = self.journal.events(self.job, after=self.known)
        except AssistantError:
            # What cannot be read now is told when something is to be recorded.
            return False
        if not new or not all(map(ledger.from_desk, new)):
            # The job was taken up elsewhere: this bench is told so when it records.
            return False
        for event in new:
            self.state = job_state.apply(self.state, event)
        self.known += len(new)
        if self.state.mode is Mode.STANDING_BY:
            return False
        entered = wording.listing(wording.event(event) for event in new)
        told = Reply(wording.sentence(f"From the parts desk: {entered}"))
        self.speak((told,), Cue.HEARD, remember=False)
        return True

    def tell(self, text: str) -> None:
        """Say something about the assistant itself: that its microphone is gone, and the like."""
        self.speak((Reply(text, Tone.ALERT),), Cue.REFUSED, remember=False)

    def called(self) -> None:
        """Answer to the call word said alone."""
        self.speak((called(self.standing_by),), Cue.HEARD, remember=False)

    def take(self, utterance: Utterance[intents.Intent]) -> None:
        """Take one phrase that a recogniser heard; its sound is kept where the record needs it.

        A doubtful one is asked for again. Other talk is left unanswered, unless an answer is
        waited for.
        """
        accepted = utterance.accepted
        heard = events.Heard(
            words=utterance.text,
            confidence=utterance.confidence,
            recogniser=utterance.recogniser,
        )
        # Whoever speaks over a reply does not want the rest of it, now.
        cut = accepted and self.speaker.stop()
        intent = utterance.meaning if accepted else None
        self.tick(speaking=isinstance(intent, _WITH_NUMBERS))
        if intent is None and self.state.mode is Mode.NOTING:
            intent = intents.Note(clipped=True)
            # Its words are in the clip; what a recogniser made of them is not what was said.
            heard = heard.model_copy(update={"words": ""})
        if isinstance(intent, intents.Note) and utterance.free_speech:
            intent = intents.Note(clipped=True)
        if intent is None:
            self.screen.not_taken(heard.words, "no command")
            if utterance.verdict is Verdict.DOUBTFUL or self.state.pending is not None:
                ask = _DIGIT_BY_DIGIT if isinstance(utterance.meaning, _WITH_NUMBERS) else _AGAIN
                self.speak((Reply(ask, Tone.QUESTION),), Cue.QUESTION, remember=False)
            return
        if cut and isinstance(intent, intents.StandBy):
            self._cut = self._last
        elif not isinstance(intent, intents.StandBy | intents.Resume | intents.SayAgain):
            self._cut = ()
        shown = "…" if isinstance(intent, intents.Note) and intent.clipped else heard.words
        self.screen.heard(shown)
        decision = session.decide(self.state, intent, self.clock())
        free = any(
            isinstance(e, events.NoteRecorded)
            or (isinstance(e, events.StepSkipped) and isinstance(intent, intents.Note))
            for e in decision.events
        )
        keep = free or any(isinstance(e, events.FindingRecorded) for e in decision.events)
        kept = _flac(utterance) if keep else None
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

    def _carry_out(
        self, decision: Decision, heard: events.Heard | None, clip: bytes | None
    ) -> bool:
        """Keep what was decided, and then say it; where it cannot be kept, say that, and stay.

        Returns whether it was kept.
        """
        try:
            self._keep(decision, heard, clip)
        except CannotRecord as error:
            self.screen.not_taken(heard.words if heard else "", error.detail)
            self.speak((_refusal(error),), Cue.REFUSED, remember=False)
            return False
        again = SayAgain() in decision.effects
        voice = [e.change for e in decision.effects if isinstance(e, ChangeVoice)]
        if again:
            self.speak((*self._cut, *self._last), Cue.HEARD)
            self._cut = ()
        elif voice:
            changed = change_voice(self.speaker, voice[0], self.remember_manner)
            self.speak((changed, *decision.replies), Cue.HEARD, remember=False)
        else:
            self.speak(decision.replies, cues.of(decision.replies))
        self.left = SetAside() in decision.effects
        return True

    def _keep(self, decision: Decision, heard: events.Heard | None, clip: bytes | None) -> None:
        """Put the events on disk, and go on to the state that they lead to: in that order."""
        if not decision.events:
            return
        signed_on = [e.name for e in decision.events if isinstance(e, events.SignedOn)]
        by = signed_on[-1] if signed_on else self.by
        history = [event.model_copy(update={"by": by, "heard": heard}) for event in decision.events]
        try:
            stored = self.journal.append(self.job, self.known, history, clip)
        except CannotRecord as error:
            self.cannot_record = str(error)
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
        self.cannot_record = None
        for event in stored:
            self.state = job_state.apply(self.state, event)
        self.known += len(stored)
        self.by = by

    def speak(
        self, replies: Iterable[Reply], cue: Cue | None = None, remember: bool = True
    ) -> None:
        """Say and show replies, with the tone of what kind they are."""
        replies = tuple(replies)
        if not replies:
            return
        if remember:
            self._last = replies
        self.replies = replies
        if cue is not None:
            self.screen.cue(cue)
            self.speaker.cue(cue)
        text = " ".join(reply.text for reply in replies)
        self.screen.said(text)
        self.speaker.say(text)


def _flac(utterance: Utterance[intents.Intent]) -> bytes | None:
    from assistant.audio import pcm

    return None if utterance.sound is None else pcm.write_flac(utterance.sound.tobytes())


def _written_down(transcriber: Transcriber, clip: bytes) -> str:
    from assistant.audio import pcm

    try:
        return transcriber.transcribe(pcm.read_flac(clip))
    except Exception:
        # Whatever trips over free speech, the note is kept as sound, and the job goes on.
        return ""


def called(standing_by: bool) -> Reply:
    """Return what answers to the call word said alone."""
    return Reply(wording.STANDING_BY if standing_by else "Listening.")


def change_voice(
    speaker: Speaker, change: Change, remember: Callable[[Manner], None] = lambda manner: None
) -> Reply:
    """Have the voice speak otherwise, and return what to say of it."""
    changed = speaker.manner.changed(change)
    if changed == speaker.manner:
        return Reply(f"I cannot speak any {change}.", Tone.REFUSED)
    speaker.manner = changed
    remember(changed)
    return Reply(f"{change.capitalize()}.")


def _refusal(error: CannotRecord) -> Reply:
    return Reply(str(error), Tone.ALERT)


def still_open(bench: Bench) -> str:
    """Return one sentence on where the job was left and how to go on."""
    return (
        f"Job {bench.job} stays open at step {bench.state.number}. "
        f"Go on with: assistant resume {bench.job}"
    )
