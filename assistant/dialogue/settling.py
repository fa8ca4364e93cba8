"""What ends a nonconformity: retest, rework, concession; and hearing which there are.

A result that fails holds what depends on it (`nonconformities`) until a new result meets the
requirement, or somebody named accepts it with a reason. Retest and rework open steps again, which
begins a new set of results there; what was recorded before stays in the record.
"""

from __future__ import annotations

from assistant.dialogue import events, facts, intents, nonconformities, wording
from assistant.dialogue.moving import enter
from assistant.dialogue.nonconformities import Nonconformity
from assistant.dialogue.telling import ask_pending, say_what_next
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.working_out import tell_changes

_NOT_MEASURED = ("fitted part", "choice", "condemned part", "missing part")
"""Results that no retest takes anew."""


def on_what_failed(turn: Turn, intent: intents.WhatFailed) -> None:
    """Say which results fail, and which were conceded."""
    found = nonconformities.find(turn.state)
    told = wording.failures.all_failed(
        [
            (nonconformities.failed(each), each.taken, each.may_concede)
            for each in found
            if each.open
        ],
        [each.conceded for each in found if each.conceded is not None],
    )
    for sentence in told:
        turn.say(sentence)


def on_retest(turn: Turn, intent: intents.Retest) -> None:
    """Take the results that fail anew, as a new set."""
    failing = _meant(turn, lambda each: each.ref.kind not in _NOT_MEASURED)
    if not failing:
        turn.say(wording.failures.NOTHING_FAILED, Tone.REFUSED)
        return
    again: dict[str, None] = {}
    for each in failing:
        again |= dict.fromkeys(nonconformities.to_measure_again(turn.state, each))
    steps = [s.id for s in turn.state.procedure.steps if s.id in again]
    turn.record(
        events.RetestBegun,
        step=steps[0],
        results=tuple(each.ref for each in failing),
        steps=tuple(steps),
    )
    turn.say(wording.failures.retest(_numbers(turn, steps)), Tone.RECORDED)
    tell_changes(turn)
    _go(turn, steps[0])


def on_rework(turn: Turn, intent: intents.Rework) -> None:
    """Open a step again, with all that has to be done again after it."""
    state = turn.state
    steps = state.procedure.steps
    if intent.number is None:
        turn.say(wording.failures.SAY_WHICH_STEP, Tone.REFUSED)
        return
    if not 1 <= intent.number <= len(steps):
        turn.say(wording.refusals.no_such_step(len(steps)), Tone.REFUSED)
        return
    step = steps[intent.number - 1]
    if step.id not in {s.id for s in state.route()}:
        turn.say(wording.refusals.step_does_not_apply(intent.number), Tone.REFUSED)
        return
    begun = any(e.step == step.id and isinstance(e, turn.rules.read_back) for e in state.history)
    if step.id not in state.done and not begun:
        turn.say(wording.failures.not_done_yet(intent.number), Tone.REFUSED)
        return
    failing = tuple(
        each for each in nonconformities.still_open(state) if not nonconformities.to_be_fitted(each)
    )
    # What the rework is for needs a new result as well, wherever that is taken.
    measured = {s for each in failing for s in nonconformities.to_measure_again(state, each)}
    touched = [*state.done, *state.skipped, *measured, *_begun(turn)]
    again = {*nonconformities.to_do_again(state.procedure, step.id, touched), *measured}
    order = [s.id for s in steps if s.id in again]
    turn.record(
        events.ReworkBegun,
        step=step.id,
        results=tuple(each.ref for each in failing),
        steps=tuple(order),
    )
    turn.say(wording.failures.rework(intent.number, _numbers(turn, order)), Tone.RECORDED)
    tell_changes(turn)
    _go(turn, step.id)


def _begun(turn: Turn) -> set[str]:
    """Return the steps at which something was recorded."""
    kinds = turn.rules.read_back
    return {e.step for e in turn.state.history if isinstance(e, kinds) and e.step}


def _go(turn: Turn, step: str) -> None:
    """Go to a step that was opened again, and tell it."""
    enter(turn, turn.state.procedure.steps[turn.state.procedure.index(step)])


def _numbers(turn: Turn, steps: list[str]) -> list[int]:
    return [turn.state.procedure.index(step) + 1 for step in steps]


def _meant(turn: Turn, fits: object = None) -> tuple[Nonconformity, ...]:
    """Return the open nonconformities that a word here is about: those that hold this step, or all
    where none does.
    """
    wanted = fits if callable(fits) else lambda each: True
    here = nonconformities.holding(turn.state, turn.state.step)
    own = tuple(each for each in here if each.step.id == turn.state.step_id)
    for some in (own, here, nonconformities.still_open(turn.state)):
        found = tuple(each for each in some if wanted(each))
        if found:
            return found
    return ()


def on_concession(turn: Turn, intent: intents.Concession) -> None:
    """Ask for the reason to accept a result that fails; the first of several."""
    failing = _meant(turn)
    if not failing:
        turn.say(wording.failures.NOTHING_FAILED, Tone.REFUSED)
        return
    may = [each for each in failing if each.may_concede != "none"]
    if not may:
        told = nonconformities.failed(failing[0])
        turn.say(wording.failures.takes_no_concession(told), Tone.REFUSED)
        return
    one, who = may[0], turn.state.technician
    if who is None:
        turn.say(wording.failures.WHO_CONCEDES, Tone.REFUSED)
        return
    if one.may_concede == "listed" and who not in turn.state.procedure.concessions_by:
        turn.say(wording.failures.not_on_the_list(who), Tone.REFUSED)
        return
    turn.record(events.ConcessionAsked, failed=nonconformities.failed(one))
    ask_pending(turn, None)


def on_reason_for_concession(turn: Turn, intent: intents.Note) -> None:
    """Take the reason, and accept the result as it is."""
    asked = turn.state.pending
    assert isinstance(asked, events.ConcessionAsked)
    if intent.text is None and not intent.clipped:
        turn.record(events.NoteOpened, reason_for="concession", failed=asked.failed)
        turn.say(wording.questions.GO_AHEAD, Tone.QUESTION)
        return
    concede(turn, asked.failed, intent.text)


def concede(turn: Turn, failed: facts.Failed, reason: str | None) -> None:
    """Record that a result is accepted as it is, where it still is what was asked about."""
    who = turn.state.technician
    event = turn.record(events.Conceded, step=failed.result.step, failed=failed, reason=reason)
    turn.say(wording.failures.conceded(event, who), Tone.RECORDED)
    tell_changes(turn)
    say_what_next(turn)


def on_drop_concession(turn: Turn, intent: intents.Intent) -> None:
    """Leave the result as it is: open."""
    turn.record(events.QuestionDropped, asked="concession")
    turn.say(wording.refusals.NOTHING_RECORDED)
    say_what_next(turn)
