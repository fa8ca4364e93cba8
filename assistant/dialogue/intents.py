"""What the technician can mean: every intent, typed, in one place.

An intent holds what was said and nothing about how it was heard. Values are Decimals exactly as
said; units are canonical keys of `assistant.grammar.units`, None where no unit was said.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from decimal import Decimal
from enum import StrEnum
from typing import Literal, get_args

from assistant.audio.manner import Change
from assistant.dialogue.events import Disposition, OrderState
from assistant.dialogue.facts import EventRef, LockerStrength, Taken, Threads
from assistant.dialogue.instrument import Instrument


@dataclass(frozen=True)
class Intent:
    """Base of all intents."""


# move


@dataclass(frozen=True)
class Next(Intent):
    """Go to the next step; the present one is done."""


@dataclass(frozen=True)
class Previous(Intent):
    """Go to the step before."""


@dataclass(frozen=True)
class Skip(Intent):
    """Leave the step undone; a reason is asked for."""


@dataclass(frozen=True)
class Reason(Intent):
    """Why a step is skipped."""

    text: str


@dataclass(frozen=True)
class GoTo(Intent):
    """Go to the step with this number, from 1."""

    number: int


# hear


@dataclass(frozen=True)
class SayAgain(Intent):
    """Repeat what was said last."""


@dataclass(frozen=True)
class ReadBack(Intent):
    """Say what is recorded at this step."""


@dataclass(frozen=True)
class WhereAreWe(Intent):
    """Say the job, the step and what is outstanding."""


@dataclass(frozen=True)
class WhatIsLeft(Intent):
    """Say how much of the job is left."""


@dataclass(frozen=True)
class HandOver(Intent):
    """Say where the work stands, what fails and what is waited for, to whoever comes next."""


@dataclass(frozen=True)
class AskLastTime(Intent):
    """Say what earlier jobs on the same unit found, measured, fitted and left."""


@dataclass(frozen=True)
class WhoIsHere(Intent):
    """Say who is signed on."""


@dataclass(frozen=True)
class Help(Intent):
    """Say what fits at this point; with `all`, everything that can be said."""

    all: bool = False


# ask


class Topic(StrEnum):
    """What can be asked about a step."""

    TORQUE = "torque"
    LOCKER = "locker"
    TOOL = "tool"
    PARTS = "parts"
    BAG = "bag"
    COUNT = "count"
    HAZARD = "hazard"
    SIZE = "size"
    LIMITS = "limits"
    ORDER = "order"
    HOW = "how"
    DETAIL = "detail"
    SETTING = "setting"
    WRENCH = "wrench"
    CLAMP = "clamp"
    THREAD = "thread"
    QUANTITY = "quantity"
    MIX = "mix"
    WHY = "why"


@dataclass(frozen=True)
class Ask(Intent):
    """Ask about the present step; a torque may be asked for in another unit, and of a fastener of
    any step.
    """

    topic: Topic
    unit: str | None = None
    fastener: str | None = None


@dataclass(frozen=True)
class OfSet(Intent):
    """Ask for the mean, the greatest or the least of the readings of one thing at this step."""

    use: Literal["mean", "greatest", "least"]
    name: str | None = None
    """None: of the reading that was taken last."""


@dataclass(frozen=True)
class WhereIs(Intent):
    """Ask where a part or a fastener is."""

    name: str


@dataclass(frozen=True)
class InBag(Intent):
    """Ask what is in a bag."""

    number: int


@dataclass(frozen=True)
class OnOrder(Intent):
    """Ask what was ordered and is still to come."""


# record


@dataclass(frozen=True)
class Tightened(Intent):
    """A fastener was tightened to a torque, or turned by an angle (unit "°")."""

    value: Decimal
    unit: str | None = None
    fastener: str | None = None
    slip: Decimal | None = None
    """A value said first and corrected in the same breath."""
    bolt: int | None = None
    """Which bolt, from 1."""
    all: bool = False
    """Whether all that are left were said as one."""
    taken: Taken | None = None
    """Whether it was said to be as found or as left."""
    instrument: Instrument | None = None
    """What sent the value; None where it was said."""


@dataclass(frozen=True)
class SecondCheck(Intent):
    """Whoever is signed on has checked what somebody else did at this step."""


@dataclass(frozen=True)
class NextBolt(Intent):
    """Say which bolt is next in the order of tightening."""


@dataclass(frozen=True)
class Reading(Intent):
    """An instrument was read."""

    value: Decimal
    unit: str | None = None
    name: str | None = None
    slip: Decimal | None = None
    taken: Taken | None = None
    """Whether it was said to be as found or as left."""
    instrument: Instrument | None = None
    """What sent the value; None where it was said."""


@dataclass(frozen=True)
class Again(Intent):
    """The reading is a further one of the same thing, and no correction."""


# sent


@dataclass(frozen=True)
class Sent(Intent):
    """An instrument sent a value, with the unit that it sent; nobody says this."""

    value: Decimal
    unit: str | None
    instrument: Instrument


@dataclass(frozen=True)
class Which(Intent):
    """What a value that was sent is of: a reading's name, or a fastener's."""

    name: str


@dataclass(frozen=True)
class ScannedTag(Intent):
    """The tag of a bag was scanned; nobody says this."""

    bag: int
    ours: bool
    """Whether the bag is of this job."""


@dataclass(frozen=True)
class ScannedNumber(Intent):
    """A part number was scanned; nobody says this."""

    number: str


# settle


@dataclass(frozen=True)
class WhatFailed(Intent):
    """Say which results do not meet their requirement."""


@dataclass(frozen=True)
class Retest(Intent):
    """Take the results that fail anew, as a new set."""


@dataclass(frozen=True)
class Rework(Intent):
    """Do a step again because a result failed; None: the number was not said."""

    number: int | None = None


@dataclass(frozen=True)
class Concession(Intent):
    """Accept a result that fails; a reason is asked for."""


@dataclass(frozen=True)
class Review(Intent):
    """Go through what was recorded at the step with this number, to put it right."""

    number: int


@dataclass(frozen=True)
class Bag(Intent):
    """What came off is in this bag."""

    number: int


@dataclass(frozen=True)
class Order(Intent):
    """A part is to be ordered."""

    part: str
    count: int = 1


@dataclass(frozen=True)
class Supply(Intent):
    """Ordered parts came to another state: received, fitted, cancelled."""

    part: str
    state: OrderState
    count: int | None = None
    """None: all of them."""


@dataclass(frozen=True)
class KitCheck(Intent):
    """Go through what should be in the box of parts."""


@dataclass(frozen=True)
class Missing(Intent):
    """So many of what the kit should hold are not there."""

    count: int


# answer


@dataclass(frozen=True)
class Affirm(Intent):
    """Yes."""


@dataclass(frozen=True)
class Negative(Intent):
    """No."""


@dataclass(frozen=True)
class Chosen(Intent):
    """One of the answers to the step's own question."""

    answer: str


