"""The model of a procedure: the steps that a shop writes in a text file, in order.

Every class is frozen and refuses unknown keys, so that a spelling mistake is found when the file
is read and not at the bench. Quantities are written as people write them, a number and a unit
("14 N·m", "0.05 mm", "24 h"), and kept as a `Quantity`: the number as written, and the unit's
symbol from `assistant.trade.units`.

The docstrings of these classes and keys are also the reference for procedure writers
(`assistant.procedure.reference` makes `guide/procedure-keys.md` from them), so every key needs one.
"""

from __future__ import annotations

import datetime
import json
import re
from decimal import Decimal
from enum import StrEnum
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    ValidationInfo,
    model_validator,
)

from assistant.errors import AssistantError
from assistant.grammar import nouns, numbers
from assistant.trade import units


class Model(BaseModel):
    """Base of all parts of a procedure: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    @model_validator(mode="before")
    @classmethod
    def _leave_out_what_is_not_known(cls, data: Any, info: ValidationInfo) -> Any:
        if isinstance(data, dict) and info.context and info.context.get("stored"):
            return {key: value for key, value in data.items() if key in cls.model_fields}
        return data


Number = Annotated[Decimal, Field(max_digits=40, decimal_places=20)]
"""A decimal of bounded size: 1e999999999 is short to write, but a gigabyte when written out."""


class Quantity(Model):
    """A number with its unit, the number exactly as written (14.0 stays 14.0)."""

    value: Number
    """The number, exactly as written."""
    unit: str
    """The unit's symbol, as `assistant.trade.units` shows it."""

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"


_LONGEST_QUANTITY = 60
_QUANTITY = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*([^\s\d.].*?)\s*")
_Written = Annotated[
    str, Field(pattern=r"^\s*[+-]?[0-9]+(\.[0-9]+)?\s*[^\s0-9.].*$", max_length=_LONGEST_QUANTITY)
]
"""A quantity as it stands in a file, for the schema."""


def _quantity(value: Any) -> Any:
    if isinstance(value, Quantity | dict):
        return value
    text = str(value)
    if len(text) > _LONGEST_QUANTITY:
        raise ValueError(
            f"expected a number and a unit, at most {_LONGEST_QUANTITY} characters together"
        )
    match = _QUANTITY.fullmatch(text)
    if match is None or re.match(r"[-,–−~+±…]|to\s", match[2]):
        raise ValueError(_no_quantity(text))
    return {"value": match[1], "unit": _unit(match[2])}


def _no_quantity(text: str) -> str:
    """Say what to write instead of a text that is no number with a unit."""
    number, unit = r"[+-]?\d+(?:[.,]\d+)?", r"[^\d\s].*"
    between = rf"\s*({number})\s*(?:-|–|−|to|\.\.+|…)\s*({number})\s*({unit})"
    comma = re.fullmatch(rf"\s*(\d+),(\d+)\s*({unit})", text)
    if comma:
        return f"{text!r} has a decimal comma: write a point, {comma[1]}.{comma[2]} {comma[3]}"
    limits = re.fullmatch(between, text)
    if limits:
        return (
            f"{text!r} is two values: give one value, such as {limits[2]} {limits[3]}, or "
            f"limits, {{least: {limits[1]} {limits[3]}, most: {limits[2]} {limits[3]}}}"
        )
    if re.search(r"±|\+/-", text):
        return f"{text!r} is a value with a tolerance: give the value alone, or limits"
    return f"expected a number and a unit, such as 14 N·m or 0.05 mm, not {text!r}"


def _unit(text: Any) -> str:
    try:
        return units.canonical(str(text))
    except AssistantError as error:
        raise ValueError(str(error).rstrip(".")) from None


def _small_letters(value: Any) -> Any:
    return value.strip().lower() if isinstance(value, str) else value


def _as_said(value: Any) -> Any:
    """Return a name in small letters, with its figures as they are said ("comp two hundred")."""
    if isinstance(value, bool) or not isinstance(value, str | int):
        return value
    return numbers.name_as_said(str(value))


