"""What happened: the events that make up a job's record.

Events are facts in the order in which they came about; none is ever changed. A withdrawal or a
correction is an event of its own that names the turn it takes back. A turn is one thing said and
all that followed from it, so that it can be withdrawn as one.

Each event carries the time with the local offset, the step, who, and for anything heard the
words, the confidence and the recogniser. They are pydantic models because they go to disk as
JSON; `EVENT` reads them back. They hold data and never a sentence: quantities, names, numbers,
identifiers, and texts exactly as somebody wrote or said them (`assistant.dialogue.facts`).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, TypeAdapter

from assistant.dialogue import facts
from assistant.dialogue.facts import Disposition as Disposition
from assistant.dialogue.facts import Number as Number
from assistant.dialogue.facts import OrderState as OrderState
from assistant.dialogue.instrument import Instrument

RULES = "1"
"""Version of the rules by which results are worked out, kept with what was told of them."""


class Heard(BaseModel):
    """How a phrase came in: its words, how sure the recogniser was, and its clip, if kept."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    words: str
    confidence: float | None = None
    """0 to 1; None for typed words."""
    recogniser: str
    """Name of the recogniser, or "typed"."""
    clip: int | None = Field(default=None, ge=0, lt=2**53)
    """Number of the audio clip in the journal, where one is kept."""
    clip_sha256: str | None = None
    """SHA-256 of the clip's FLAC bytes, in hex: what identifies it wherever it travels."""


class Base(BaseModel):
    """What every event has."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    at: AwareDatetime
    """When, in local time with its offset from UTC."""
    turn: int
    """Which thing said, from 1, it belongs to."""
    step: str | None = None
    by: str | None = None
    heard: Heard | None = None


class JobOpened(Base):
    """A job was started. Keeps the procedure's text, so that it is resumed as it was."""

    kind: Literal["job opened"] = "job opened"
    procedure: str
    title: str
    revision: str
    sample: bool
    source: str
    """The procedure's text, as worked from."""
    file: str | None = None
    """The file that it was read from, by its whole path; None where it came from no file."""
    unit: str | None = None
    """Which machine: a serial number or the customer's job, as given."""
    remark: str | None = None
    follows: facts.FollowedJob | None = None
    """The job that this one goes on from, where it is a follow-up."""


class JobTakenUp(Base):
    """The job was gone on with after a stop."""

    kind: Literal["job taken up"] = "job taken up"


class RevisionOffered(Base):
    """A newer revision of the procedure was there when the job was taken up, and was offered."""

    kind: Literal["revision offered"] = "revision offered"
    revision: str
    source: str
    """Its text, which is worked from once it is taken."""
    changed: facts.RevisionChange


class RevisionTaken(Base):
    """The job goes on with the revision that was offered. What was worked on is the same in it."""

    kind: Literal["revision taken"] = "revision taken"
    revision: str
    superseded: str
    """The revision that was worked from until then."""
    hazards_anew: bool = False
    """Whether the hazards of the whole procedure are others, and have to be heard."""


class StepEntered(Base):
    """The technician went to a step (`step` is the new one)."""

    kind: Literal["step entered"] = "step entered"
    came_from: str | None = None


class StepDone(Base):
    """The step was left with nothing outstanding."""

    kind: Literal["step done"] = "step done"
    fitted: tuple[facts.Fitted, ...] = ()
    """What was fitted in it, and no part that was short: a chosen part by its own name."""


class StepSkipped(Base):
    """The step was left undone, for a reason."""

    kind: Literal["step skipped"] = "step skipped"
    reason: facts.SkipReason
    outstanding: tuple[facts.Outstanding, ...] = ()


class HazardsHeard(Base):
    """Hazards were spoken and affirmed: the step's, or without a step those of the procedure."""

    kind: Literal["hazards heard"] = "hazards heard"
    hazards: tuple[facts.Hazard, ...]


class ConditionAffirmed(Base):
    """Something that must be true before the step was affirmed."""

    kind: Literal["condition affirmed"] = "condition affirmed"
    condition: str
    """As the procedure words it."""


