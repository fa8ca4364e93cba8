"""The parts of a job record, as the page shows them and `--json` writes them.

This is what other programs read: `VERSION` says how it is laid out (see DEVELOPERS.md), times are
ISO 8601 with their offset, and beside each unit as it is spoken stands its UCUM code.
"""

from __future__ import annotations

from datetime import date
from datetime import date as Day
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, PlainSerializer, WithJsonSchema

from assistant.dialogue import events
from assistant.dialogue.facts import ResultKind
from assistant.journal.records import Transcript
from assistant.procedure.model import Taken

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


class Concession(Entry):
    """A result that was accepted as it is: `by` whom and, in `heard` where it was spoken, why."""

    reason: str | None
    """As typed; None where it was spoken."""
    lapsed: bool
    """Whether the result is another one since, which nobody has conceded."""


class Nonconformity(Entry):
    """A result that does not meet its requirement, or did not at some time of the job.

    `at`, `by` and `heard` are those of the record that made it fail.
    """

    kind: ResultKind
    name: str
    stage: int | None
    """Of a torque, which pass or angle, from 1."""
    bolt: int | None
    """Of a torque, which bolt; None for all as one."""
    taken: Taken
    found: Number | None
    """What failed; None for what could not be worked out, and for a part."""
    unit: str | None
    ucum: str | None
    least: Number | None
    """The limits, each as a number of `unit`; None where there is none. Both are the value asked
    for, where a tolerance goes with it."""
    most: Number | None
    beyond: Number | None
    """How far it is beyond the nearer limit, in `unit`."""
    part: str | None
    """The part that was fitted and is the wrong one."""
    wanted: str | None
    """The part to be fitted."""
    status: Literal["open", "conceded", "settled", "taken back"]
    """Settled: a new result meets the requirement, or a new part came. Taken back: the record that
    made it fail was corrected or withdrawn."""
    settled_by: Literal["retest", "rework", "new part"] | None
    settled_at: AwareDatetime | None
    again: Literal["retest", "rework"] | None
    """What was begun to settle an open one, that has no new result yet."""
    now: str | None
    """The result that stands in its place, in one phrase."""
    before: tuple[str, ...]
    """The results of earlier sets that failed as well, the first one first."""
    concession: Concession | None
    """The last that was given."""
    concessions: Literal["anyone", "listed", "none"]
    """Who may concede it."""

    @property
    def open(self) -> bool:
        """Whether nobody has settled it yet."""
        return self.status == "open"


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
    taken: Taken
    """Whether it tells how the machine came in, or how it leaves."""
    judgement: Judgement
    done: tuple[str, ...]
    """What was done about the part since, as far as it is recorded."""
    photos: tuple[str, ...]
    """The SHA-256 of each photo of it; `photos` of the record tells of them."""


class Note(Entry):
    """Free speech: its clip is in `heard`, or its text here where it was typed."""

    text: str | None
    photos: tuple[str, ...]
    """The SHA-256 of each photo that goes with it."""


class Photo(Entry):
    """A photo. The picture itself is in the journal, and in an export, by its SHA-256."""

    of: str
    """What it shows, in one phrase."""
    of_kind: str
    """The kind of event that it shows, such as "finding"; empty where that is not in the record."""
    of_stands: bool
    """Whether what it shows still stands, and was not withdrawn since."""
    sha256: str
    media_type: str
    width: int
    """In pixels."""
    height: int
    """In pixels."""
    at_desk: bool
    """Whether it was put in from a file, and not taken at the bench."""
    after_closing: bool
    """Whether it was put in when the job was closed already, beside its record, under no seal."""


class Measured(Entry):
    """A value, and what sent it where it was not said."""

    instrument: str | None
    """The name of what sent it; None where it was said."""
    instrument_serial: str | None
    calibrated_until: date | None
    """The last day on which its calibration held, as far as it was known then."""
    overdue: bool
    """Whether that day had passed."""
    first_heard: str | None
    """What was heard before it, where it was questioned or put right."""


class Reading(Measured):
    """An instrument read."""

    name: str
    taken: Taken
    """Whether it tells how the machine came in, or how it leaves."""
    set: str
    """"first", or the retest or rework that began the set that it belongs to."""
    stands: bool
    """Whether its set is the present one; results are worked out from those alone."""
    nth: int
    """Which reading of this name in its set, from 1."""
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


