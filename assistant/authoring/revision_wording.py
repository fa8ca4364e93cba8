"""What is different between two revisions, in words for the eye."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from assistant.authoring import wording
from assistant.procedure.model import Procedure
from assistant.procedure.revisions import Changes, KeyChange, StepChange

_OTHER = "These are two procedures, not two revisions of one."
NONE = "Nothing that is worked from is different."


def lines(was: Procedure, now: Procedure, found: Changes) -> Iterator[str]:
    """Yield the lines of a comparison."""
    yield f"was  {wording.text_of(was)}"
    yield f"now  {wording.text_of(now)}"
    if was.procedure != now.procedure:
        yield _OTHER
    if not found.work and not found.steps:
        yield NONE
        return
    for key in found.work:
        yield ""
        yield from _key(key, "")
    for step in found.steps:
        yield ""
        yield _head(step)
        if step.kind in ("new", "gone"):
            yield f"    {step.say}"
        else:
            for key in step.keys:
                yield from _key(key, "    ")
    yield ""
    yield counted(found)


def counted(found: Changes) -> str:
    """Write how many steps are changed, moved, new, gone and as before: "2 changed, 8 the same"."""
    told = [
        f"{len(steps)} {kind}"
        for kind in ("changed", "moved", "new", "gone")
        if (steps := found.of(kind))
    ]
    return f"Steps: {', '.join([*told, f'{found.same} the same'])}."


def _head(step: StepChange) -> str:
    match step.kind:
        case "new":
            where = f"step {step.now}"
        case "gone":
            where = f"step {step.was} of before"
        case _:
            before = "" if step.was == step.now else f", step {step.was} of before"
            where = f"step {step.now}{before}"
    return f"{where}, {step.id}, {step.stage}: {step.kind}"


def _key(of: KeyChange, margin: str) -> Iterator[str]:
    """Yield a key with its value before and now."""
    if of.was is None:
        yield f"{margin}{of.key}, new: {_value(of.now)}"
    elif of.now is None:
        yield f"{margin}{of.key}, gone: {_value(of.was)}"
    else:
        yield f"{margin}{of.key} was: {_value(of.was)}"
        yield f"{margin}{' ' * len(of.key)} now: {_value(of.now)}"


def _value(of: Any) -> str:
    """Write a value as it could stand in the file, on one line."""
    if isinstance(of, dict):
        return "{" + ", ".join(f"{key}: {_value(one)}" for key, one in of.items()) + "}"
    if isinstance(of, list):
        return "[" + ", ".join(map(_value, of)) + "]"
    return str(of).lower() if isinstance(of, bool) else str(of)


def as_json(was: Procedure, now: Procedure, found: Changes) -> str:
    """Return the same as JSON."""
    told = {
        "was": _text(was),
        "now": _text(now),
        "same": found.same,
        "keys": [asdict(one) for one in found.keys],
        "steps": [asdict(one) for one in found.steps],
    }
    return json.dumps(told, ensure_ascii=False, indent=1)


def _text(of: Procedure) -> dict[str, Any]:
    return {
        "procedure": of.procedure,
        "revision": of.revision,
        "author": of.author,
        "approver": of.approver,
        "date": of.date.isoformat() if of.date else None,
        "supersedes": of.supersedes,
    }
