"""Where a job stands, in a few words for the board: worked out from its events."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from assistant.dialogue import (
    customer,
    events,
    facts,
    ledger,
    nonconformities,
    outstanding_work,
    remaining,
)
from assistant.dialogue.nonconformities import Nonconformity
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.dialogue.state import Mode, State
from assistant.report import wording


@dataclass(frozen=True)
class Standing:
    """Where a job stands."""

    number: int
    of: int
    say: str
    """What is to be done at the step."""
    stage: str
    done: int
    applicable: int
    """How many steps are done, of those that apply."""
    note: str
    """What it waits for, where that is an answer; empty otherwise."""
    outstanding: tuple[str, ...]
    """At the step, without the results that fail."""
    parts: tuple[str, ...]
    """What it waits for from the parts desk."""
    customer: tuple[str, ...]
    """What it waits for from the customer."""
    skipped: tuple[str, ...]
    by: tuple[str, ...]
    fails: tuple[str, ...]
    """The results that fail and were not conceded, each with its step."""
    conceded: tuple[str, ...]
    """Those that were."""
    in_pieces: bool
    """A machine that nobody has written up is down, and its build-up not begun."""
    follows: str
    """Which job it is a follow-up of, by the number that had where this was begun; empty for none.
    """
    until: datetime | None
    """When a wait will have passed, and this has to be worked out again; None: never."""

    @property
    def complete(self) -> bool:
        """Whether every step that applies is done, no result fails that nobody conceded, and the
        machine is not in pieces.
        """
        return self.done == self.applicable and not self.fails and not self.in_pieces


def of(history: Sequence[events.Event], job: int, now: datetime) -> Standing:
    """Return where a job stands. Raises AssistantError where its events do not fit together."""
    state = replay_stored(procedure_of(history, job), history)
    route = {step.id for step in state.route()}
    left = () if state.closed else outstanding_work.outstanding(state, now)
    failing = state.nonconformities
    ends = [item.due for item in left if isinstance(item, outstanding_work.TimeToPass) and item.due]
    return Standing(
        number=state.number,
        of=len(state.procedure.steps),
        say=state.step.say,
        stage=state.procedure.stage_of(state.step.id).name,
        done=len(state.done & route),
        applicable=len(route),
        note=_NOTES.get(state.mode, ""),
        outstanding=tuple(
            wording.outstanding(item)
            for item in remaining.items(left)
            if not isinstance(item, facts.FailureToSettle)
        ),
        parts=() if state.closed else waiting_for_parts(state),
        customer=() if state.closed else waiting_for_customer(state),
        skipped=tuple(_skipped(state)),
        by=tuple(dict.fromkeys(event.by for event in history if event.by)),
        fails=tuple(_failing(each) for each in failing if each.open),
        conceded=tuple(_failing(each) for each in failing if not each.open),
        in_pieces=state.in_pieces,
        follows=_follows(history[0]),
        until=min(ends, default=None),
    )


def _follows(opened: events.Event) -> str:
    follows = opened.follows if isinstance(opened, events.JobOpened) else None
    return f"follows job {follows.job} of {follows.opened:%Y-%m-%d}" if follows else ""


def _failing(of: Nonconformity) -> str:
    conceded = f", by {of.conceded.by or 'somebody not named'}" if of.conceded else ""
    return f"step {of.number}: {wording.failure(nonconformities.failed(of))}{conceded}"


_NOTES = {
    Mode.QUESTIONING: "asked about a value, not answered",
    Mode.SKIPPING: "asked for the reason of a skip, not answered",
    Mode.CONCEDING: "asked for the reason of a concession, not answered",
    Mode.REVISING: "asked whether to go on with a newer revision, not answered",
    Mode.REVIEWING: "what was recorded is being gone through",
    Mode.PLACING: "asked what a value is of, not answered",
    Mode.NOTING: "a note was opened",
    Mode.CHECKING: "the kit is being checked",
    Mode.CLOSING: "asked whether to close it, not answered",
    Mode.STANDING_BY: "standing by",
    Mode.TAKING_DOWN: "being taken down",
}


def waiting_for_customer(state: State) -> tuple[str, ...]:
    """Return the extra work that the customer has neither agreed to nor declined."""
    return tuple(
        wording.extra_work(one.work) + (f", at step {one.number}" if one.number else "")
        for one in customer.to_answer(state)
    )


def waiting_for_parts(state: State) -> tuple[str, ...]:
    """Return the parts that a job waits for: what was asked for or ordered and has not come."""
    counts: Counter[tuple[str, str]] = Counter()
    for line in ledger.lines(state.history):
        for to_come in ledger.TO_COME:
            counts[line.name, to_come] += line.counts[to_come]
    return tuple(f"{n} × {name}, {to_come}" for (name, to_come), n in counts.items() if n)


def _skipped(state: State) -> list[str]:
    numbers = {step.id: number for number, step in enumerate(state.procedure.steps, 1)}
    return [
        f"step {numbers[step]}: {wording.reason(reason)}" for step, reason in state.skipped.items()
    ]
