"""What events are made of: amounts, limits, parts, reasons, doubts, and what is left to do.

Everything here is data that goes to disk as JSON: numbers with units, names, identifiers, and texts
exactly as a technician or a procedure wrote them. No sentence is kept. Sentences are made when
somebody listens (`assistant.dialogue.wording`) or reads (`assistant.report.wording`).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date as Day
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Literal, get_args

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

if TYPE_CHECKING:
    from assistant.procedure import model as procedure_model

Number = Annotated[Decimal, Field(max_digits=500, decimal_places=450)]
"""Bounded, because 1e999999999 is short to keep and a gigabyte when it is written out. More than
anybody can say (`assistant.grammar.numbers`)."""


class Fact(BaseModel):
    """Base of all that events are made of: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid")


# Amounts


class Amount(Fact):
    """A number and its unit key, such as 14 and "N·m"."""

    value: Number
    unit: str

    @classmethod
    def of(cls, quantity: procedure_model.Quantity) -> Amount:
        """Return a procedure's quantity as an amount."""
        return cls(value=quantity.value, unit=quantity.unit)


class SaidValue(Fact):
    """A value as it was said."""

    value: Number
    unit: str | None = None
    """None where no unit was said."""


class Bounds(Fact):
    """The least and the most that a value may be; None where there is no such limit."""

    least: Amount | None = None
    most: Amount | None = None

    @classmethod
    def of(cls, limits: procedure_model.Limits) -> Bounds | None:
        """Return a procedure's limits as bounds; None where it sets none."""
        if limits.least is None and limits.most is None:
            return None
        return cls(
            least=limits.least and Amount.of(limits.least),
            most=limits.most and Amount.of(limits.most),
        )


# Parts


class Parts(Fact):
    """So many of one part, fastener or consumable."""

    name: str
    """What one of them is called."""
    count: int
    plural: str | None = None
    """What several of them are called, where the procedure says so."""
    countable: bool = True
    """False for what comes by amount and not by number, such as oil or grease."""
    amount: Amount | None = None
    """How much of it, where the procedure says so."""

    @classmethod
    def of(cls, procedure: procedure_model.Procedure, name: str, count: int) -> Parts:
        """Return so many of a part, by any of its names, or of a thing that is not listed."""
        part = procedure.part(name)
        if part is None:
            return cls(name=name, count=count)
        return cls(name=part.name, count=count, plural=part.plural)


Disposition = Literal["renew", "repair", "clean", "leave", "refer"]
"""What is to be done about a part that was found in some condition."""


class ExtraWork(Fact):
    """What a customer has to agree to: a part found in some condition, or one to be ordered."""

    parts: Parts
    condition: str | None = None
    """None where it is a part to be ordered."""
    place: str | None = None
    needs: Disposition | None = None
    """None where it was not said, and where it is a part to be ordered."""


CustomerAnswer = Literal["agrees", "declines", "waiting"]
"""What a customer says to extra work; waiting: an answer that was entered is taken back."""


OrderState = Literal["asked", "ordered", "received", "fitted", "cancelled"]
"""What becomes of a part that was asked for (common practice, no source)."""


PlaceKind = Literal[
    "in place",
    "in the kit",
    "short in the kit",
    "off",
    "missing",
    "condemned",
    "discarded",
    "away for repair",
    "asked",
    "ordered",
    "cancelled",
    "received",
    "fitted new",
    "refitted",
]
"""Where a part is in its life, in order. In place: on the machine since before the job. Off: taken
off and kept. Condemned: found unfit for use; it may still be fitted."""

PLACE_KINDS: tuple[PlaceKind, ...] = get_args(PlaceKind)


class PartsAt(Fact):
    """So many parts and where they are."""

    place: PlaceKind
    bag: int | None = None
    """The bag that they are in."""
    number: int | None = None
    """The step that fitted them, as it is spoken, from 1."""
    parts: Parts


class Fitted(Parts):
    """So many parts that a step has fitted."""

    new: bool = False
    """Whether they are new; else they went in again."""
    bag: int | None = None
    """The bag that they came from, as the procedure numbers it."""


