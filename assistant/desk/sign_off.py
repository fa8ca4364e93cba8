"""Signing off a closed job: whoever answers for the work says, by name, that they have seen it.

A sign-off is added beside the sealed record and names the seal. Another is added to it; none is
ever replaced.
"""

from __future__ import annotations

from assistant.dialogue import events, nonconformities
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.errors import AssistantError
from assistant.journal import additions, verification
from assistant.journal.clock import local_now
from assistant.journal.store import Journal

_LONGEST_NAME = 80
_LONGEST_NOTE = 1_000


def enter(
    journal: Journal, job: int, by: str, note: str | None = None, *, despite: bool = False
) -> events.SignedOff:
    """Sign off a closed job; return what was added.

    `despite` accepts that results fail, and needs a note that says why; which they are is kept with
    the sign-off. Raises AssistantError for a job that is open, that is not as it was recorded, or
    that has results that fail where that is not accepted, and where nothing can be written.
    """
    name, said = _text(by, _LONGEST_NAME, "name"), _text(note or "", _LONGEST_NOTE, "note")
    if not name:
        raise AssistantError("A sign-off needs a name: give it with --by NAME.")
    history = journal.events(job)
    state = replay_stored(procedure_of(history, job), history)
    seal = journal.seal(job)
    if seal is None:
        raise AssistantError(
            f"Job {job} is open, and only a closed job can be signed off. Go on with it: "
            f"assistant resume {job}"
        )
    fault = verification.job(journal, job).fault
    if fault is not None:
        raise AssistantError(
            f"Job {job} cannot be signed off. It is not as it was recorded: {fault.text}. "
            f"See: assistant verify {job}"
        )
    failing = tuple(map(nonconformities.failed, nonconformities.still_open(state)))
    if failing and not (despite and said):
        told = "; ".join(f"{one.result.name} at step {one.number}" for one in failing)
        raise AssistantError(
            f"Job {job} was closed though results fail: {told}. To sign it off all the same, give "
            "--despite, and with --note why."
        )
    if despite and not failing:
        raise AssistantError(f"No result of job {job} fails: sign it off without --despite.")
    event = events.SignedOff(
        at=local_now(),
        turn=max(event.turn for event in history) + 1,
        by=name,
        follows=additions.last_sign_off(journal.addition_texts(job), seal),
        note=said or None,
        despite=failing,
    )
    if not additions.fits(event):
        raise AssistantError(
            f"{len(failing)} results of job {job} fail, too many for one sign-off to name. Settle "
            "them in a job that follows it."
        )
    journal.add(job, event)
    return event


def _text(given: str, most: int, what: str) -> str:
    """Return a text without spaces around it. Raises AssistantError where it is too long."""
    text = given.strip()
    if len(text) > most:
        raise AssistantError(f"This {what} is too long: write it in {most} characters.")
    return text
