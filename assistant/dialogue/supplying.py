"""Parts at the bench: what comes of orders, what is still to come, and the check of the kit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.dialogue import events, intents, kit, ledger, wording
from assistant.dialogue.questioning import question
from assistant.dialogue.state import State
from assistant.dialogue.telling import ask_pending, present
from assistant.dialogue.turn import Tone, Turn
from assistant.procedure.model import Procedure, Step

# What comes of orders


def on_supply(turn: Turn, intent: intents.Supply, first: str | None = None) -> None:
    """Record that ordered parts were received, fitted or cancelled; question or refuse it."""
    orders = orders_of(turn.state, intent.part)
    refused = refusal(turn.state.procedure, orders, intent)
    if refused is not None:
        turn.say(refused, Tone.REFUSED)
        return
    regular = ledger.movable(orders, intent.state)
    count = intent.count or regular or ledger.movable_if_affirmed(orders, intent.state)
    event = events.OrderMoved(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        **names(turn.state.procedure, orders, intent.part, count),
        count=count,
        state=intent.state,
        first_heard=first,
    )
    if count > regular:
        there = f"{wording.count(regular)} of them" if regular else "none of them"
        question(
            turn, event, wording.event(event), f"By the record {there} {_is(regular)} received."
        )
        return
    turn.add(event)
    turn.say(wording.sentence(f"{wording.event(event)}. Recorded"), Tone.RECORDED)


def _is(number: int) -> str:
    return "is" if number < 2 else "are"


def orders_of(state: State, part: str) -> tuple[ledger.Line, ...]:
    """Return the job's orders of a part, by any of its names."""
    procedure = state.procedure
    known = procedure.part(part)
    return tuple(
        line
        for line in ledger.lines(state.history)
        if line.name == part or (known is not None and procedure.part(line.name) is known)
    )


def names(
    procedure: Procedure, orders: tuple[ledger.Line, ...], part: str, count: int
) -> dict[str, object]:
    """Return the fields of an event that name a part: worded for the count, and as orders do."""
    known = procedure.part(part)
    name = known.name if known else part
    also = tuple(dict.fromkeys(line.name for line in orders if line.name != name))
    return {"part": wording.name_of_parts(procedure, name, count), "name": name, "also": also}


def refusal(
    procedure: Procedure, orders: tuple[ledger.Line, ...], intent: intents.Supply
) -> str | None:
    """Word why orders cannot come to a state, even if somebody affirms it; None: they can."""
    part, state = intent.part, intent.state
    if not orders:
        return f"No {part} was asked for in this job. Say order, and the part."
    most = ledger.movable_if_affirmed(orders, state)
    if not most:
        there = wording.listing(_states(orders))
        return wording.sentence(f"Of {part}, {there}. None can be {state}. Nothing recorded")
    if intent.count is not None and intent.count > most:
        only = wording.parts(procedure, part, most)
        return f"Only {only} can be {state}. Nothing recorded."
    return None


def _states(orders: tuple[ledger.Line, ...]) -> Iterator[str]:
    for state in ledger.STATES:
        number = ledger.total(orders, [state])
        if number:
            yield f"{wording.count(number)} {_is(number)} {state}"


# What is still to come


@dataclass(frozen=True)
class Lack:
    """Parts that a step needs and that are not there yet."""

    step: Step
    number: int
    part: str
    count: int
    why: str


def lacks(state: State) -> Iterator[Lack]:
    """Yield what is lacking for the present step and those after it: the first that needs a part.

    Lacking is what was asked for and not received, and what the check of the kit found short.
    """
    waited = _not_there(state)
    here = state.procedure.index(state.step.id)
    for step in state.route():
        index = state.procedure.index(step.id)
        if index < here or step.id in state.done or step.id in state.skipped:
            continue
        for part, needed in _needed(state, step).items():
            if part in waited:
                missing, why = waited.pop(part)
                yield Lack(step, index + 1, part, min(needed, missing), why)


def _not_there(state: State) -> dict[str, tuple[int, str]]:
    """Return for each part that is not there how many, and why."""
    found: dict[str, tuple[int, str]] = {}
    for event in state.of_job(events.KitItemChecked):
        if event.short:
            found[event.name] = (event.short, "short in the kit")
        else:
            found.pop(event.name, None)
    orders: dict[str, list[ledger.Line]] = {}
    for line in ledger.lines(state.history):
        part = state.procedure.part(line.name)
        orders.setdefault(part.name if part else line.name, []).append(line)
    for name, lines in orders.items():
        asked, ordered = (ledger.total(lines, [s]) for s in ledger.TO_COME)
        if asked + ordered:
            why = "ordered" if ordered else "asked for"
            found[name] = (asked + ordered, f"{why} and not received")
        elif ledger.total(lines, ["received", "fitted"]):
            found.pop(name, None)
    return found


