"""Handing a job over: where it stands, for whoever comes to the bench next. Pure; records nothing.

It is worked out from the state each time it is asked for, so what was corrected, withdrawn or
settled meanwhile is told as it is now. The catalogue keeps it short enough to listen to.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from math import ceil

from assistant.dialogue import (
    clocks,
    customer,
    facts,
    intents,
    lacking,
    ledger,
    nonconformities,
    outstanding_work,
    remaining,
    wording,
)
from assistant.dialogue.fitting import Key
from assistant.dialogue.state import State
from assistant.dialogue.turn import Turn

_TOLD_ELSEWHERE = (
    outstanding_work.FailureToSettle,
    outstanding_work.PartsLacking,
    outstanding_work.StepBefore,
    outstanding_work.GateToPass,
)
"""What is outstanding here because of something that is told by itself."""


def on_hand_over(turn: Turn, intent: intents.HandOver) -> None:
    """Say where the work stands, what fails, what is open and what is waited for."""
    for words in wording.handing_over.told(_standing(turn)):
        turn.say(words)


def _standing(turn: Turn) -> wording.handing_over.Standing:
    state = turn.state
    left = remaining.steps_left(state)
    undone = [n for each in left if isinstance(each, facts.StepsNotDone) for n in each.numbers]
    begun = [n for each in left if isinstance(each, facts.StepsNotDone) for n in each.begun]
    here, number = state.step.id, state.number
    return wording.handing_over.Standing(
        number=number,
        of=len(state.procedure.steps),
        stage=state.procedure.stage_of(here).name,
        done=here in state.done,
        skipped_here=here in state.skipped,
        closed=state.closed,
        failed=tuple(map(nonconformities.failed, nonconformities.still_open(state))),
        asked=None if state.pending is None else state.mode.value,
        left_here=_left_here(turn),
        ready=number in undone and not turn.outstanding(),
        not_done=tuple(undone),
        half_done=tuple(n for n in begun if n != number),
        skipped=tuple(each for each in left if isinstance(each, facts.SkippedStep)),
        timers=tuple(
            facts.TimerRunning(name=one.name, left=ceil((one.due - turn.now).total_seconds()))
            for one in clocks.running_clocks(state)
        ),
        to_come=ledger.to_come(state.history),
        away=tuple(_away(state)),
        short=tuple(_short(state)),
        to_answer=customer.to_answer(state),
    )


def _left_here(turn: Turn) -> tuple[facts.Outstanding, ...]:
    """Return what is outstanding at the step, but for what is told by itself; nothing where the
    step is done or skipped, or the job is closed.
    """
    state = turn.state
    if state.closed or state.step.id in state.done | state.skipped.keys():
        return ()
    running = {(clock.name, clock.step) for clock in clocks.running_clocks(state)}
    return remaining.items(
        item
        for item in turn.outstanding()
        if not isinstance(item, _TOLD_ELSEWHERE)
        and not (
            isinstance(item, outstanding_work.TimeToPass)
            and (item.purpose, state.step.id) in running
        )
    )


def _away(state: State) -> Iterator[facts.Parts]:
    """Yield the parts that are away for repair."""
    for key in state.holdings.counts:
        count = state.holdings.held(key, "away for repair")
        if count:
            yield facts.Parts.of(state.procedure, key.name, count)


def _short(state: State) -> Iterator[facts.Parts]:
    """Yield the parts that a step to come needs, that are not to be had, and that nobody has
    ordered; what was condemned or is missing fails, and is told as that.
    """
    found: Counter[Key] = Counter()
    for lack in lacking.to_come(state):
        if lack.why == "short in the kit":
            found[lack.key] += lack.count
    for key, count in found.items():
        yield facts.Parts.of(state.procedure, key.name, count)
