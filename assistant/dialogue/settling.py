"""What ends a nonconformity: retest, rework, concession; and hearing which there are.

A result that fails holds what depends on it (`nonconformities`) until a new result meets the
requirement, or somebody named accepts it with a reason. Retest and rework open steps again, which
begins a new set of results there; what was recorded before stays in the record.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from assistant.dialogue import (
    build_order,
    events,
    facts,
    intents,
    nonconformities,
    outstanding_work,
    reopened,
    wording,
)
from assistant.dialogue import state as job_state
from assistant.dialogue.moving import enter
from assistant.dialogue.nonconformities import Nonconformity
from assistant.dialogue.reopened import OpenedAgain
from assistant.dialogue.telling import ask_pending, say_what_next
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.working_out import tell_changes

_NOT_MEASURED = ("fitted part", "choice", "condemned part", "missing part")
"""Results that no retest takes anew."""


def on_what_failed(turn: Turn, intent: intents.WhatFailed) -> None:
    """Say which results fail, and which were conceded."""
    found = turn.state.nonconformities
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
    failing = _meant(turn, lambda each: each.ref.kind not in _NOT_MEASURED and not each.again)
    begun = _being_done_again(turn)
    if begun and not any(each.step is turn.state.step for each in failing):
        # Only a new result can fail anew; a slip within the new set is for "correction".
        for each in begun:
            turn.say(wording.failures.begun(nonconformities.failed(each)), Tone.REFUSED)
        say_what_next(turn)
        return
    if not failing:
        turn.say(wording.failures.NOTHING_FAILED, Tone.REFUSED)
        return
    again: dict[str, None] = {}
    for each in failing:
        again |= dict.fromkeys(nonconformities.to_measure_again(turn.state, each))
    first = next(s.id for s in turn.state.procedure.steps if s.id in again)
    again |= dict.fromkeys(outstanding_work.gates_again(turn.state, again))
    steps = [s.id for s in turn.state.procedure.steps if s.id in again]
    _open_again(turn, events.RetestBegun, first, failing, steps)
    turn.say(wording.failures.retest(_numbers(turn, steps)), Tone.RECORDED)
    tell_changes(turn)
    _go(turn, first)


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
    if state.procedure.unwritten is not None and step.id not in build_order.steps(state):
        turn.say(wording.pieces.NOT_REWORKED, Tone.REFUSED)
        return
    begun = _begun(turn)
    if step.id not in state.done and step.id not in begun:
        turn.say(wording.failures.not_done_yet(intent.number), Tone.REFUSED)
        return
    # What the rework is for needs a new result as well, wherever that is taken. What was found
    # before the step that is reworked is not what it is for.
    failing = tuple(
        each
        for each in nonconformities.still_open(state)
        if each.number >= intent.number and not nonconformities.to_be_fitted(each)
    )
    measured = {s for each in failing for s in nonconformities.to_measure_again(state, each)}
    touched = [*state.done, *measured, *begun]
    again = {*nonconformities.to_do_again(state.procedure, step.id, touched), *measured}
    again |= outstanding_work.gates_again(state, again)
    order = [s.id for s in steps if s.id in again]
    _open_again(turn, events.ReworkBegun, step.id, failing, order)
    turn.say(wording.failures.rework(intent.number, _numbers(turn, order)), Tone.RECORDED)
    tell_changes(turn)
    _go(turn, step.id)


def _open_again(
    turn: Turn,
    kind: type[events.RetestBegun | events.ReworkBegun],
    step: str,
    failing: Sequence[Nonconformity],
    steps: Sequence[str],
) -> None:
    """Record that steps are opened again, with all that failed and stands no longer."""
    opening = kind(
        at=turn.now,
        turn=turn.number,
        step=step,
        results=tuple(each.ref for each in failing),
        steps=tuple(steps),
    )
    after = job_state.apply(turn.state, opening).nonconformities
    standing = {reopened.thing(each.ref) for each in after if not each.again}
    failed = tuple(
        _as_it_failed(each)
        for each in turn.state.nonconformities
        if reopened.thing(each.ref) not in standing
        and not nonconformities.to_be_fitted(each)
        and _is_touched(each, steps)
    )
    turn.add(opening.model_copy(update={"failed": failed}))


def _is_touched(of: Nonconformity, steps: Sequence[str]) -> bool:
    """Whether a result is to be had anew since steps were opened again, or is so once more."""
    if not isinstance(of.result, OpenedAgain):
        return True
    return not {of.step.id, *of.result.steps}.isdisjoint(steps)


def _as_it_failed(of: Nonconformity) -> facts.Failed:
    return nonconformities.failed(of).model_copy(update={"again": None})


def _being_done_again(turn: Turn) -> tuple[Nonconformity, ...]:
    """Return what failed and is to be had anew from the present step on."""
    return tuple(
        each
        for each in nonconformities.still_open(turn.state)
        if isinstance(each.result, OpenedAgain)
        and turn.state.step_id in (each.step.id, *each.result.steps)
    )


def _begun(turn: Turn) -> set[str]:
    """Return the steps at which something was recorded."""
    kinds = turn.rules.read_back
    return {e.step for e in turn.state.history if isinstance(e, kinds) and e.step}


def _go(turn: Turn, step: str) -> None:
    """Go to a step that was opened again, and tell it."""
    enter(turn, turn.state.procedure.step(step))


def _numbers(turn: Turn, steps: list[str]) -> list[int]:
    return [turn.state.procedure.number(step) for step in steps]


def _meant(
    turn: Turn, wanted: Callable[[Nonconformity], bool] = lambda each: True
) -> tuple[Nonconformity, ...]:
    """Return the open nonconformities that a word here is about: this step's own, else those that
    hold it, or all where none does.
    """
    here = nonconformities.holding(turn.state, turn.state.step)
    still_open = nonconformities.still_open(turn.state)
    own = tuple(each for each in still_open if each.step is turn.state.step)
    own = tuple(each for each in own if each in here or each.again)
    for some in (own, here, still_open):
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
    # The first that whoever is at the bench may concede; else why the first may not be.
    whys = {each.ref: _why_not(turn, each) for each in failing}
    one = next((each for each in failing if whys[each.ref] is None), failing[0])
    why = whys[one.ref]
    if why is not None:
        turn.say(why, Tone.REFUSED)
        return
    turn.record(events.ConcessionAsked, failed=_as_it_failed(one))
    ask_pending(turn, None)


def _why_not(turn: Turn, of: Nonconformity) -> str | None:
    """Word why whoever is at the bench may not concede a result; None where they may."""
    who = turn.state.technician
    if of.may_concede == "none":
        return wording.failures.takes_no_concession(nonconformities.failed(of))
    if who is None:
        return wording.failures.WHO_CONCEDES
    if of.may_concede == "listed" and who not in turn.state.procedure.concessions_by:
        return wording.failures.not_on_the_list(who)
    return None


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
    """Record that a result is accepted as it is, where it still is what was asked about.

    Whether they may is looked at again: somebody else may have signed on since it was asked.
    """
    still = (e for e in nonconformities.still_open(turn.state) if e.ref == failed.result)
    one = next(still, None)
    why = wording.failures.NOTHING_FAILED if one is None else _why_not(turn, one)
    if why is not None:
        turn.record(events.QuestionDropped, asked="concession")
        turn.say(why, Tone.REFUSED)
        return
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