Plain = Literal["yes", "no", "undo", "help"]
PLAIN_WORDS: tuple[Plain, ...] = get_args(Plain)


@dataclass(frozen=True)
class PlainWord(Intent):
    """A word of everyday speech, in place of the one that is heard better: affirm, negative,
    disregard, what words.
    """

    word: Plain


# find


@dataclass(frozen=True)
class Finding(Intent):
    """A part was found in some condition, at some place."""

    part: str
    condition: str
    place: str | None = None
    disposition: Disposition | None = None
    """What is to be done about it."""
    taken: Taken | None = None
    """Whether it was said to be as found or as left."""
    count: int | None = None
    """How many of them, where that was said."""
    all: bool = False
    """Whether the part was said as several, without a number."""


@dataclass(frozen=True)
class Note(Intent):
    """Free speech to keep; None where only the word "note" was said and the speech follows."""

    text: str | None = None
    clipped: bool = False
    """Whether the speech itself is in the clip of this phrase."""


@dataclass(frozen=True)
class AskCustomer(Intent):
    """Have the customer asked whether they agree to what was found last and what it needs."""


@dataclass(frozen=True)
class Photo(Intent):
    """Take a picture of what was said last."""


@dataclass(frozen=True)
class PictureReady(Intent):
    """The bench has taken the picture that was asked for; nobody says this."""

    of: EventRef
    """What it shows."""
    sha256: str
    width: int
    """In pixels."""
    height: int


NoPictureWhy = Literal["no camera", "not there", "no answer", "no picture"]
"""Why there is no picture: none was set up; it cannot be opened; it did not answer in time; it
answered with none."""


@dataclass(frozen=True)
class PictureFailed(Intent):
    """The bench could not take the picture that was asked for; nobody says this."""

    why: NoPictureWhy
    told: bool = False
    """Whether what to do about it was told before."""


# mend


@dataclass(frozen=True)
class Value(Intent):
    """A bare number, in answer to a question about a number; perhaps with the reading's name."""

    value: Decimal
    unit: str | None = None
    name: str | None = None
    instrument: Instrument | None = None
    """What sent the value; None where it was said."""


