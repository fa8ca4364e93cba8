"""The words that the present step and its procedure bring: units, parts, readings, answers.

Small grammars are heard better, so a step brings only its own fasteners, answers, readings and
units. Parts and places are those of the whole procedure: a finding is made where it is seen. Of
many hundreds of parts only those nearest by can be named. The fasteners of other steps can be named
in questions alone: what torque, and where they are.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain, islice

from assistant.dialogue import events, pieces
from assistant.dialogue.state import State
from assistant.grammar import nouns, units
from assistant.procedure.model import Part, Procedure, Reading, Step

TORQUE_UNITS = ("N·m", "lbf·ft", "lbf·in", "kgf·m")


def _step(state: State) -> Step:
    """Return the step whose words are live: the one that is gone through, or the present one."""
    if isinstance(state.pending, events.ReviewOpened):
        return state.procedure.step(state.pending.of)
    return state.step


def step_units(state: State) -> tuple[str, ...]:
    """Return the units that may be said at the present step, its own first."""
    step = _step(state)
    found = [reading.unit for reading in step.readings]
    if step.tighten or state.procedure.unwritten is not None:
        found += TORQUE_UNITS
    for reading in step.readings:
        found += _ALIKE.get(reading.unit, ())
    # A value of the wrong kind has to be heard as such, or it is heard as some right one.
    return tuple(dict.fromkeys([*found, "N·m", "mm", "bar", "°"]))


def sent_for(state: State) -> str:
    """Return the names that a value may belong to which an instrument sent, as an expansion."""
    asked = state.pending
    if not isinstance(asked, events.ValueSent):
        return any_of(())
    return any_of((*asked.readings, *asked.fasteners))


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


def rules(state: State) -> tuple[tuple[str, str], ...]:
    """Return the rules that the step brings, as (name, expansion)."""
    procedure, step = state.procedure, _step(state)
    parts = live_parts(state)
    single = [name for part in parts for name in (part.name, *part.also)]
    plural = [part.plural_name for part in parts]
    plural += [nouns.plural(name) for part in parts for name in part.also]
    answers: list[str] = []
    if step.question:
        for answer in step.question.answers:
            answers += [answer.say, *answer.also]
    purposes = [one.wait.purpose for one in procedure.steps if one.wait]
    inches = any(reading.unit in ("in", "thou") for reading in step.readings)
    below_zero = any(_can_be_below_zero(reading) for reading in step.readings)
    found = {
        "part": "<one_part> | <many_parts>",
        "one_part": any_of(single),
        "many_parts": any_of(plural),
        "fastener": any_of(t.fastener for t in step.tighten),
        "any_fastener": any_of(fasteners(procedure.steps)),
        # Of a finding only the present step's; asked where it is, any.
        "other_fastener": any_of(_one_or_more(other_fasteners((step,), procedure))),
        "asked_fastener": any_of(_one_or_more(other_fasteners(procedure.steps, procedure))),
        "answer": any_of(answers),
        "reading_name": any_of(r.name for r in step.readings),
        "sent_for": sent_for(state),
        "condition": " | ".join(["<usual_condition>", *procedure.conditions]),
        "place": " | ".join(["<usual_place>", *procedure.places]),
        "timer_name": " | ".join(["<usual_timer>", *dict.fromkeys(purposes)]),
        "technician": any_of(name.lower() for name in state.technicians),
        "value": "<signed_number>" if below_zero else "<number>" if inches else "<metric_number>",
        "step_unit": units.jsgf(step_units(state)),
    }
    if len(procedure.steps) > _FEW_STEPS:
        found["step_number"] = _MANY_STEPS
    if procedure.unwritten is not None:
        found |= dict(pieces.live_names(procedure).rules)
    off = any_of(name for piece in state.pieces for name in (piece.name, piece.plural))
    found |= {"goes_first": off, "goes_after": off}
    return tuple(found.items())


_MOST_PARTS = 300
"""Parts that can be named at one moment. With thousands, the grammar would be too large to listen
with; what is not near would mostly be misheard for what is."""


def live_parts(state: State) -> tuple[Part, ...]:
    """Return the parts that can be named now: all of them, or of very many those nearest by.

    Nearest are those that this job has events of, the latest first, and then those of the present
    step and of the steps before and after it.
    """
    procedure = state.procedure
    if len(procedure.parts) <= _MOST_PARTS:
        return procedure.parts
    found: dict[str, Part] = {}
    for name in chain(_told_of(state), _by_nearness(procedure, _step(state))):
        part = procedure.part(name)
        if part is not None:
            found.setdefault(part.name, part)
        if len(found) == _MOST_PARTS:
            break
    return tuple(found.values())


def _told_of(state: State) -> Iterable[str]:
    """Yield the parts of the latest events: at most half of all that can be named."""
    latest = (getattr(event, "part", None) for event in reversed(state.history))
    names = dict.fromkeys(name for name in islice(latest, _MOST_PARTS) if isinstance(name, str))
    return islice(names, _MOST_PARTS // 2)


def _by_nearness(procedure: Procedure, step: Step) -> Iterable[str]:
    """Yield the parts that steps name, those of the nearest steps first, and then the others."""
    steps, here = procedure.steps, procedure.index(step.id)
    for away in range(len(steps)):
        for number in dict.fromkeys((here - away, here + away)):
            if 0 <= number < len(steps):
                near = steps[number]
                yield from (removed.part for removed in near.remove)
                yield from (fitted.part for fitted in near.fit)
                yield from (row.part for row in (near.choice.rows if near.choice else ()))
                yield from (fastener.name for fastener in near.fasteners)
    yield from (part.name for part in procedure.parts)


_FEW_STEPS = 199
"""Steps that the shipped <step_number> can name; short numbers are heard better."""
_MANY_STEPS = (
    "<small> | <nonzero> <digit> [<digit> [<digit>]] | <nonzero> <two_figures>"
    " | <small> hundred [[and] <small>]"
    " | <nonzero> thousand [[<nonzero> hundred] [and] <small> | <nonzero> hundred]"
)


def fasteners(steps: Iterable[Step]) -> tuple[str, ...]:
    """Return the names of the fasteners of steps, each once."""
    return tuple(
        dict.fromkeys(
            name
            for step in steps
            for name in (*(f.name for f in step.fasteners), *(t.fastener for t in step.tighten))
        )
    )


def other_fasteners(steps: Iterable[Step], procedure: Procedure) -> tuple[str, ...]:
    """Return the names of the fasteners of steps that are no parts of the procedure's list."""
    return tuple(name for name in fasteners(steps) if procedure.part(name) is None)


def _one_or_more(names: Iterable[str]) -> list[str]:
    return [said for name in names for said in (name, nouns.plural(name))]


def _can_be_below_zero(reading: Reading) -> bool:
    least = reading.limits.least or reading.plausible.least
    return reading.unit in ("°C", "°F") or (least is not None and least.value < 0)


def any_of(phrases: Iterable[str]) -> str:
    """Return the expansion of a rule that is one of the phrases, of which there may be none."""
    return " | ".join(dict.fromkeys(phrases)) or "<VOID>"
