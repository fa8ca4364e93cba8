"""Where a job stands, worked out from its events and from nothing else.

# The rules

1. Everything that happens in a job is an event, and events are only ever added. The state is what
   folding the events gives: the same events always give the same state.
2. What an intent does depends on the state, the intent and the time, all handed in. Deciding
   reads no clock, opens no file and makes no sound.

# Theory of operation

There are two machines. This one is the session: one job, from opened to closed. The other, in
`lobby`, is what the technician talks to between jobs. A bench runs one or the other. They share
replies and effects but no state, and the lobby records nothing: it has no job to record it in.

The session runs in a circle. `understanding` turns words into an intent. `decide(state, intent,
now)` gives a decision: events to record, replies to speak, effects for the bench to carry out.
The bench stores the events, then calls `apply(state, event)` for each, then speaks. If the events
cannot be stored, the state stays as it was and nothing is said to be recorded. A job is taken up
again by `replay`, which gives the same state as applying its events one by one.

A *turn* is one thing said, with everything that followed from it. One reading may add the
reading, a clearance and a chosen part; they carry one turn number and can only be taken back
together. Inside a turn, each event is applied to a copy of the state before the next is decided,
so a handler always sees what it has just done. Each decision that records has a turn number of
its own, and so has each entry from the parts desk. A number is never used again, even if its
turn was withdrawn.

A *mode* is what the session waits for, and it is read from the state, never set. There are modes
because the same word means different things: "affirm" may accept a caution, a doubtful value, a
thing in the kit, or closing the job. One question can be open at a time: `State.pending` is the
event that asked it. Standing by lays itself over an open question, and resuming asks it again.

A *withdrawal* is an event that names an earlier turn. That turn's events no longer count, and
the state is what the others lead to; there is no second set of rules that undoes things
backwards. Two things do not go back: the turn number, and the question. A withdrawal closes
whatever was being asked before it, because nobody remembers the question by then. The exception
is a check of the kit, which goes on at the thing whose answer was withdrawn. `replay` follows the
same rule at every withdrawal in the record, so it does not matter how many come after it.

A *correction* is a turn that withdraws one event and records another in its place. It is tried on a
copy first, so one that comes to nothing leaves no trace but its question. Taking a correction back
takes its withdrawal back too, and the old value stands again. Apart from that a withdrawal cannot
be withdrawn. `State.history` keeps only what stands; `State.log` has everything.

A *set* is what was recorded at a step since it was last opened again, by retest or rework. Results,
and what is outstanding, count the present set only (`of_step`, `current`); the earlier ones stay in
the history and in the record. Findings, orders and notes are of no set. What failed in a set that
was ended is kept with the retest or rework, and is open until the new set is complete (`reopened`).

What is a table: for each mode, what each kind of intent does (`decide.TABLE`), because that must
be seen as a whole, and checked to have no gap. What is code: the fold below, because most events
change one field and a few change two; and what keeps a step from being done, which depends on
the procedure, the answers and the clock.

# What may never happen

- A reply says "recorded" and no event says so; or something is recorded and nothing is said.
- A decision is refused and changes what was recorded.
- A closed job takes another event from the bench.
- A mode has no way out. From anywhere, four phrases at most lead to a closed job.
- A record leads to another state when it is read back.

`tests/dialogue/test_machine.py` says anything in any mode and checks all of these.

# What is ugly

- A withdrawal and what follows from it share a turn, and so do a correction and what replaces the
  old value. The second may be taken back and the first may not: `Withdrawn.corrected` tells them
  apart.
- Places in the history (`State.since`) shift when an event before them is withdrawn. That is why a
  withdrawal folds everything again.
- An entry from the parts desk passes through the same fold, and so does a picture that is put in
  from a file, or taken back there; none may close an open question: `at_desk` is checked in the
  fold.
- Withdrawing the last answer of a kit check that is over opens the check again, unless another
  question was asked and dropped since. Then it must be asked for.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
from typing import TypeVar

from assistant.dialogue import events, facts, fitting, kept_text, nonconformities, parts, results
from assistant.dialogue import pieces as growing
from assistant.dialogue.arrangement import Arrangement
from assistant.dialogue.pieces import Piece
from assistant.dialogue.withdrawal import what_stands
from assistant.procedure.model import Procedure, Reading, Step, Tighten

E = TypeVar("E", bound=events.Base)


class Mode(StrEnum):
    """What the session waits for; it decides what each intent does."""

    WORKING = "working"
    QUESTIONING = "questioning"
    SKIPPING = "skipping"
    NOTING = "noting"
    CLOSING = "closing"
    CHECKING = "checking"
    CONCEDING = "conceding"
    REVIEWING = "reviewing"
    REVISING = "revising"
    PLACING = "placing"
    """An instrument sent a value, and it is asked what it is of."""
    STANDING_BY = "standing by"
    TAKING_DOWN = "taking down"
    """A job without a procedure, before its build-up; nothing is asked."""
    BUILDING_UP = "building up"
    """The same after that."""
    CLOSED = "closed"


Pending = (
    events.ValueQuestioned
    | events.SkipAsked
    | events.NoteOpened
    | events.CloseAsked
    | events.KitOpened
    | events.ConcessionAsked
    | events.ReviewOpened
    | events.RevisionOffered
    | events.ValueSent
)

_OF_NO_SET = (
    events.PartOrdered,
    events.OrderMoved,
    events.CustomerAsked,
    events.FindingRecorded,
    events.NoteRecorded,
    events.PictureTaken,
    events.QuestionAnswered,
    events.KitOpened,
    events.KitItemChecked,
    events.KitChecked,
    events.Conceded,
)
"""What stays true of a step though it is done again."""

WORK = (
    events.TorqueRecorded,
    events.ReadingRecorded,
    events.BagRecorded,
    events.QuestionAnswered,
)
"""What a step asks for: where some of it is recorded, the step is begun."""

_MODES: dict[type[events.Base], Mode] = {
    events.ValueQuestioned: Mode.QUESTIONING,
    events.SkipAsked: Mode.SKIPPING,
    events.NoteOpened: Mode.NOTING,
    events.CloseAsked: Mode.CLOSING,
    events.KitOpened: Mode.CHECKING,
    events.ConcessionAsked: Mode.CONCEDING,
    events.ReviewOpened: Mode.REVIEWING,
    events.RevisionOffered: Mode.REVISING,
    events.ValueSent: Mode.PLACING,
}


@dataclass(frozen=True)
class Target:
    """One pass of tightening that a step asks for."""

    tighten: Tighten
    stage: int
    stages: int
    value: Decimal
    unit: str
    around: bool = False
    """The last pass, once round at the full torque."""


@dataclass(frozen=True)
class State:
    """The state of one job. Treat it as a value: `apply` makes a new one."""

    procedure: Procedure
    names: fitting.Names = field(compare=False, repr=False)
    """Which kind of hardware each name in the procedure stands for."""
    history: tuple[events.Event, ...] = ()
    """The events in effect, in order: without what was withdrawn."""
    log: tuple[events.Event, ...] = ()
    """All events, withdrawals and what they took back among them."""
    turn: int = 0
    """Number of the last turn, withdrawn ones counted."""
    step_id: str | None = None
    pending: Pending | None = None
    standing_by: bool = False
    closed: bool = False
    warned: bool = False
    """Whether the hazards of the whole procedure were affirmed."""
    answers: dict[str, str] = field(default_factory=dict)
    done: frozenset[str] = frozenset()
    skipped: dict[str, facts.SkipReason] = field(default_factory=dict)
    """Steps left undone, and why."""
    since: dict[str, int] = field(default_factory=dict)
    """For each step that was opened again, the place in `history` from which its events count."""
    technicians: tuple[str, ...] = ()
    """Who may sign on by voice: the shop's list, no part of the record."""
    pieces: tuple[Piece, ...] = ()
    """What came off, in a job without a procedure; its steps are worked out from these."""
    arrangement: Arrangement = field(default_factory=Arrangement)
    """What of it goes on as one, and what before what."""
    building: bool = False
    """Whether the build-up of such a job has begun."""

    @property
    def mode(self) -> Mode:
        """What the session waits for."""
        if self.closed:
            return Mode.CLOSED
        if self.standing_by:
            return Mode.STANDING_BY
        if self.pending is not None:
            return _MODES[type(self.pending)]
        if self.procedure.unwritten is not None:
            return Mode.BUILDING_UP if self.building else Mode.TAKING_DOWN
        return Mode.WORKING

    @property
    def step(self) -> Step:
        """The step that the technician is at. Raises LookupError before the job is opened."""
        if self.step_id is None:
            raise LookupError("no step has been entered yet")
        return self.procedure.step(self.step_id)

    @property
    def number(self) -> int:
        """The step's number as it is spoken, from 1."""
        return self.procedure.number(self.step.id)

    @property
    def piece(self) -> Piece | None:
        """What came off at the present step, in a job without a procedure; None elsewhere."""
        return next((one for one in self.pieces if one.id == self.step_id), None)

    @property
    def in_pieces(self) -> bool:
        """Whether a machine that nobody has written up is down, and its build-up not begun."""
        return bool(self.pieces) and not self.building

    @property
    def technician(self) -> str | None:
        """Who is at the bench: whose the last event is, but for what the parts desk entered."""
        own = (e.by for e in reversed(self.history) if not getattr(e, "at_desk", False))
        return next(own, None)

    @cached_property
    def results(self) -> results.Results:
        """All readings that stand, and all that follows from them."""
        return results.follow(self)

    @cached_property
    def nonconformities(self) -> tuple[nonconformities.Nonconformity, ...]:
        """Every result that does not meet its requirement, in the order of the steps."""
        return nonconformities.find(self)

    @cached_property
    def holdings(self) -> parts.Holdings:
        """Where the job's parts are: in place, off, condemned, on order, fitted."""
        return parts.fold(self)

    @cached_property
    def plan(self) -> fitting.Plan:
        """What the steps that apply take off and fit."""
        return fitting.plan(self)

    def of_step(
        self, kind: type[E] | tuple[type[E], ...], step: str | None = None
    ) -> tuple[E, ...]:
        """Return the events in effect of one kind at a step (the present one by default).

        Where the step was opened again, by retest or rework, those since then; but of findings,
        orders and the like all, for they stay true.
        """
        where = step or self.step_id
        return tuple(e for e in self.current(kind) if e.step == where)

    def current(self, kind: type[E] | tuple[type[E], ...]) -> tuple[E, ...]:
        """Return the events in effect of one kind in the whole job, without the earlier sets of
        steps that were opened again.
        """
        return tuple(
            e
            for place, e in enumerate(self.history)
            if isinstance(e, kind)
            and (place >= self.since.get(e.step or "", 0) or isinstance(e, _OF_NO_SET))
        )

    def of_job(self, kind: type[E]) -> tuple[E, ...]:
        """Return the events in effect of one kind in the whole job."""
        return tuple(e for e in self.history if isinstance(e, kind))

    def route(self) -> tuple[Step, ...]:
        """Return the steps that apply with the answers given so far, in order."""
        return self._route

    @cached_property
    def _route(self) -> tuple[Step, ...]:
        steps = self.procedure.steps
        taken, until = [], 0
        for number, step in enumerate(steps):
            if number < until or not step.applies(self.answers):
                continue
            taken.append(step)
            if step.question and step.question.name in self.answers:
                chosen = self.answers[step.question.name]
                for answer in step.question.answers:
                    if answer.say == chosen and answer.go_to:
                        until = self.procedure.index(answer.go_to)
        return tuple(taken)

    def checked_twice(self, step: str) -> bool:
        """Return whether a step needs a second check."""
        return any(one.id == step and one.second_check for one in self.procedure.steps)

    def readings(self) -> tuple[Reading, ...]:
        """Return the readings of the present step that apply."""
        return tuple(r for r in self.step.readings if r.applies(self.answers))

    def targets(self) -> tuple[Target, ...]:
        """Return each pass and angle of tightening that the present step asks for, in order."""
        return self.targets_of(self.step)

    def targets_of(self, step: Step) -> tuple[Target, ...]:
        """Return the same of any step."""
        return tuple(
            target
            for tighten in step.tighten
            if tighten.applies(self.answers)
            for target in targets(tighten)
        )

    def count_of(self, fastener: str) -> int:
        """Return how many of a fastener the present step has, as the answers so far have it."""
        return self.count_at(self.step, fastener)

    def count_at(self, step: Step, fastener: str) -> int:
        """Return the same of any step. Two entries for one case, such as new ones and old ones, are
        counted together.
        """
        named = [f for f in step.fasteners if f.name == fastener]
        first = next((f for f in named if f.applies(self.answers)), named[0])
        return sum(f.count for f in named if f.when == first.when)