class ReadyForCheck(Base):
    """Somebody said that a step is done which records no work, and waits for its second check."""

    kind: Literal["ready for check"] = "ready for check"


class SecondChecked(Base):
    """Somebody other than who did the step has checked it (`by`)."""

    kind: Literal["second check"] = "second check"
    done_by: tuple[str, ...]
    """Who did it."""


class PieceRemoved(Base):
    """Something came off in a job without a procedure; `step` is the step that it makes."""

    kind: Literal["piece removed"] = "piece removed"
    name: str
    """What one of them is called."""
    plural: str
    count: int = Field(ge=1, le=999)

    @property
    def parts(self) -> facts.Parts:
        """What came off, and how many."""
        return facts.Parts(name=self.name, count=self.count, plural=self.plural)


class PieceChanged(Base):
    """More was said of what came off at a step, or it was put right: what is given counts now."""

    kind: Literal["piece changed"] = "piece changed"
    name: str | None = None
    plural: str | None = None
    count: int | None = Field(default=None, ge=1, le=999)
    thread: str | None = None
    """Such as "M8"."""
    length: facts.Amount | None = None
    threads: facts.Threads | None = None


class TorqueSet(Base):
    """What a fastener is to be tightened to was read out of a manual, before it is used."""

    kind: Literal["torque set"] = "torque set"
    name: str
    """The fastener: what one of them is called."""
    plural: str
    value: Number
    unit: str


class LockerApplied(Base):
    """Thread-locker was put on what goes on at a step of the build-up."""

    kind: Literal["thread-locker applied"] = "thread-locker applied"
    name: str
    """The fastener: what one of them is called."""
    plural: str
    strength: facts.LockerStrength


class BuildUpBegun(Base):
    """What came off goes on again from here on, the last off first."""

    kind: Literal["build-up begun"] = "build-up begun"


class GroupBegun(Base):
    """What comes off, or is put on, from here on belongs together, and goes on as one."""

    kind: Literal["group begun"] = "group begun"


class GroupEnded(Base):
    """The group that was begun last is complete."""

    kind: Literal["group ended"] = "group ended"
    parts: tuple[facts.Parts, ...] = ()
    """What is in it."""


class BuildOrderSaid(Base):
    """Something goes on before another thing, which came off after it."""

    kind: Literal["build order said"] = "build order said"
    goes: str
    """Its step of the build-up."""
    before: str
    """The step of the build-up that it goes before."""
    parts: facts.Parts
    """What goes on first."""
    before_parts: facts.Parts
    """What goes on after it."""


class RetestBegun(Base):
    """Results are taken anew, as a new set; the first set stays in the record."""

    kind: Literal["retest begun"] = "retest begun"
    results: tuple[facts.ResultRef, ...]
    """What it is for."""
    steps: tuple[str, ...]
    """The steps that are open again, in order; `step` is the first."""
    failed: tuple[facts.Failed, ...] = ()
    """Every result that failed, conceded ones too, and that does not stand from now on: open until
    there is a new one."""


class ReworkBegun(Base):
    """A step is done again because a result did not meet its requirement."""

    kind: Literal["rework begun"] = "rework begun"
    results: tuple[facts.ResultRef, ...]
    """What it is for; empty where nothing had failed."""
    steps: tuple[str, ...]
    """The steps that are open again, in order; `step` is the one that is reworked."""
    failed: tuple[facts.Failed, ...] = ()
    """As of a retest."""


class ConcessionAsked(Base):
    """Somebody wants to accept a result as it is, and was asked for the reason."""

    kind: Literal["concession asked"] = "concession asked"
    failed: facts.Failed


class Conceded(Base):
    """A result was accepted as it is: `by` whom, and for what reason."""

    kind: Literal["conceded"] = "conceded"
    failed: facts.Failed
    reason: str | None = None
    """As typed; None where it was spoken, and is the event's own clip."""


class ReviewOpened(Base):
    """What was recorded at a step is gone through, to be put right."""

    kind: Literal["review opened"] = "review opened"
    of: str
    """The step."""
    place: int = 0
    """Which of its records is asked about, from 0."""
    corrected: bool = False
    """Whether one before it was put right."""


