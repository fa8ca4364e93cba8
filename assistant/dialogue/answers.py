"""Finds answers to a procedure's questions that are commands already.

Whoever gives such an answer would be taken to give the command: “next step” would leave the
question open and go on. Only this floor knows the commands, so reading is given this check.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from assistant.dialogue import live
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.intents import PLAIN_WORDS
from assistant.dialogue.state import Mode
from assistant.grammar import jsgf
from assistant.procedure import routes
from assistant.procedure.model import Procedure
from assistant.procedure.problems import Fault

_OF_STEPS = (
    "part",
    "one_part",
    "many_parts",
    "fastener",
    "any_fastener",
    "other_fastener",
    "asked_fastener",
    "answer",
    "sent_for",
    "goes_first",
    "goes_after",
    "reading_name",
    "technician",
    "step_unit",
)
"""Rules that steps bring: an answer may have the name of a part."""


def that_are_commands(procedure: Procedure) -> Iterator[Fault]:
    """Yield each answer, or other way to say it, that a command of the assistant is."""
    for where, step in routes.placed(procedure):
        if step.question is None:
            continue
        for number, answer in enumerate(step.question.answers):
            for words in (answer.say, *answer.also):
                if _is_command(words):
                    yield (
                        (*where, "question", "answers", number, "say"),
                        f"the answer '{words}' is a command of the assistant, which would be "
                        f"taken instead. Say what is seen, such as '{words} it is', or other words",
                    )


@cache
def _is_command(words: str) -> bool:
    said = tuple(words.replace("-", " ").split())
    if words in PLAIN_WORDS:
        return True
    return any(grammar.parse_first(said) is not None for grammar in _grammars())


@cache
def _grammars() -> tuple[jsgf.Grammar, ...]:
    modes = (Mode.WORKING, Mode.QUESTIONING, Mode.STANDING_BY)
    return tuple(_without_names(mode) for mode in modes)


def _without_names(mode: Mode) -> jsgf.Grammar:
    rules = dict(RULEBOOK.grammar_rules(mode))
    for name in _OF_STEPS:
        rules.setdefault(name, "<VOID>")
    for name, usual in (("condition", "usual_condition"), ("place", "usual_place")):
        rules.setdefault(name, f"<{usual}>")
    rules.setdefault("timer_name", "<usual_timer>")
    rules.setdefault("value", "<number>")
    return live.joined(("shared", "numbers"), tuple(rules.items()))
