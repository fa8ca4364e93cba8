"""The procedure file of what was imported: what was not read stands in it as comments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarstring import DoubleQuotedScalarString

from assistant.authoring.commented import Commented, text_of
from assistant.authoring.imported import Imported, Remark

_LONGEST_ON_ONE_LINE = 96
"""Characters, as Python shows it, of an entry of a list that is written on one line."""


def text(read: Imported, head: Sequence[str] = ()) -> str:
    """Return the file's text; `head` are comments at its top."""
    at_top = [*head, *(_mark(one) for one in read.remarks if len(one.at) < 4)]
    file = Commented()
    for number, (key, value) in enumerate(read.tree.items()):
        comments = at_top if number == 0 else ()
        if key == "stages":
            file.put_list(key, [(_stage(read, at, stage), []) for at, stage in enumerate(value)])
        else:
            file.put(key, _value(value), comments)
    return text_of(file).rstrip("\n") + "\n"


def _stage(read: Imported, number: int, stage: dict[str, Any]) -> Commented:
    found = Commented()
    for key, value in stage.items():
        if key == "steps":
            steps = [
                (_step(step), _marks(read, ("stages", number, "steps", at)))
                for at, step in enumerate(value)
            ]
            found.put_list(key, steps)
        else:
            found.put(key, _value(value))
    return found


def _marks(read: Imported, at: tuple[str | int, ...]) -> list[str]:
    notes = [text for where, text in read.notes if where == at]
    return [_mark(one) for one in read.remarks if one.at[:4] == at] + notes


def _mark(one: Remark) -> str:
    """Return a remark as a comment; what is left to do begins so that it can be searched for."""
    return f"{'TO DO: ' if one.lost else ''}{one}"


def _step(step: dict[str, Any]) -> Commented:
    found = Commented()
    for key, value in step.items():
        found.put(key, _value(value))
    return found


def _value(value: Any) -> Any:
    """Return a value as it is written: what is short on one line, an entry of a list on each."""
    found: CommentedMap | CommentedSeq
    if isinstance(value, dict):
        found = CommentedMap((_quoted(key), _value(one)) for key, one in value.items())
    elif isinstance(value, list):
        found = CommentedSeq(map(_value, value))
    else:
        return _quoted(value)
    maps = isinstance(value, list) and any(isinstance(one, dict) for one in value)
    if not maps and len(str(value)) <= _LONGEST_ON_ONE_LINE:
        found.fa.set_flow_style()
    return found


def _quoted(value: Any) -> Any:
    """Return a text in double quotes where YAML would change it otherwise (YAML 1.2.2, 5.4), or
    the library would write what it cannot read: {say: : hot}.
    """
    if isinstance(value, str) and not (value.isprintable() and value[:1].isalnum()):
        return DoubleQuotedScalarString(value)
    return value
