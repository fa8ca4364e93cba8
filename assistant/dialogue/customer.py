"""Extra work that the customer has to agree to: which questions there are, and how each stands.

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

from assistant.dialogue import events, facts
from assistant.dialogue.state import State
from assistant.dialogue.withdrawal import corrected_to, named, what_stands

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


def to_answer(
    state: State, afterwards: Sequence[events.Base] = ()
) -> tuple[facts.CustomerToAnswer, ...]:
    """Return what the customer has still to answer, as data; `afterwards` is what was entered after
    the job was closed.
    """
    return tuple(
        facts.CustomerToAnswer(work=one.work, number=found_at(state, one.about))
        for one in questions(state.log, afterwards)
        if one.open and one.about is not None
    )


def found_at(state: State, about: events.Base) -> int | None:
    """Return the number of the step at which something was found or ordered; None for none."""
    steps = [step.id for step in state.procedure.steps]
    return steps.index(about.step) + 1 if about.step in steps else None
