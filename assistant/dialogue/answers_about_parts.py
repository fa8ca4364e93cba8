"""Answers about parts from anywhere in the job: where they are, what is in a bag, what is to come.

They are read from what was recorded: bags, findings, orders, and what was fitted. Pure.
"""

from __future__ import annotations

from collections.abc import Iterator

from assistant.dialogue import bags, events, intents, ledger, wording
from assistant.dialogue.state import State
from assistant.dialogue.turn import Turn


def on_where(turn: Turn, intent: intents.WhereIs) -> None:
    """Say where a part or a fastener is."""
    for words in where(turn.state, intent.name):
        turn.say(words)


def on_in_bag(turn: Turn, intent: intents.InBag) -> None:
    """Say what is in a bag."""
    turn.say(in_bag(turn.state, intent.number))


def on_what_is_on_order(turn: Turn, intent: intents.OnOrder) -> None:
    """Say what was asked for and is still to come."""
    turn.say(on_order(turn.state))


def where(state: State, name: str) -> tuple[str, ...]:
    """Word where a part or a fastener is by the record, each place in a sentence."""
    found = (*_in_bags(state, name), *_told(state, name), *_fitted(state, name))
    return found or (_not_recorded(state, name),)


def in_bag(state: State, number: int) -> str:
    """Word what is in a bag, or that the record does not say."""
    event = _bags(state).get(number)
    if event is None:
        return wording.answers.no_such_bag(number)
    opened_at = _opened_at(state, event)
    if opened_at is not None:
        return wording.answers.bag_opened(number, event.contents, opened_at)
    contents = bags.still_in(state, event)
    if event.contents and not contents:
        return wording.answers.bag_empty(number)
    return wording.answers.in_bag(number, contents)


def on_order(state: State) -> str:
    """Word what was asked for or ordered, and neither received nor cancelled."""
    return wording.answers.on_order(ledger.to_come(state.history))


def _bags(state: State) -> dict[int, events.BagRecorded]:
    """Return the bags by their numbers, each with all that was put into it at any step."""
    found: dict[int, events.BagRecorded] = {}
    for event in state.current(events.BagRecorded):
        before = found[event.number].contents if event.number in found else ()
        contents = (*before, *bags.put_in(state, event))
        found[event.number] = event.model_copy(update={"contents": contents})
    return found


def _opened_at(state: State, event: events.BagRecorded) -> int | None:
    """Return the number of the step that took things out of a bag; None where none did yet."""
    asked = event.asked or event.number
    takers = (step for step in state.route() if step.from_bag == asked and step.id in state.done)
    taker = next(takers, None)
    return None if taker is None else state.procedure.number(taker.id)


def _in_bags(state: State, name: str) -> Iterator[str]:
    for number, event in _bags(state).items():
        opened_at = _opened_at(state, event)
        contents = event.contents if opened_at else bags.still_in(state, event)
        for parts in contents:
            if parts.name == name and opened_at:
                yield wording.answers.bag_opened(number, [parts], opened_at)
            elif parts.name == name:
                yield wording.answers.in_bag(number, [parts])


def _told(state: State, name: str) -> Iterator[str]:
    for finding in state.of_job(events.FindingRecorded):
        if finding.part == name:
            yield wording.record.told(finding)
    for line in ledger.lines(state.history):
        if line.name == name:
            counts = {of: number for of, number in line.counts.items() if number}
            yield wording.answers.ordered(line.order.parts, counts)


def _fitted(state: State, name: str) -> Iterator[str]:
    for event in state.current(events.StepDone):
        number = state.procedure.number(event.step or "")
        for parts in event.fitted:
            if parts.name == name:
                yield wording.answers.fitted_at(parts, number)


def _not_recorded(state: State, name: str) -> str:
    """Word where the procedure has it, because nothing was recorded of it."""
    for number, step in enumerate(state.procedure.steps, 1):
        comes_off = any(remove.part == name for remove in step.remove)
        held_here = any(one.name == name for one in step.fasteners)
        if comes_off or held_here:
            done = step.id in state.done
            return wording.answers.at_step(name, number, comes_off=comes_off, done=done)
    return wording.answers.nothing_of(name)
