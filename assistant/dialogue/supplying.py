"""Parts at the bench: what becomes of orders, what is still to come, and the check of the kit."""

from __future__ import annotations

from typing import Any

from assistant.dialogue import (
    events,
    facts,
    intents,
    kit,
    lacking,
    ledger,
    remaining,
    wording,
)
from assistant.dialogue.questioning import question
from assistant.dialogue.state import State
from assistant.dialogue.telling import ask_pending, present
from assistant.dialogue.turn import Tone, Turn
from assistant.procedure.model import Step

# What becomes of orders


def on_supply(turn: Turn, intent: intents.Supply, first: facts.Moved | None = None) -> None:
    """Record that ordered parts were received, fitted or cancelled; question or refuse it."""
    orders = orders_of(turn.state, intent.part)
    if intent.state == "received" and _back_from_repair(turn, orders, intent, first):
        return
    if _said_already(turn, orders, intent) or _refused(turn, orders, intent):
        return
    regular = ledger.movable(orders, intent.state)
    count = intent.count or regular or ledger.movable_if_affirmed(orders, intent.state)
    event = events.OrderMoved(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        **names(orders),
        count=count,
        state=intent.state,
        first_heard=first,
    )
    if count > regular:
        question(turn, event, facts.NotReceived(received=regular))
        return
    turn.add(event)
    turn.say(wording.record.recorded(event), Tone.RECORDED)


def _said_already(turn: Turn, orders: tuple[ledger.Line, ...], intent: intents.Supply) -> bool:
    """Say that parts are down as fitted with their step, where no other can be meant."""
    if intent.state != "fitted" or ledger.movable(orders, "fitted"):
        return False
    ordered = {line.name for line in orders}
    moved = [e for e in turn.state.of_job(events.OrderMoved) if e.by_step and e.part in ordered]
    count = min(sum(event.count for event in moved), ledger.total(orders, ["fitted"]))
    if count < (intent.count or 1):
        return False
    parts = orders[0].order.parts.model_copy(update={"count": count})
    turn.say(wording.orders.fitted_already(parts))
    return True


def _back_from_repair(
    turn: Turn,
    orders: tuple[ledger.Line, ...],
    intent: intents.Supply,
    first: facts.Moved | None,
) -> bool:
    """Record that a part which was away for repair is back, where no order of it is to come."""
    state = turn.state
    key = state.names.key(intent.part, state.step_id)
    away = state.holdings.held(key, "away for repair")
    count = intent.count or away
    if not away or count > away or ledger.movable(orders, "received"):
        return False
    parts = facts.Parts.of(state.procedure, intent.part, count)
    event = turn.record(
        events.OrderMoved,
        part=parts.name,
        plural=parts.plural,
        count=count,
        state="received",
        from_repair=True,
        first_heard=first,
    )
    turn.say(wording.record.recorded(event), Tone.RECORDED)
    return True


def orders_of(state: State, part: str) -> tuple[ledger.Line, ...]:
    """Return the job's orders of a part, by any of its names."""
    procedure = state.procedure
    known = procedure.part(part)
    return tuple(
        line
        for line in ledger.lines(state.history)
        if line.name == part or (known is not None and procedure.part(line.name) is known)
    )


def names(orders: tuple[ledger.Line, ...]) -> dict[str, Any]:
    """Return the fields that name the part of an `OrderMoved`, as its orders have them."""
    order = orders[0].order
    return {"part": order.part, "plural": order.plural, "countable": order.countable}


def _refused(turn: Turn, orders: tuple[ledger.Line, ...], intent: intents.Supply) -> bool:
    """Say why orders cannot come to a state, even if somebody affirms it; False where they can."""
    if not orders:
        turn.say(wording.orders.none_asked_for(intent.part), Tone.REFUSED)
        return True
    most = ledger.movable_if_affirmed(orders, intent.state)
    if not most:
        totals = {state: ledger.total(orders, [state]) for state in ledger.STATES}
        stand = {state: total for state, total in totals.items() if total}
        turn.say(wording.orders.none_can_be(intent.part, stand, intent.state), Tone.REFUSED)
        return True
    if intent.count is not None and intent.count > most:
        parts = orders[0].order.parts.model_copy(update={"count": most})
        turn.say(wording.orders.only_so_many(parts, intent.state), Tone.REFUSED)
        return True
    return False