class TorqueRecorded(Base):
    """One pass of tightening was done: to a torque, or by an angle (unit "°")."""

    kind: Literal["torque recorded"] = "torque recorded"
    fastener: str
    stage: int
    """Which of the fastener's passes and angles, from 1."""
    stages: int
    bolt: int | None = None
    """Which bolt; None for all of them."""
    as_one: bool = False
    """Whether bolts had been called one by one, and all the rest was then said as one."""
    value: Number
    unit: str
    asked: Number
    asked_unit: str
    within: bool
    first_heard: facts.SaidValue | None = None
    """A value heard before and questioned, or corrected in one breath."""
    at_nut: bool = False
    """Whether an adapter is used, so that the wrench shows another torque than the nut gets. The
    value is what the nut gets."""
    taken: facts.Taken | None = None
    """Whether it was said to be as found or as left; None: as the procedure has it."""
    wrench: str | None = None
    """The wrench that the procedure names for it."""
    doubts: tuple[facts.WrenchDoubt, ...] = ()
    """What makes that wrench doubtful."""
    instrument: Instrument | None = None
    """What sent the value; None where it was said."""

    @property
    def overdue(self) -> bool:
        """Whether the calibration of what sent it had run out."""
        return self.instrument is not None and self.instrument.overdue(self.at.date())


class BoltCalled(Base):
    """The next bolt in the order of tightening was called out; nothing says that it was done."""

    kind: Literal["bolt called"] = "bolt called"
    fastener: str
    stage: int
    """Which of the fastener's passes and angles, from 1."""
    bolt: int
    place: int
    """Which of the pass, from 1."""
    of: int
    """How many bolts the pass has."""


class ReadingRecorded(Base):
    """An instrument was read."""

    kind: Literal["reading recorded"] = "reading recorded"
    name: str
    value: Number
    unit: str
    asked_unit: str | None = None
    """The unit that the step asks for, where it was said in another one."""
    taken: facts.Taken | None = None
    """Whether it was said to be as found or as left; None: as the procedure has it."""
    limits: facts.Bounds | None = None
    within: bool | None = None
    """None where the procedure sets no limits."""
    too_close: bool = False
    """Nearer to a limit than the instrument's resolution tells apart."""
    wear: int | None = None
    """Percent used of the wear from new to the service limit; None where they are not given."""
    first_heard: facts.SaidValue | None = None
    instrument: Instrument | None = None
    """What sent the value; None where it was said."""

    @property
    def overdue(self) -> bool:
        """Whether the calibration of what sent it had run out."""
        return self.instrument is not None and self.instrument.overdue(self.at.date())


class ValueWorkedOut(Base):
    """A value followed from readings."""

    kind: Literal["value worked out"] = "value worked out"
    name: str
    value: Number
    unit: str
    limits: facts.Bounds | None = None
    within: bool | None = None
    too_close: bool = False
    """Nearer to a limit than its uncertainty."""
    uncertainty: Number | None = None
    """Expanded (k = 2), in `unit`, from the instruments' resolutions; None: not known."""
    inputs: tuple[str, ...] = ()
    """The readings and values that it was worked out from."""
    rules: str = RULES


class LeakJudged(Base):
    """A hold test of pressure or vacuum was judged; pressures in `unit`."""

    kind: Literal["leak test"] = "leak test"
    outcome: Literal["pass", "fail", "doubtful", "too close to call"]
    """Doubtful: the change went the way that no leak can take it."""
    measured: Number
    """Lost as the gauge shows it."""
    thermal: Number
    """What of it the change in temperature explains."""
    lost: Number
    """The rest: the leak."""
    allowed: Number
    unit: str
    rate: Number | None = None
    """Leak rate in mbar·l/s, where the volume is known."""
    no_temperatures: bool = False
    """Whether no temperatures were taken, which then may explain any of it."""
    within: bool
    rules: str = RULES


