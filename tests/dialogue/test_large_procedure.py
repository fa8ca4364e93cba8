"""A procedure of 2,000 steps and 5,000 names of parts is listened for and understood like any."""

from __future__ import annotations

from datetime import datetime

import pytest

from assistant.dialogue import intents, live, vocabulary
from assistant.dialogue.decide import decide
from assistant.dialogue.state import State, apply, at_step
from assistant.dialogue.understanding import understand
from assistant.procedure import reading
from assistant.procedure.model import Procedure
from tests.bench_helpers import ZONE
from tests.benchmark.checking import PART_NAMES, large

NOW = datetime(2026, 5, 4, 9, tzinfo=ZONE)


@pytest.fixture(scope="module")
def procedure() -> Procedure:
    # The names are as many as the grammar would have to hold if each could be said everywhere.
    return reading.parse(large(2000, PART_NAMES[:5000]), "large.yaml", stored=True)


def said(words: str, state: State) -> intents.Intent | None:
    return understand(words.split(), state)


@pytest.mark.parametrize(
    ("words", "number"),
    [
        ("one thousand nine hundred", 1900),
        ("nineteen hundred", 1900),
        ("one nine zero zero", 1900),
        ("one thousand nine hundred and fifty two", 1952),
        ("one thousand and five", 1005),
        ("two hundred", 200),
        ("two five zero", 250),
        ("seven", 7),
        ("one twenty", 120),
    ],
)
def test_its_steps_are_gone_to_by_number(procedure: Procedure, words: str, number: int) -> None:
    state = at_step(procedure, "step-3")
    intent = said(f"go to step {words}", state)
    assert intent == intents.GoTo(number)
    decision = decide(state, intent, NOW)
    for event in decision.events:
        state = apply(state, event)
    assert state.step_id == f"step-{number - 1}"


def test_a_short_procedure_does_not_listen_for_such_numbers() -> None:
    short = at_step(reading.parse(large(20, PART_NAMES[:20]), "short.yaml"), "step-2")
    assert said("go to step one thousand nine hundred", short) is None
    assert said("go to step nineteen", short) == intents.GoTo(19)


def test_parts_near_the_step_can_be_named_and_the_grammar_is_small_enough(
    procedure: Procedure,
) -> None:
    state = at_step(procedure, "step-1000")
    parts = vocabulary.live_parts(state)
    assert len(parts) == 300
    here = state.step.remove[0].part
    assert parts[0].name == here
    assert said(f"{here} worn", state) is not None
    # A recogniser needs the whole network, which has a bound on its size.
    assert live.grammar_for(state).network().arcs


def test_a_part_that_the_job_has_dealt_with_can_be_named_from_anywhere(
    procedure: Procedure,
) -> None:
    first = at_step(procedure, "step-1000")
    part = first.step.remove[0].part
    intent = said(f"order one {part}", first)
    assert intent is not None
    state = first
    for event in decide(first, intent, NOW).events:
        state = apply(state, event)
    assert state.history
    far = decide(state, intents.GoTo(1), NOW)
    for event in far.events:
        state = apply(state, event)
    assert state.step_id == "step-0"
    assert vocabulary.live_parts(state)[0].name == part
    assert said(f"order one {part}", state) == intent
