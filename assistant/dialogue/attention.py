"""Standing by, who is at the bench, and what is said at the wrong moment."""

from __future__ import annotations

from assistant.dialogue import events, intents, wording
from assistant.dialogue.effects import ChangeVoice, SetAside
from assistant.dialogue.telling import ask_pending, on_where
from assistant.dialogue.timers import say_running
from assistant.dialogue.turn import Tone, Turn


def on_stand_by(turn: Turn, intent: intents.StandBy) -> None:
    """Stop listening until "resume"."""
    turn.record(events.StoodBy)
    turn.say(wording.attention.STANDING_BY)


def on_resume(turn: Turn, intent: intents.Resume) -> None:
    """Listen again, and say where the work stands."""
    turn.record(events.Resumed)
    turn.say(wording.attention.LISTENING)
    if turn.state.pending is not None:
        ask_pending(turn, None)
    else:
        on_where(turn, intents.WhereAreWe())


def on_speak(turn: Turn, intent: intents.Speak) -> None:
    """Change the voice, and ask an open question again in it, for it may have been missed."""
    turn.ask_for(ChangeVoice(intent.change))
    if turn.state.pending is not None:
        ask_pending(turn, None)


def on_sign_on(turn: Turn, intent: intents.SignOn) -> None:
    """Record who is at the bench: what is recorded from here on is theirs."""
    turn.record(events.SignedOn, name=intent.name)
    turn.say(wording.attention.signed_on(intent.name), Tone.RECORDED)
    if turn.state.pending is not None:
        ask_pending(turn, None)


def on_who_is_here(turn: Turn, intent: intents.WhoIsHere) -> None:
    """Say who is signed on."""
    turn.say(wording.attention.at_the_bench(turn.state.technician, bool(turn.state.technicians)))


def on_leave(turn: Turn, intent: intents.LeaveJob) -> None:
    """Set the job aside, still open, and say which timers go on running."""
    turn.ask_for(SetAside())
    turn.say(wording.attention.SET_ASIDE)
    say_running(turn)


def on_listening(turn: Turn, intent: intents.Intent) -> None:
    """Say that the assistant is listening already."""
    turn.say(wording.attention.ALREADY_LISTENING)


def on_silence(turn: Turn, intent: intents.Intent) -> None:
    """Do nothing and say nothing."""


def on_nothing_to_repeat(turn: Turn, intent: intents.Intent) -> None:
    """Say how a further reading is given."""
    turn.say(wording.refusals.SAY_THE_READING, Tone.REFUSED)


def on_plain_word(turn: Turn, intent: intents.PlainWord) -> None:
    """Say which word to use instead."""
    turn.say(wording.refusals.say_instead(intent.word), Tone.REFUSED)


def on_closed(turn: Turn, intent: intents.Intent) -> None:
    """Say that the job is closed."""
    turn.say(wording.refusals.JOB_CLOSED, Tone.REFUSED)


def on_bare_value(turn: Turn, intent: intents.Value) -> None:
    """Ask what a bare number is."""
    turn.say(wording.refusals.BARE_NUMBER, Tone.REFUSED)


def on_not_asked(turn: Turn, intent: intents.Intent) -> None:
    """Say that no reason was asked for."""
    turn.say(wording.refusals.NO_REASON_ASKED, Tone.REFUSED)