Amount = Annotated[Quantity, BeforeValidator(_quantity, json_schema_input_type=_Written)]
Unit = Annotated[str, BeforeValidator(_unit, json_schema_input_type=str)]
_WrittenName = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]*$", max_length=60)]
Ident = Annotated[
    str,
    BeforeValidator(_small_letters, json_schema_input_type=_WrittenName),
    StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=60),
]
Spoken = Annotated[str, StringConstraints(min_length=1, max_length=400)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=60)]
"""A person's name, written down and not spoken."""
_WrittenWords = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9' -]*$", max_length=60)]
Words = Annotated[
    str,
    BeforeValidator(_as_said, json_schema_input_type=_WrittenWords),
    StringConstraints(pattern=r"^[a-z][a-z' -]*$", min_length=1, max_length=60),
]
"""The spoken name of a thing, in small letters; figures are taken as they are said."""


class Signal(StrEnum):
    """Signal words, the gravest first (ANSI Z535.6)."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"

    def as_grave_as(self, other: Signal) -> bool:
        """Whether this is the same signal word, or a graver one."""
        grades = list(Signal)
        return grades.index(self) <= grades.index(other)


DRAFT = "draft"
"""The revision of a procedure that nobody has approved."""


class Hazard(Model):
    """A hazard: its signal word, and one or two spoken sentences about what to beware of."""

    signal: Annotated[Signal, BeforeValidator(_small_letters, json_schema_input_type=Signal)]
    """How badly it can hurt, or that it can only spoil something."""
    say: Spoken
    """What the assistant says about it."""


class Variants(Model):
    """Mixin for a part of the file that applies only after certain answers."""

    when: dict[Ident, Words | tuple[Words, ...]] = Field(default_factory=dict)
    """The answers for which this applies, by the name of the question. Left out: always."""

    def applies(self, answers: dict[str, str]) -> bool:
        """Whether this applies after `answers` (question name to answer).

        It does not apply while a question that it depends on has no answer.
        """
        return all(
            answers.get(name) in ((want,) if isinstance(want, str) else want)
            for name, want in self.when.items()
        )


Taken = Literal["as found", "as left"]
"""Whether a result describes the machine as it came in, or as it leaves."""


class Judged(Model):
    """Mixin for a result with a requirement: who may accept it where the requirement is not met."""

    taken: Taken | None = None
    """Whether the result describes the machine as it came in, or as it leaves. Left out: as the
    stage says; if the stage does not say, `as found` until something is fitted or tightened."""
    concession: Literal["anyone", "listed", "none"] = "anyone"
    """Who may accept a result that does not meet its requirement: anyone at the bench, only the
    people in `concessions_by`, or nobody."""


class Part(Model):
    """A part of the assembly that can be inspected, fitted or ordered."""

    name: Words
    """What the part is called."""
    also: tuple[Words, ...] = ()
    """Other ways to say it."""
    plural: Words | None = None
    """The plural, where adding an s does not make it."""
    number: str | None = Field(default=None, max_length=60)
    """The maker's part number, for the parts desk."""
    count: int = Field(default=1, ge=1, le=999)
    """How many of them the assembly has."""

    @property
    def plural_name(self) -> str:
        """The spoken plural."""
        return self.plural or nouns.plural(self.name)


class Item(Model):
    """A tool or consumable to have at hand."""

    name: Spoken
    """What it is called."""
    count: int = Field(default=1, ge=1, le=999)
    """How many of them."""
    amount: Amount | None = None
    """How much of it."""


Grade = Annotated[str, Field(max_length=30, coerce_numbers_to_str=True)]


class Fastener(Variants):
    """One kind of fastener in a joint. A joint with two lengths of bolt has two entries."""

    name: Words
    """What the fastener is called."""
    count: int = Field(ge=1, le=500)
    """How many of them the joint has."""
    thread: str = Field(default="", max_length=30)
    """Such as M8, M10x1.25 or 1/4-20. Left out: nobody knows it yet, so its torque and its length
    are not checked."""
    length: Amount | None = None
    """Length under the head."""
    grade: Grade | None = None
    """Property class, such as "8.8" or "A4-70"."""
    position: Spoken | None = None
    """Where in the joint it goes."""
    new: bool = False
    """Whether a new one is fitted."""
    bag: int | None = Field(default=None, ge=1, le=999)
    """The bag that it is in, if that is not the step's own bag."""
    grip: Amount | None = None
    """Thickness of the clamped parts, without washers."""
    washer: Amount | None = None
    """Thickness of the washer under the head."""
    hole_depth: Amount | None = None
    """Depth of thread in a blind hole, from the joint face."""
    engaged_in: Literal["steel", "cast iron", "aluminium"] | None = None
    """The material that the thread in the hole is cut in."""