class FluidMeasured(Base):
    """What came out or went in was judged against what the machine holds; all in `unit`."""

    kind: Literal["fluid"] = "fluid"
    fluid: str
    value: Number
    capacity: Number
    missing: Number
    """Capacity less value; negative for too much."""
    unit: str
    drained: bool
    within: bool
    rules: str = RULES


class PartChosen(Base):
    """A part followed from a reading or a worked-out value."""

    kind: Literal["part chosen"] = "part chosen"
    part: str | None
    """None: no part is given for such a value."""
    chosen_by: str
    """The name of the value that it follows from."""
    value: Number
    unit: str
    note: str | None = None
    """What the procedure notes beside it."""
    unsure: str | None = None
    """Another part that it might be as well, for all that the instrument tells."""
    failed: bool = False
    """Whether it was chosen from a value that does not meet its own requirement."""
    rules: str = RULES


class BagRecorded(Base):
    """What came off is in this bag."""

    kind: Literal["bag recorded"] = "bag recorded"
    number: int
    asked: int | None = None
    within: bool = True
    contents: tuple[facts.Parts, ...] = ()
    """What the procedure says goes into it; empty where it does not say."""
    first_heard: int | None = None
    """A number heard before and questioned."""


class PartOrdered(Base):
    """A part is to be ordered."""

    kind: Literal["part ordered"] = "part ordered"
    part: str
    """What one of them is called."""
    plural: str | None = None
    """What several of them are called, where the procedure says so."""
    countable: bool = True
    amount: facts.Amount | None = None
    """How much of what is not counted."""
    count: int
    part_number: str | None = None
    first_heard: facts.Parts | None = None

    @property
    def parts(self) -> facts.Parts:
        """What is ordered, and how many."""
        return facts.Parts(
            name=self.part,
            count=self.count,
            plural=self.plural,
            countable=self.countable,
            amount=self.amount,
        )


class OrderMoved(Base):
    """Some of a part's orders came to another state; see `assistant.dialogue.ledger`."""

    kind: Literal["order moved"] = "order moved"
    part: str
    """What one of them is called, as its orders have it."""
    plural: str | None = None
    countable: bool = True
    count: int
    state: OrderState
    at_desk: bool = False
    """Whether the parts desk entered it, and not the technician."""
    by_step: bool = False
    """Whether it followed from a step that was done and fits the part, and nobody said it."""
    from_repair: bool = False
    """Whether it is of no order: the job's own part came back from repair."""
    first_heard: facts.Moved | None = None

    @property
    def parts(self) -> facts.Parts:
        """What came to the state, and how many."""
        return facts.Parts(
            name=self.part, count=self.count, plural=self.plural, countable=self.countable
        )


class FindingRecorded(Base):
    """A part was found in some condition."""

    kind: Literal["finding"] = "finding"
    part: str
    count: int = 1
    """How many of them."""
    plural: str | None = None
    """What several of them are called, where the procedure says so."""
    condition: str
    place: str | None = None
    disposition: Disposition | None = None
    """What is to be done about it, where that was said."""
    taken: facts.Taken | None = None
    """Whether it was said to be as found or as left."""


class CustomerAsked(Base):
    """The customer has to agree to extra work; it waits for the desk, which asks them."""

    kind: Literal["customer asked"] = "customer asked"
    of: facts.EventRef
    """The finding or the order that it is about; see `assistant.dialogue.customer`."""
    work: facts.ExtraWork
    """What it came to when it was asked."""


class CustomerAnswered(Base):
    """The desk has the customer's answer, and entered it (`by`)."""

    kind: Literal["customer answered"] = "customer answered"
    of: facts.EventRef
    """The question."""
    about: facts.EventRef
    """The finding or the order that stood when it was answered."""
    work: facts.ExtraWork
    """What it came to then."""
    answer: facts.CustomerAnswer
    name: str | None = None
    """Who answered for the customer; None only where an answer is taken back."""
    note: str | None = None
    """As typed, such as the number of the customer's order."""
    at_desk: bool = True
    """The desk alone enters it."""


class KitOpened(Base):
    """The kit is gone through, one thing after another."""

    kind: Literal["kit check opened"] = "kit check opened"


