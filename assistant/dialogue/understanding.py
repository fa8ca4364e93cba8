"""Words to intents. `BUILDERS` is the list of all that can be said and what each means."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from decimal import Decimal

from pydantic import TypeAdapter

from assistant.audio.manner import Change
from assistant.dialogue import intents, live
from assistant.dialogue.events import Disposition, OrderState
from assistant.dialogue.state import Mode, State
from assistant.grammar import jsgf, numbers, units

Builder = Callable[[jsgf.Node, State], intents.Intent]


def understand(words: Sequence[str], state: State) -> intents.Intent | None:
    """Return what the words mean in this state, or None where they mean nothing in it.

    `words` are a recogniser's, in the spelling of the grammar.
    """
    return from_grammar(words, live.grammar_for(state), state)


def from_grammar(
    words: Sequence[str], grammar: jsgf.Grammar, state: State
) -> intents.Intent | None:
    """Return what the words mean as a sentence of the grammar, or None."""
    tree = grammar.parse_first(words)
    if tree is None:
        return None
    command = next((child for child in tree.children if isinstance(child, jsgf.Node)), None)
    if command is None:
        return None
    try:
        return BUILDERS[command.rule](command, state)
    except ValueError:
        # A sequence of number words that is no one number: better asked again than guessed.
        return None


_NOTE = re.compile(r"\s*(?:make a )?note[:,]?\s+(\S.*)", re.IGNORECASE | re.DOTALL)
_MOST_TYPED = 2000


def understand_typed(text: str, state: State) -> intents.Intent | None:
    """Return what a typed line means; free text is kept as it is in notes and reasons."""
    text = " ".join(text[:_MOST_TYPED].split())
    if not text:
        return None
    intent = understand(typed_words(text), state)
    if isinstance(intent, intents.Note) and intent.clipped:
        intent = None
    if intent is not None:
        return intent
    note = _NOTE.fullmatch(text)
    if note:
        return intents.Note(note[1])
    if state.mode is Mode.NOTING:
        return intents.Note(text)
    if state.mode is Mode.SKIPPING:
        # A command typed here asks for the reason again; anything else is the reason.
        command = from_grammar(typed_words(text), live.working_grammar(state), state)
        return command or intents.Reason(text)
    return None


def typed_words(text: str) -> tuple[str, ...]:
    """Return a typed phrase as the words that would be heard: figures spelt out, no stops."""
    text = numbers.digits_to_words(units.grammar_spelling(text.strip().rstrip(".!?").lower()))
    return tuple(re.sub(r"[,;:]|\.(?=\s|$)", " ", text).replace("-", " ").split())


def _value(node: jsgf.Node) -> Decimal:
    found = node.find("value")
    if found is None:
        raise ValueError("no number was said")
    return numbers.parse(found.words())


def _unit(node: jsgf.Node, state: State) -> str | None:
    found = node.find("step_unit")
    return units.parse(found.words(), live.step_units(state)) if found else None


def _words(node: jsgf.Node, rule: str) -> str | None:
    found = node.find(rule)
    return " ".join(found.words()) if found else None


def _whole(node: jsgf.Node, rule: str) -> int:
    found = node.find(rule)
    return numbers.parse_count(found.words()) if found else 1


def _part(node: jsgf.Node, state: State) -> str:
    said = _words(node, "one_part") or _words(node, "many_parts") or ""
    part = state.procedure.part(said)
    return part.name if part else said


def _tag(node: jsgf.Node) -> str:
    tags = [tag for inner in node.walk() for tag in inner.tags]
    if not tags:
        raise ValueError(f"rule {node.rule} carries no tag")
    return tags[-1]


def _ask(node: jsgf.Node, state: State) -> intents.Intent:
    unit = node.find("torque_unit")
    return intents.Ask(intents.Topic(node.tags[-1]), unit.tags[-1] if unit else None)


def _said_twice(node: jsgf.Node, state: State) -> tuple[Decimal, str | None, Decimal | None]:
    """Return a value, its unit, and a slip before it: "four zero correction one four"."""
    said = list(node.find_all("quantity"))
    last = said[-1]
    unit = _unit(last, state) or _unit(said[0], state)
    return _value(last), unit, _value(said[0]) if len(said) > 1 else None


def _tightened(node: jsgf.Node, state: State) -> intents.Intent:
    fastener = _words(node, "fastener")
    angle = node.find("whole")
    if node.find("angle") and angle:
        return intents.Tightened(numbers.parse(angle.words()), "°", fastener)
    value, unit, slip = _said_twice(node, state)
    return intents.Tightened(value, unit, fastener, slip)


def _reading(node: jsgf.Node, state: State) -> intents.Intent:
    value, unit, slip = _said_twice(node, state)
    return intents.Reading(value, unit, _words(node, "reading_name"), slip)


def _finding(node: jsgf.Node, state: State) -> intents.Intent:
    condition, place = _words(node, "condition") or "", _words(node, "place")
    said = node.find("disposition")
    disposition = _DISPOSITION.validate_python(_tag(said)) if said else None
    return intents.Finding(_part(node, state), condition, place, disposition)


_DISPOSITION: TypeAdapter[Disposition] = TypeAdapter(Disposition)


def _supply(node: jsgf.Node, state: State) -> intents.Intent:
    came_to = _ORDER_STATE.validate_python(_tag(node))
    count = _whole(node, "count") if node.find("count") else None
    return intents.Supply(_part(node, state), came_to, count)


_ORDER_STATE: TypeAdapter[OrderState] = TypeAdapter(OrderState)


def _note(node: jsgf.Node, state: State) -> intents.Intent:
    return intents.Note(clipped="speech" in node.tags)


def _correction(node: jsgf.Node, state: State) -> intents.Intent:
    inner = next(child for child in node.children if isinstance(child, jsgf.Node))
    return intents.Correction(BUILDERS[inner.rule](inner, state))


def _start_timer(node: jsgf.Node, state: State) -> intents.Intent:
    name = _words(node, "timer_name")
    duration = node.find("duration")
    if duration is None:
        return intents.StartTimer(name=name)
    unit = duration.find("time_unit")
    size = {"s": 1, "min": 60, "h": 3600, "d": 86400}[unit.tags[-1] if unit else "min"]
    return intents.StartTimer(_whole(duration, "count") * size, name)


def _timer(node: jsgf.Node) -> tuple[str | None, int | None]:
    """Return which timer is meant: its name and its number, None where they were not said."""
    number = _whole(node, "timer_number") if node.find("timer_number") else None
    return _words(node, "timer_name"), number


def _sign_on(node: jsgf.Node, state: State) -> intents.Intent:
    said = _words(node, "technician")
    return intents.SignOn(next(name for name in state.technicians if name.lower() == said))


BUILDERS: dict[str, Builder] = {
    "next": lambda node, state: intents.Next(),
    "previous": lambda node, state: intents.Previous(),
    "skip": lambda node, state: intents.Skip(),
    "reason": lambda node, state: intents.Reason(_tag(node)),
    "go_to": lambda node, state: intents.GoTo(_whole(node, "step_number")),
    "say_again": lambda node, state: intents.SayAgain(),
    "read_back": lambda node, state: intents.ReadBack(),
    "where": lambda node, state: intents.WhereAreWe(),
    "left": lambda node, state: intents.WhatIsLeft(),
    "help": lambda node, state: intents.Help(),
    "ask": _ask,
    "tightened": _tightened,
    "reading": _reading,
    "bag": lambda node, state: intents.Bag(_whole(node, "step_number")),
    "order": lambda node, state: intents.Order(_part(node, state), _whole(node, "count")),
    "supply": _supply,
    "kit_check": lambda node, state: intents.KitCheck(),
    "short": lambda node, state: intents.Short(_whole(node, "count")),
    "affirm": lambda node, state: intents.Affirm(),
    "negative": lambda node, state: intents.Negative(),
    "chosen": lambda node, state: intents.Chosen(_words(node, "answer") or ""),
    "finding": _finding,
    "note": _note,
    "speech": lambda node, state: intents.Note(clipped=True),
    "quantity": lambda node, state: intents.Value(_value(node), _unit(node, state)),
    "bare_value": lambda node, state: intents.Value(_value(node), _unit(node, state)),
    "correction": _correction,
    "disregard": lambda node, state: intents.Disregard(),
    "start_timer": _start_timer,
    "next_bolt": lambda node, state: intents.NextBolt(),
    "cancel_timer": lambda node, state: intents.CancelTimer(*_timer(node)),
    "time_left": lambda node, state: intents.TimeLeft(*_timer(node)),
    "speak": lambda node, state: intents.Speak(Change(_tag(node))),
    "sign_on": _sign_on,
    "stand_by": lambda node, state: intents.StandBy(),
    "resume": lambda node, state: intents.Resume(),
    "leave_job": lambda node, state: intents.LeaveJob(),
    "close_job": lambda node, state: intents.CloseJob(),
}
"""For each rule under <command> in the grammars, the intent that it means."""