_Strength = Literal["low", "medium", "high"]
Strength = Annotated[_Strength, BeforeValidator(_small_letters, json_schema_input_type=_Strength)]


class Locker(Model):
    """Thread-locker on a joint."""

    strength: Strength
    """Its strength class."""
    note: Spoken | None = None
    """Anything else to say about it."""


class Tighten(Variants, Judged):
    """How to tighten one kind of fastener of the step."""

    fastener: Words
    """Which of the step's fasteners to tighten."""
    torque: Amount
    """The final torque."""
    tolerance: Annotated[Number, Field(gt=0, le=30)] = Decimal(5)
    """How far the torque reported may be from the torque wanted, in percent."""
    passes: tuple[Amount, ...] = ()
    """Torques of the passes before the final one, rising. The final pass is at `torque`."""
    order: str | tuple[int, ...] | None = None
    """`star`, `spiral`, `circle`, `as numbered`, or the bolts' numbers in order."""
    angle: Amount | None = None
    """Angle to turn after the torque, in one go."""
    then_angles: tuple[Amount, ...] = ()
    """Further angles after the first one."""
    lubricated: Literal["dry", "oil", "grease", "thread-locker", "paste", "not stated"] = "dry"
    """State of the threads: it decides how much clamp load a torque gives. `not stated` is for a
    draft: nothing is told of the threads, and the torque is not checked against the bolt."""
    adapter: Amount | None = None
    """Length of an adapter on the end of the wrench, from the drive to the fastener."""
    adapter_angle: Amount | None = None
    """Angle between adapter and wrench: 0 in line (the default), 90 square to it."""
    locker: Locker | None = None
    """The thread-locker to put on."""
    rows: int | None = Field(default=None, ge=1, le=100)
    """How many rows a rectangular field of bolts has; needed for `spiral`."""
    circular_pass: bool = False
    """Whether a last pass goes over the bolts again at the full torque: round the circle, or, for
    bolts that do not lie on a circle, in the order of the other passes."""
    wrench: Words | None = None
    """The torque wrench to use, by its name in the procedure's `wrenches`."""


class Loosen(Variants):
    """How to loosen one kind of fastener of the step, in the reverse of a tightening order."""

    fastener: Words
    """Which of the step's fasteners to loosen."""
    order: str | tuple[int, ...] = "star"
    """A tightening order, as in `Tighten`. The fasteners are loosened in its reverse."""
    rows: int | None = Field(default=None, ge=1, le=100)
    """How many rows the bolts are in; needed for `spiral`."""


class Fit(Variants):
    """A part to fit in a step."""

    part: Words
    """The part, from the list of parts."""
    count: int = Field(default=1, ge=1, le=999)
    """How many of them go on."""
    how: Spoken | None = None
    """How it goes in: which way round, what it is oiled with."""
    new: bool = False
    """Whether a new one is fitted."""
    chosen_by: Words | None = None
    """The reading or worked-out value by which an earlier step chose the part. `part` is then what
    the assistant calls it until one is chosen."""


class Remove(Variants):
    """A part to take off in a step. It goes into the step's bag, unless it is discarded."""

    part: Words
    """The part, from the list of parts."""
    count: int = Field(default=1, ge=1, le=999)
    """How many of them come off."""
    discard: bool = False
    """Whether it is thrown away. It then goes into no bag."""


class Answer(Model):
    """One answer to a step's question."""

    say: Words
    """What the technician says to give this answer."""
    also: tuple[Words, ...] = ()
    """Other ways to say it."""
    then: Spoken | None = None
    """What the assistant replies to this answer."""
    go_to: Ident | None = None
    """The step that this answer leads to instead of the next one."""


