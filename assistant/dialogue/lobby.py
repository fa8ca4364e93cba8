"""Between jobs: which are open, taking one up, beginning another. Pure, as the session is.

`decide(lobby, intent)` gives the next state, what to say, and where to go.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from assistant.audio.manner import Change
from assistant.dialogue import intents, wording
from assistant.dialogue.turn import Reply, Tone

TOLD_AT_ONCE = 3
"""Nobody keeps more of a list in their ear."""


@dataclass(frozen=True)
class OpenJob:
    """A job that can be taken up."""

    number: int
    about: str
    """Which one it is, as it is said: title and unit."""
    place: str = ""
    """Where it stands, as it is said; only for those that are told."""


@dataclass(frozen=True)
class Lobby:
    """The state between jobs. Treat it as a value."""

    jobs: tuple[OpenJob, ...] = ()
    """The open jobs, the latest first."""
    procedures: tuple[tuple[str, ...], ...] = ()
    """What each procedure is called, the name that is said first."""
    technicians: tuple[str, ...] = ()
    choosing: bool = False
    """Whether a procedure is asked for."""
    chosen: str | None = None
    """The procedure of which a new job is to be affirmed, by its first name."""
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
    """Begin a job, of a procedure called by its first name; None: ask which."""

    procedure: str | None = None


@dataclass(frozen=True)
class Procedure(intents.Intent):
    """Which procedure, in answer to that question."""

    name: str


@dataclass(frozen=True)
class Outcome:
    """What follows from an intent."""

    lobby: Lobby
    replies: tuple[Reply, ...] = ()
    take_up: int | None = None
    """The job to go on with."""
    begin: str | None = None
    """The procedure to begin a job of, by its first name."""
    say_again: bool = False
    voice: Change | None = None
    signed_on: str | None = None


def welcome(lobby: Lobby, signed_on: bool) -> tuple[Reply, ...]:
    """Return what is said on coming in."""
    number = len(lobby.jobs)
    jobs = f"{wording.several(number, 'job').capitalize()} {'is' if number == 1 else 'are'} open."
    replies = [Reply(jobs if number else "No job is open."), Reply(_help(lobby))]
    if lobby.technicians and not signed_on:
        replies.append(Reply("Who is at the bench? Say this is, and your name.", Tone.QUESTION))
    return tuple(replies)


def decide(lobby: Lobby, intent: intents.Intent) -> Outcome:
    """Decide what an intent leads to; one that means nothing here leads to nothing."""
    if lobby.standing_by:
        if isinstance(intent, intents.Resume):
            lobby = replace(lobby, standing_by=False)
            return Outcome(lobby, (Reply("Listening."), *_asked(lobby)))
        return Outcome(lobby)
    match intent:
        case intents.SayAgain():
            return Outcome(lobby, say_again=True)
        case intents.Help():
            return _says(lobby, _help(lobby))
        case intents.Speak():
            return Outcome(lobby, _asked(lobby), voice=intent.change)
        case intents.SignOn():
            told = Reply(f"{intent.name} at the bench.", Tone.RECORDED)
            return Outcome(lobby, (told, *_asked(lobby)), signed_on=intent.name)
        case intents.StandBy():
            return _says(replace(lobby, standing_by=True), wording.STANDING_BY)
        case WhichJobs():
            return Outcome(lobby, (*_jobs(lobby), *_asked(lobby)))
        case intents.Affirm() if lobby.chosen is not None:
            return Outcome(replace(lobby, choosing=False, chosen=None), begin=lobby.chosen)
        case intents.Negative() | intents.Disregard() if lobby.asks:
            return _says(replace(lobby, choosing=False, chosen=None), "No new job.")
        case Procedure() if lobby.asks:
            return _to_affirm(lobby, intent.name)
        case NewJob():
            return _new_job(lobby, intent.procedure)
        case _ if lobby.asks:
            # As in a job: what is asked is answered first.
            return Outcome(lobby, _asked(lobby))
        case intents.Resume() if lobby.jobs:
            return Outcome(lobby, take_up=lobby.jobs[0].number)
        case TakeUp() if any(job.number == intent.number for job in lobby.jobs):
            return Outcome(lobby, take_up=intent.number)
        case TakeUp():
            return _says(lobby, f"Job {wording.count(intent.number)} is not open.", Tone.REFUSED)
        case intents.Resume():
            return _says(lobby, "No job is open. Say new job.", Tone.REFUSED)
        case _:
            return _says(lobby, _help(lobby), Tone.REFUSED)


def _says(lobby: Lobby, text: str, tone: Tone = Tone.INFORM) -> Outcome:
    return Outcome(lobby, (Reply(text, tone),))


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


def _new_job(lobby: Lobby, name: str | None) -> Outcome:
    if not lobby.procedures:
        return _says(lobby, "There is no procedure to begin a job of.", Tone.REFUSED)
    if name is None and len(lobby.procedures) == 1:
        name = lobby.procedures[0][0]
    if name is not None:
        return _to_affirm(lobby, name)
    lobby = replace(lobby, choosing=True, chosen=None)
    return Outcome(lobby, _asked(lobby))


def _to_affirm(lobby: Lobby, name: str) -> Outcome:
    lobby = replace(lobby, choosing=False, chosen=name)
    return Outcome(lobby, _asked(lobby))


def _asked(lobby: Lobby) -> tuple[Reply, ...]:
    """Ask again what is waited for, if anything is."""
    if lobby.chosen is not None:
        return (Reply(wording.sentence(f"new job, {lobby.chosen}. Affirm?"), Tone.QUESTION),)
    if not lobby.choosing:
        return ()
    names = [names[0] for names in lobby.procedures]
    more = len(names) - TOLD_AT_ONCE
    if more > 0:
        names = [*names[:TOLD_AT_ONCE], f"{wording.count(more)} more"]
    return (Reply(f"Which procedure? {wording.sentence(wording.listing(names))}", Tone.QUESTION),)