class ReadingSet(Model):
    """Several readings of one thing that stand, and what is worked on with."""

    step: str
    number: int
    name: str
    taken: Taken
    set: str
    count: int
    asked: int
    """How often the procedure asks for it."""
    unit: str
    ucum: str | None
    mean: Number
    least: Number
    greatest: Number
    use: Literal["mean", "greatest", "least"]
    value: Number
    """What results are worked out with. The limits are judged by the worst."""
    within: bool | None


class Pair(Model):
    """A thing measured as found and as left."""

    name: str
    found: Number
    found_unit: str
    found_number: int
    """The step, as it is spoken."""
    found_within: bool | None
    left: Number
    left_unit: str
    left_number: int
    left_within: bool | None


class WorkedOut(Entry):
    """A value that follows from readings; `at`, `by` and `heard` are those of the last of them."""

    name: str
    taken: Taken
    """Whether it tells how the machine came in, or how it leaves."""
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
    """A hold test of pressure or vacuum, judged; pressures in `unit`.

    `at`, `by` and `heard` are those of its last reading.
    """

    taken: Taken
    outcome: Literal["pass", "fail", "doubtful", "too close to call"]
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
    no_temperatures: bool
    """Whether no temperatures were taken, which may then explain any of it."""
    within: bool


class Fluid(Entry):
    """What came out or went in, against what the machine holds; all in `unit`."""

    fluid: str
    taken: Taken
    value: Number
    capacity: Number
    missing: Number
    """Capacity less value; negative for too much."""
    unit: str
    ucum: str | None
    drained: bool
    within: bool


class PartChosen(Entry):
    """A part that follows from a value."""

    part: str | None
    """None: the procedure gives none for such a value."""
    chosen_by: str
    """The name of the value."""
    value: Number
    unit: str
    ucum: str | None
    note: str | None
    unsure: str | None
    """Another part that it might be as well, for all that the instrument tells."""
    failed: bool
    """Whether it follows from a value that does not meet its own requirement."""


class Torque(Measured):
    """One pass of tightening, or one bolt of it; by an angle where the unit is "°"."""

    fastener: str
    taken: Taken
    set: str
    """"first", or the retest or rework that began the set that it belongs to."""
    stands: bool
    """Whether its set is the present one."""
    bolt: int | None
    """Which bolt; None for all of them."""
    as_one: bool
    """Whether bolts were called one by one, and the rest was then said as one."""
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


class ExtraWork(Entry):
    """Extra work that the customer was to agree to, and what they answered."""

    work: str
    """What they have to agree to, as it stands."""
    stand: Literal["waiting", "agrees", "declines", "taken back"]
    """Taken back: what it is about was withdrawn at the bench."""
    answered: AwareDatetime | None
    name: str | None
    """Who answered for the customer."""
    entered_by: str | None
    note: str | None
    """What was noted with the answer."""
    after_closing: bool
    """Whether it was answered when the job was closed already, beside its record, under no seal."""


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


class JobHazard(Model):
    """A hazard of the whole procedure, and who affirmed it."""

    text: str
    affirmed: AwareDatetime | None
    """None where nobody did."""
    by: str | None
    asked: bool
    """Whether it had to be affirmed; otherwise it was only told."""


class Questioned(Entry):
    """A value that did not fit and was asked about, and what came of it."""

    first_heard: str
    why: str
    outcome: Literal[
        "affirmed",
        "a further one",
        "said anew",
        "questioned again",
        "nothing recorded",
        "left as it was",
        "open",
    ]
    """A further one: it was measured or ordered again, and is recorded beside what was there. Left
    as it was: a correction that was not taken."""
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
    """A line of a step's own list; those that no longer stand are kept and say so."""

    at: AwareDatetime
    kind: str
    what: str
    by: str | None
    gone: Literal["taken back", "earlier set", "another since"] | None
    """Why it no longer stands: taken back, of a set before a retest or rework, or a result that was
    told then and is another one since. None: it stands."""


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
    revision: str | None
    """The revision of the procedure that it was worked from; None where it was not."""
    lines: tuple[StepLine, ...]


class TextUsed(Model):
    """A revision of the procedure that the job was worked from."""

    revision: str
    author: str | None
    approver: str | None
    """None where nobody had approved it."""
    date: Day | None
    supersedes: str | None
    since: AwareDatetime
    by: str | None
    """Who took it."""