def targets(tighten: Tighten) -> tuple[Target, ...]:
    """Return the passes, the final torque and the angles of one tightening, in order."""
    amounts = (*tighten.passes, tighten.torque)
    if tighten.circular_pass:
        amounts += (tighten.torque,)
    if tighten.angle:
        amounts += (tighten.angle, *tighten.then_angles)
    return tuple(
        Target(
            tighten,
            number,
            len(amounts),
            amount.value,
            amount.unit,
            around=tighten.circular_pass and number == len(amounts),
        )
        for number, amount in enumerate(amounts, 1)
    )


# The fold.


def start(procedure: Procedure, technicians: tuple[str, ...] = ()) -> State:
    """Return the state of a job before its first event."""
    procedure = growing.begun(procedure)
    return State(procedure, fitting.Names(procedure), technicians=technicians)


def at_step(procedure: Procedure, step: str) -> State:
    """Return a state at a step with nothing done yet, for trying out what can be said there. The
    hazards of the whole procedure count as affirmed.

    Raises LookupError for an unknown step.
    """
    procedure.index(step)
    return State(procedure, fitting.Names(procedure), step_id=step, warned=True)


def replay(
    procedure: Procedure, record: Iterable[events.Event], technicians: tuple[str, ...] = ()
) -> State:
    """Return the state that the events lead to; the same as applying them one by one.

    The cost grows with the number of events, however many of them were withdrawn.
    """
    told = tuple(record)
    standing = what_stands(told)
    state = _grow(start(procedure, technicians), standing)
    history: list[events.Event] = []
    for event in standing:
        state = _follow(state, event, len(history))
        if not isinstance(event, events.Withdrawn):
            history.append(event)
    return replace(
        state,
        history=tuple(history),
        log=told,
        turn=max((event.turn for event in told), default=0),
    )


