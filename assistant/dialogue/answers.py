"""Finds answers to a procedure's questions that are commands already.

Whoever gives such an answer would be taken to give the command: “next step” would leave the
question open and go on. Only this floor knows the commands, so reading is given this check.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from assistant.dialogue import live, vocabulary
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.intents import PLAIN_WORDS
from assistant.dialogue.state import Mode, at_step
from assistant.grammar import jsgf
from assistant.procedure import routes
from assistant.procedure.model import Procedure
from assistant.procedure.problems import Fault

_USUAL = {
    "condition": "<usual_condition>",
    "place": "<usual_place>",
    "timer_name": "<usual_timer>",
    "value": "<number>",
    "step_number": "<small>",
}
"""What is left of the rules that steps bring without their names, which an answer may have."""


def that_are_commands(procedure: Procedure) -> Iterator[Fault]:
    """Yield each answer, or other way to say it, that a command of the assistant is."""
    for where, step in routes.placed(procedure):
        if step.question is None:
            continue
        rules = tuple(name for name, _ in vocabulary.rules(at_step(procedure, step.id)))
        for number, answer in enumerate(step.question.answers):
            for words in (answer.say, *answer.also):
                if _is_command(words, rules):
                    yield (
                        (*where, "question", "answers", number, "say"),
                        f"the answer '{words}' is a command of the assistant, which would be "
                        f"taken instead. Say what is seen, such as '{words} it is', or other words",
                    )


@cache
def _is_command(words: str, rules: tuple[str, ...]) -> bool:
    """Whether words are a sentence of a grammar in which the rules of a step hold no names."""
    said = tuple(words.replace("-", " ").split())
    if words in PLAIN_WORDS:
        return True
    return any(grammar.parse_first(said) is not None for grammar in _grammars(rules))


@cache
def _grammars(of_steps: tuple[str, ...]) -> tuple[jsgf.Grammar, ...]:
    found = []
    for mode in (Mode.WORKING, Mode.QUESTIONING, Mode.STANDING_BY):
        rules = dict(RULEBOOK.grammar_rules(mode))
        for name in of_steps:
            rules.setdefault(name, _USUAL.get(name, "<VOID>"))
        found.append(live.joined(("shared", "numbers"), tuple(rules.items())))
    return tuple(found)
