"""Timers: several at once, by name, announced when due and never over the top of a number."""

from __future__ import annotations

from datetime import datetime, timedelta
from math import ceil

from assistant.dialogue import clocks, events, facts, intents, outstanding_work, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.telling import ask_pending
from assistant.dialogue.turn import Tone, Turn

BREATH_S = 8
"""A number is said back, and may be corrected, for so long after it was taken."""
MOST_HELD_S = 30
"""No announcement waits longer than this after its time, whatever is being said."""
MOST_AT_ONCE = 9
_UNNAMED = "timer"


def on_start_timer(turn: Turn, intent: intents.StartTimer) -> None:
    """Start a timer, or the wait that the step asks for."""
    wait = next((i for i in turn.outstanding() if isinstance(i, outstanding_work.TimeToPass)), None)
    if wait is not None and not _means(intent.name, wait.purpose):
        wait = None
    seconds = intent.seconds
    if seconds is None:
        if wait is None:
            turn.say(wording.questions.how_long(intent.name), Tone.QUESTION)
            return
        if wait.due is not None:
            on_time_left(turn, intents.TimeLeft(intent.name))
            return
        seconds = wait.seconds
    running = clocks.running_clocks(turn.state)
    if len(running) >= MOST_AT_ONCE:
        turn.say(wording.timers.too_many(len(running)), Tone.REFUSED)
        return
    # A shorter timer is a timer, and does not stand for the time that the step asks for.
    for_wait = wait is not None and wait.due is None and seconds >= wait.seconds
    wanted = wait.purpose if wait is not None and for_wait else intent.name or _UNNAMED
    name = _free(wanted, {clock.name for clock in running})
    turn.record(events.TimerStarted, name=name, seconds=seconds, for_wait=for_wait)
    due = turn.now + timedelta(seconds=seconds)
    beside = None if name == wanted else wanted
    turn.say(wording.timers.started(name, seconds, due, beside), Tone.RECORDED)


def _free(wanted: str, taken: set[str]) -> str:
    """Return the name, numbered from two where a timer of that name is running."""
    numbered = (wording.timers.numbered(wanted, number) for number in range(2, len(taken) + 3))
    return next(name for name in (wanted, *numbered) if name not in taken)


def _means(said: str | None, name: str) -> bool:
    """Whether what was said can mean a timer of this name: "hold" means the pressure hold."""
    return said is None or said == name or said in name.split()


def on_time_left(turn: Turn, intent: intents.TimeLeft) -> None:
    """Say how long each timer has to go, the shortest first, or those of a name."""
    running = _called(clocks.running_clocks(turn.state), intent.name, intent.number)
    if not running:
        turn.say(wording.timers.none_running(intent.name))
    for clock in running:
        turn.say(_left(clock, turn.now))


def _called(
    clocks: tuple[clocks.Clock, ...], name: str | None, number: int | None
) -> tuple[clocks.Clock, ...]:
    """Return the clocks that a name and a number mean; the first of a name has the number one."""
    if number is None:
        return tuple(clock for clock in clocks if _means(name, clock.name))
    numbers = [wording.count(n) for n in range(2, MOST_AT_ONCE + 1)]
    found = []
    for clock in clocks:
        stem, _, last = clock.name.rpartition(" ")
        if last not in numbers:
            stem, last = clock.name, wording.count(1)
        if last == wording.count(number) and _means(name or _UNNAMED, stem):
            found.append(clock)
    return tuple(found)


def _left(clock: clocks.Clock, now: datetime) -> str:
    return wording.timers.left(clock.name, (clock.due - now).total_seconds())


def say_running(turn: Turn) -> None:
    """Say how long each timer has to go."""
    for clock in clocks.running_clocks(turn.state):
        turn.say(_left(clock, turn.now))


def still_running(turn: Turn) -> tuple[facts.TimerRunning, ...]:
    """Return the timers that would be lost if the job were closed now."""
    return tuple(
        facts.TimerRunning(name=clock.name, left=ceil((clock.due - turn.now).total_seconds()))
        for clock in clocks.running_clocks(turn.state)
    )


def on_cancel_timer(turn: Turn, intent: intents.CancelTimer) -> None:
    """Stop the timer that is meant; ask which where several might be."""
    running = clocks.running_clocks(turn.state)
    found = _called(running, intent.name, intent.number)
    found = tuple(clock for clock in found if clock.by_hand) or found
    if intent.name is None and intent.number is None:
        # "Cancel timer" means the one that was started without a name, if there is one.
        found = tuple(clock for clock in found if _means(_UNNAMED, clock.name)) or found
    if not found:
        turn.say(wording.timers.none_such(clock.name for clock in running), Tone.REFUSED)
        return
    if len(found) > 1:
        turn.say(wording.timers.which(clock.name for clock in found), Tone.QUESTION)
        return
    (clock,) = found
    if not clock.by_hand:
        turn.say(wording.timers.runs_by_itself(clock.name), Tone.REFUSED)
        return
    turn.record(events.TimerCancelled, name=clock.name, started_turn=clock.turn, step=clock.step)
    turn.say(wording.timers.cancelled(clock.name), Tone.RECORDED)


def on_tick(turn: Turn, intent: intents.Tick) -> None:
    """Announce each timer that has become due, once.

    Not over the top of a number: while a value is in question, or one was taken a breath ago, or
    somebody is speaking, it waits, but never longer than `MOST_HELD_S` after its time.
    """
    held = intent.speaking or about_a_number(turn.state, turn.now)
    late = timedelta(seconds=MOST_HELD_S if held else 0)
    due = [c for c in clocks.running_clocks(turn.state) if c.due + late <= turn.now]
    for clock in due:
        _ring(turn, clock)
        turn.say(wording.timers.up(clock.name), Tone.ALERT)
    if due and turn.state.pending is not None and not turn.state.standing_by:
        ask_pending(turn, None)


def _ring(turn: Turn, clock: clocks.Clock) -> None:
    turn.record(events.TimerRang, name=clock.name, started_turn=clock.turn, step=clock.step)


def about_a_number(state: job_state.State, now: datetime) -> bool:
    """Return whether a value is in question, or was taken a breath ago."""
    if state.mode is job_state.Mode.QUESTIONING:
        return True
    numbers = (events.TorqueRecorded, events.ReadingRecorded)
    last = next((e for e in reversed(state.history) if isinstance(e, numbers)), None)
    # Never held by a clock that was put back meanwhile.
    return last is not None and timedelta() <= now - last.at < timedelta(seconds=BREATH_S)


def tell_missed(turn: Turn) -> None:
    """Announce what became due while the program was off, with how long ago that was."""
    for clock in clocks.running_clocks(turn.state):
        if clock.due <= turn.now:
            ago = (turn.now - clock.due).total_seconds()
            _ring(turn, clock)
            turn.say(wording.timers.was_up(clock.name, ago), Tone.ALERT)
