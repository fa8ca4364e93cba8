"""The second check: somebody other than who did a step has looked at it and says so.

A step of which the procedure asks that (`second_check: true`) is not done until then. Who did it is
who recorded its work. Where a step has nothing to record, whoever says "step done" first says that
the work is theirs (`ReadyForCheck`); the check comes after that.

The check holds for what it was made of. Work that is recorded at the step afterwards, or put right,
voids it, and so does opening the step again; a step that was done already is open again then (the
fold in `state`).
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import events, intents, outstanding_work, wording
from assistant.dialogue.state import State
from assistant.dialogue.telling import say_outstanding, say_what_next
from assistant.dialogue.turn import Tone, Turn


def on_second_check(turn: Turn, intent: intents.SecondCheck) -> None:
    """Record that whoever is signed on has checked the step, where somebody else did it."""
    state, number = turn.state, turn.state.number
    if not state.step.second_check:
        turn.say(wording.second_check.not_asked(number), Tone.REFUSED)
        return
    made = outstanding_work.second_check(state, state.step)
    if made is not None:
        turn.say(wording.second_check.made_already(made.by), Tone.REFUSED)
        return
    before = [
        item
        for item in turn.outstanding()
        # A joint can be looked at while its thread-locker cures.
        if not isinstance(item, outstanding_work.SecondCheckToMake | outstanding_work.TimeToPass)
    ]
    if before:
        say_outstanding(turn, tuple(before))
        return
    refusal = _refusal(state, did(state))
    if refusal is not None:
        turn.say(refusal, Tone.REFUSED)
        return
    event = turn.record(events.SecondChecked, done_by=_names(did(state)))
    turn.say(wording.second_check.made(state.technician or "", event.done_by), Tone.RECORDED)
    say_what_next(turn)


def _refusal(state: State, doers: Sequence[str | None]) -> str | None:
    """Return why whoever is signed on cannot make the check; None where they can."""
    here, by_voice = state.technician, bool(state.technicians)
    if not doers:
        return wording.second_check.SAY_DONE_FIRST
    if None in doers:
        return wording.second_check.nobody_named(state.number)
    if here is None:
        return wording.second_check.sign_on(by_voice)
    if _same(here) in {_same(name) for name in _names(doers)}:
        return wording.second_check.same_person(here, by_voice)
    return None


def did(state: State) -> tuple[str | None, ...]:
    """Return who did the present step as it was opened last; None for nobody who was signed on."""
    return tuple(dict.fromkeys(e.by for e in outstanding_work.done_here(state, state.step)))


def _names(doers: Sequence[str | None]) -> tuple[str, ...]:
    return tuple(name for name in doers if name is not None)


def _same(name: str) -> str:
    """Return what is compared of a name: one may be typed and the other said."""
    return " ".join(name.casefold().split())


def claim(turn: Turn, items: Sequence[outstanding_work.Outstanding]) -> None:
    """Record whose work a step is, of which only the check is outstanding and that records none."""
    waits = all(isinstance(item, outstanding_work.SecondCheckToMake) for item in items)
    if waits and items and not did(turn.state):
        turn.record(events.ReadyForCheck)


def say_void(turn: Turn, before: State) -> None:
    """Say which checks no longer hold, because of what has just been recorded."""
    for step in before.procedure.steps:
        if (
            outstanding_work.second_check(before, step) is not None
            and outstanding_work.second_check(turn.state, step) is None
            and turn.state.of_step(events.SecondChecked, step.id)
        ):
            number = turn.state.procedure.number(step.id)
            turn.say(wording.second_check.void(number), Tone.ALERT)
