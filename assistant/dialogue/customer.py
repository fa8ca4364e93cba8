"""Extra work that the customer has to agree to: asking, and how each question stands.

"Ask customer" goes with what was found last. The question waits until the desk has the answer and
enters it (`assistant.desk.customer`); nobody at the bench can. It holds no step: what a finding
holds, it holds until it is settled, whatever the customer says.

A question is about a finding, or an order, as that stands now. Where it is corrected, the question
is about what stands in its place, and an answer to what was there before is none any more: the
customer agreed to something else. Where it is withdrawn, there is nothing left to agree to.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assistant.dialogue import events, facts, intents, wording
from assistant.dialogue.state import State
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.withdrawal import corrected_to, named, place_of, what_stands

Extra = events.FindingRecorded | events.PartOrdered
"""What a customer can be asked about."""


@dataclass(frozen=True)
class Question:
    """One question to the customer, and how it stands."""

    asked: events.CustomerAsked
    about: Extra | None
    """The finding or the order as it stands now; None where it was withdrawn."""
    answer: events.CustomerAnswered | None
    """The last answer to that; None where there is none."""

    @property
    def open(self) -> bool:
        """Whether the customer has still to answer."""
        return self.about is not None and self.answer is None

    @property
    def work(self) -> facts.ExtraWork:
        """What the customer has to agree to, as it stands now; as asked where it was withdrawn."""
        return self.asked.work if self.about is None else extra(self.about)


def extra(of: Extra) -> facts.ExtraWork:
    """Return a finding or an order as work that a customer agrees to."""
    if isinstance(of, events.PartOrdered):
        return facts.ExtraWork(parts=of.parts)
    return facts.ExtraWork(
        parts=facts.Parts(name=of.part, count=of.count, plural=of.plural),
        condition=of.condition,
        place=of.place,
        needs=of.disposition,
    )


def questions(
    log: Sequence[events.Base], afterwards: Sequence[events.Base] = ()
) -> tuple[Question, ...]:
    """Return the questions that stand, in the order in which they were asked.

    `log` is all of a job's events; `afterwards` is what was entered after it was closed.
    """
    if not any(isinstance(event, events.CustomerAsked) for event in log):
        return ()
    return tuple(_questions(log, afterwards))


def _questions(log: Sequence[events.Base], afterwards: Sequence[events.Base]) -> Iterator[Question]:
    standing = what_stands(log)
    answers = [e for e in (*standing, *afterwards) if isinstance(e, events.CustomerAnswered)]
    for asked in standing:
        if not isinstance(asked, events.CustomerAsked):
            continue
        first = named(log, asked.of)
        now = None if first is None else corrected_to(first, log, standing)
        about = now if isinstance(now, Extra) and any(now is e for e in standing) else None
        last = None
        for answer in answers:
            if named(log, answer.of) is asked and named(log, answer.about) is about is not None:
                last = None if answer.answer == "waiting" else answer
        yield Question(asked, about, last)


def to_answer(state: State) -> tuple[facts.CustomerToAnswer, ...]:
    """Return what the customer has still to answer, as data."""
    return tuple(
        facts.CustomerToAnswer(work=one.work, number=found_at(state, one.about))
        for one in questions(state.log)
        if one.open and one.about is not None
    )


def found_at(state: State, about: events.Base) -> int | None:
    """Return the number of the step at which something was found or ordered; None for none."""
    steps = [step.id for step in state.procedure.steps]
    return steps.index(about.step) + 1 if about.step in steps else None


def on_ask(turn: Turn, intent: intents.AskCustomer) -> None:
    """Have the customer asked about what was found last."""
    about = _found_last(turn.state)
    if about is None:
        turn.say(wording.customer.ABOUT_NOTHING, Tone.REFUSED)
        return
    before = next((q for q in questions(turn.state.log) if q.about is about), None)
    if before is not None:
        turn.say(wording.customer.asked_already(before.work, before.answer), Tone.REFUSED)
        return
    work = extra(about)
    ref = facts.EventRef(turn=about.turn, place=place_of(about, turn.state.log))
    turn.record(events.CustomerAsked, of=ref, work=work)
    elsewhere = about.step != turn.state.step_id
    number = found_at(turn.state, about) if elsewhere else None
    turn.say(wording.customer.asked(work, number), Tone.RECORDED)
    if isinstance(about, events.FindingRecorded) and about.disposition is None:
        turn.say(wording.customer.NEEDS_NOT_SAID)


def say_not_agreed(turn: Turn, part: str) -> None:
    """Say of a part that is asked for that the customer has not agreed to it, where that is so."""
    for one in questions(turn.state.log):
        if not isinstance(one.about, events.FindingRecorded):
            continue
        declined = one.answer is not None and one.answer.answer == "declines"
        if (one.open or declined) and _name(turn.state, one.about.part) == part:
            turn.say(wording.customer.not_agreed(one.work, one.answer), Tone.ALERT)


def _found_last(state: State) -> Extra | None:
    """Return the last finding, or a later order of a part that nothing was found of."""
    findings = state.of_job(events.FindingRecorded)
    found = {_name(state, one.part): one for one in findings}
    for event in reversed(state.history):
        if isinstance(event, events.FindingRecorded):
            return event
        if isinstance(event, events.PartOrdered):
            return found.get(_name(state, event.part), event)
    return None


def _name(state: State, part: str) -> str:
    """Return a part's one name, whatever it was called."""
    known = state.procedure.part(part)
    return known.name if known else part
