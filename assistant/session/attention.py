"""Standing by, and what is said at the wrong moment."""

from __future__ import annotations

from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session.telling import ask_pending, on_where
from assistant.session.turn import Tone, Turn


def on_stand_by(turn: Turn, intent: it.StandBy) -> None:
    """Stop listening until resume."""
    turn.record(ev.StoodBy)
    turn.say("Standing by. Say resume.")


def on_resume(turn: Turn, intent: it.Resume) -> None:
    """Listen again, and say where the work stands."""
    turn.record(ev.Resumed)
    turn.say("Listening.")
    if turn.state.pending is not None:
        ask_pending(turn, None)
    else:
        on_where(turn, it.WhereAreWe())


def on_listening(turn: Turn, intent: it.Intent) -> None:
    """Say that nobody is standing by."""
    turn.say("I am listening.")


def on_silence(turn: Turn, intent: it.Intent) -> None:
    """Do nothing and say nothing."""


def on_closed(turn: Turn, intent: it.Intent) -> None:
    """Say that the job is closed."""
    turn.say("This job is closed.", Tone.REFUSED)


def on_bare_value(turn: Turn, intent: it.Value) -> None:
    """Ask what a bare number is."""
    turn.say("Say tightened or reading before the number.", Tone.REFUSED)


def on_not_asked(turn: Turn, intent: it.Intent) -> None:
    """Say that no reason was asked for."""
    turn.say("I asked for no reason. Say skip step to skip it.", Tone.REFUSED)
