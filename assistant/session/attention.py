"""Timers, standing by, and what is said at the wrong moment."""

from __future__ import annotations

from datetime import datetime, timedelta

from assistant.language import wording as say
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import state as st
from assistant.session.telling import ask_pending, on_where
from assistant.session.turn import Tone, Turn


def on_start_timer(turn: Turn, intent: it.StartTimer) -> None:
    """Start a timer, or the wait that the step asks for."""
    wait = next((i for i in turn.outstanding() if isinstance(i, st.TimeToPass)), None)
    for_wait = wait is not None and wait.due is None
    if intent.seconds is None:
        if wait is None:
            turn.say("For how long? Say start timer ten minutes.", Tone.QUESTION)
            return
        if wait.due is not None:
            on_time_left(turn, it.TimeLeft())
            return
        seconds = wait.seconds
    else:
        seconds = intent.seconds
        # A shorter timer is a timer, and does not stand for the time that the step asks for.
        for_wait = for_wait and wait is not None and seconds >= wait.seconds
    name = wait.purpose if wait is not None and for_wait else "timer"
    event = turn.record(ev.TimerStarted, name=name, seconds=seconds, for_wait=for_wait)
    due = turn.now + timedelta(seconds=seconds)
    turn.say(
        say.sentence(f"{name}, {say.duration(event.seconds)}, started. Due at {_clock(due)}"),
        Tone.RECORDED,
    )


def _clock(at: datetime) -> str:
    minutes = f"{say.digits(at.minute)}" if at.minute > 9 else f"zero {say.digits(at.minute)}"
    hours = say.digits(at.hour) if at.hour > 9 else f"zero {say.digits(at.hour)}"
    return f"{hours} {minutes}"


def on_time_left(turn: Turn, intent: it.TimeLeft) -> None:
    """Say how long each timer has to go."""
    running = st.running_clocks(turn.state)
    if not running:
        turn.say("No timer is running.")
    for clock in running:
        left = (clock.due - turn.now).total_seconds()
        turn.say(
            say.sentence(
                f"{clock.name}, {say.duration(left)} left" if left > 0 else f"{clock.name} is up"
            )
        )


def on_tick(turn: Turn, intent: it.Tick) -> None:
    """Announce each timer that has become due, once."""
    for clock in st.running_clocks(turn.state):
        if clock.due <= turn.now:
            turn.record(ev.TimerRang, name=clock.name, started_turn=clock.turn, step=clock.step)
            turn.say(say.sentence(f"Time. The {clock.name} is up"), Tone.ALERT)


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