@dataclass(frozen=True)
class Correction(Intent):
    """Replace the last thing of the same kind by this."""

    instead: Intent


@dataclass(frozen=True)
class Disregard(Intent):
    """Withdraw the last thing said."""


# time


@dataclass(frozen=True)
class StartTimer(Intent):
    """Start a timer; None for the time that the step asks for, and for a timer without a name."""

    seconds: int | None = None
    name: str | None = None


@dataclass(frozen=True)
class CancelTimer(Intent):
    """Stop a timer; the first of its name has the number 1."""

    name: str | None = None
    number: int | None = None


@dataclass(frozen=True)
class TimeLeft(Intent):
    """Say how long the timers have to go, or those of a name."""

    name: str | None = None
    number: int | None = None


@dataclass(frozen=True)
class Tick(Intent):
    """Time has passed: a timer may be due."""

    speaking: bool = False
    """Whether somebody is speaking, or has just said a number that is not answered yet."""


# attention


@dataclass(frozen=True)
class StandBy(Intent):
    """Stop listening until `Resume`."""


@dataclass(frozen=True)
class Resume(Intent):
    """Listen again."""


@dataclass(frozen=True)
class Speak(Intent):
    """Speak slower, faster, louder or softer; it leaves nothing in the record."""

    change: Change


@dataclass(frozen=True)
class SignOn(Intent):
    """Say who is at the bench: what follows is theirs."""

    name: str


@dataclass(frozen=True)
class LeaveJob(Intent):
    """Set the job aside; it stays open."""


@dataclass(frozen=True)
class CloseJob(Intent):
    """The job is finished."""


# a job without a procedure


@dataclass(frozen=True)
class Removed(Intent):
    """So many of a thing came off; no name: a thing that nobody has a name for."""

    name: str | None = None
    plural: str | None = None
    count: int = 1


@dataclass(frozen=True)
class Recount(Intent):
    """It was another number that came off."""

    count: int


@dataclass(frozen=True)
class SomeOf(Intent):
    """So many came off of so many that belong there; the rest is missing."""

    found: int
    of: int


@dataclass(frozen=True)
class Rename(Intent):
    """What came off is called something else."""

    name: str
    plural: str


@dataclass(frozen=True)
class Size(Intent):
    """The metric thread of what came off, and its length in millimetres."""

    thread: Decimal
    length: Decimal | None = None


@dataclass(frozen=True)
class ThreadsFound(Intent):
    """What was found on the threads of what came off."""

    threads: Threads


@dataclass(frozen=True)
class LastOff(Intent):
    """Say what came off last."""


@dataclass(frozen=True)
class StillOff(Intent):
    """Say what is not on the machine."""


@dataclass(frozen=True)
class HowManyOff(Intent):
    """Say how many of a thing came off."""

    name: str


@dataclass(frozen=True)
class StartBuildUp(Intent):
    """Begin to put on again what came off."""


@dataclass(frozen=True)
class SetTorque(Intent):
    """Keep a torque out of a manual; no name: for what is at this step."""

    value: Decimal
    unit: str | None = None
    name: str | None = None


@dataclass(frozen=True)
class StartGroup(Intent):
    """What comes off or goes together from here on is to go on as one."""


@dataclass(frozen=True)
class EndGroup(Intent):
    """The group is complete."""


@dataclass(frozen=True)
class PutBefore(Intent):
    """Something goes on before another thing."""

    name: str
    before: str


@dataclass(frozen=True)
class PlayNote(Intent):
    """Play the notes that were kept with what came off, or goes on, at this step."""


@dataclass(frozen=True)
class ThreadLocker(Intent):
    """Thread-locker of a strength is on what goes on here."""

    strength: LockerStrength


@dataclass(frozen=True)
class NotYet(Intent):
    """Leave what would go on now until the rest is on."""


@dataclass(frozen=True)
class Installed(Intent):
    """Something is on again, whether or not it was its turn."""

    name: str


ALL: tuple[type[Intent], ...] = tuple(Intent.__subclasses__())
"""Every kind of intent."""


def as_dict(intent: Intent) -> dict[str, object]:
    """Return an intent as plain data: its name, and what was said; what was not said is left out.

    Decimals become strings, so that 14.0 stays 14.0.
    """
    found: dict[str, object] = {"intent": type(intent).__name__}
    for item in fields(intent):
        value = getattr(intent, item.name)
        if isinstance(value, Intent):
            found[item.name] = as_dict(value)
        elif isinstance(value, Decimal | StrEnum):
            found[item.name] = str(value)
        elif value is not None and value is not False:
            found[item.name] = value
    return found
