"""The parts of a job record, as the page shows them and `--json` writes them.

This is what other programs read: `VERSION` says how it is laid out (see DEVELOPERS.md), times are
ISO 8601 with their offset, and beside each unit as it is spoken stands its UCUM code.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, PlainSerializer, WithJsonSchema

from assistant.dialogue import events
from assistant.journal.records import Transcript

NUMBER = r"^-?\d+(\.\d+)?$"
Number = Annotated[
    Decimal,
    PlainSerializer(lambda d: f"{d:f}", return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": NUMBER}, mode="serialization"),
]
"""A decimal that is written out ("50", never "5E+1"), as a JSON string: no digit is lost."""

VERSION: Literal["1.0"] = "1.0"
"""Of this layout. The second number is raised where something is added, the first where something
that was there is gone or means another thing."""

Severity = Literal["serious", "moderate", "slight", "none", "not rated"]

Status = Literal["done", "skipped", "started", "not reached", "not applicable"]


class Model(BaseModel):
    """Base of all parts of the record."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class Entry(Model):
    """Anything recorded: when, at which step, by whom, and how it was heard."""

    at: AwareDatetime
    step: str | None
    """The step's id."""
    number: int | None
    """The step's number as it is spoken, from 1."""
    by: str | None
    heard: events.Heard | None
    transcripts: tuple[Transcript, ...]
    """What recognisers made of its clip, the first made first; none is verified."""
    what: str
    """The whole of it in one phrase."""


class Judgement(Model):
    """How grave a finding is and what is to be done; `assistant.report.judging` says by what."""

    severity: Severity
    disposition: events.Disposition
    because: str
    """What the disposition follows from, in one phrase."""


class Finding(Entry):
    """A part found in some condition."""

    part: str
    condition: str
    place: str | None
    judgement: Judgement


class Note(Entry):
    """Free speech: its clip is in `heard`, or its text here where it was typed."""

    text: str | None


class Reading(Entry):
    """An instrument read."""

    name: str
    value: Number
    unit: str
    ucum: str | None
    limits: str | None
    least: Number | None
    """The limits once more, each as a number of `unit`; None where there is none."""
    most: Number | None
    within: bool | None
    """None where the procedure sets no limits."""
    too_close: bool
    """Nearer to a limit than the instrument tells apart."""
    wear: int | None
    """Percent used of the wear that is allowed; None where the procedure does not give it."""
    first_heard: str | None


class WorkedOut(Entry):
    """A value that followed from readings."""

    name: str
    value: Number
    unit: str
    ucum: str | None
    limits: str | None
    least: Number | None
    most: Number | None
    within: bool | None
    too_close: bool
    """Nearer to a limit than its uncertainty."""
    uncertainty: Number | None
    """Expanded (k = 2), in `unit`; None where it is not known."""


class LeakTest(Entry):
    """A hold test of pressure or vacuum, judged; pressures in `unit`."""

    outcome: Literal["pass", "fail", "doubtful"]
    measured: Number
    """Lost as the gauge shows it."""
    thermal: Number
    """What of it the change in temperature explains."""
    lost: Number
    """The rest: the leak."""
    allowed: Number
    unit: str
    ucum: str | None
    rate: Number | None
    """Leak rate in mbar·l/s."""
    within: bool


class Fluid(Entry):
    """What came out or went in, against what the machine holds; all in `unit`."""

    fluid: str
    value: Number
    capacity: Number
    missing: Number
    """Capacity less value; negative for too much."""
    unit: str
    ucum: str | None
    drained: bool
    within: bool


class PartChosen(Entry):
    """A part that followed from a value."""

    part: str
    chosen_by: str
    """The name of the value."""
    value: Number
    unit: str
    ucum: str | None
    note: str | None
    unsure: str | None
    """Another part that it might be as well, for all that the instrument tells."""


class Torque(Entry):
    """One pass of tightening; by an angle where the unit is "°"."""

    fastener: str
    stage: int
    stages: int
    asked: Number
    asked_unit: str
    asked_ucum: str | None
    tolerance: Number | None
    """How far from `asked` it may be, in percent."""
    setting: Number | None
    """What to set the wrench to, adapter and graduation taken into account; worked out from the
    procedure's list of wrenches, not said at the bench. None for an angle, or without a wrench."""
    setting_unit: str | None
    setting_ucum: str | None
    value: Number
    """As the technician read it."""
    unit: str
    ucum: str | None
    within: bool
    first_heard: str | None
    wrench: str | None
    """Named by the procedure, or the one of its list that suits best."""
    warning: str | None
    """What makes that wrench doubtful."""
    bolts: int | None
    """How many of the fastener the step has."""
    bolts_called: tuple[int, ...]
    """The numbers of those that the assistant called out in this pass, in their order."""


class Fitted(Model):
    """Parts that a step which is done has fitted: those that it asks for and that were there;
    nobody said it again.
    """

    at: AwareDatetime
    """When the step was done."""
    step: str
    number: int
    by: str | None
    part: str
    part_number: str | None
    count: int
    new: bool
    bag: int | None
    """The bag that they came from, where they were refitted from one."""
    how: str | None


class PartLife(Model):
    """One kind of part, and where all of it is at the end of the record."""

    part: str
    size: str | None
    """Thread and length of a fastener."""
    part_number: str | None
    life: str
    """How many are in place, off, missing, condemned, on order, fitted and so on."""


class OrderEntry(Entry):
    """One order as it was said."""

    count: int
    first_heard: str | None


