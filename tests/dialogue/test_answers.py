"""An answer of a procedure that is a command of the assistant is found."""

from __future__ import annotations

from assistant.dialogue import answers
from assistant.procedure import reading
from tests.bench_helpers import SMALL


def test_an_answer_that_is_a_command_is_found() -> None:
    assert not list(answers.that_are_commands(reading.parse(SMALL, "small.yaml")))
    text = SMALL.replace("{say: splined shaft,", "{say: next step,")
    (fault,) = answers.that_are_commands(reading.parse(text, "small.yaml"))
    assert "'next step' is a command" in fault[1]
