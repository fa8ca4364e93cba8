"""What the record of an unwritten job tells of each thing that came off: how it was taken down, and
how it went on again.

Only what stands counts: nothing that was taken back, and of a correction the new value. Nothing is
made up here; what the record does not say is None or empty.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from assistant.dialogue import events, facts, pieces
from assistant.dialogue.pieces import Piece
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.dialogue.state import State
from assistant.errors import AssistantError
from assistant.journal.records import Records, Transcript
from assistant.procedure.model import Part, Procedure, Step, Unwritten


@dataclass(frozen=True)
class Note:
    """What somebody noted."""

    text: str | None
    """As typed; None where it was spoken."""
    by: str | None
    at: datetime
    transcripts: tuple[Transcript, ...] = ()
    """What recognisers made of a spoken one. Nobody has verified them."""


@dataclass(frozen=True)
class Worked:
    """Something that came off, with what was recorded of it."""

    piece: Piece
    nth: int
    """Which of the things of that name in its job, from 1."""
    step: Step
    """Its step of the strip-down, as the job had it."""
    on: Step
    """Its step of the build-up, as the job had it or would have had it."""
    said_off: tuple[Note, ...]
    """The notes of the strip-down."""
    said_on: tuple[Note, ...]
    """The notes of the build-up."""
    is_on: bool
    """Whether it was recorded as on again."""
    skipped: facts.SkipReason | None
    """Why it was left, where somebody skipped it."""
    together: tuple[Piece, ...]
    """What it was put together with off the machine, to go on as one."""
    locker: facts.LockerStrength | None
    """The thread-locker that was put on it, where that was said."""
    fitted: tuple[facts.Fitted, ...]
    """What went on, where it is on again."""
    tightened: tuple[events.TorqueRecorded, ...]

    @property
    def new(self) -> int:
        """How many of it the kit has new."""
        return sum(fit.count for fit in self.on.fit if fit.new)

    @property
    def key(self) -> tuple[str, int] | None:
        """What it is known by in other jobs; None for what nobody had a name for."""
        return None if self.piece.named_by_number else (self.piece.name, self.nth)


@dataclass(frozen=True)
class Job:
    """A job without a procedure, as far as it was recorded."""

    number: int
    title: str
    unit: str | None
    kind: str
    """What kind of machine it is."""
    opened: datetime
    closed: bool
    building: bool
    """Whether its build-up began."""
    safe: Step
    """The step before anything comes off."""
    said_first: tuple[Note, ...]
    """The notes of that step."""
    kit: tuple[Part, ...]
    down: tuple[Worked, ...]
    """What came off, in that order."""
    up: tuple[Worked, ...]
    """The same in the order in which it went on; then what is not on, the last off first."""


def read(records: Records, number: int) -> Job:
    """Return what a job's record tells. Raises AssistantError for a job that has a procedure, in
    which nothing came off, or that is unknown or damaged.
    """
    history = records.events(number)
    procedure = procedure_of(history, number)
    first = history[0]
    assert isinstance(first, events.JobOpened)
    if procedure.unwritten is None:
        raise AssistantError(
            f"Job {number} has a procedure already: {first.procedure}, revision {first.revision}. "
            "Only a job that was begun with 'assistant run --unwritten' can be drafted."
        )
    state = replay_stored(procedure, history)
    if not state.pieces:
        raise AssistantError(
            f"Nothing came off in job {number}, so there is nothing to write a procedure from."
        )
    return from_state(number, first, state, procedure.unwritten, records.transcripts(number))


def from_state(
    number: int,
    opened: events.JobOpened,
    state: State,
    of: Unwritten,
    transcripts: Mapping[str, tuple[Transcript, ...]],
) -> Job:
    """Return what the state of a job tells; `transcripts` are those of its clips, by digest."""
    notes: dict[str, list[Note]] = {}
    for event in state.of_job(events.NoteRecorded):
        digest = event.heard.clip_sha256 if event.heard else None
        note = Note(event.text, event.by, event.at, transcripts.get(digest or "", ()))
        notes.setdefault(event.step or "", []).append(note)
    # A job that never began its build-up has no steps for it; they are as they would have been.
    procedure = pieces.grown(state.procedure, state.pieces, state.arrangement, building=True)
    seen: Counter[str] = Counter()
    down = []
    for piece in state.pieces:
        seen[piece.name] += 1
        done = state.of_step(events.StepDone, piece.on)
        is_on = piece.on in state.done
        down.append(
            Worked(
                piece=piece,
                nth=seen[piece.name],
                step=procedure.step(piece.id),
                on=procedure.step(piece.on),
                said_off=tuple(notes.get(piece.id, ())),
                said_on=tuple(notes.get(piece.on, ())),
                is_on=is_on,
                skipped=state.skipped.get(piece.on),
                locker=_locker(state, piece),
                together=_together(state, piece),
                fitted=done[-1].fitted if is_on and done else (),
                tightened=state.of_step(events.TorqueRecorded, piece.on),
            )
        )
    return Job(
        number=number,
        title=opened.title,
        unit=opened.unit,
        kind=procedure.equipment.kind,
        opened=opened.at,
        closed=state.closed,
        building=state.building,
        safe=procedure.steps[0],
        said_first=tuple(notes.get(procedure.steps[0].id, ())),
        kit=of.kit,
        down=tuple(down),
        up=_up(state, procedure, down),
    )


def _locker(state: State, of: Piece) -> facts.LockerStrength | None:
    applied = state.of_step(events.LockerApplied, of.on)
    return applied[-1].strength if applied else None


def _together(state: State, of: Piece) -> tuple[Piece, ...]:
    """Return what a thing was put together with, to go on as one."""
    groups = (g for g in state.arrangement.groups if of.on in g.members)
    members = {step for group in groups for step in group.members}
    return tuple(piece for piece in state.pieces if piece.on in members and piece is not of)


def _up(state: State, procedure: Procedure, down: list[Worked]) -> tuple[Worked, ...]:
    """Return things in the order in which they went on, then those that are not on, in the order in
    which they would have.

    What was done again, for rework, keeps its place: it was tightened anew, perhaps, with all the
    rest on the machine already.
    """
    first: dict[str, int] = {}
    for place, event in enumerate(state.of_job(events.StepDone)):
        first.setdefault(event.step or "", place)
    on = sorted((w for w in down if w.is_on), key=lambda w: first[w.piece.on])
    not_on = [w for w in down if not w.is_on]
    return (*on, *sorted(not_on, key=lambda w: procedure.index(w.piece.on)))
