"""A newer revision of a job's procedure, for the ear."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.dialogue import facts
from assistant.dialogue.wording import steps
from assistant.dialogue.wording.quantities import figures, listing, sentence
from assistant.procedure.revisions import InTheWay


def name(revision: str) -> str:
    """Word a revision: "revision five"."""
    return f"revision {figures(revision)}"


def ask(revision: str, changed: facts.RevisionChange) -> str:
    """Say that there is a newer revision and what changed, and ask whether to go on with it."""
    there = sentence(f"there is a newer text, {name(revision)}: {listing(_changed(changed))}")
    return f"{there} Go on with it? Affirm or negative?"


def _changed(of: facts.RevisionChange) -> Iterator[str]:
    if of.changed:
        yield f"{steps.named(of.changed)} changed"
    if of.moved:
        yield f"{steps.named(of.moved)} moved"
    if of.new:
        yield f"{steps.named(of.new)} new"
    if of.gone:
        yield f"{steps.named(of.gone)} of before gone"
    if of.whole:
        yield "something of the whole procedure changed"
    if not (of.changed or of.moved or of.new or of.gone or of.whole):
        yield "nothing changed that is worked from"


def held(revision: str, was: str, by: InTheWay) -> str:
    """Say that a newer revision cannot be taken, and what keeps it from that."""
    things = [steps.named(by.steps)] if by.steps else []
    things += [f"the {key.replace('_', ' ')}" for key in by.keys]
    why = f"it changes {listing(things)}, which this job has worked from"
    return f"{sentence(f'there is a newer text, {name(revision)}, but {why}')} {stays(was)}"


def declined(revision: str, was: str) -> str:
    """Say that a newer revision is there that was declined before."""
    return sentence(f"{name(revision)} was declined; this job stays on {name(was)}")


def taken(revision: str) -> str:
    """Say that the work goes on with a newer revision."""
    return f"{sentence(f'{name(revision)} from here on')} Recorded."


def stays(revision: str) -> str:
    """Say that the job stays on its text."""
    return sentence(f"this job stays on {name(revision)}")
