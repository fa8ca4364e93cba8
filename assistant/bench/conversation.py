"""One bench in conversation: joins the session, what keeps and what presents.

The theory is told at the top of `assistant.bench`. Here a phrase goes its way, always in this
order: heard, decided, on disk, spoken. Nothing else may write to the record or speak.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from assistant.audio import pcm
from assistant.audio.cue import Cue
from assistant.bench import keeper as keeping
from assistant.bench import newer, sent_lines
from assistant.bench.attached import Attached
from assistant.bench.keeper import Evidence, Keeper
from assistant.bench.other_benches import OtherBenches
from assistant.bench.photographer import Photographer
from assistant.bench.presenter import Presenter, cue_of
from assistant.bench.protocols import Situation
from assistant.bench.session import Clock, JobSession, LobbySession, Session
from assistant.bench.shift import Shift
from assistant.dialogue import decide as deciding
from assistant.dialogue import intents, ledger, timers, wording
from assistant.dialogue import lobby as between
from assistant.dialogue import state as job_state
from assistant.dialogue.effects import (
    BeginJob,
    ChangeVoice,
    PlayNotes,
    SayAgain,
    SetAside,
    SignOnAs,
    TakePicture,
    TakeUpJob,
    TellLastTime,
)
from assistant.dialogue.events import Event
from assistant.dialogue.intents import Intent
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.dialogue.state import State
from assistant.dialogue.turn import Decision, Reply, Tone
from assistant.errors import AssistantError
from assistant.grammar.jsgf import Grammar
from assistant.journal import earlier
from assistant.journal.clock import local_now
from assistant.journal.store import CannotRecord, Journal
from assistant.procedure.model import Procedure
from assistant.recognition.utterance import Utterance, Verdict

_MEASURED = intents.Tightened | intents.Reading | intents.Value | intents.Correction | intents.Sent
"""Whoever says one of these holds a tool and has a number in mind: a timer waits."""


class JobWentOn(AssistantError):
    """The job went on at another bench, or its record was altered: it cannot go on from here."""


@dataclass
class Conversation:
    """What is spoken to at a bench: one job, or with a `shift` one job after another.

    Everything is called in one thread, the bench's own.
    """

    keeper: Keeper
    presenter: Presenter
    clock: Clock = local_now
    technicians: tuple[str, ...] = ()
    """Who may sign on by voice."""
    shift: Shift | None = None
    """Which jobs there are to go to; without one the conversation is over with its job."""
    photographer: Photographer = field(default_factory=Photographer)
    """Takes the pictures that are asked for."""
    practice: bool = False
    """Whether the journal is thrown away afterwards; that is said at the start and at the end."""
    other_benches: OtherBenches | None = None
    """Looks in the shop's database for what they did; None where the shop has none."""
    session: Session = field(init=False)
    """Set when a job is begun or taken up, and when the lobby is entered."""
    _left: bool = False
    """Whether the job was set aside, open."""
    _announced: tuple[Reply, ...] = ()
    """What was announced as due and could not be recorded yet; it is not announced again."""

    # Into a job, and out of it

    def open(
        self,
        procedure: Procedure,
        source: str,
        *,
        file: Path | None = None,
        unit: str | None = None,
        remark: str | None = None,
        follows: int | None = None,
    ) -> None:
        """Begin a job, and speak its first step. `source` is the procedure's text, and `file` is
        where it was read from.

        `follows` is the number of a closed job that this one is a follow-up of: what that left is
        told, and its unit is taken where none is given. Raises AssistantError where the job cannot
        be recorded, and where there is no such closed job; nothing has begun then.
        """
        followed = before = None
        if follows is not None:
            followed, before = earlier.followed(self.journal, follows)
            unit = followed.unit if unit is None else unit
        decision = deciding.open_job(
            procedure,
            source,
            self.clock(),
            file=None if file is None else str(file.absolute()),
            unit=unit,
            remark=remark,
            follows=followed,
            before=before,
            practice=self.practice,
        )
        history = self.keeper.begin(decision.events)
        self._work_on(job_state.replay(procedure, history, self.technicians))
        self.presenter.say(decision.replies)

    def take_up(self, job: int) -> None:
        """Go on with an open job where it stopped, say where that is, and offer a newer revision of
        its procedure.

        Raises AssistantError where its record cannot be read or does not fit together, where it is
        closed, and where that it was taken up cannot be recorded: at the start it is better not to
        begin than to begin on what is not kept.
        """
        history = self.keeper.read(job)
        procedure = procedure_of(history, job)
        state = replay_stored(procedure, history, self.technicians)
        if state.closed:
            raise AssistantError(f"Job {job} is closed. See assistant report {job}.")
        # What the parts desk entered meanwhile is no work at the bench.
        stopped = next(e.at for e in reversed(history) if not ledger.from_desk(e))
        on_offer = self.shift.procedures.values() if self.shift else ()
        found = newer.find(history[0], procedure, on_offer)
        decision = deciding.take_up(state, self.clock(), stopped, found)
        stored, _ = self.keeper.keep(decision.events)
        self._work_on(state, stored)
        self.presenter.say(decision.replies)

    def come_in(self) -> None:
        """Go between jobs, and say what can be done there."""
        lobby = self._enter_lobby()
        self.presenter.say(between.welcome(lobby, self.keeper.by is not None))

    def _work_on(self, state: State, stored: Sequence[Event] = ()) -> None:
        session = JobSession(state, self.clock)
        session.go_on(stored)
        self.session, self._left, self._announced = session, False, ()
        self._look_elsewhere()
        self._show()

    def _look_elsewhere(self) -> None:
        """Begin to look for what other benches did on this unit, so that it is there when asked."""
        if self.other_benches is not None:
            with suppress(AssistantError):  # It is said when somebody asks.
                self.other_benches.begin(earlier.this(self.journal, self.job))

    def _enter_lobby(self) -> between.Lobby:
        if self.shift is None:
            raise ValueError("without a shift there is nothing between jobs")
        self.keeper.leave()
        lobby = self.shift.lobby(self.technicians)
        self.session = LobbySession(lobby)
        self._show()
        return lobby

    # What it is asked by whoever listens for it

    @property
    def journal(self) -> Journal:
        """Where it records."""
        return self.keeper.journal

    @property
    def job(self) -> int:
        """The number of the job that is worked on; 0 between jobs."""
        return self.keeper.job

    @property
    def state(self) -> State:
        """The state of the job that is worked on; LookupError between jobs."""
        if not isinstance(self.session, JobSession):
            raise LookupError("no job is worked on")
        return self.session.state

    @property
    def over(self) -> bool:
        """Whether there is nothing left to listen for. A shift ends with the program."""
        return self.shift is None and self._done

    @property
    def _done(self) -> bool:
        return isinstance(self.session, JobSession) and (self.session.state.closed or self._left)

    @property
    def standing_by(self) -> bool:
        """Whether only "resume" is listened for."""
        return self.session.standing_by

    def grammar(self) -> Grammar:
        """Return what can be said now."""
        return self.session.grammar()

    def means(self, words: Sequence[str]) -> Intent | None:
        """Return what words mean now; None where they mean nothing."""
        return self.session.means(words)

    def at_stake(self, meaning: Intent) -> bool:
        """Return whether both listeners must hear it before it is acted on."""
        return self.session.at_stake(meaning)

    def numeric(self, meaning: Intent) -> bool:
        """Return whether there is a number in it."""
        return self.session.numeric(meaning)

    def fits(self, meaning: Intent) -> bool:
        """Return whether it would be taken without questioning its value."""
        return self.session.fits(meaning)

    def likely(self) -> list[str]:
        """Return the replies to what is likely to be said next, the likeliest first."""
        return self.session.likely()

    # A phrase on its way

    def typed(self, line: str, by: str = "typed") -> None:
        """Act on a line that was typed, or on the phrase of a key (`by` "key")."""
        words = tuple(line.split())
        if not words:
            self.tick()
            return
        meaning = self.session.means_typed(line)
        self.take(Utterance(words, meaning, Verdict.ACCEPTED, None, by))

    def sent(self, by: Attached, line: str | None) -> None:
        """Act on a line that an instrument or a scanner sent; None for one that was cut off.

        What cannot be read is not guessed at: it has to be sent again.
        """
        meaning = None if line is None else sent_lines.meaning(line, by, self._is_ours)
        if meaning is None:
            self.not_taken(line or "", f"what the {by.name} sent cannot be read")
            self.tell(f"What the {by.name} sent cannot be read. Send it again.")
            return
        words = tuple((line or "").split())
        self.take(Utterance(words, meaning, Verdict.ACCEPTED, None, by.kind))

    def _is_ours(self, uid: str) -> bool:
        """Return whether a uid is that of the job that is worked on."""
        return bool(self.job) and self.journal.identity(self.job).uid == uid

    def take(self, utterance: Utterance[Intent]) -> None:
        """Act on one phrase, or leave it, as its verdict says.

        What is doubtful is asked for again. Other talk is left unanswered, unless an answer is
        waited for.
        """
        with self._back_to_the_lobby():
            # Whoever speaks over a reply does not want the rest of it now.
            cut = utterance.accepted and self.presenter.stop()
            self._say_what_is_due(utterance)
            utterance = self.session.in_context(utterance)
            intent = utterance.meaning if utterance.accepted else None
            if intent is None:
                self._not_acted_on(utterance)
            else:
                self._remember_what_was_cut(cut, intent)
                clipped = isinstance(intent, intents.Note) and intent.clipped
                self.presenter.heard("…" if clipped else utterance.text)
                decision = self.session.decide(intent)
                self._carry_out(decision, utterance, intent)
        self._announce_other_jobs()

    def _say_what_is_due(self, utterance: Utterance[Intent]) -> None:
        """Say what has become due before the phrase is answered."""
        if isinstance(self.session, LobbySession):
            self._announce_other_jobs()
        else:
            self._tick_job(utterance.accepted and isinstance(utterance.meaning, _MEASURED))

    def _not_acted_on(self, utterance: Utterance[Intent]) -> None:
        if utterance.confidence is None:
            self.not_taken(utterance.text, "not understood; try: what words")
            return
        self.not_taken(utterance.text, "no command")
        if utterance.verdict is Verdict.DOUBTFUL or self.session.asks:
            number = isinstance(utterance.meaning, _MEASURED)
            again = "Say again, digit by digit, as in one four." if number else "Say again."
            self.presenter.say((Reply(again, Tone.QUESTION),), Cue.QUESTION, remember=False)

    def _remember_what_was_cut(self, cut: bool, intent: Intent) -> None:
        """Keep what "stand by" cut short, over "resume", until it is asked for."""
        if cut and isinstance(intent, intents.StandBy):
            self.presenter.keep_cut(True)
        elif not isinstance(intent, intents.StandBy | intents.Resume | intents.SayAgain):
            self.presenter.keep_cut(False)

    def _carry_out(self, decision: Decision, utterance: Utterance[Intent], intent: Intent) -> None:
        """Keep what was decided, then do and say it; where it cannot be kept, say only that."""
        decision, picture = self._with_picture(decision)
        evidence = keeping.evidence(utterance, intent, decision.events)
        try:
            clip = self._keep(decision, evidence, picture)
        except CannotRecord as error:
            self.not_taken(utterance.text, error.detail)
            self.presenter.say((_refusal(error),), Cue.REFUSED, remember=False)
            return
        transcription = self.keeper.write_down(clip, evidence)
        self._present(decision)
        if transcription is not None:
            try:
                self.keeper.add(transcription, self.clock())
            except CannotRecord as error:
                self.not_taken("", error.detail)

    def _with_picture(self, decision: Decision) -> tuple[Decision, bytes | None]:
        """Take the picture that a decision asks for; return what follows from having it or not.

        Nothing is on disk yet: picture and event are kept together, or neither is.
        """
        asked = next((one for one in decision.effects if isinstance(one, TakePicture)), None)
        if asked is None:
            return decision, None
        shot = self.photographer.take(asked.of)
        if shot.detail:
            self.not_taken("", shot.detail)
        return self.session.decide(shot.intent), shot.jpeg

    def _keep(
        self,
        decision: Decision,
        evidence: Evidence | None = None,
        picture: bytes | None = None,
    ) -> bytes | None:
        """Put the events on disk, and go on to the state that they lead to: in that order.

        Returns the clip that was kept. Raises CannotRecord where nothing was kept and the same may
        be said again, JobWentOn where the job cannot go on from here.
        """
        if not isinstance(self.session, JobSession):
            return None
        try:
            stored, clip = self.keeper.keep(decision.events, evidence, picture)
        except CannotRecord:
            self._show()
            raise
        except AssistantError as error:
            if self._take_in_entries():
                # Between deciding and recording; what was decided did not know of it.
                raise CannotRecord("Nothing was kept. Say it again.", str(error)) from error
            raise JobWentOn(str(error)) from error
        self.session.go_on(stored)
        self._show()
        return clip

    def _present(self, decision: Decision) -> None:
        """Do what a decision asks for, say its replies, and go where it leads: the only place."""
        replies, cue, remember = decision.replies, None, True
        goes: SetAside | TakeUpJob | BeginJob | None = None
        notes: tuple[str | None, ...] = ()
        for effect in decision.effects:
            match effect:
                case SayAgain():
                    # The tone of what is repeated would say that it was recorded once more.
                    replies, cue = self.presenter.again(), Cue.HEARD
                case ChangeVoice(change):
                    replies = (self.presenter.change_voice(change), *replies)
                    remember = False
                case TellLastTime():
                    replies = (*replies, *self._last_time())
                case PlayNotes(clips):
                    notes = clips
                case SignOnAs(name):
                    self.keeper.by = name
                    self._show()
                case SetAside() | TakeUpJob() | BeginJob():
                    goes = effect
        self._left = isinstance(goes, SetAside)
        if self.practice and self._done:
            replies = (*replies, Reply(wording.job.PRACTICE_OVER, Tone.ALERT))
        self.presenter.say(replies, cue or cue_of(replies), remember=remember)
        for clip in notes:
            self._play_note(clip)
        if self.shift is None:
            return
        if self._done:
            self.come_in()
        elif isinstance(goes, TakeUpJob | BeginJob):
            self._go(goes, self.shift)

    def _play_note(self, clip: str | None) -> None:
        """Play a note; where its sound is gone or nobody could hear it, say its transcript."""
        why, text = wording.notes.NO_SOUND, ""
        try:
            made = self.journal.transcripts(self.job).get(clip or "", ())
            text = made[-1].text if made else ""
            flac = self.journal.sound(self.job, clip) if clip else None
            if flac is not None:
                why = wording.notes.NOT_PLAYED
                if self.presenter.play(pcm.read_flac(flac)):
                    return
        except AssistantError as error:
            why = wording.notes.UNREADABLE
            self.not_taken("", str(error))
        replies = (Reply(why), Reply(wording.notes.transcript(text)))
        self.presenter.say(replies, remember=False)

    def _last_time(self) -> tuple[Reply, ...]:
        """Return what earlier jobs found and left, or why that cannot be read."""
        try:
            of = earlier.this(self.journal, self.job)
            here = earlier.look(self.journal, of)
        except AssistantError as error:
            return (Reply(str(error), Tone.REFUSED),)
        shop, away = self.other_benches.found(of) if self.other_benches else (None, False)
        told = wording.last_time.told(earlier.joined(of, here, shop))
        return tuple(map(Reply, [wording.last_time.SHOP_AWAY, *told] if away else told))

    def _go(self, to: TakeUpJob | BeginJob, shift: Shift) -> None:
        """Go on with a job, or begin one; where that cannot be, say why, and stay."""
        try:
            if isinstance(to, TakeUpJob):
                self.take_up(to.job)
            else:
                procedure, text, file = shift.beginning(to.procedure)
                self.open(procedure, text, file=file)
        except AssistantError as error:
            self._enter_lobby()
            self.presenter.say((Reply(str(error), Tone.REFUSED),), Cue.REFUSED)
        else:
            shift.no_longer_watch(self.job)

    @contextmanager
    def _back_to_the_lobby(self) -> Iterator[None]:
        """Say that a job went on elsewhere, and go back between jobs, or end with it."""
        try:
            yield
        except JobWentOn as error:
            # Aloud, since nobody at the bench looks at a screen.
            self.presenter.speaker.say(str(error))
            if self.shift is None:
                raise
            self.not_taken("", str(error))
            self.come_in()

    # What is said unasked

    def tick(self, speaking: bool = False) -> bool:
        """Say what has become due, and what the parts desk has entered.

        Returns whether anything was said. A timer waits a little while somebody is `speaking`, or
        has said a number that is not answered yet.
        """
        spoke = False
        with self._back_to_the_lobby():
            spoke = self._tick_job(speaking)
        return self._announce_other_jobs(speaking) or spoke

    def _tick_job(self, speaking: bool) -> bool:
        """Announce what is due in this job.

        A timer that is up is announced even where it cannot be recorded: once, and it is recorded
        as soon as that can be.
        """
        if not isinstance(self.session, JobSession):
            return False
        entered = self._take_in_entries() and not self.standing_by
        decision = self.session.decide(intents.Tick(speaking))
        if not decision.events:
            return entered
        told = decision.replies == self._announced
        try:
            self._keep(decision)
        except CannotRecord as error:
            if told:
                return entered
            self._announced = decision.replies
            replies = (*decision.replies, _refusal(error))
            self.presenter.say(replies, Cue.TIMER, remember=False)
            return True
        self._announced = ()
        if not told:
            self.presenter.say(decision.replies, Cue.TIMER)
        return entered or not told

    def _take_in_entries(self) -> bool:
        """Go on from what was put into the record meanwhile away from the bench, and say it.

        Returns whether there was anything. Standing by, nothing is said of it.
        """
        if not isinstance(self.session, JobSession):
            return False
        new = self.keeper.entered()
        if not new:
            return False
        self.session.go_on(new)
        self._show()
        if not self.standing_by:
            told = tuple(map(Reply, wording.entered.told(new)))
            self.presenter.say(told, Cue.HEARD, remember=False)
        return True

    def _announce_other_jobs(self, speaking: bool = False) -> bool:
        """Announce what is due in jobs that nobody works on here, but not over a number.

        It is recorded when the job is taken up: that may be worked on elsewhere, and a record that
        grew from here would be refused there.
        """
        if self.shift is None:
            return False
        now = self.clock()
        if isinstance(self.session, JobSession):
            speaking |= timers.about_a_number(self.session.state, now)
        late = timedelta(seconds=timers.MOST_HELD_S if speaking else 0)
        spoke = False
        for job, clock in self.shift.due(now - late):
            text = f"Job {wording.count(job)}. Time. The {clock.name} is up."
            self.presenter.say((Reply(text, Tone.ALERT),), Cue.TIMER, remember=False)
            spoke = True
        return spoke

    def called(self, words: str = "") -> None:
        """Answer the call word said alone; `words` are the call word as heard."""
        if words:
            self.presenter.heard(words)
        answer = Reply(wording.STANDING_BY if self.standing_by else "Listening.")
        self.presenter.say((answer,), Cue.HEARD, remember=False)

    def tell(self, text: str) -> None:
        """Say something about the assistant itself, such as that its microphone is gone."""
        self.presenter.tell(text)

    def not_taken(self, words: str, why: str) -> None:
        """Show a phrase that is not acted on, and why."""
        self.presenter.not_taken(words, why)

    def refresh(self, deaf: bool) -> None:
        """Show whether it can hear, and whether it is speaking; meant to be called often."""
        self.presenter.refresh(deaf)

    def _show(self) -> None:
        state = self.session.state if isinstance(self.session, JobSession) else None
        keeper = self.keeper
        self.presenter.show(Situation(keeper.job, keeper.by, state, keeper.cannot_record))


def _refusal(error: CannotRecord) -> Reply:
    return Reply(str(error), Tone.ALERT)


def still_open(conversation: Conversation) -> str:
    """Return one sentence on where the job was left and how to go on."""
    return (
        f"Job {conversation.job} stays open at step {conversation.state.number}. "
        f"Go on with: assistant resume {conversation.job}"
    )
