"""Tells what follows from what was just said: results that are new, that changed, or that fail.

What follows is worked out in `results`, anew each time. Here it is compared with what followed
before the turn, so that whatever changes it, a reading or a correction or a withdrawal, what
changed is said and kept as evidence.
"""

from __future__ import annotations

from assistant.dialogue import nonconformities, results, wording
from assistant.dialogue.turn import Tone, Turn


def tell_changes(turn: Turn) -> None:
    """Say and record what follows otherwise than when it was last told."""
    before = {results.key(each): each for each in turn.told.followed}
    now = {results.key(each): each for each in turn.state.results.followed}
    new = [each for key, each in now.items() if before.get(key) != each]
    for each in new:
        _tell(turn, each, before.get(results.key(each)))
    for key in before:
        if key not in now:
            kind, _, name = key
            turn.say(wording.failures.open_again(kind, name), Tone.ALERT)
    turn.told = turn.state.results
    _tell_failures(turn)


def _tell(turn: Turn, now: results.Followed, before: results.Followed | None) -> None:
    event = results.as_event(now, turn.now, turn.number)
    if event is None:
        assert isinstance(now, results.CannotWorkOut)
        turn.say(wording.refusals.cannot_work_out(now.name, now.why), Tone.REFUSED)
        return
    was = results.as_event(before, turn.now, turn.number) if before else None
    turn.add(event)
    turn.say(wording.changes.result(event, was), Tone.ALERT if _stands_out(now) else Tone.INFORM)


def _stands_out(of: results.Followed) -> bool:
    match of:
        case results.WorkedOut():
            return of.within is False or of.too_close
        case results.PartChosen():
            return of.part is None or of.unsure is not None or of.failed
        case results.CannotWorkOut():
            return True
        case _:
            return not of.within


def _tell_failures(turn: Turn) -> None:
    """Say which results fail that did not before, with the ways out; and which do no longer."""
    for each in nonconformities.still_open(turn.state):
        if each.ref not in turn.failed and not each.again:
            told = nonconformities.failed(each)
            turn.say(wording.failures.failed(told, each.taken, each.may_concede), Tone.ALERT)
    turn.failed = nonconformities.standing(turn.state)
