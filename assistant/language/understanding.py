"""Words to intents. `BUILDERS` is the list of all that can be said and what each means."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from decimal import Decimal

from pydantic import TypeAdapter

from assistant.language import jsgf, live, numbers, units
from assistant.session import intents as it
from assistant.session.events import Disposition, OrderState
from assistant.session.state import Mode, State

Builder = Callable[[jsgf.Node, State], it.Intent]


def understand(words: Sequence[str], state: State) -> it.Intent | None:
    """Return what the words mean in this state, or None where they mean nothing in it.

    `words` are a recogniser's, in the spelling of the grammar.
    """
    return from_grammar(words, live.grammar_for(state), state)


def from_grammar(words: Sequence[str], grammar: jsgf.Grammar, state: State) -> it.Intent | None:
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


def understand_typed(text: str, state: State) -> it.Intent | None:
    """Return what a typed line means; free text is kept as it is in notes and reasons."""
    text = " ".join(text[:_MOST_TYPED].split())
    if not text:
        return None
    intent = understand(typed_words(text), state)
    if isinstance(intent, it.Note) and intent.clipped:
        intent = None
    if intent is not None:
        return intent
    note = _NOTE.fullmatch(text)
    if note:
        return it.Note(note[1])
    if state.mode is Mode.NOTING:
        return it.Note(text)
    if state.mode is Mode.SKIPPING:
        # A command typed here asks for the reason again; anything else is the reason.
        command = from_grammar(typed_words(text), live.working_grammar(state), state)
        return command or it.Reason(text)
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


def _ask(node: jsgf.Node, state: State) -> it.Intent:
    unit = node.find("torque_unit")
    return it.Ask(it.Topic(node.tags[-1]), unit.tags[-1] if unit else None)


def _said_twice(node: jsgf.Node, state: State) -> tuple[Decimal, str | None, Decimal | None]:
    """Return a value, its unit, and a slip before it: "four zero correction one four"."""
    said = list(node.find_all("quantity"))
    last = said[-1]
    unit = _unit(last, state) or _unit(said[0], state)
    return _value(last), unit, _value(said[0]) if len(said) > 1 else None


def _tightened(node: jsgf.Node, state: State) -> it.Intent:
    fastener = _words(node, "fastener")
    angle = node.find("whole")
    if node.find("angle") and angle:
        return it.Tightened(numbers.parse(angle.words()), "°", fastener)
    value, unit, slip = _said_twice(node, state)
    return it.Tightened(value, unit, fastener, slip)


def _reading(node: jsgf.Node, state: State) -> it.Intent:
    value, unit, slip = _said_twice(node, state)
    return it.Reading(value, unit, _words(node, "reading_name"), slip)


def _finding(node: jsgf.Node, state: State) -> it.Intent:
    condition, place = _words(node, "condition") or "", _words(node, "place")
    said = node.find("disposition")
    disposition = _DISPOSITION.validate_python(_tag(said)) if said else None
    return it.Finding(_part(node, state), condition, place, disposition)


_DISPOSITION: TypeAdapter[Disposition] = TypeAdapter(Disposition)


def _supply(node: jsgf.Node, state: State) -> it.Intent:
    came_to = _ORDER_STATE.validate_python(_tag(node))
    count = _whole(node, "count") if node.find("count") else None
    return it.Supply(_part(node, state), came_to, count)


_ORDER_STATE: TypeAdapter[OrderState] = TypeAdapter(OrderState)


def _note(node: jsgf.Node, state: State) -> it.Intent:
    return it.Note(clipped="speech" in node.tags)


def _correction(node: jsgf.Node, state: State) -> it.Intent:
    inner = next(child for child in node.children if isinstance(child, jsgf.Node))
    return it.Correction(BUILDERS[inner.rule](inner, state))


def _start_timer(node: jsgf.Node, state: State) -> it.Intent:
    duration = node.find("duration")
    if duration is None:
        return it.StartTimer()
    unit = duration.find("time_unit")
    size = {"s": 1, "min": 60, "h": 3600, "d": 86400}[unit.tags[-1] if unit else "min"]
    return it.StartTimer(_whole(duration, "count") * size)


BUILDERS: dict[str, Builder] = {
    "next": lambda node, state: it.Next(),
    "previous": lambda node, state: it.Previous(),
    "skip": lambda node, state: it.Skip(),
    "reason": lambda node, state: it.Reason(_tag(node)),
    "go_to": lambda node, state: it.GoTo(_whole(node, "step_number")),
    "say_again": lambda node, state: it.SayAgain(),
    "read_back": lambda node, state: it.ReadBack(),
    "where": lambda node, state: it.WhereAreWe(),
    "left": lambda node, state: it.WhatIsLeft(),
    "help": lambda node, state: it.Help(),
    "ask": _ask,
    "tightened": _tightened,
    "reading": _reading,
    "bag": lambda node, state: it.Bag(_whole(node, "step_number")),
    "order": lambda node, state: it.Order(_part(node, state), _whole(node, "count")),
    "supply": _supply,
    "kit_check": lambda node, state: it.KitCheck(),
    "short": lambda node, state: it.Short(_whole(node, "count")),
    "affirm": lambda node, state: it.Affirm(),
    "negative": lambda node, state: it.Negative(),
    "chosen": lambda node, state: it.Chosen(_words(node, "answer") or ""),
    "finding": _finding,
    "note": _note,
    "speech": lambda node, state: it.Note(clipped=True),
    "quantity": lambda node, state: it.Value(_value(node), _unit(node, state)),
    "bare_value": lambda node, state: it.Value(_value(node), _unit(node, state)),
    "correction": _correction,
    "disregard": lambda node, state: it.Disregard(),
    "start_timer": _start_timer,
    "next_bolt": lambda node, state: it.NextBolt(),
    "time_left": lambda node, state: it.TimeLeft(),
    "stand_by": lambda node, state: it.StandBy(),
    "resume": lambda node, state: it.Resume(),
    "close_job": lambda node, state: it.CloseJob(),
}
"""For each rule under <command> in the grammars, the intent that it means."""
