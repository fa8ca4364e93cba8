"""The conversation between jobs: which are open, going on with one, beginning another.

As pure as the session of a job: `decide(lobby, intent)` gives the next state, and a decision with
what to say and what the bench has to do. There are no events, since nothing is recorded here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from assistant.dialogue import intents, wording
from assistant.dialogue.effects import BeginJob, ChangeVoice, Effect, SayAgain, SignOnAs, TakeUpJob
from assistant.dialogue.turn import Decision, Reply, Tone

TOLD_AT_ONCE = 3
"""How much of a list is read out; nobody keeps more of it in their ear."""

UNWRITTEN = "unwritten"
"""What is said in place of a procedure's name to begin a job that has none."""


@dataclass(frozen=True)
class OpenJob:
    """A job that can be taken up."""

    number: int
    about: str
    """Which one it is, as it is said: title and unit."""
    place: str = ""
    """Where it stands, as it is said; empty for jobs that are not read out."""


@dataclass(frozen=True)
class Lobby:
    """The state between jobs. Treat it as a value."""

    jobs: tuple[OpenJob, ...] = ()
    """The open jobs, the latest first."""
    procedures: tuple[tuple[str, ...], ...] = ()
    """The names of each procedure; jobs are begun of it, and it is said, by the first."""
    technicians: tuple[str, ...] = ()
    choosing: bool = False
    """Whether it was asked which procedure."""
    chosen: str | None = None
    """The procedure whose new job waits to be affirmed, by its first name, or `UNWRITTEN`."""
    standing_by: bool = False

    @property
    def asks(self) -> bool:
        """Whether something is asked: which procedure, or to affirm one."""
        return self.choosing or self.chosen is not None


@dataclass(frozen=True)
class WhichJobs(intents.Intent):
    """Say which jobs are open."""


@dataclass(frozen=True)
class TakeUp(intents.Intent):
    """Go on with the open job of this number."""

    number: int


@dataclass(frozen=True)
class NewJob(intents.Intent):
    """Begin a job of a procedure, given by its first name, or of none (`UNWRITTEN`); None to be
    asked which.
    """

    procedure: str | None = None


@dataclass(frozen=True)
class Procedure(intents.Intent):
    """Which procedure, in answer to that question."""

    name: str


def welcome(lobby: Lobby, signed_on: bool) -> tuple[Reply, ...]:
    """Return what is said when the lobby is entered."""
    number = len(lobby.jobs)
    jobs = f"{wording.several(number, 'job').capitalize()} {'is' if number == 1 else 'are'} open."
    replies = [Reply(jobs if number else "No job is open."), Reply(_help(lobby))]
    if lobby.technicians and not signed_on:
        replies.append(Reply("Who is at the bench? Say this is, and your name.", Tone.QUESTION))
    return tuple(replies)


def decide(lobby: Lobby, intent: intents.Intent) -> tuple[Lobby, Decision]:
    """Return the next state, and what follows; an intent that means nothing here is refused."""
    if lobby.standing_by:
        if isinstance(intent, intents.Resume):
            lobby = replace(lobby, standing_by=False)
            return _ask(lobby, Reply("Listening."))
        return lobby, Decision()
    match intent:
        case intents.SayAgain():
            return _does(lobby, SayAgain())
        case intents.Help():
            return _says(lobby, _help(lobby))
        case intents.PlainWord():
            return _says(lobby, wording.refusals.say_instead(intent.word), Tone.REFUSED)
        case intents.Speak():
            return _ask(lobby, effect=ChangeVoice(intent.change))
        case intents.SignOn():
            told = Reply(f"{intent.name} at the bench.", Tone.RECORDED)
            return _ask(lobby, told, effect=SignOnAs(intent.name))
        case intents.StandBy():
            return _says(replace(lobby, standing_by=True), wording.STANDING_BY)
        case WhichJobs():
            return _ask(lobby, *_jobs(lobby))
        case intents.Affirm() if lobby.chosen is not None:
            return _does(replace(lobby, choosing=False, chosen=None), BeginJob(lobby.chosen))
        case intents.Negative() | intents.Disregard() if lobby.asks:
            return _says(replace(lobby, choosing=False, chosen=None), "No new job.")
        case Procedure() if lobby.asks:
            return _to_affirm(lobby, intent.name)
        case NewJob():
            return _new_job(lobby, intent.procedure)
        case _ if lobby.asks:
            # As in a job: what is asked is answered first.
            return _ask(lobby)
        case intents.Resume() if lobby.jobs:
            return _does(lobby, TakeUpJob(lobby.jobs[0].number))
        case TakeUp() if any(job.number == intent.number for job in lobby.jobs):
            return _does(lobby, TakeUpJob(intent.number))
        case TakeUp():
            return _says(lobby, f"Job {wording.count(intent.number)} is not open.", Tone.REFUSED)
        case intents.Resume():
            return _says(lobby, "No job is open. Say new job.", Tone.REFUSED)
        case _:
            return _says(lobby, _help(lobby), Tone.REFUSED)