def _needed(state: State, step: Step) -> dict[str, int]:
    """Return how many of each part and fastener go in at a step."""
    needed: dict[str, int] = {}
    comes_off = {remove.part for remove in step.remove}
    for fit in step.fit:
        if fit.applies(state.answers):
            needed[fit.part] = needed.get(fit.part, 0) + fit.count
    for fastener in step.fasteners:
        goes_in = step.bag is None and fastener.name not in comes_off
        if goes_in and fastener.name not in needed and fastener.applies(state.answers):
            needed[fastener.name] = fastener.count
    return needed


def say_lacks(turn: Turn, step: Step | None = None) -> None:
    """Say what is lacking, for one step or for all that are still to be done."""
    for lack in lacks(turn.state):
        if step is None or lack.step.id == step.id:
            parts = wording.some_parts(turn.state.procedure, lack.part, lack.count)
            step_number = wording.count(lack.number)
            why = f"{_is(lack.count)} {lack.why}"
            turn.say(f"Step {step_number} needs {parts} that {why}.", Tone.ALERT)


# The check of the kit


def on_kit_check(turn: Turn, intent: intents.KitCheck) -> None:
    """Begin to go through the kit, or go on where that was left."""
    if not kit.items(turn.state):
        turn.say("The procedure lists nothing that a kit could hold.", Tone.REFUSED)
        return
    left = len(kit.items(turn.state)) - len(kit.checked(turn.state))
    turn.record(events.KitOpened)
    if left:
        things = wording.several(left, "thing")
        turn.say(f"Kit check, {things}. Affirm what is there, or say short and how many.")
    ask_pending(turn, None)


def on_there(turn: Turn, intent: intents.Affirm) -> None:
    """Record that what was asked about is there, or order what is short."""
    item = kit.present_item(turn.state)
    if item is not None:
        _record_item(turn, item, 0)
        return
    missing = kit.short(turn.state)
    amounts = {one.name: one.amount for one in kit.items(turn.state)}
    _end_check(turn)
    for event in missing:
        part = turn.state.procedure.part(event.name)
        named = wording.name_of_parts(turn.state.procedure, event.name, event.short)
        amount = amounts.get(event.name)
        ordered = turn.record(
            events.PartOrdered,
            part=f"{event.name}, {amount}" if amount else named,
            count=event.short,
            part_number=part.number if part else None,
            name=event.name,
        )
        turn.say(wording.sentence(wording.event(ordered)), Tone.RECORDED)
    turn.say("Recorded.", Tone.RECORDED)
    say_lacks(turn)


def on_not_there(turn: Turn, intent: intents.Negative) -> None:
    """Record that none of it is there, or leave what is short without an order."""
    item = kit.present_item(turn.state)
    if item is not None:
        _record_item(turn, item, item.count)
        return
    _end_check(turn)
    turn.say("Nothing ordered. What is short is recorded.", Tone.RECORDED)
    say_lacks(turn)


def on_missing(turn: Turn, intent: intents.Missing) -> None:
    """Record how many are not there."""
    if turn.state.pending is None:
        turn.say("Say kit check first.", Tone.REFUSED)
        return
    item = kit.present_item(turn.state)
    if item is None:
        ask_pending(turn, None)
        return
    if not 0 < intent.count <= item.count:
        turn.say(f"The kit should hold {wording.count(item.count)}.", Tone.REFUSED)
        ask_pending(turn, None)
        return
    _record_item(turn, item, intent.count)


def _record_item(turn: Turn, item: kit.Item, short: int) -> None:
    event = turn.record(events.KitItemChecked, name=item.name, asked=item.count, short=short)
    if short:
        how_many = f"{wording.count(short)} " if item.count > 1 else ""
        turn.say(wording.sentence(f"{how_many}short"), Tone.RECORDED)
    if kit.present_item(turn.state) is not None or kit.short(turn.state):
        ask_pending(turn, None)
        return
    _end_check(turn)
    turn.say(wording.sentence(f"{event.name} there. The kit is complete. Recorded"), Tone.RECORDED)
    say_lacks(turn)


def _end_check(turn: Turn) -> None:
    procedure = turn.state.procedure
    words = tuple(kit.worded(procedure, event) for event in kit.short(turn.state))
    turn.record(events.KitChecked, short=words)


def on_item_before(turn: Turn, intent: intents.Previous) -> None:
    """Ask again about the thing that was answered last."""
    answered = list(kit.checked(turn.state).values())
    if answered:
        last = answered[-1]
        turn.record(events.Withdrawn, withdrew=last.turn, what=wording.event(last))
    else:
        turn.say("This is the first thing.", Tone.REFUSED)
    ask_pending(turn, None)


def on_leave_kit(turn: Turn, intent: intents.Disregard) -> None:
    """Leave the check; what was answered is kept."""
    turn.record(events.QuestionDropped, what="the rest of the kit check")
    turn.say("Kit check left. Say kit check to go on with it.")
    present(turn)
