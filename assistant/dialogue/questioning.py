"""What keeps something from being recorded: hazards not affirmed, or a value that does not fit."""

from __future__ import annotations

from typing import Any

from assistant.dialogue import events, facts, outstanding_work, wording
from assistant.dialogue.telling import ask_pending, present
from assistant.dialogue.turn import Tone, Turn


def refuse_before_hazards(turn: Turn) -> bool:
    """Refuse to record work on a step that is held, or whose hazards and conditions were not
    affirmed. What is recorded there already can be put right all the same.
    """
    if turn.correcting:
        return False
    items = turn.outstanding()
    if turn.state.step.id in turn.state.done or not items:
        return False
    first = items[0]
    held = isinstance(first, outstanding_work.FailureToSettle) and not first.here
    if held or isinstance(
        first,
        outstanding_work.GateToPass
        | outstanding_work.HazardsToHear
        | outstanding_work.StepBefore
        | outstanding_work.ConditionToAffirm,
    ):
        turn.say(wording.refusals.NOT_YET, Tone.REFUSED)
        present(turn)
        return True
    return False


def question(
    turn: Turn,
    candidate: Any,
    doubt: Any,
    said: facts.SaidValue | None = None,
    may_affirm: bool = True,
) -> None:
    """Ask about a value that does not fit, for a `facts.Doubt`; nothing is recorded yet."""
    turn.record(
        events.ValueQuestioned, candidate=candidate, doubt=doubt, said=said, may_affirm=may_affirm
    )
    ask_pending(turn, None)