LackCause = Literal["condemned", "missing", "away for repair", "short in the kit"]
"""Why a part is not to be had from where it was."""

Lacking = Literal["condemned", "missing", "away for repair", "short in the kit", "ordered", "asked"]
"""Why a part cannot be fitted: what became of it, or, once it was asked for, of the order."""


Threads = Literal["dry", "thread locker"]
"""What was found on the threads of what came off."""


LockerStrength = Literal["low", "medium", "high"]
"""The strength class of a thread-locker."""


class Moved(Fact):
    """So many parts that came to a state."""

    count: int
    state: OrderState


# Hazards


class Hazard(Fact):
    """A hazard as the procedure words it."""

    signal: Literal["danger", "warning", "caution", "notice"]
    """Signal word (ANSI Z535.6)."""
    text: str


# Reasons for skipping a step

SkipCode = Literal[
    "part not here",
    "part on order",
    "tool not here",
    "already done",
    "not fitted to this machine",
    "not needed",
    "told to leave it",
    "to be done later",
    "could not be got off",
]
"""The reasons that the grammar offers; each is what the grammar tags the phrase with."""

SKIP_CODES: tuple[SkipCode, ...] = get_args(SkipCode)


class SkipReason(Fact):
    """Why a step is skipped: one of the usual reasons, or a note in the technician's own words.

    With neither, the reason was spoken freely and is the event's own clip.
    """

    code: SkipCode | None = None
    note: str | None = None

    @classmethod
    def of(cls, text: str) -> SkipReason:
        """Return the reason that a text names, or keep the text as a note."""
        return next((cls(code=code) for code in SKIP_CODES if code == text), cls(note=text))


# What makes a torque doubtful, though its number is right


class OutOfCalibration(Fact):
    """The wrench was due for calibration on a day that has passed."""

    kind: Literal["out of calibration"] = "out of calibration"
    due: Day


class CalibratedAhead(Fact):
    """The wrench's calibration bears a date that is still to come."""

    kind: Literal["calibrated ahead"] = "calibrated ahead"
    calibrated: Day


class OutsideGoodRange(Fact):
    """The torque lies outside the range in which the wrench is good."""

    kind: Literal["outside good range"] = "outside good range"


WrenchDoubt = Annotated[
    OutOfCalibration | CalibratedAhead | OutsideGoodRange, Field(discriminator="kind")
]

# Why a value is questioned


class NotAsAsked(Fact):
    """It is not the value that the step asks for."""

    kind: Literal["not as asked"] = "not as asked"


class WrongKind(Fact):
    """Its unit measures another thing than the step asks for."""

    kind: Literal["wrong kind"] = "wrong kind"
    unit: str
    """The unit that the step asks for."""


class Implausible(Fact):
    """It lies outside what can be true at all."""

    kind: Literal["implausible"] = "implausible"
    expected: Bounds


class OutsideLimits(Fact):
    """It lies outside the limits."""

    kind: Literal["outside limits"] = "outside limits"


class BetterThanNew(Fact):
    """It is better than a new part: measured wrongly, or another part."""

    kind: Literal["better than new"] = "better than new"


class WrongBag(Fact):
    """It is not the bag that the step says."""

    kind: Literal["wrong bag"] = "wrong bag"
    in_use: bool = False
    """Whether another step has filled it."""


class MoreThanHeld(Fact):
    """Far more were ordered than the assembly holds."""

    kind: Literal["more than held"] = "more than held"
    held: int


class NotReceived(Fact):
    """More were fitted than the record has as received."""

    kind: Literal["not received"] = "not received"
    received: int


class OrderedAlready(Fact):
    """The same part is on order already."""

    kind: Literal["ordered already"] = "ordered already"
    to_come: int
    """How many of it are asked for or ordered, and have not come."""


class CountNotSaid(Fact):
    """Nobody said how many: a scanned part number tells what came, and not how many."""

    kind: Literal["count not said"] = "count not said"


class TakenAlready(Fact):
    """It is recorded already; it may be a second result, or a correction."""

    kind: Literal["taken already"] = "taken already"
    value: Number
    """What is recorded."""
    unit: str


