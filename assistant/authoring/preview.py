"""A procedure as the technician will hear it, step by step, before anybody works from it.

It is walked through by the rules of the bench, so that every sentence is the one that is spoken
there: the job is opened, hazards and conditions are affirmed, questions are answered as told, and
each step is taken as done. Nothing is recorded.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from assistant.audio.manner import Manner
from assistant.authoring import wording as told
from assistant.dialogue import decide as deciding
from assistant.dialogue import intents, moving, outstanding_work, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.state import State
from assistant.dialogue.turn import Decision, Reply, Turn
from assistant.errors import AssistantError
from assistant.procedure.model import Procedure, Step
from assistant.text import did_you_mean

_NOW = datetime(2000, 1, 1, tzinfo=UTC)
"""A preview has no clock, and nothing that is said at a step depends on it."""
_ON_ASKING = (("more detail", intents.Topic.DETAIL, "detail"), ("why", intents.Topic.WHY, "why"))
"""What is told only to who asks for it: the phrase, and the key that it is written in."""


@dataclass(frozen=True)
class Turns:
    """What is said to one phrase of the technician's, or unasked."""

    phrase: str
    """What the technician says; "" where the assistant speaks first."""
    replies: tuple[Reply, ...]
    on_asking: bool = False
    """Whether it is heard only where somebody asks."""

    @property
    def text(self) -> str:
        """The replies as they are spoken, one after the other."""
        return " ".join(reply.text for reply in self.replies)


@dataclass(frozen=True)
class Heard:
    """One step as it is heard; what opens the job stands with the first one."""

    step: Step
    number: int
    stage: str
    turns: tuple[Turns, ...]

    def seconds(self, manner: Manner) -> float:
        """Return how long it takes to hear what is said unasked."""
        return sum(manner.seconds(one.text) for one in self.turns if not one.on_asking)


@dataclass(frozen=True)
class Preview:
    """A whole procedure, with its questions answered in one way."""

    procedure: Procedure
    steps: tuple[Heard, ...]
    answers: Mapping[str, str]
    """What the questions were answered, in the order in which they were asked."""

    def seconds(self, manner: Manner) -> float:
        """Return how long it takes to hear all that is said unasked."""
        return sum(one.seconds(manner) for one in self.steps)

    @property
    def left_out(self) -> tuple[int, ...]:
        """The numbers of the steps that are not heard with these answers."""
        heard = {one.number for one in self.steps}
        return tuple(n for n in range(1, len(self.procedure.steps) + 1) if n not in heard)


def preview(procedure: Procedure, answers: Mapping[str, str] | None = None) -> Preview:
    """Walk through a procedure.

    `answers` are by the questions' names; a question that is not among them is answered by its
    first answer. Raises AssistantError for a question or an answer that there is not.
    """
    given = _known(procedure, answers or {})
    state = job_state.start(procedure)
    opening = deciding.open_job(procedure, "", _NOW)
    state, found = _after(state, opening), []
    spoken = [Turns("", opening.replies)]
    while True:
        state, more = _at_step(state, given)
        number, stage = state.number, procedure.stage_of(state.step.id).name
        found.append(Heard(state.step, number, stage, (*spoken, *more)))
        turn = Turn(state, _NOW, RULEBOOK)
        moving.done(turn)
        if turn.state.route()[-1].id == state.step.id:
            return Preview(procedure, tuple(found), dict(state.answers))
        moving.onward(turn)
        spoken, state = [Turns(_NEXT, tuple(turn.replies))], turn.state


_NEXT, _AFFIRM = "next step", "affirm"


def _at_step(state: State, given: Mapping[str, str]) -> tuple[State, list[Turns]]:
    """Return the state when all of a step was heard, and what was said after it was entered."""
    found = []
    while _waits_to_be_affirmed(state):
        decision = deciding.decide(state, intents.Affirm(), _NOW)
        found.append(Turns(_AFFIRM, decision.replies))
        state = _after(state, decision)
    question = state.step.question
    if question is not None:
        answer = given.get(question.name, question.answers[0].say)
        decision = deciding.decide(state, intents.Chosen(answer), _NOW)
        found.append(Turns(answer, decision.replies))
        state = _after(state, decision)
    for reading in state.readings()[1:]:
        found.append(Turns("reading …", (Reply(wording.remaining.next_reading(reading, 1)),)))
    for phrase, topic, key in _ON_ASKING:
        if getattr(state.step, key):
            decision = deciding.decide(state, intents.Ask(topic), _NOW)
            found.append(Turns(phrase, decision.replies, on_asking=True))
    return state, found


def _waits_to_be_affirmed(state: State) -> bool:
    items = outstanding_work.outstanding(state, _NOW)
    kinds = outstanding_work.HazardsToHear | outstanding_work.ConditionToAffirm
    return bool(items) and isinstance(items[0], kinds)


def _after(state: State, decision: Decision) -> State:
    for event in decision.events:
        state = job_state.apply(state, event)
    return state


def _known(procedure: Procedure, answers: Mapping[str, str]) -> dict[str, str]:
    """Return the answers by the words that the procedure has for them."""
    asked = {step.question.name: step.question for step in procedure.steps if step.question}
    found = {}
    for name, said in answers.items():
        if name not in asked:
            known = ", ".join(asked) or "none"
            raise AssistantError(
                f"The procedure asks no question {name}.{did_you_mean(name, asked)} "
                f"It asks: {known}."
            )
        ways = {way: one.say for one in asked[name].answers for way in (one.say, *one.also)}
        answer = ways.get(said.lower())
        if answer is None:
            raise AssistantError(
                f"{said} is no answer to {name}. The answers are: "
                f"{', '.join(one.say for one in asked[name].answers)}."
            )
        found[name] = answer
    return found


def data(of: Preview, manner: Manner) -> dict[str, Any]:
    """Return a preview as the printed sheet takes it (`assistant.report.preview_sheet`)."""
    stages: list[dict[str, Any]] = []
    for heard in of.steps:
        if not stages or stages[-1]["name"] != heard.stage:
            stages.append({"name": heard.stage, "steps": []})
        turns = [
            {"phrase": one.phrase, "text": one.text, "asked": one.on_asking} for one in heard.turns
        ]
        stages[-1]["steps"].append(
            {
                "number": heard.number,
                "name": heard.step.id,
                "seconds": told.seconds(heard.seconds(manner)),
                "turns": turns,
            }
        )
    return {
        "title": of.procedure.title,
        "facts": told.text_of(of.procedure),
        "about": told.about_preview(of.answers, of.left_out, of.seconds(manner)),
        "stages": stages,
    }
