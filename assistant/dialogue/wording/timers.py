"""Timers: started, told, cancelled, and up."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from assistant.dialogue.wording.quantities import clock, count, duration, listing, sentence


def numbered(name: str, number: int) -> str:
    """Word a timer beside which one of its name runs: "cure two"."""
    return f"{name} {count(number)}"


def started(name: str, seconds: int, due: datetime, beside: str | None = None) -> str:
    """Word a timer that was started; `beside` is the name that another one runs by."""
    also = f" beside {beside}" if beside else ""
    days = (due.date() - (due - timedelta(seconds=seconds)).date()).days
    day = {0: "", 1: "tomorrow "}.get(days, f"in {count(days)} days ")
    return sentence(f"{name}, {duration(seconds)}, started{also}. Due {day}at {clock(due)}")


def left(name: str, seconds: float) -> str:
    """Word how long a timer has to go."""
    return sentence(f"{name}, {duration(seconds)} left" if seconds > 0 else f"{name} is up")


def none_running(name: str | None) -> str:
    """Word that no timer of that name runs."""
    return f"No {f'{name} timer' if name else 'timer'} is running."


def too_many(number: int) -> str:
    """Refuse one more timer."""
    return sentence(f"{count(number)} timers are running. Cancel one first")


def none_such(running: Iterable[str]) -> str:
    """Refuse to cancel a timer that there is not."""
    return sentence(f"no such timer. Running: {listing(running) or 'none'}")


def which(names: Iterable[str]) -> str:
    """Ask which timer to cancel."""
    return sentence(f"{listing(names)} are running. Say cancel, its name, timer, and its number")


def runs_by_itself(name: str) -> str:
    """Refuse to cancel a wait that the joint itself began."""
    return sentence(f"the {name} runs since the joint was tightened, and goes on")


def cancelled(name: str) -> str:
    """Word a timer that was cancelled."""
    return sentence(f"{name} cancelled")


def up(name: str) -> str:
    """Announce a timer that is due."""
    return sentence(f"time. The {name} is up")


def was_up(name: str, seconds: float) -> str:
    """Announce a timer that was due while the program was off."""
    return sentence(f"time. The {name} was up {duration(seconds)} ago")
