"""The grammar that is live: the commands that can be given now, with the step's own words."""

from __future__ import annotations

import re
from functools import lru_cache

from assistant import resources
from assistant.dialogue import vocabulary
from assistant.dialogue.command import EVERYDAY
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.state import Mode, State
from assistant.grammar import jsgf

_HEAD = re.compile(r"^\s*(#JSGF[^;]*;|grammar\s+[\w.]+\s*;|import\s+[^;]*;)", re.MULTILINE)
_RULE = re.compile(r"^<(?P<name>\w+)>\s*=[^;]*;", re.MULTILINE)
_TAKE_HEAD = "#JSGF V1.0 UTF-8 en;\ngrammar live;\n"


def grammar_for(state: State) -> jsgf.Grammar:
    """Return the grammar of what can be said in this state."""
    if state.mode in EVERYDAY:
        return _everyday(state, state.mode)
    return few_words(state.mode, vocabulary.sent_for(state))


def working_grammar(state: State) -> jsgf.Grammar:
    """Return the commands that can be given at the present step when nothing is asked."""
    return _everyday(state, Mode.WORKING)


def few_words(mode: Mode, sent_for: str = "<VOID>") -> jsgf.Grammar:
    """Return the grammar of a mode that listens for few words, and takes none from the step but
    the expansion of what a value that was sent may be of.
    """
    own = (("sent_for", sent_for),) if mode is Mode.PLACING else ()
    return joined((), (*RULEBOOK.grammar_rules(mode), *own))


def _everyday(state: State, mode: Mode) -> jsgf.Grammar:
    rules = (*RULEBOOK.grammar_rules(mode), *vocabulary.rules(state))
    return joined(("shared", "numbers"), rules)


@lru_cache(maxsize=64)
def joined(names: tuple[str, ...], rules: tuple[tuple[str, str], ...]) -> jsgf.Grammar:
    """Return shipped grammars joined with rules that are given as (name, expansion).

    <command> is what can be said. A rule that is given replaces a shipped one of its name.
    """
    folder = resources.folder("grammars")
    text = _TAKE_HEAD
    for name in names:
        text += _HEAD.sub("", (folder / f"{name}.gram").read_text(encoding="utf-8"))
    given = {name for name, _ in rules}
    text = _RULE.sub(lambda match: "" if match["name"] in given else match[0], text)
    for name, expansion in rules:
        text += f"{'public ' if name == 'command' else ''}<{name}> = {expansion};\n"
    return jsgf.parse(text, "the live grammar")