# What is still to come


def say_lacks(turn: Turn, step: Step | None = None) -> None:
    """Say what is lacking, for one step or for all that are still to be done."""
    lacks = lacking.to_come(turn.state) if step is None else lacking.lacking(turn.state, step)
    for lack in lacks:
        number = turn.state.procedure.number(lack.step.id)
        turn.say(wording.orders.lacking(number, remaining.lacking(lack)), Tone.ALERT)


# The check of the kit


def on_kit_check(turn: Turn, intent: intents.KitCheck) -> None:
    """Begin to go through the kit, or go on where that was left."""
    if not kit.items(turn.state):
        turn.say(wording.kit.NOTHING_TO_CHECK, Tone.REFUSED)
        return
    left = len(kit.items(turn.state)) - len(kit.checked(turn.state))
    turn.record(events.KitOpened)
    if left:
        turn.say(wording.kit.begun(left))
    ask_pending(turn, None)


def on_there(turn: Turn, intent: intents.Affirm) -> None:
    """Record that what was asked about is there, or order what is short."""
    item = kit.present_item(turn.state)
    if item is not None:
        record_item(turn, item, 0)
        return
    missing = kit.short(turn.state)
    _end_check(turn)
    for parts in missing:
        open_orders = sum(line.to_come for line in orders_of(turn.state, parts.name))
        if open_orders:
            turn.say(wording.kit.on_order_already(parts, open_orders))
        if open_orders >= parts.count:
            continue
        parts = parts.model_copy(update={"count": parts.count - open_orders})
        part = turn.state.procedure.part(parts.name)
        ordered = turn.record(
            events.PartOrdered,
            part=parts.name,
            plural=parts.plural,
            countable=parts.countable,
            amount=parts.amount,
            count=parts.count,
            part_number=part.number if part else None,
        )
        turn.say(wording.record.told(ordered), Tone.RECORDED)
    turn.say(wording.record.RECORDED, Tone.RECORDED)
    say_lacks(turn)


def on_not_there(turn: Turn, intent: intents.Negative) -> None:
    """Record that none of it is there, or leave what is short without an order."""
    item = kit.present_item(turn.state)
    if item is not None:
        record_item(turn, item, item.count)
        return
    _end_check(turn)
    turn.say(wording.kit.NOTHING_ORDERED, Tone.RECORDED)
    say_lacks(turn)


def on_missing(turn: Turn, intent: intents.Missing) -> None:
    """Record how many are not there."""
    if turn.state.pending is None:
        turn.say(wording.kit.NOT_CHECKING, Tone.REFUSED)
        return
    item = kit.present_item(turn.state)
    if item is None:
        ask_pending(turn, None)
        return
    if not 0 < intent.count <= item.count:
        turn.say(wording.kit.should_hold(item.count), Tone.REFUSED)
        ask_pending(turn, None)
        return
    record_item(turn, item, intent.count)


def record_item(turn: Turn, item: facts.Parts, short: int) -> None:
    """Record how many of a thing are not there, and ask for the next."""
    event = turn.record(
        events.KitItemChecked,
        name=item.name,
        asked=item.count,
        short=short,
        plural=item.plural,
        countable=item.countable,
        amount=item.amount,
    )
    if short:
        turn.say(wording.kit.short(event.missing, item.count), Tone.RECORDED)
    if kit.present_item(turn.state) is not None or kit.short(turn.state):
        ask_pending(turn, None)
        return
    _end_check(turn)
    turn.say(wording.kit.complete(event.name), Tone.RECORDED)
    say_lacks(turn)


def _end_check(turn: Turn) -> None:
    turn.record(events.KitChecked, short=kit.short(turn.state))


def on_item_before(turn: Turn, intent: intents.Previous) -> None:
    """Ask again about the thing that was answered last."""
    answered = list(kit.checked(turn.state).values())
    if answered:
        last = answered[-1]
        turn.record(events.Withdrawn, withdrew=last.turn)
    else:
        turn.say(wording.kit.FIRST_THING, Tone.REFUSED)
    ask_pending(turn, None)


def on_leave_kit(turn: Turn, intent: intents.Disregard) -> None:
    """Leave the check; what was answered is kept."""
    turn.record(events.QuestionDropped, asked="kit check")
    turn.say(wording.kit.LEFT)
    present(turn)