class StandsOut(Entry):
    """Something that whoever answers for the work has to look at."""

    kind: Literal[
        "fails",
        "conceded",
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
    """Closed, every step that applies done, no nonconformity open, and not in pieces."""
    in_pieces: bool
    """A machine without a written procedure was taken down, and its build-up did not begin."""
    open: int
    """Nonconformities that nobody has settled."""
    conceded: int
    settled: int
    applicable: int
    done: int
    skipped: int
    started: int
    not_reached: int
    not_applicable: int
    outside: int
    """What stands and is not as asked: every open and every conceded nonconformity, and bags that
    are not the ones asked for."""
    overridden: int
    """Values questioned by the assistant and affirmed all the same. A further reading or order of
    what is there already is none."""
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


class PersonTime(Model):
    """How long somebody was at the bench, in seconds; see `assistant.report.spans`."""

    by: str | None
    """None: nobody had signed on."""
    at_work: float
    """What is booked to the job."""
    quiet: float
    """Nothing was said for longer than half an hour, so nobody can tell."""
    standing_by: float


class Stop(Model):
    """A time at which nobody worked on the job: left off, and taken up again."""

    left: AwareDatetime
    taken_up: AwareDatetime


class SignOff(Model):
    """Somebody who answers for the work has signed the job off, after it was closed."""

    at: AwareDatetime
    by: str
    note: str | None
    despite: tuple[str, ...]
    """What failed when it was signed off all the same."""


class EarlierJob(Model):
    """A job that was opened on the same unit before this one."""

    job: int
    """Its number in the journal that the record is from."""
    uid: str
    title: str
    opened: AwareDatetime
    closed: bool


class FollowedJob(Model):
    """The job that this one is a follow-up of."""

    job: int | None
    """Its number in the journal that the record is from; None where it is not there."""
    number_then: int
    """Its number in the journal in which this job was begun."""
    uid: str
    title: str
    opened: AwareDatetime
    unit: str | None


class Record(Model):
    """The whole record of one job."""

    version: Literal["1.0"] = VERSION
    job: int
    seal: str | None
    """The hash of the closing event, to be held against the journal; None while it is open."""
    title: str
    procedure: str
    revision: str
    """The one that it was begun with."""
    texts: tuple[TextUsed, ...]
    """The revisions that it was worked from, in order; none of a job without a procedure."""
    equipment: str
    unit: str | None
    sample: bool
    remark: str | None
    sign_offs: tuple[SignOff, ...]
    """In the order in which they were made; beside the sealed record, naming its seal."""
    follows: FollowedJob | None
    """None where it is no follow-up."""
    earlier: tuple[EarlierJob, ...]
    """The jobs on the same unit that were opened before this one, the latest first."""
    opened: AwareDatetime
    closed: AwareDatetime | None
    last: AwareDatetime
    by: tuple[str, ...]
    stops: tuple[Stop, ...]
    spans: tuple[Span, ...]
    time_by_person: tuple[PersonTime, ...]
    """In the order in which they came to the bench."""
    nonconformities: tuple[Nonconformity, ...]
    """The open ones first, then those conceded, then those settled or taken back."""
    summary: Summary
    steps: tuple[StepRecord, ...]
    findings: tuple[Finding, ...]
    notes: tuple[Note, ...]
    photos: tuple[Photo, ...]
    readings: tuple[Reading, ...]
    reading_sets: tuple[ReadingSet, ...]
    found_and_left: tuple[Pair, ...]
    worked_out: tuple[WorkedOut, ...]
    parts_chosen: tuple[PartChosen, ...]
    leak_tests: tuple[LeakTest, ...]
    fluids: tuple[Fluid, ...]
    torques: tuple[Torque, ...]
    fitted: tuple[Fitted, ...]
    parts: tuple[PartLife, ...]
    orders: tuple[Order, ...]
    afterwards: tuple[Afterwards, ...]
    extra_work: tuple[ExtraWork, ...]
    kit: tuple[KitItem, ...]
    bags: tuple[Bag, ...]
    answers: tuple[Answer, ...]
    timers: tuple[Timer, ...]
    job_hazards: tuple[JobHazard, ...]
    hazards: tuple[Affirmed, ...]
    conditions: tuple[Affirmed, ...]
    questioned: tuple[Questioned, ...]
    withdrawn: tuple[Withdrawn, ...]
