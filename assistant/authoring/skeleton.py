"""The skeleton of a new procedure: what its writer has told so far, and comments on how to go on.

`check` finds nothing wrong with it, so that whatever it finds afterwards is the writer's own.
Nobody has approved it: its revision is `draft`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from assistant.authoring import names, schema, wording
from assistant.authoring.commented import Commented, text_of
from assistant.errors import AssistantError
from assistant.procedure import reading, unwritten
from assistant.procedure.model import DRAFT
from assistant.text import plain

_LONGEST_SENTENCE, _LONGEST_TITLE, _LONGEST_NAME = 400, 100, 60
_NO_NAMES = frozenset({"a", "an", "and", "it", "its", "of", "off", "on", "the", "to", "with"})
"""Words that a step's name in the file can do without."""
_WORDS_OF_A_NAME = 4

USUAL = (
    ("strip-down", ("Take off the cover.",)),
    ("inspection", ("Look at the bores and the seals.",)),
    ("build-up", ("Fit the cover.",)),
)
"""The stages and steps of a skeleton for which none were told."""


@dataclass(frozen=True)
class Told:
    """What a writer has told of a new procedure."""

    title: str
    machine: str
    """What kind of machine it is for."""
    steps: tuple[str, ...] = ()
    """What to do, a sentence a step. One that ends with a colon begins a stage of that name."""
    maker: str | None = None
    model: str | None = None
    author: str | None = None


def write(told: Told) -> str:
    """Return the text of the file.

    Raises AssistantError for a title, machine or step that a procedure cannot have.
    """
    title = _one_line(told.title, "title", _LONGEST_TITLE)
    file = Commented()
    file.put("procedure", names.of_procedure(title), [schema.LINE, *wording.SKELETON])
    file.put("title", title)
    file.put("revision", DRAFT, [wording.REVISION])
    if told.author:
        file.put("author", _one_line(told.author, "author", _LONGEST_NAME))
    equipment = {"kind": _one_line(told.machine, "machine", _LONGEST_SENTENCE)}
    for key, value in (("maker", told.maker), ("model", told.model)):
        if value:
            equipment[key] = _one_line(value, key, _LONGEST_SENTENCE)
    file.put("equipment", _map(equipment), [wording.EQUIPMENT])
    stages = [(_stage("Make safe", [_step(unwritten.make_safe(), [wording.GATE])]), ())]
    ids = names.Ids({unwritten.SAFE})
    comments: Sequence[str] = wording.EXAMPLE_OF_STEP
    for name, sentences in _stages(told.steps) or USUAL:
        steps = []
        for sentence in sentences:
            said = _one_line(sentence, "step", _LONGEST_SENTENCE)
            steps.append(_step({"id": ids.new(_short(said)), "say": said}, comments))
            comments = ()
        stages.append((_stage(_one_line(name, "stage", _LONGEST_SENTENCE), steps), ()))
    file.put_list("stages", stages, wording.EXAMPLE_OF_LISTS)
    text = text_of(file)
    reading.parse(text, "the skeleton")  # Nobody gets a file that cannot be used.
    return text


def _stages(lines: Iterable[str]) -> Sequence[tuple[str, Sequence[str]]]:
    """Return the stages that were told, with their steps; those without a step are left out."""
    found: list[tuple[str, list[str]]] = []
    for line in filter(None, map(str.strip, lines)):
        if line.endswith(":"):
            found.append((line[:-1], []))
            continue
        if not found:
            found.append((wording.WORK, []))
        found[-1][1].append(line)
    return [stage for stage in found if stage[1]]


def _one_line(text: str, what: str, most: int) -> str:
    line = " ".join(plain(text).split())
    if not 0 < len(line) <= most:
        raise AssistantError(wording.not_one_line(what, most))
    return line


def _short(sentence: str) -> str:
    """Return the words of a sentence that make a step's name in the file."""
    words = names.hyphenated(sentence).split("-")
    return " ".join([word for word in words if word not in _NO_NAMES][:_WORDS_OF_A_NAME])


def _stage(name: str, steps: Sequence[tuple[Commented, Sequence[str]]]) -> Commented:
    made = Commented()
    made.put("name", name)
    made.put_list("steps", steps)
    return made


def _step(keys: Mapping[str, Any], comments: Sequence[str]) -> tuple[Commented, Sequence[str]]:
    return _map(keys), comments


def _map(keys: Mapping[str, Any]) -> Commented:
    made = Commented()
    for key, value in keys.items():
        made.put(key, value)
    return made
