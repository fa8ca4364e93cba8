"""The desk's list of what customers have to agree to, and entering what they answered.

The answer is an event in the job's own record, where the bench reads it and says it. What is
answered after a job was closed is an addition beside its sealed record.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assistant.desk import entering
from assistant.dialogue import customer, events, facts
from assistant.dialogue.customer import Question
from assistant.dialogue.events import Event
from assistant.dialogue.withdrawal import place_of
from assistant.errors import AssistantError
from assistant.journal.clock import local_now
from assistant.journal.records import JobSummary, Records
from assistant.journal.store import Journal

_LONGEST_NAME = 80
_LONGEST_NOTE = 1_000


@dataclass(frozen=True)
class Asked:
    """One question to a customer that stands, and the job that it is of."""

    job: JobSummary
    number: int
    """That of its event in the job, from 1."""
    question: Question


@dataclass(frozen=True)
class Unreadable:
    """A job whose record cannot be read."""

    job: int


def listed(records: Records, job: int | None = None) -> Iterator[Asked | Unreadable]:
    """Yield the questions of all jobs, or of one, the oldest job first, in the order of asking.

    Raises AssistantError for an unknown job.
    """
    jobs = records.jobs(asked=True) if job is None else (records.summary(job),)
    for summary in sorted(jobs, key=lambda one: one.job):
        try:
            history = records.events(summary.job)
            for number, question in _numbered(history, records.additions(summary.job)):
                yield Asked(summary, number, question)
        except AssistantError:
            yield Unreadable(summary.job)


def enter(
    journal: Journal,
    job: int,
    answer: facts.CustomerAnswer,
    number: int | None = None,
    *,
    name: str | None = None,
    note: str | None = None,
    by: str | None = None,
) -> events.CustomerAnswered:
    """Record what a customer answered; return what was recorded.

    `number` is that of the question's event, from 1; None for the only one that waits. `name` says
    who answered for the customer, `by` who enters it. "waiting" takes back what was entered before.
    Raises AssistantError where there is no such question, where nobody is named, and where nothing
    can be written.
    """
    name, note = _text(name, _LONGEST_NAME, "name"), _text(note, _LONGEST_NOTE, "note")
    if name is None and answer != "waiting":
        raise AssistantError("Say who answered for the customer: give it with --name NAME.")

    def made(history: tuple[Event, ...]) -> events.CustomerAnswered:
        found = _question(job, _numbered(history, journal.additions(job)), number, answer)
        assert found.about is not None
        return events.CustomerAnswered(
            at=local_now(),
            turn=entering.turn(history),
            by=by,
            of=_ref(found.asked, history),
            about=_ref(found.about, history),
            work=found.work,
            answer=answer,
            name=None if answer == "waiting" else name,
            note=note,
        )

    return entering.enter(journal, job, made)


def _ref(of: events.Base, history: Sequence[Event]) -> facts.EventRef:
    return facts.EventRef(turn=of.turn, place=place_of(of, history))


def _numbered(
    history: Sequence[Event], afterwards: Sequence[events.Base]
) -> list[tuple[int, Question]]:
    numbers = {id(event): number for number, event in enumerate(history, 1)}
    return [(numbers[id(q.asked)], q) for q in customer.questions(history, afterwards)]


def _question(
    job: int,
    there: Sequence[tuple[int, Question]],
    number: int | None,
    answer: facts.CustomerAnswer,
) -> Question:
    """Return the question that is answered."""
    see = f"See which there are with: assistant customer --job {job}"
    if number is not None:
        found = next((q for n, q in there if n == number), None)
        if found is None:
            raise AssistantError(f"Event {number} of job {job} is no question that stands. {see}")
    else:
        waiting = answer == "waiting"
        fitting = [q for _, q in there if q.about is not None and q.open != waiting]
        if len(fitting) != 1:
            some = "has several" if fitting else "has none"
            what = "that is answered" if waiting else "that waits"
            raise AssistantError(
                f"Give the question's number with --event: job {job} {some} {what}. {see}"
            )
        found = fitting[0]
    if found.about is None:
        raise AssistantError(
            f"What the customer was asked about in job {job}, {found.work.parts.name}, was taken "
            "back at the bench: there is nothing left to agree to."
        )
    if found.open and answer == "waiting":
        raise AssistantError(f"That question of job {job} has no answer to take back.")
    return found


def _text(given: str | None, most: int, what: str) -> str | None:
    text = (given or "").strip()
    if len(text) > most:
        raise AssistantError(f"This {what} is too long: write it in {most} characters.")
    return text or None
