"""The procedure file of what was imported: what was not read stands in it as comments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from assistant.authoring.commented import Commented, flow, text_of
from assistant.authoring.imported import Imported, Remark

_LONGEST_ON_ONE_LINE = 76
"""Characters of an entry of a list that is written on one line."""


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
    return text_of(file)


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
    return [_mark(one) for one in read.remarks if one.at[:4] == at]


def _mark(one: Remark) -> str:
    """Return a remark as a comment; what is left to do begins so that it can be searched for."""
    return f"{'TO DO: ' if one.lost else ''}{one}"


def _step(step: dict[str, Any]) -> Commented:
    found = Commented()
    for key, value in step.items():
        found.put(key, _value(value))
    return found


def _value(value: Any) -> Any:
    """Return a value as it is written: short maps on one line, an entry of a list each."""
    if isinstance(value, dict):
        return _short(value) if _fits(value) else {k: _value(v) for k, v in value.items()}
    if isinstance(value, list):
        if _fits(value) and not any(isinstance(one, dict) for one in value):
            return _short(value)
        return [_value(one) for one in value]
    return value


def _fits(value: Any) -> bool:
    return len(str(value)) <= _LONGEST_ON_ONE_LINE and "\n" not in str(value)


def _short(value: Any) -> Any:
    return flow(value) if isinstance(value, dict) else flow_list(value)


def flow_list(values: list[Any]) -> Any:
    """Return a list of plain values to be written on one line."""
    from ruamel.yaml.comments import CommentedSeq

    found = CommentedSeq(values)
    found.fa.set_flow_style()
    return found
