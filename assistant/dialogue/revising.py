"""A newer revision of a job's procedure: offered when the job is taken up, and taken or left.

A job stays on the text that it was begun with until somebody affirms a newer one. It is offered
only where it leaves alone all that was worked on, so that what is recorded holds for both texts: a
step that anything was recorded at is the same word for word, and in the same order.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.dialogue import events, facts, intents, kept_text, wording
from assistant.dialogue.state import State
from assistant.dialogue.telling import present
from assistant.dialogue.turn import Tone, Turn
from assistant.procedure import revisions
from assistant.procedure.model import Procedure


@dataclass(frozen=True)
class Newer:
    """A newer revision of the procedure of a job, and its text."""

    procedure: Procedure
    source: str


def offer(turn: Turn, newer: Newer) -> None:
    """Record that a newer revision is offered, which is then asked; or say why it is not."""
    procedure, now = newer.procedure, turn.state.procedure
    declined = [
        event for event in turn.state.of_job(events.RevisionOffered) if event.source == newer.source
    ]
    if declined:
        turn.say(wording.revisions.declined(procedure.revision, now.revision))
        return
    held = _in_the_way(turn.state, procedure)
    if held:
        turn.say(wording.revisions.held(procedure.revision, now.revision, held), Tone.ALERT)
        return
    turn.record(
        events.RevisionOffered,
        step=None,
        revision=procedure.revision,
        source=newer.source,
        changed=_changed(revisions.changes(now, procedure)),
    )


def on_take(turn: Turn, intent: intents.Affirm) -> None:
    """Go on with the newer revision, and tell the step that the work is at."""
    offered = turn.state.pending
    assert isinstance(offered, events.RevisionOffered)
    was, now = turn.state.procedure, kept_text.procedure(offered.source)
    held = _in_the_way(turn.state, now)
    if held:
        # Something was recorded between the question and the answer.
        turn.record(events.QuestionDropped, asked="revision")
        turn.say(wording.revisions.held(now.revision, was.revision, held), Tone.REFUSED)
        return
    turn.record(
        events.RevisionTaken,
        revision=now.revision,
        superseded=was.revision,
        hazards_anew=now.hazards != was.hazards,
    )
    turn.say(wording.revisions.taken(now.revision), Tone.RECORDED)
    told = wording.job.standing(now)
    if told is not None:
        turn.say(told, Tone.ALERT)
    present(turn)


def on_leave(turn: Turn, intent: intents.Intent) -> None:
    """Stay on the revision that the job is worked from."""
    turn.record(events.QuestionDropped, asked="revision")
    turn.say(wording.revisions.stays(turn.state.procedure.revision))
    present(turn)


def _in_the_way(state: State, procedure: Procedure) -> revisions.InTheWay:
    """Return what keeps a job from going on with another text; nothing where it can."""
    of_steps = [event for event in state.log if event.step is not None]
    named = {state.step.id, *(str(event.step) for event in of_steps)}
    worked = {str(event.step) for event in of_steps if not isinstance(event, _NO_WORK)}
    return revisions.in_the_way(state.procedure, procedure, named, worked)


_NO_WORK = (events.StepEntered, events.JobTakenUp, events.RevisionOffered, events.QuestionDropped)
"""Events after which a step may still be another."""


def _changed(found: revisions.Changes) -> facts.RevisionChange:
    def numbers(kind: str) -> tuple[int, ...]:
        return tuple(one.now or one.was or 0 for one in found.of(kind))

    return facts.RevisionChange(
        changed=numbers("changed"),
        moved=numbers("moved"),
        new=numbers("new"),
        gone=numbers("gone"),
        whole=bool(found.work),
    )