class EventRef(Fact):
    """One event of the record: its turn, and which of the turn's events it is, from 0."""

    turn: int
    place: int


# Results


Taken = Literal["as found", "as left"]
"""Whether a result tells how the machine came in, or how it leaves."""


ResultKind = Literal[
    "reading",
    "value",
    "choice",
    "leak test",
    "fluid",
    "torque",
    "fitted part",
    "condemned part",
    "missing part",
]


class ResultRef(Fact):
    """A result: what it is of, and the turns of the events that it was made from.

    Where the same thing is measured again, it is another result.
    """

    kind: ResultKind
    step: str
    name: str
    stage: int | None = None
    """Of a torque, which pass or angle."""
    bolt: int | None = None
    """Of a torque, which bolt; None for all as one."""
    turns: tuple[int, ...] = ()


class Again(Fact):
    """That a result is to be had anew: its step was opened again, and has none yet."""

    by: Literal["retest", "rework"]
    number: int
    """The step to go on with, as it is spoken, from 1: the first of those opened again that is not
    done."""


class Failed(Fact):
    """A result that does not meet its requirement, as numbers."""

    kind: Literal["failed"] = "failed"
    result: ResultRef
    number: int
    """The step's number as it is spoken, from 1."""
    found: Amount | None = None
    """What was measured or worked out; None where nothing could be."""
    required: Bounds | None = None
    part: str | None = None
    """The part that is wrong, or that was fitted."""
    wanted: str | None = None
    """The part that should be there."""
    parts: Parts | None = None
    """The parts that are condemned or missing, and how many."""
    fitted: bool = False
    """Of condemned parts, whether they are fitted already."""
    to_come: int = 0
    """For how many of the parts one was asked for or ordered, and has not come."""
    taken: Taken = "as left"
    again: Again | None = None
    """None where the result stands."""


Doubt = Annotated[
    NotAsAsked
    | WrongKind
    | Implausible
    | OutsideLimits
    | BetterThanNew
    | WrongBag
    | MoreThanHeld
    | NotReceived
    | OrderedAlready
    | CountNotSaid
    | TakenAlready,
    Field(discriminator="kind"),
]

# What keeps a step from being done


class HazardsToHear(Fact):
    """Hazards that were not affirmed: the step's own, or those of the whole procedure."""

    kind: Literal["hazards"] = "hazards"
    hazards: tuple[Hazard, ...]


class StepBefore(Fact):
    """Another step that has to be done first."""

    kind: Literal["step before"] = "step before"
    step: str
    number: int
    """As it is spoken, from 1."""
    text: str
    """What the procedure says is to be done there."""


class ConditionToAffirm(Fact):
    """Something that must be true first."""

    kind: Literal["condition"] = "condition"
    condition: str


class QuestionToAnswer(Fact):
    """The step's own question."""

    kind: Literal["question"] = "question"
    question: str
    answers: tuple[str, ...]


class ReadingToTake(Fact):
    """A reading that was not taken."""

    kind: Literal["reading"] = "reading"
    name: str


class TorqueToRecord(Fact):
    """A pass of tightening that was not confirmed."""

    kind: Literal["torque"] = "torque"
    fastener: str
    stage: int
    """Which of the fastener's passes and angles, from 1."""
    stages: int
    value: Number
    unit: str
    around: bool = False
    """The last pass, once round at the full torque."""
    missing: tuple[int, ...] = ()
    """The bolts that are to be done yet, where they are done one by one."""


class BagToRecord(Fact):
    """The bag was not said back."""

    kind: Literal["bag"] = "bag"
    number: int


class PartsLacking(Fact):
    """Parts that the step fits and that are not to be had."""

    kind: Literal["parts"] = "parts"
    parts: Parts
    why: Lacking
    concession: bool = False
    """Whether somebody may accept it as it is: a condemned part fitted, a missing one left out."""


class TimeToPass(Fact):
    """A wait that was not started (`due` is None), or has not passed."""

    kind: Literal["wait"] = "wait"
    purpose: str
    seconds: int
    due: AwareDatetime | None = None
    left: int | None = None
    """Seconds until it is due; None where it was not started."""