def apply(state: State, event: events.Event) -> State:
    """Return the state after one more event. Reads no clock, and nothing outside the state.

    A withdrawal folds the history again, so its cost grows with the number of events. To go
    through a whole record, use `replay`.
    """
    if isinstance(event, events.Withdrawn):
        kept = replay(state.procedure, (*state.log, event), state.technicians)
        return replace(kept, turn=max(state.turn, event.turn))
    return replace(
        _follow(_grow(state, (event,)), event, len(state.history)),
        history=(*state.history, event),
        log=(*state.log, event),
        turn=max(state.turn, event.turn),
    )


def _grow(state: State, standing: Iterable[events.Event]) -> State:
    """Return the state with the steps that events of an unwritten job bring."""
    if state.procedure.unwritten is None:
        return state
    pieces, arranged, building = state.pieces, state.arrangement, state.building
    for event in standing:
        pieces = growing.follow(pieces, event)
        arranged = arranged.follow(event)
        building = building or isinstance(event, events.BuildUpBegun)
    if (pieces, arranged, building) == (state.pieces, state.arrangement, state.building):
        return state
    procedure = growing.grown(state.procedure, pieces, arranged, building)
    return replace(
        state,
        procedure=procedure,
        names=fitting.Names(procedure),
        pieces=pieces,
        arrangement=arranged,
        building=building,
    )