class KitItemChecked(Base):
    """One thing that the kit should hold was looked for."""

    kind: Literal["kit item"] = "kit item"
    name: str
    asked: int
    short: int
    """How many of them are not there; all of them, where it is a thing that is not counted."""
    plural: str | None = None
    countable: bool = True
    amount: facts.Amount | None = None

    @property
    def missing(self) -> facts.Parts:
        """What is not there."""
        return facts.Parts(
            name=self.name,
            count=self.short,
            plural=self.plural,
            countable=self.countable,
            amount=self.amount,
        )


class KitChecked(Base):
    """The kit was gone through to its end."""

    kind: Literal["kit checked"] = "kit checked"
    short: tuple[facts.Parts, ...] = ()
    """What is not there."""


class NoteRecorded(Base):
    """Free speech, kept as its clip, or as text where it was typed."""

    kind: Literal["note"] = "note"
    text: str | None = None


class PictureTaken(Base):
    """A picture was taken of what an earlier event tells; it is kept beside the event."""

    kind: Literal["picture taken"] = "picture taken"
    of: facts.EventRef
    """What it shows. Where that is corrected, it shows what stands in its place."""
    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    """SHA-256 of the picture's bytes, in hex: what identifies it wherever it travels."""
    media_type: Literal["image/jpeg"] = "image/jpeg"
    width: int = Field(ge=1, lt=2**16)
    """In pixels."""
    height: int = Field(ge=1, lt=2**16)
    """In pixels."""
    at_desk: bool = False
    """Whether it was put in from a file, and not taken by whoever is at the bench."""


class QuestionAnswered(Base):
    """The step's question was answered."""

    kind: Literal["question answered"] = "question answered"
    question: str
    answer: str


class TimerStarted(Base):
    """A timer was started."""

    kind: Literal["timer started"] = "timer started"
    name: str
    seconds: int
    for_wait: bool = False


class TimerRang(Base):
    """A timer was due and was announced."""

    kind: Literal["timer rang"] = "timer rang"
    name: str
    started_turn: int


class TimerCancelled(Base):
    """A timer was stopped before it was announced; `step` is where it was started."""

    kind: Literal["timer cancelled"] = "timer cancelled"
    name: str
    started_turn: int


Recordable = Annotated[
    TorqueRecorded | ReadingRecorded | BagRecorded | PartOrdered | OrderMoved,
    Field(discriminator="kind"),
]
"""What is questioned when it does not fit."""


class ValueQuestioned(Base):
    """A value did not fit, and the technician was asked. Nothing is recorded yet."""

    kind: Literal["value questioned"] = "value questioned"
    candidate: Recordable
    """What would be recorded if it is affirmed."""
    doubt: facts.Doubt
    """Why it is questioned."""
    said: facts.SaidValue | None = None
    """A torque or a reading as it was said, perhaps without its unit."""
    replaces: facts.EventRef | None = None
    """The record that it would replace: it stands until then."""
    reviewing: int | None = None
    """Which record of its step it is, from 0, where these are gone through; None where not."""
    may_affirm: bool = True
    """False where the value cannot be right, such as one of the wrong kind."""


class ValueSent(Base):
    """An instrument sent a value, and the technician was asked what it is of. Nothing is recorded
    of it yet.
    """

    kind: Literal["value sent"] = "value sent"
    value: Number
    unit: str | None = None
    """None where it sent none: that of whatever it is of."""
    instrument: Instrument
    readings: tuple[str, ...]
    """The names of the readings that it may be."""
    fasteners: tuple[str, ...] = ()
    """The fasteners whose torque it may be."""


class SkipAsked(Base):
    """The technician wants to skip and was asked for the reason."""

    kind: Literal["skip asked"] = "skip asked"


class CloseAsked(Base):
    """The technician wants to close the job with something left and was asked to affirm."""

    kind: Literal["close asked"] = "close asked"
    left: tuple[facts.Left, ...]