class SecondCheckToMake(Fact):
    """Somebody other than who did the step has to check it."""

    kind: Literal["second check"] = "second check"
    done_by: tuple[str, ...] = ()
    """Who did it, as far as they were signed on."""


class GateToPass(Fact):
    """A gate that was not passed: lock-out, prove dead, pressure let off."""

    kind: Literal["gate"] = "gate"
    step: str
    number: int
    text: str


class FailureToSettle(Fact):
    """A result that does not meet its requirement and holds this step."""

    kind: Literal["failure"] = "failure"
    failed: Failed
    here: bool = True
    """Whether it is a result of this step."""


class GroupToEnd(Fact):
    """A group that goes on as one is not ended yet."""

    kind: Literal["group"] = "group"


Outstanding = Annotated[
    GateToPass
    | FailureToSettle
    | HazardsToHear
    | StepBefore
    | ConditionToAffirm
    | QuestionToAnswer
    | PartsLacking
    | ReadingToTake
    | TorqueToRecord
    | BagToRecord
    | TimeToPass
    | SecondCheckToMake
    | GroupToEnd,
    Field(discriminator="kind"),
]

# What keeps a job from being complete


class StepsNotDone(Fact):
    """Steps of a stage that were neither done nor skipped."""

    kind: Literal["steps not done"] = "steps not done"
    stage: str
    numbers: tuple[int, ...]
    """As they are spoken, from 1."""
    begun: tuple[int, ...] = ()
    """Those of them at which something was recorded."""

    @property
    def count(self) -> int:
        """How many they are."""
        return len(self.numbers)


class SkippedStep(Fact):
    """A step that was skipped and not done since."""

    kind: Literal["step skipped"] = "step skipped"
    step: str
    number: int
    reason: SkipReason


class BagNotOpened(Fact):
    """A bag of which nothing was taken out again."""

    kind: Literal["bag not opened"] = "bag not opened"
    number: int


class BagUneven(Fact):
    """A bag that gives back other fasteners than were put in."""

    kind: Literal["bag uneven"] = "bag uneven"
    number: int
    went_in: tuple[Parts, ...]
    fitted: tuple[Parts, ...]

    @property
    def gap(self) -> int:
        """How many are left over; negative for more than went in."""
        return _total(self.went_in) - _total(self.fitted)


class PartsLeftOver(Fact):
    """Parts that are left over: nothing more is to be fitted that could take them."""

    kind: Literal["parts left over"] = "parts left over"
    place: PlaceKind
    """Where they are: in the kit, received, or off and in no bag."""
    parts: Parts


class TimerRunning(Fact):
    """A timer that runs, or is up and was not announced yet."""

    kind: Literal["timer"] = "timer"
    name: str
    left: int
    """Seconds until it is due; 0 or less where it is up."""


class CustomerToAnswer(Fact):
    """Extra work that the customer has not agreed to yet, nor declined."""

    kind: Literal["customer to answer"] = "customer to answer"
    work: ExtraWork
    number: int | None = None
    """The step where it was found, as it is spoken."""


Left = Annotated[
    Failed
    | StepsNotDone
    | SkippedStep
    | CustomerToAnswer
    | BagNotOpened
    | BagUneven
    | PartsLeftOver
    | TimerRunning,
    Field(discriminator="kind"),
]


def _total(parts: Iterable[Parts]) -> int:
    return sum(one.count for one in parts)


# Revisions of a procedure


class RevisionChange(Fact):
    """What a newer revision of a procedure changes, by the numbers of the steps."""

    changed: tuple[int, ...] = ()
    moved: tuple[int, ...] = ()
    new: tuple[int, ...] = ()
    gone: tuple[int, ...] = ()
    """By their numbers in the earlier revision."""
    whole: bool = False
    """Whether something of the whole procedure changed, such as its parts or hazards."""


# Other jobs


class FollowedJob(Fact):
    """The job that another one follows: known by its uid wherever either travels."""

    uid: str
    job: int
    """Its number in the journal in which the other was begun."""
    title: str
    opened: AwareDatetime
    unit: str | None = None
