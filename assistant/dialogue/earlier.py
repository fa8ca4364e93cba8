"""What an earlier job found, measured, fitted and left, as data. Pure.

It is read from the state that the earlier job's events lead to, so what was corrected or withdrawn
in it is not told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from assistant.dialogue import events, facts, ledger, nonconformities, remaining
from assistant.dialogue.state import State


@dataclass(frozen=True)
class EarlierJob:
    """One earlier job, for whoever works on the same unit, or by the same procedure, now."""

    job: int
    opened: datetime
    closed: bool = True
    bench: str | None = None
    """The bench that it was begun at, where that is another one; the number is the shop's then."""
    damaged: bool = False
    """Whether its record cannot be read; nothing else is known of it then."""
    findings: tuple[events.FindingRecorded, ...] = ()
    out: tuple[events.ReadingRecorded, ...] = ()
    """Readings outside their limits that neither fail at the end nor were conceded, the last of
    each name at a step: what was measured before it was put right."""
    conceded: tuple[facts.Failed, ...] = ()
    fitted_new: tuple[facts.Parts, ...] = ()
    left: tuple[facts.Left, ...] = ()
    """What fails at the end, the steps that are not done, and what the customer never answered."""
    to_come: tuple[facts.Parts, ...] = ()
    """Parts that never came, as far as anybody entered."""

    @property
    def failed(self) -> tuple[facts.Failed, ...]:
        """What fails at the end."""
        return tuple(one for one in self.left if isinstance(one, facts.Failed))


@dataclass(frozen=True)
class LastTime:
    """The earlier jobs on a unit or, failing that, by the same procedure on others."""

    jobs: tuple[EarlierJob, ...] = ()
    """The latest first; no more than are told."""
    more: int = 0
    """How many there are besides."""
    same_unit: bool = True
    """Whether they are on the unit of this job."""
    unit_known: bool = True
    """Whether this job says which unit it is on."""


def of_job(
    job: int, opened: datetime, state: State, afterwards: Sequence[events.Base] = ()
) -> EarlierJob:
    """Return what a job found and left; `afterwards` is what was entered after it was closed."""
    conceded = (one for one in state.nonconformities if not one.open)
    return EarlierJob(
        job=job,
        opened=opened,
        closed=state.closed,
        findings=state.of_job(events.FindingRecorded),
        out=_out_of_limits(state),
        conceded=tuple(map(nonconformities.failed, conceded)),
        fitted_new=tuple(_fitted_new(state)),
        left=remaining.of_job(state, afterwards),
        to_come=ledger.to_come((*state.history, *afterwards)),
    )


def _out_of_limits(state: State) -> tuple[events.ReadingRecorded, ...]:
    stand = {(one.step.id, one.ref.name) for one in state.nonconformities}
    found = {
        (event.step, event.name): event
        for event in state.of_job(events.ReadingRecorded)
        if event.within is False
    }
    return tuple(event for key, event in found.items() if key not in stand)


def _fitted_new(state: State) -> Iterator[facts.Parts]:
    for key in state.holdings.counts:
        count = state.holdings.held(key, "fitted new")
        if count:
            yield facts.Parts.of(state.procedure, key.name, count)
