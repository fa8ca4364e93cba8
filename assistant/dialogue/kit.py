"""What the box of new parts should hold, and what of it was looked for. Pure.

The box holds the consumables and every part that the job fits without having taken it off first:
new parts, and in a job that only builds up, all of them. A job that fits nothing has the whole list
of parts in its box.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from assistant.dialogue import events, facts
from assistant.procedure.model import Fit, Step

if TYPE_CHECKING:
    from assistant.dialogue.state import State


def items(state: State) -> tuple[facts.Parts, ...]:
    """Return what should be there, by the answers given so far, in the procedure's order."""
    procedure = state.procedure
    if procedure.unwritten is not None:
        kit = procedure.unwritten.kit
        return tuple(facts.Parts.of(procedure, part.name, part.count) for part in kit)
    wanted = _fitted(state)
    if not any(step.fit for step in procedure.steps):
        wanted = Counter({part.name: part.count for part in procedure.parts})
    names = [part.name for part in procedure.parts]
    names += [name for name in wanted if name not in names]
    parts = [facts.Parts.of(procedure, name, wanted[name]) for name in names if wanted[name] > 0]
    consumables = [
        facts.Parts(
            name=one.name,
            count=one.count,
            countable=one.count > 1,
            amount=one.amount and facts.Amount.of(one.amount),
        )
        for one in procedure.consumables
    ]
    return (*parts, *consumables)


def _fitted(state: State) -> Counter[str]:
    procedure, answers = state.procedure, state.answers
    new: Counter[str] = Counter()
    again: Counter[str] = Counter()
    for step in procedure.steps:
        if not _may_apply(step.when, answers):
            continue
        named = [(_chosen(state, fit), fit) for fit in step.fit]
        for name in dict.fromkeys(name for name, _ in named):
            # Of the variants of one step only one is fitted.
            fits = [f for n, f in named if n == name and _may_apply(f.when, answers)]
            new[name] += max((f.count for f in fits if f.new), default=0)
            again[name] += max((f.count for f in fits if not f.new), default=0)
        fitted = {name for name, _ in named}
        for fastener in step.fasteners:
            # One that is listed as a part too was counted with the parts.
            if fastener.name in fitted:
                continue
            if fastener.new and _may_apply(fastener.when, answers):
                new[fastener.name] += fastener.count
    off = _taken_off(procedure.steps)
    for name, count in again.items():
        new[name] += max(0, count - off[name])
    for part in procedure.parts:
        # Two steps that exclude each other may both fit it; the machine has no more than its own.
        new[part.name] = min(new[part.name], part.count)
    return new


def _chosen(state: State, fit: Fit) -> str:
    """Return the name of the part that goes in: the one that a value chose, once it has."""
    chosen = state.results.chosen_by(fit.chosen_by) if fit.chosen_by else None
    return (chosen.part if chosen else None) or fit.part


def _taken_off(steps: tuple[Step, ...]) -> Counter[str]:
    """Return how many of each part come off in these steps and are kept."""
    off: Counter[str] = Counter()
    for step in steps:
        for remove in step.remove:
            if not remove.discard:
                off[remove.part] += remove.count
    return off


def _may_apply(when: dict[str, str | tuple[str, ...]], answers: dict[str, str]) -> bool:
    return all(
        name not in answers or answers[name] in ((want,) if isinstance(want, str) else want)
        for name, want in when.items()
    )


def checked(state: State) -> dict[str, events.KitItemChecked]:
    """Return what was looked for in the check that is going on, or was left, by name."""
    found: dict[str, events.KitItemChecked] = {}
    for event in state.history:
        if isinstance(event, events.KitChecked):
            found.clear()
        elif isinstance(event, events.KitItemChecked):
            found[event.name] = event
    return found


def present_item(state: State) -> facts.Parts | None:
    """Return what is to be looked for next; None where all of it was."""
    done = checked(state)
    return next((item for item in items(state) if item.name not in done), None)


def short(state: State) -> tuple[facts.Parts, ...]:
    """Return what was not there, or not enough of it, in the check that is going on."""
    return tuple(event.missing for event in checked(state).values() if event.short)