class Question(Model):
    """A question that the technician answers by looking at the part."""

    name: Ident
    """The question's own name in this file; `when` refers to it."""
    say: Spoken
    """What the assistant says to ask it."""
    answers: Annotated[tuple[Answer, ...], Field(min_length=2, max_length=12)]
    """The answers to choose from."""


class Limits(Model):
    """The smallest and the largest value that is allowed; either may be left out."""

    least: Amount | None = None
    """The smallest value allowed."""
    most: Amount | None = None
    """The largest value allowed."""


class Reading(Variants, Judged):
    """A reading to take with an instrument."""

    name: Words
    """What the reading is called."""
    unit: Unit
    """The unit that the technician says it in."""
    say: Spoken | None = None
    """What the assistant says to ask for it, instead of its name."""
    limits: Limits = Limits()
    """The requirement: the smallest and the largest good value."""
    resolution: Amount | None = None
    """The instrument's graduation. A reading closer to its limit than the uncertainty that follows
    from the graduation is too close to call."""
    new: Amount | None = None
    """What a new part measures. With `service_limit`, the wear is worked out from the reading."""
    service_limit: Amount | None = None
    """What the part measures when it has worn as far as it may."""
    plausible: Limits = Limits()
    """The values that can be true at all, wider than the limits. Outside them the instrument or
    the recogniser must be wrong."""
    times: int = Field(default=1, ge=1, le=50)
    """How many times to measure it."""
    use: Literal["mean", "greatest", "least"] = "mean"
    """The value to calculate with, if it is measured more than once. The worst value decides
    whether it is within its limits."""


class Derived(Variants, Judged):
    """A value worked out from readings by a formula."""

    name: Words
    """What the value is called."""
    formula: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    """Arithmetic on the readings' names, with underscores for spaces: `bore - shaft_diameter`."""
    unit: Unit
    """The unit to give the result in."""
    limits: Limits = Limits()
    """The requirement: the smallest and the largest good value."""


class ChoiceRow(Model):
    """One row of a choice: a value above `over`, up to and including `up_to`, calls for `part`."""

    over: Amount | None = None
    """The row holds values above this."""
    up_to: Amount | None = None
    """The row holds values up to and including this."""
    part: Words
    """The part to fit, from the list of parts."""
    note: Spoken | None = None
    """Anything else to say about it."""


class Choice(Model):
    """A part chosen by a reading or a worked-out value, from the first row that holds the value."""

    of: Words
    """The reading or worked-out value to choose by."""
    rows: Annotated[tuple[ChoiceRow, ...], Field(min_length=1, max_length=100)]
    """The table, one row for each part."""


class Cure(Model):
    """The cure of a thread-locker. Its time comes from the thread-locker table."""

    strength: Strength
    """Its strength class."""
    temperature: Amount | None = None
    """Temperature of the joint while it cures; 22 °C if left out."""
    gap: Amount | None = None
    """Gap between the threads that it has to fill; 0.05 mm if left out."""
    primer: bool = False
    """Whether primer (activator) was used."""
    metal: str = "steel"
    """Material of the threads, as the table names it."""
    use: Literal["handling", "full", "pressure test", "fill", "run"] = "full"
    """What the joint has to be ready for."""
    table: str | None = Field(default=None, max_length=20_000)
    """A data sheet as text, laid out as `assistant/trade/threadlocker.yaml`. Left out: the
    procedure's `locker_table`, or the generic table if it has none."""


class Wait(Variants):
    """A time to wait, such as a cure, a drain or a pressure hold."""

    purpose: Words
    """What is being waited for. It also names the timer."""
    time: Amount | None = None
    """How long to wait."""
    locker: Cure | None = None
    """The cure of a thread-locker, instead of `time`."""
    since: Ident | None = None
    """The step whose last torque starts the clock, so that nobody has to start a timer."""


