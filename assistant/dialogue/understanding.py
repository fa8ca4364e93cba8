"""Words to intents, by the grammar of the state that they were said in."""

from __future__ import annotations

import re
from collections.abc import Sequence

from assistant.dialogue import intents, live
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.said import Said
from assistant.dialogue.state import Mode, State
from assistant.grammar import jsgf, numbers, units


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
        return meaning(command, state)
    except ValueError:
        # A sequence of number words that is no one number: better asked again than guessed.
        return None


def meaning(command: jsgf.Node, state: State) -> intents.Intent:
    """Return what a command's part of a sentence means.

    Raises ValueError where its number words are no number.
    """
    return RULEBOOK.by_rule[command.rule].heard(Said(command, state, meaning))


_NOTE = re.compile(r"\s*(?:make a )?note[:,]?\s+(\S.*)", re.IGNORECASE | re.DOTALL)
_MOST_TYPED = 2000


def understand_typed(text: str, state: State) -> intents.Intent | None:
    """Return what a typed line means; free text is kept as it is in notes and reasons."""
    text = " ".join(text[:_MOST_TYPED].split())
    if not text:
        return None
    words = typed_words(text)
    plain = plain_word(words)
    if plain is not None and state.mode is not Mode.NOTING:
        return plain
    intent = understand(words, state)
    if isinstance(intent, intents.Note) and intent.clipped:
        intent = None
    if intent is None:
        counted = understand(typed_words(_FIGURES.sub(_counting_word, text)), state)
        kinds = intents.Removed | intents.Recount | intents.SomeOf
        intent = counted if isinstance(counted, kinds) else None
    if intent is not None:
        return intent
    note = _NOTE.fullmatch(text)
    if note:
        return intents.Note(note[1])
    if state.mode is Mode.NOTING:
        return intents.Note(text)
    if state.mode in (Mode.SKIPPING, Mode.CONCEDING):
        # A command typed here asks for the reason again; anything else is the reason.
        command = from_grammar(typed_words(text), live.working_grammar(state), state)
        reason = intents.Reason if state.mode is Mode.SKIPPING else intents.Note
        return command or reason(text)
    return None


_FIGURES = re.compile(r"(?<!\S)\d{1,3}(?!\S)")


def _counting_word(figures: re.Match[str]) -> str:
    """Return how a count is said that is not said digit by digit."""
    return numbers.cardinal(int(figures[0]))


def plain_word(words: Sequence[str]) -> intents.PlainWord | None:
    """Return a word of everyday speech that is answered wherever it is typed; None for others."""
    return next((intents.PlainWord(w) for w in intents.PLAIN_WORDS if tuple(words) == (w,)), None)


def typed_words(text: str) -> tuple[str, ...]:
    """Return a typed phrase as the words that would be heard: figures spelt out, no stops."""
    text = numbers.digits_to_words(units.grammar_spelling(text.strip().rstrip(".!?").lower()))
    return tuple(re.sub(r"[,;:]|\.(?=\s|$)", " ", text).replace("-", " ").split())