class Stand(Model):
    """How many of a part's orders are in each state."""

    asked: int
    ordered: int
    received: int
    fitted: int
    cancelled: int


class Order(Model):
    """A part to order: all orders of it that are in effect."""

    part: str
    part_number: str | None
    count: int
    asked: int
    """How many of `count` are in each state, as the job's own record has it."""
    ordered: int
    received: int
    fitted: int
    cancelled: int
    now: Stand | None
    """The same with what the parts desk entered after the job was closed, which no seal covers;
    None where nothing was."""
    installed_unsaid: bool
    """Received and not said to be installed, though a step that fits it is done."""
    orders: tuple[OrderEntry, ...]


class Afterwards(Entry):
    """What the parts desk entered after the job was closed: beside its record, under no seal."""

    part: str
    count: int
    state: events.OrderState


class KitItem(Entry):
    """Something that was looked for when the kit was gone through."""

    name: str
    asked: int
    short: int
    """How many of them were not there."""


class Bag(Entry):
    """A bag and what is in it."""

    bag: int
    asked: int | None
    within: bool
    contents: str | None
    first_heard: str | None


class Answer(Entry):
    """The answer to a step's question."""

    question: str
    answer: str


class Timer(Entry):
    """A timer or a wait: started at `at`, announced at `rang`, or cancelled before."""

    name: str
    seconds: int
    for_wait: bool
    rang: AwareDatetime | None
    cancelled: AwareDatetime | None


class Affirmed(Entry):
    """Hazards that were heard and affirmed, or a condition."""

    texts: tuple[str, ...]


class Questioned(Entry):
    """A value that did not fit and was asked about, and what came of it."""

    first_heard: str
    why: str
    outcome: Literal["affirmed", "said anew", "questioned again", "nothing recorded", "open"]
    recorded: str | None
    """What was then recorded."""
    since_withdrawn: bool


class Withdrawn(Entry):
    """Something taken back. `at`, `by` and `heard` are those of what was taken back."""

    withdrawn_at: AwareDatetime
    withdrawn_by: str | None
    corrected: bool
    instead: str | None
    """What stands in its place."""


class StepLine(Model):
    """A line of a step's own list; withdrawn ones are kept and say so."""

    at: AwareDatetime
    kind: str
    what: str
    by: str | None
    withdrawn: bool


class StepRecord(Model):
    """One step of the procedure and what became of it."""

    number: int
    id: str
    stage: str
    say: str
    status: Status
    entered: AwareDatetime | None
    """First time."""
    done: AwareDatetime | None
    skipped: AwareDatetime | None
    reason: str | None
    outstanding: tuple[str, ...]
    """What was outstanding when it was skipped."""
    lines: tuple[StepLine, ...]


class StandsOut(Entry):
    """Something that whoever answers for the work has to look at."""

    kind: Literal[
        "skipped",
        "left undone",
        "outside",
        "affirmed",
        "doubtful",
        "questioned",
        "corrected",
        "withdrawn",
    ]
    details: tuple[str, ...]


class Summary(Model):
    """The job in a few numbers, and what stands out."""

    complete: bool
    """Closed, and every step that applies done."""
    applicable: int
    done: int
    skipped: int
    started: int
    not_reached: int
    not_applicable: int
    outside: int
    """Recorded though not as asked: outside limits or tolerance, a wrong bag, a leak."""
    overridden: int
    """Questioned by the assistant and affirmed all the same."""
    to_order: int
    """Parts asked for and not cancelled, each counted."""
    to_come: int
    """Those of them that nobody has said are received."""
    to_come_now: int
    """The same with what the parts desk entered after the job was closed."""
    stands_out: tuple[StandsOut, ...]


class Span(Model):
    """A stretch of the job's time of one kind; see `assistant.report.spans`."""

    kind: Literal["at work", "quiet", "standing by", "stopped"]
    begun: AwareDatetime
    ended: AwareDatetime


class Stop(Model):
    """A time at which nobody worked on the job: left off, and taken up again."""

    left: AwareDatetime
    taken_up: AwareDatetime


class Record(Model):
    """The whole record of one job."""

    version: Literal["1.0"] = VERSION
    job: int
    seal: str | None
    """The hash of the closing event, to be held against the journal; None while it is open."""
    title: str
    procedure: str
    revision: str
    equipment: str
    unit: str | None
    sample: bool
    remark: str | None
    opened: AwareDatetime
    closed: AwareDatetime | None
    last: AwareDatetime
    by: tuple[str, ...]
    stops: tuple[Stop, ...]
    spans: tuple[Span, ...]
    summary: Summary
    steps: tuple[StepRecord, ...]
    findings: tuple[Finding, ...]
    notes: tuple[Note, ...]
    readings: tuple[Reading, ...]
    worked_out: tuple[WorkedOut, ...]
    parts_chosen: tuple[PartChosen, ...]
    leak_tests: tuple[LeakTest, ...]
    fluids: tuple[Fluid, ...]
    torques: tuple[Torque, ...]
    fitted: tuple[Fitted, ...]
    parts: tuple[PartLife, ...]
    orders: tuple[Order, ...]
    afterwards: tuple[Afterwards, ...]
    kit: tuple[KitItem, ...]
    bags: tuple[Bag, ...]
    answers: tuple[Answer, ...]
    timers: tuple[Timer, ...]
    hazards: tuple[Affirmed, ...]
    conditions: tuple[Affirmed, ...]
    questioned: tuple[Questioned, ...]
    withdrawn: tuple[Withdrawn, ...]
