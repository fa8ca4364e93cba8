"""The grammar that is live: the standing commands joined with the words of the present step.

Small grammars are heard better, so a step brings only its own fasteners, answers, readings and
units. Parts and places are those of the whole procedure: a finding is made where it is seen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from assistant import resources
from assistant.dialogue.state import Mode, State
from assistant.grammar import jsgf, nouns, units
from assistant.procedure.model import Reading

TORQUE_UNITS = ("N·m", "lbf·ft", "lbf·in", "kgf·m")

_FILES = {Mode.SKIPPING: "reasons", Mode.NOTING: "noting", Mode.STANDING_BY: "standby"}
_HEAD = re.compile(r"^\s*(#JSGF[^;]*;|grammar\s+[\w.]+\s*;|import\s+[^;]*;)", re.MULTILINE)
_TAKE_HEAD = "#JSGF V1.0 UTF-8 en;\ngrammar live;\n"


def grammar_for(state: State) -> jsgf.Grammar:
    """Return the grammar of what can be said in this state."""
    file = _FILES.get(state.mode)
    if file is not None:
        return fixed(file)
    return working_grammar(state)


def working_grammar(state: State) -> jsgf.Grammar:
    """Return the commands that can be given at the present step."""
    return joined(("commands", "numbers"), _rules(state))


@lru_cache(maxsize=8)
def fixed(name: str) -> jsgf.Grammar:
    """Return a shipped grammar that takes nothing from the step."""
    return jsgf.read(resources.folder("grammars") / f"{name}.gram")


def step_units(state: State) -> tuple[str, ...]:
    """Return the units that may be said at the present step, its own first."""
    step = state.step
    found = [reading.unit for reading in step.readings]
    if step.tighten:
        found += TORQUE_UNITS
    for reading in step.readings:
        found += _ALIKE.get(reading.unit, ())
    # A value of the wrong kind has to be heard as such, or it is heard as some right one.
    return tuple(dict.fromkeys([*found, "N·m", "mm", "bar", "°"]))


_ALIKE = {
    "mm": ("in", "thou"),
    "in": ("thou", "mm"),
    "bar": ("kPa", "psi"),
    "kPa": ("bar", "psi"),
    "psi": ("bar", "kPa"),
    "°C": ("°F",),
    "l": ("ml",),
    "ml": ("l",),
}


def _rules(state: State) -> tuple[tuple[str, str], ...]:
    """Return the rules that the step brings, as (name, expansion)."""
    procedure, step = state.procedure, state.step
    single = [name for part in procedure.parts for name in (part.name, *part.also)]
    plural = [part.plural_name for part in procedure.parts]
    plural += [nouns.plural(name) for part in procedure.parts for name in part.also]
    answers: list[str] = []
    if step.question:
        for answer in step.question.answers:
            answers += [answer.say, *answer.also]
    purposes = [one.wait.purpose for one in procedure.steps if one.wait]
    inches = any(reading.unit in ("in", "thou") for reading in step.readings)
    below_zero = any(_can_be_below_zero(reading) for reading in step.readings)
    rules = {
        "part": "<one_part> | <many_parts>",
        "one_part": any_of(single),
        "many_parts": any_of(plural),
        "fastener": any_of(t.fastener for t in step.tighten),
        "answer": any_of(answers),
        "reading_name": any_of(r.name for r in step.readings),
        "condition": " | ".join(["<usual_condition>", *procedure.conditions]),
        "place": " | ".join(["<usual_place>", *procedure.places]),
        "timer_name": " | ".join(["<usual_timer>", *dict.fromkeys(purposes)]),
        "technician": any_of(name.lower() for name in state.technicians),
        "value": "<signed_number>" if below_zero else "<number>" if inches else "<metric_number>",
        "step_unit": units.jsgf(step_units(state)),
        "short": "short <count>" if state.mode is Mode.CHECKING else "<VOID>",
        "bare_value": "<quantity>" if state.mode is Mode.QUESTIONING else "<VOID>",
    }
    return tuple(rules.items())


def _can_be_below_zero(reading: Reading) -> bool:
    least = reading.limits.least or reading.plausible.least
    return reading.unit in ("°C", "°F") or (least is not None and least.value < 0)


def any_of(phrases: Iterable[str]) -> str:
    """Return the expansion of a rule that is one of the phrases, of which there may be none."""
    return " | ".join(dict.fromkeys(phrases)) or "<VOID>"


@lru_cache(maxsize=64)
def joined(names: tuple[str, ...], rules: tuple[tuple[str, str], ...]) -> jsgf.Grammar:
    """Return shipped grammars joined with rules that are given as (name, expansion)."""
    folder = resources.folder("grammars")
    text = _TAKE_HEAD
    for name in names:
        text += _HEAD.sub("", (folder / f"{name}.gram").read_text(encoding="utf-8"))
    text += "".join(f"<{name}> = {expansion};\n" for name, expansion in rules)
    return jsgf.parse(text, "the live grammar")