def _follow(state: State, event: events.Event, place: int) -> State:
    """Return what an event that stands changes: everything but the history, the log and the turn.

    `place` is where it goes in the history, from 0.
    """
    if isinstance(event, WORK) and event.step in state.done and state.checked_twice(event.step):
        # What was checked is not what stands now.
        state = replace(state, done=state.done - {event.step})
    match event:
        case events.Withdrawn(at_desk=True):
            return state
        case events.Withdrawn():
            # The answer to a question was withdrawn, perhaps, but the question is not asked anew.
            # A check of the kit goes on: its questions are read from what was checked so far.
            checking = isinstance(state.pending, events.KitOpened)
            return state if checking else replace(state, pending=None)
        case events.StepEntered():
            return replace(state, step_id=event.step, pending=None)
        case events.StepDone(step=str(step)):
            skipped = {k: v for k, v in state.skipped.items() if k != step}
            return replace(state, done=state.done | {step}, skipped=skipped)
        case events.StepSkipped(step=str(step)):
            return replace(
                state,
                skipped={**state.skipped, step: event.reason},
                done=state.done - {step},
                pending=None,
            )
        case events.HazardsHeard(step=None):
            return replace(state, warned=True)
        case events.QuestionAnswered():
            return replace(state, answers={**state.answers, event.question: event.answer})
        case (
            events.ValueQuestioned()
            | events.SkipAsked()
            | events.NoteOpened()
            | events.CloseAsked()
            | events.KitOpened()
            | events.ConcessionAsked()
            | events.ReviewOpened()
            | events.RevisionOffered()
            | events.ValueSent()
        ):
            return replace(state, pending=event)
        case (
            events.TorqueRecorded()
            | events.ReadingRecorded()
            | events.BagRecorded()
            | events.PartOrdered()
            | events.OrderMoved(at_desk=False)
            | events.KitChecked()
            | events.NoteRecorded()
            | events.QuestionDropped()
            | events.Conceded()
        ):
            return replace(state, pending=None)
        case events.RetestBegun() | events.ReworkBegun():
            return replace(
                state,
                since={**state.since, **dict.fromkeys(event.steps, place)},
                done=state.done - set(event.steps),
                skipped={k: v for k, v in state.skipped.items() if k not in event.steps},
                pending=None,
            )
        case events.RevisionTaken():
            if not isinstance(state.pending, events.RevisionOffered):
                raise ValueError("a revision is taken that was not offered")
            procedure = kept_text.procedure(state.pending.source)
            return replace(
                state,
                procedure=procedure,
                names=fitting.Names(procedure),
                warned=state.warned and not event.hazards_anew,
                pending=None,
            )
        case events.StoodBy():
            return replace(state, standing_by=True)
        case events.Resumed() | events.JobTakenUp():
            return replace(state, standing_by=False)
        case events.JobClosed():
            return replace(state, closed=True, pending=None)
        case _:
            return state
