"""In which order what came off goes on again, in a job without a procedure. Pure."""

from __future__ import annotations

from assistant.dialogue import facts
from assistant.dialogue.state import State
from assistant.procedure.model import Step

LATER = facts.SkipReason(code="to be done later")
"""Why something is left that is to be put on when the rest is on."""


def steps(state: State) -> frozenset[str]:
    """Return the steps of the build-up; none before it has begun."""
    return frozenset(s.id for s in state.procedure.stages[-1].steps if state.building)


def next_step(state: State) -> Step | None:
    """Return the step of the build-up to go on with; None where there is no other than this one.

    It is the first that is not settled; after those what was left for later, from the present one
    onwards and round again. A group that is not ended does not go on yet.
    """
    steps = state.procedure.stages[-1].steps
    settled = state.done | state.skipped.keys()
    unfinished = state.arrangement.open
    if unfinished is not None:
        steps = tuple(step for step in steps if step.id != unfinished.id)
    here = next((n for n, step in enumerate(steps) if step.id == state.step_id), -1)
    waiting = [step for step in steps if step.id not in settled]
    waiting += [
        step
        for step in (*steps[here + 1 :], *steps[: max(here, 0)])
        if state.skipped.get(step.id) == LATER
    ]
    return waiting[0] if waiting else None