class Leak(Judged):
    """A pressure or vacuum hold test. It is judged as soon as its readings are there, from this
    step or from earlier ones."""

    start: Words
    """Name of the reading of the pressure at the start."""
    final: Words
    """Name of the reading of the pressure at the end."""
    start_temperature: Words | None = None
    """Name of the reading of the temperature at the start."""
    final_temperature: Words | None = None
    """Name of the reading of the temperature at the end."""
    allowed: Amount
    """The largest pressure loss by leakage that is allowed."""
    volume: Amount | None = None
    """Volume under test, for a leak rate; needs `time`."""
    time: Amount | None = None
    """Time between the two pressure readings."""


class Fluid(Judged):
    """A fluid that is drained or filled, judged against what the machine holds."""

    name: Words
    """What the fluid is called."""
    capacity: Amount
    """How much the machine holds when it is full."""
    of: Words
    """Name of the reading of the volume that came out or went in."""
    drains: bool = False
    """Whether the fluid is drained. If not, it is filled."""
    level: Annotated[Number, Field(gt=0, le=1)] = Decimal(1)
    """The right level as a share of full: half way up the sight glass is 0.5."""
    tolerance: Annotated[Number, Field(gt=0, lt=100)] = Decimal(10)
    """How far the volume may be from what it should be, in percent."""


class Mix(Model):
    """A mixture to make up."""

    first: Words
    """Name of the first fluid."""
    second: Words
    """Name of the second fluid."""
    ratio: str = Field(max_length=20)
    """Parts of the first to parts of the second, such as "50:1"."""
    total: Amount
    """How much of the mixture to make."""


class Before(Model):
    """What must be true before a step may begin: another step done, or a question affirmed."""

    step: Ident | None = None
    """A step that has to be done first."""
    affirm: Spoken | None = None
    """A question that the technician has to affirm first."""


class Step(Variants):
    """One step: what to do, with its hazards, tools, fasteners, parts and measurements."""

    id: Ident
    """The step's own name in this file; other steps refer to it."""
    say: Spoken
    """What to do, as the assistant says it."""
    detail: Spoken | None = None
    """What the assistant answers to “more detail”."""
    why: Spoken | None = None
    """The reason for the step: what the assistant answers to “why”."""
    before: tuple[Before, ...] = ()
    """What must be true before this step begins."""
    gate: Literal["job", "stage"] | None = None
    """Makes this step a gate: nothing later in the job, or in its stage, may be done before it.
    For lock-out, prove dead, letting off pressure."""
    lifts: tuple[Ident, ...] = ()
    """The gates that end with this step, because the lock comes off or the supply comes on."""
    hazards: tuple[Hazard, ...] = ()
    """What can hurt someone or spoil something in this step. Spoken first; the technician has
    to affirm all but a notice."""
    tools: tuple[Spoken, ...] = ()
    """Tools to have at hand for this step."""
    fasteners: tuple[Fastener, ...] = ()
    """The screws, bolts and nuts of this step."""
    remove: tuple[Remove, ...] = ()
    """Parts that come off."""
    bag: int | None = Field(default=None, ge=1, le=999)
    """The bag for what comes off. The assistant says its number; the technician says it back."""
    from_bag: int | None = Field(default=None, ge=1, le=999)
    """The bag from the strip-down that this step takes its fasteners and parts from."""
    fit: tuple[Fit, ...] = ()
    """Parts that go on."""
    question: Question | None = None
    """A question about what is found. The answer can choose the steps that follow."""
    readings: tuple[Reading, ...] = ()
    """What to measure in this step."""
    derived: tuple[Derived, ...] = ()
    """Values worked out from readings."""
    choice: Choice | None = None
    """A part chosen by a value."""
    tighten: tuple[Tighten, ...] = ()
    """Fasteners to tighten."""
    loosen: tuple[Loosen, ...] = ()
    """Fasteners to loosen."""
    wait: Wait | None = None
    """A time to wait."""
    leak: Leak | None = None
    """A pressure or vacuum hold test."""
    fluid: Fluid | None = None
    """A fluid that is drained or filled."""
    mix: Mix | None = None
    """A mixture to make up."""
    second_check: bool = False
    """Whether somebody other than who did the step has to check it before it is done."""


