"""Timers: several at once, by name, announced when due and never over the top of a number."""

from __future__ import annotations

from datetime import datetime, timedelta

from assistant.dialogue import events, intents, wording
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
    wait = next((i for i in turn.outstanding() if isinstance(i, job_state.TimeToPass)), None)
    if wait is not None and not _means(intent.name, wait.purpose):
        wait = None
    seconds = intent.seconds
    if seconds is None:
        if wait is None:
            named = f"{intent.name} timer" if intent.name else "timer"
            turn.say(f"For how long? Say start {named} ten minutes.", Tone.QUESTION)
            return
        if wait.due is not None:
            on_time_left(turn, intents.TimeLeft(intent.name))
            return
        seconds = wait.seconds
    running = job_state.running_clocks(turn.state)
    if len(running) >= MOST_AT_ONCE:
        number = wording.count(len(running))
        turn.say(f"{number.capitalize()} timers are running. Cancel one first.", Tone.REFUSED)
        return
    # A shorter timer is a timer, and does not stand for the time that the step asks for.
    for_wait = wait is not None and wait.due is None and seconds >= wait.seconds
    wanted = wait.purpose if wait is not None and for_wait else intent.name or _UNNAMED
    name = _free(wanted, {clock.name for clock in running})
    turn.record(events.TimerStarted, name=name, seconds=seconds, for_wait=for_wait)
    beside = "" if name == wanted else f" beside {wanted}"
    due = _clock(turn.now + timedelta(seconds=seconds))
    turn.say(
        wording.sentence(f"{name}, {wording.duration(seconds)}, started{beside}. Due at {due}"),
        Tone.RECORDED,
    )


def _free(wanted: str, taken: set[str]) -> str:
    """Return the name, numbered from two where a timer of that name is running."""
    numbered = (f"{wanted} {wording.count(number)}" for number in range(2, len(taken) + 3))
    return next(name for name in (wanted, *numbered) if name not in taken)


def _means(said: str | None, name: str) -> bool:
    """Whether what was said can mean a timer of this name: "hold" means the pressure hold."""
    return said is None or said == name or said in name.split()


def _clock(at: datetime) -> str:
    minutes = (
        f"{wording.digits(at.minute)}" if at.minute > 9 else f"zero {wording.digits(at.minute)}"
    )
    hours = wording.digits(at.hour) if at.hour > 9 else f"zero {wording.digits(at.hour)}"
    return f"{hours} {minutes}"


def on_time_left(turn: Turn, intent: intents.TimeLeft) -> None:
    """Say how long each timer has to go, the shortest first, or those of a name."""
    running = _called(job_state.running_clocks(turn.state), intent.name, intent.number)
    if not running:
        named = f"{intent.name} timer" if intent.name else "timer"
        turn.say(f"No {named} is running.")
    for clock in running:
        turn.say(wording.sentence(_left(clock, turn.now)))


def _called(
    clocks: tuple[job_state.Clock, ...], name: str | None, number: int | None
) -> tuple[job_state.Clock, ...]:
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


def _left(clock: job_state.Clock, now: datetime) -> str:
    left = (clock.due - now).total_seconds()
    return f"{clock.name}, {wording.duration(left)} left" if left > 0 else f"{clock.name} is up"


def still_running(turn: Turn) -> list[str]:
    """Word the timers that would be lost if the job were closed now."""
    return [_left(clock, turn.now) for clock in job_state.running_clocks(turn.state)]


def on_cancel_timer(turn: Turn, intent: intents.CancelTimer) -> None:
    """Stop the timer that is meant; ask which where several might be."""
    running = job_state.running_clocks(turn.state)
    found = _called(running, intent.name, intent.number)
    found = tuple(clock for clock in found if clock.by_hand) or found
    if intent.name is None and intent.number is None:
        # "Cancel timer" means the one that was started without a name, if there is one.
        found = tuple(clock for clock in found if _means(_UNNAMED, clock.name)) or found
    if not found:
        told = wording.listing(clock.name for clock in running) or "none"
        turn.say(wording.sentence(f"No such timer. Running: {told}"), Tone.REFUSED)
        return
    if len(found) > 1:
        names = wording.listing(clock.name for clock in found)
        turn.say(
            wording.sentence(f"{names} are running. Say cancel, its name, timer, and its number"),
            Tone.QUESTION,
        )
        return
    (clock,) = found
    if not clock.by_hand:
        turn.say(
            wording.sentence(f"The {clock.name} runs since the joint was tightened, and goes on"),
            Tone.REFUSED,
        )
        return
    turn.record(events.TimerCancelled, name=clock.name, started_turn=clock.turn, step=clock.step)
    turn.say(wording.sentence(f"{clock.name} cancelled"), Tone.RECORDED)


def on_tick(turn: Turn, intent: intents.Tick) -> None:
    """Announce each timer that has become due, once.

    Not over the top of a number: while a value is in question, or one was taken a breath ago, or
    somebody is speaking, it waits, but never longer than `MOST_HELD_S` after its time.
    """
    held = intent.speaking or about_a_number(turn.state, turn.now)
    late = timedelta(seconds=MOST_HELD_S if held else 0)
    due = [c for c in job_state.running_clocks(turn.state) if c.due + late <= turn.now]
    for clock in due:
        _ring(turn, clock)
        turn.say(wording.sentence(f"Time. The {clock.name} is up"), Tone.ALERT)
    if due and turn.state.pending is not None and not turn.state.standing_by:
        ask_pending(turn, None)


def _ring(turn: Turn, clock: job_state.Clock) -> None:
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
    for clock in job_state.running_clocks(turn.state):
        if clock.due <= turn.now:
            ago = wording.duration((turn.now - clock.due).total_seconds())
            _ring(turn, clock)
            turn.say(wording.sentence(f"Time. The {clock.name} was up {ago} ago"), Tone.ALERT)