def _says(lobby: Lobby, text: str, tone: Tone = Tone.INFORM) -> tuple[Lobby, Decision]:
    return lobby, Decision(replies=(Reply(text, tone),))


def _does(lobby: Lobby, effect: Effect) -> tuple[Lobby, Decision]:
    return lobby, Decision(effects=(effect,))


def _ask(lobby: Lobby, *first: Reply, effect: Effect | None = None) -> tuple[Lobby, Decision]:
    """Say something, and ask again what is waited for, if anything is."""
    effects = () if effect is None else (effect,)
    return lobby, Decision(replies=(*first, *_asked(lobby)), effects=effects)


def _help(lobby: Lobby) -> str:
    if lobby.chosen is not None:
        return "Say affirm or negative."
    if lobby.choosing:
        return "Say the name of a procedure, or disregard."
    if not lobby.jobs:
        return "Say new job."
    return "Say what jobs are open, open job and its number, resume for the latest, or new job."


def _jobs(lobby: Lobby) -> tuple[Reply, ...]:
    if not lobby.jobs:
        return (Reply("No job is open. Say new job."),)
    told = []
    for job in lobby.jobs[:TOLD_AT_ONCE]:
        parts = (f"job {wording.count(job.number)}", job.about, job.place)
        told.append(wording.sentence(", ".join(part for part in parts if part)))
    more = len(lobby.jobs) - TOLD_AT_ONCE
    if more > 0:
        told.append(f"And {wording.count(more)} more.")
    return tuple(Reply(text) for text in told)


def _new_job(lobby: Lobby, name: str | None) -> tuple[Lobby, Decision]:
    if not lobby.procedures and name != UNWRITTEN:
        return _says(lobby, "There is no procedure to begin a job of.", Tone.REFUSED)
    if name is None and len(lobby.procedures) == 1:
        name = lobby.procedures[0][0]
    if name is not None:
        return _to_affirm(lobby, name)
    return _ask(replace(lobby, choosing=True, chosen=None))


def _to_affirm(lobby: Lobby, name: str) -> tuple[Lobby, Decision]:
    return _ask(replace(lobby, choosing=False, chosen=name))


def _asked(lobby: Lobby) -> tuple[Reply, ...]:
    """Return the question that waits for its answer, if one does."""
    if lobby.chosen is not None:
        return (Reply(wording.sentence(f"new job, {lobby.chosen}. Affirm?"), Tone.QUESTION),)
    if not lobby.choosing:
        return ()
    names = [names[0] for names in lobby.procedures]
    more = len(names) - TOLD_AT_ONCE
    if more > 0:
        names = [*names[:TOLD_AT_ONCE], f"{wording.count(more)} more"]
    return (Reply(f"Which procedure? {wording.sentence(wording.listing(names))}", Tone.QUESTION),)