class Stage(Model):
    """A named stage of the job, such as strip-down, inspection or build-up."""

    name: Spoken
    """What the stage is called."""
    taken: Taken | None = None
    """Whether its results describe the machine as it came in, or as it leaves."""
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=500)]
    """Its steps, in order."""


class Equipment(Model):
    """The machine that the procedure is for."""

    kind: Spoken
    """What kind of machine it is."""
    maker: Spoken | None = None
    """Who made it."""
    model: Spoken | None = None
    """What its maker calls it."""


class Wrench(Model):
    """A torque wrench of the shop, with its range and graduation in the unit of its scale."""

    name: Words
    """What the wrench is called."""
    least: Amount
    """The smallest torque on its scale."""
    most: Amount
    """The largest torque on its scale."""
    graduation: Amount
    """The smallest division of its scale."""
    kind: str = Field(default="II A", max_length=10)
    """Class to ISO 6789-1, such as II A for an adjustable click wrench."""
    length: Amount | None = None
    """From the middle of the drive to the middle of the hand. Needed with an adapter."""
    calibrated: datetime.date | None = None
    """Day of the last calibration. If it is left out, calibration is not checked."""
    interval_months: int = Field(default=12, ge=1, le=60)
    """How many months a calibration lasts."""


class Unwritten(Model):
    """What can be named in a job that has no written procedure."""

    nouns: dict[Words, Words] = Field(default_factory=dict)
    """The names of things for this kind of machine, each with its plural."""
    qualifiers: tuple[Words, ...] = ()
    """The words that can stand before them: upper, long, copper."""
    kit: tuple[Part, ...] = ()
    """What is in the box of new parts."""


class _Lookup:
    """A procedure's steps and parts by name. The first of two with one name is the one found."""

    def __init__(self, stages: tuple[Stage, ...], parts: tuple[Part, ...]) -> None:
        self.stages, self.parts = stages, parts
        self.steps = tuple(step for stage in stages for step in stage.steps)
        self.numbers: dict[str, int] = {}
        self.stages_of: dict[str, Stage] = {}
        for number, step in enumerate(self.steps):
            self.numbers.setdefault(step.id, number)
        for stage in stages:
            for step in stage.steps:
                self.stages_of.setdefault(step.id, stage)
        self.parts_of: dict[str, Part] = {}
        for part in parts:
            several = (part.plural_name, *map(nouns.plural, part.also))
            for name in (part.name, *part.also, *several):
                self.parts_of.setdefault(name, part)