class NoteOpened(Base):
    """The technician said "note"; what is said next is kept whole."""

    kind: Literal["note opened"] = "note opened"
    reason_for: Literal["skip", "concession"] | None = None
    """What the note is the reason for; None for a note of its own."""
    failed: facts.Failed | None = None
    """The result that would be conceded."""


Asked = Literal[
    "value",
    "skip",
    "close",
    "note",
    "kit check",
    "concession",
    "review",
    "revision",
    "value sent",
]
"""What the technician was asked, or had begun."""


class QuestionDropped(Base):
    """What was asked was withdrawn or refused; nothing came of it."""

    kind: Literal["question dropped"] = "question dropped"
    asked: Asked


class Withdrawn(Base):
    """A turn was taken back; corrected, where something stands in its place."""

    kind: Literal["withdrawn"] = "withdrawn"
    withdrew: int
    """The number of the turn."""
    place: int | None = None
    """Which of the turn's events, from 0; None for all of them."""
    corrected: bool = False
    at_desk: bool = False
    """Whether it takes back what was put in away from the bench, and was itself entered there."""


class SignedOn(Base):
    """Somebody said who they are; what follows is theirs, until somebody else does."""

    kind: Literal["signed on"] = "signed on"
    name: str


class StoodBy(Base):
    """Listening stopped until "resume"."""

    kind: Literal["stood by"] = "stood by"


class Resumed(Base):
    """Listening went on."""

    kind: Literal["resumed"] = "resumed"


class JobClosed(Base):
    """The job was closed."""

    kind: Literal["job closed"] = "job closed"
    left: tuple[facts.Left, ...] = ()


class PictureTakenBack(Base):
    """A picture that was put in when the job was closed already is taken out of what stands.

    It is no event of a job, and stands beside it, as the picture's own entry does.
    """

    kind: Literal["picture taken back"] = "picture taken back"
    of: facts.EventRef
    """What it shows."""
    sha256: str = Field(pattern="^[0-9a-f]{64}$")
    """The picture."""
    at_desk: Literal[True] = True


class SignedOff(Base):
    """Somebody who answers for the work has signed off a closed job (`by`).

    It is no event of a job: nothing follows the closing. It stands beside the job, and names what
    it is of, so that it fits no other job and no other record of this one.
    """

    kind: Literal["signed off"] = "signed off"
    follows: str
    """The hash of the event that closed the job, or of the sign-off before this one as stored:
    SHA-256, in hex."""
    note: str | None = None
    despite: tuple[facts.Failed, ...] = ()
    """The results that failed when it was signed off all the same."""


Event = Annotated[
    ReadyForCheck
    | SecondChecked
    | PieceRemoved
    | PieceChanged
    | TorqueSet
    | LockerApplied
    | BuildUpBegun
    | GroupBegun
    | GroupEnded
    | BuildOrderSaid
    | RetestBegun
    | ReworkBegun
    | ConcessionAsked
    | Conceded
    | ReviewOpened
    | JobOpened
    | JobTakenUp
    | RevisionOffered
    | RevisionTaken
    | StepEntered
    | StepDone
    | StepSkipped
    | HazardsHeard
    | ConditionAffirmed
    | TorqueRecorded
    | BoltCalled
    | ReadingRecorded
    | ValueWorkedOut
    | LeakJudged
    | FluidMeasured
    | PartChosen
    | BagRecorded
    | PartOrdered
    | OrderMoved
    | CustomerAsked
    | CustomerAnswered
    | KitOpened
    | KitItemChecked
    | KitChecked
    | FindingRecorded
    | NoteRecorded
    | PictureTaken
    | QuestionAnswered
    | TimerStarted
    | TimerRang
    | TimerCancelled
    | ValueQuestioned
    | ValueSent
    | SkipAsked
    | CloseAsked
    | NoteOpened
    | QuestionDropped
    | Withdrawn
    | SignedOn
    | StoodBy
    | Resumed
    | JobClosed,
    Field(discriminator="kind"),
]

EVENT: TypeAdapter[Event] = TypeAdapter(Event)
"""Reads an event from its JSON: `EVENT.validate_json(text)`."""
