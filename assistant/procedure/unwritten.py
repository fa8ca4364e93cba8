"""The beginning of a job that has no written procedure: what its record keeps in place of one.

It has one step, which makes the machine safe, and the names that can be said. All other steps come
about at the bench (`assistant.dialogue.pieces`): what comes off is what goes on again.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from assistant.errors import AssistantError
from assistant.procedure import reading
from assistant.procedure.kit_list import KitLine
from assistant.procedure.lexicon import Lexicon
from assistant.procedure.model import Procedure
from assistant.text import plain

NAME = "unwritten"
"""What such a job has for the name of its procedure."""
SAFE = "make-safe"
"""The step that comes before anything is taken off."""

_LONGEST_TITLE = 100
_ISOLATED = (
    "Is the machine safe to work on: supply locked off, pressure let off, loads down or held, hot "
    "parts cool, and nothing that can spring back?"
)


def make_safe() -> dict[str, Any]:
    """Return the step that comes before anything is taken off, as it is written in a file."""
    return {
        "id": SAFE,
        "say": "Make the machine safe, and keep it so.",
        "gate": "job",
        "before": [{"affirm": _ISOLATED}],
    }


def begin(title: str, lexicon: Lexicon, kit: Iterable[KitLine] = ()) -> tuple[Procedure, str]:
    """Return what a job on such a machine begins with, and the text of it that is kept.

    `kit` is what the box of new parts should hold; lines of none are left out. Raises
    AssistantError for a title that cannot be one.
    """
    title = " ".join(plain(title).split())
    if not 0 < len(title) <= _LONGEST_TITLE:
        raise AssistantError(
            f"The title of an unwritten job says what machine it is, in 1 to {_LONGEST_TITLE} "
            "characters, such as: assistant run --unwritten 'Capstan drive'"
        )
    parts = [
        {"name": line.name, "plural": line.plural, "count": line.count}
        | ({"number": line.number[:60]} if line.number else {})
        for line in kit
        if line.count
    ]
    written = {
        "procedure": NAME,
        "title": title,
        "revision": "none",
        "equipment": {"kind": lexicon.title},
        "parts": parts,
        "unwritten": {
            "nouns": {noun.name: noun.plural for noun in lexicon.nouns},
            "qualifiers": list(lexicon.qualifier_words()),
            "kit": parts,
        },
        "stages": [
            {
                "name": "Make safe",
                "taken": "as found",
                "steps": [make_safe()],
            }
        ],
    }
    text = json.dumps(written, ensure_ascii=False, indent=1) + "\n"
    return reading.parse(text, "the unwritten job", stored=True), text