class Procedure(Model):
    """A whole procedure, as read from one file."""

    procedure: Ident
    """The procedure's own name."""
    title: Spoken
    """What the job is called, aloud and in lists."""
    revision: str = Field(max_length=30, coerce_numbers_to_str=True)
    """Which issue of the text this is. It is kept with each job. `draft` is one that nobody has
    approved, whatever is written for `approver`."""
    author: Name | None = None
    """Who wrote this revision."""
    approver: Name | None = None
    """Who has approved this revision. Left out: nobody has, and the assistant says so at the start
    of each job."""
    date: datetime.date | None = None
    """The day of this revision."""
    supersedes: Annotated[str, Field(max_length=30, coerce_numbers_to_str=True)] | None = None
    """The revision that this one takes the place of."""
    sample: bool = False
    """Whether this is an invented example. The assistant and the record then say so."""
    equipment: Equipment
    """The machine that the procedure is for."""
    hazards: tuple[Hazard, ...] = ()
    """What can hurt someone or spoil something anywhere in the job. Spoken at the
    start of the job."""
    affirm: Signal = Signal.WARNING
    """The least grave signal word whose hazards have to be affirmed before work goes on. Left out:
    `warning`, so `danger` and `warning`. What is asked at every turn is affirmed without listening,
    so a graver one may be missed; `caution` asks for more."""
    tools: tuple[Item, ...] = ()
    """Tools to have at hand for the job."""
    wrenches: tuple[Wrench, ...] = ()
    """The torque wrenches that the shop has."""
    consumables: tuple[Item, ...] = ()
    """What the job uses up: oil, thread-locker, cleaner."""
    parts: tuple[Part, ...] = ()
    """Every part that can be named at the bench."""
    conditions: tuple[Words, ...] = ()
    """Words for what is wrong with a part, besides the usual ones, for findings."""
    places: tuple[Words, ...] = ()
    """Places on this assembly for findings, such as upper, lower, drum side."""
    respell: dict[Words, Words] = Field(default_factory=dict)
    """Respellings: words that recognisers do not know, spelt with words that they know, such as
    `circlip: sir clip`."""
    concessions_by: tuple[str, ...] = ()
    """Names of the people who may accept a result with `concession: listed`."""
    locker_table: dict[str, Any] | None = None
    """The data sheet of the shop's own thread-locker, laid out as
    `assistant/trade/threadlocker.yaml`. It replaces the generic table."""
    stages: Annotated[tuple[Stage, ...], Field(min_length=1, max_length=50)]
    """The stages of the job, in order."""
    unwritten: Unwritten | None = None
    """Only the program writes this, for a job that nobody has written up: its steps come about as
    the machine is taken down."""

    @model_validator(mode="after")
    def _hand_the_table_down(self) -> Self:
        """Copy the shop's thread-locker table into each cure, so that a `Wait` is complete."""
        if self.locker_table is None:
            return self
        text = json.dumps(self.locker_table)
        stages = []
        for stage in self.stages:
            steps = []
            for step in stage.steps:
                if step.wait and step.wait.locker and step.wait.locker.table is None:
                    cure = step.wait.locker.model_copy(update={"table": text})
                    wait = step.wait.model_copy(update={"locker": cure})
                    step = step.model_copy(update={"wait": wait})
                steps.append(step)
            stages.append(stage.model_copy(update={"steps": tuple(steps)}))
        object.__setattr__(self, "stages", tuple(stages))
        return self

    def must_be_affirmed(self, hazard: Hazard) -> bool:
        """Whether the technician has to affirm a hazard; the others are only told."""
        return hazard.signal.as_grave_as(self.affirm)

    @property
    def draft(self) -> bool:
        """Whether it is no more than a draft, whoever is named as its approver."""
        return self.revision.casefold() == DRAFT

    @property
    def approved(self) -> bool:
        """Whether somebody is named who has approved it."""
        return self.approver is not None and not self.draft

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps, in order."""
        return self._lookup.steps

    def stage_of(self, step_id: str) -> Stage:
        """Return the stage that holds the step. Raises KeyError for an unknown step."""
        return self._lookup.stages_of[step_id]

    def index(self, step_id: str) -> int:
        """Return the index of the step in `steps`, from 0. Raises KeyError for an unknown step."""
        return self._lookup.numbers[step_id]

    def number(self, step_id: str) -> int:
        """Return the step's number as it is spoken, from 1. Raises KeyError for an unknown step."""
        return self.index(step_id) + 1

    def step(self, step_id: str) -> Step:
        """Return the step. Raises KeyError for an unknown step."""
        return self.steps[self.index(step_id)]

    def taken(self, step_id: str, result: Judged) -> Taken:
        """Return whether a result of a step is as found or as left.

        The result says so, or its stage. If neither does, results are as found until the first
        step in which something is fitted or tightened. Raises KeyError for an unknown step.
        """
        stated = result.taken or self.stage_of(step_id).taken
        if stated is not None:
            return stated
        for step in self.steps:
            if step.fit or step.tighten:
                return "as left"
            if step.id == step_id:
                return "as found"
        raise KeyError(step_id)

    def wrench(self, name: str) -> Wrench | None:
        """Return the wrench of this name, or None."""
        return next((wrench for wrench in self.wrenches if wrench.name == name), None)

    def part(self, name: str) -> Part | None:
        """Return the part that has this name, another name or plural; None if there is none."""
        return self._lookup.parts_of.get(name)

    @property
    def _lookup(self) -> _Lookup:
        """What is looked up all the time: made once, and anew for a copy with other steps."""
        known: _Lookup | None = self.__dict__.get("_known")
        if known is None or known.stages is not self.stages or known.parts is not self.parts:
            known = _Lookup(self.stages, self.parts)
            self.__dict__["_known"] = known
        return known
