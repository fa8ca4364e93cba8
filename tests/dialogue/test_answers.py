"""The check of answers knows every rule that a step brings, or it could not read the commands."""

from __future__ import annotations

from assistant.dialogue import answers, vocabulary
from assistant.dialogue import state as job_state
from assistant.procedure import reading
from tests.bench_helpers import SMALL

WITH_USUAL_WORDS = {"condition", "place", "timer_name", "value"}


def test_every_rule_that_a_step_brings_is_known_to_it() -> None:
    procedure = reading.parse(SMALL, "small.yaml")
    brought = dict(vocabulary.rules(job_state.at_step(procedure, "measure")))
    assert brought.keys() - WITH_USUAL_WORDS == set(answers._OF_STEPS)


def test_an_answer_that_is_a_command_is_found() -> None:
    assert not list(answers.that_are_commands(reading.parse(SMALL, "small.yaml")))
    text = SMALL.replace("{say: splined shaft,", "{say: next step,")
    (fault,) = answers.that_are_commands(reading.parse(text, "small.yaml"))
    assert "'next step' is a command" in fault[1]
