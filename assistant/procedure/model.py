"""The procedure: what a shop's own text file says is to be done, in order.

Every class is frozen and refuses keys that it does not know, so that a slip of the pen is found
when the file is read and not at the bench. Quantities are written as people write them, a number
and a unit ("14 N·m", "0.05 mm", "24 h"), and kept as a `Quantity` with the unit as written.
"""

from __future__ import annotations

import json
import re
from datetime import date
from decimal import Decimal
from enum import StrEnum
from functools import cached_property
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
from pydantic_core import PydanticCustomError
from rapidfuzz import process

from assistant.errors import AssistantError
from assistant.grammar import nouns
from assistant.trade import units


class Model(BaseModel):
    """Base of all parts of a procedure: frozen, and strict about unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    @model_validator(mode="before")
    @classmethod
    def _know_every_key(cls, data: Any, info: ValidationInfo) -> Any:
        if isinstance(data, dict):
            if info.context and info.context.get("stored"):
                return {key: value for key, value in data.items() if key in cls.model_fields}
            for key in data:
                if key not in cls.model_fields:
                    near = process.extractOne(str(key), list(cls.model_fields), score_cutoff=60)
                    hint = (
                        f"did you mean '{near[0]}'?"
                        if near
                        else "known keys are " + ", ".join(cls.model_fields)
                    )
                    raise PydanticCustomError(
                        "unknown_key",
                        "unknown key '{key}'; {hint}",
                        {"key": str(key), "hint": hint},
                    )
        return data


Number = Annotated[Decimal, Field(max_digits=40, decimal_places=20)]
"""Bounded, because 1e999999999 is short to write and a gigabyte when it is written out."""


class Quantity(Model):
    """A number with its unit, the number exactly as written (14.0 stays 14.0)."""

    value: Number
    unit: str

    def __str__(self) -> str:
        return f"{self.value} {self.unit}"


_LONGEST_QUANTITY = 60
_QUANTITY = re.compile(r"\s*([+-]?\d+(?:\.\d+)?)\s*([^\s\d.].*?)\s*")


def _quantity(value: Any) -> Any:
    if isinstance(value, Quantity | dict):
        return value
    text = str(value)
    if len(text) > _LONGEST_QUANTITY:
        raise ValueError(f"a number and a unit have at most {_LONGEST_QUANTITY} characters")
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise ValueError(f"expected a number and a unit, such as 14 N·m or 0.05 mm, not {value!r}")
    return {"value": match[1], "unit": _unit(match[2])}


def _unit(text: Any) -> str:
    try:
        return units.canonical(str(text))
    except AssistantError as error:
        raise ValueError(str(error).rstrip(".")) from None


Amount = Annotated[Quantity, BeforeValidator(_quantity)]
Unit = Annotated[str, BeforeValidator(_unit)]
Ident = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=60)]
Spoken = Annotated[str, StringConstraints(min_length=1, max_length=400)]
Words = Annotated[
    str,
    StringConstraints(pattern=r"^[a-z][a-z' -]*$", to_lower=True, min_length=1, max_length=60),
]
"""What is said aloud to name a thing: letters and spaces only, numbers spelt out."""


class Signal(StrEnum):
    """Signal words, by how badly it can hurt (ANSI Z535.6)."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"

    @property
    def must_be_affirmed(self) -> bool:
        """Whether somebody can be hurt: then it has to be affirmed, not only spoken."""
        return self is not Signal.NOTICE


class Hazard(Model):
    """A signal word and what to beware of, one or two spoken sentences."""

    signal: Signal
    say: Spoken


class Variants(Model):
    """Mixin: a thing that only applies after certain answers."""

    when: dict[Ident, Words | tuple[Words, ...]] = Field(default_factory=dict)
    """Question name to the answer (or answers) for which this applies; empty: always."""

    def applies(self, answers: dict[str, str]) -> bool:
        """Whether the answers given so far let this apply; an open question does not."""
        return all(
            answers.get(name) in ((want,) if isinstance(want, str) else want)
            for name, want in self.when.items()
        )


Taken = Literal["as found", "as left"]
"""Whether a result tells how the machine came in, or how it leaves."""


class Judged(Model):
    """Mixin: a result with a requirement, and what happens where it is not met."""

    taken: Taken | None = None
    """Left out: as the stage has it, and else as found until something is fitted or tightened."""
    concession: Literal["anyone", "listed", "none"] = "anyone"
    """Who may accept a result that does not meet its requirement: whoever is at the bench, those
    in `concessions_by`, or nobody."""


class Part(Model):
    """A part of the assembly that can be found wanting, fitted or ordered."""

    name: Words
    also: tuple[Words, ...] = ()
    """Other ways to say it."""
    plural: Words | None = None
    number: str | None = Field(default=None, max_length=60)
    """The maker's part number, for the parts desk."""
    count: int = Field(default=1, ge=1, le=999)

    @property
    def plural_name(self) -> str:
        """How several of them are said."""
        return self.plural or nouns.plural(self.name)


class Item(Model):
    """A tool or consumable to have at hand."""

    name: Spoken
    count: int = Field(default=1, ge=1, le=999)
    amount: Amount | None = None


class Fastener(Variants):
    """One kind of fastener in a joint; two lengths in one joint are two of these."""

    name: Words
    count: int = Field(ge=1, le=500)
    thread: str = Field(max_length=30)
    """Such as M8, M10x1.25 or 1/4-20."""
    length: Amount | None = None
    grade: str | None = Field(default=None, max_length=30)
    """Property class, such as "8.8" or "A4-70"."""
    position: Spoken | None = None
    new: bool = False
    bag: int | None = Field(default=None, ge=1, le=999)
    grip: Amount | None = None
    """Thickness clamped, washers left out."""
    washer: Amount | None = None
    hole_depth: Amount | None = None
    """Depth of thread in a blind hole, from the joint face."""
    engaged_in: Literal["steel", "cast iron", "aluminium"] | None = None


class Locker(Model):
    """Thread-locker on a joint."""

    strength: Literal["low", "medium", "high"]
    note: Spoken | None = None


class Tighten(Variants, Judged):
    """Tightening one kind of fastener of the step."""

    fastener: Words
    torque: Amount
    tolerance: Annotated[Number, Field(gt=0, le=30)] = Decimal(5)
    """How far the torque said may be from the one asked for, in percent."""
    passes: tuple[Amount, ...] = ()
    """Torques of the passes before the last one; the last is `torque`."""
    order: str | tuple[int, ...] | None = None
    """`star`, `spiral`, `circle`, `as numbered`, or the bolts' numbers in order."""
    angle: Amount | None = None
    """Angle after the torque, in degrees, in one go."""
    then_angles: tuple[Amount, ...] = ()
    """Further angles after the first one."""
    lubricated: Literal["dry", "oil", "grease", "thread-locker", "paste"] = "dry"
    adapter: Amount | None = None
    """Length of an adapter on the end of the wrench, from drive to fastener."""
    adapter_angle: Amount | None = None
    """Between adapter and wrench: 0 in line (where it is left out), 90 square to it."""
    locker: Locker | None = None
    rows: int | None = Field(default=None, ge=1, le=100)
    """How many rows a rectangular field of bolts has; for `spiral`."""
    circular_pass: bool = False
    """Whether a last pass goes over the bolts again at the full torque: round a circle, or in the
    order of the other passes where they do not lie on one."""
    wrench: Words | None = None
    """Name of the wrench in the procedure's `wrenches` to do it with."""


class Loosen(Variants):
    """Loosening one kind of fastener of the step: the order is that of tightening, reversed."""

    fastener: Words
    order: str | tuple[int, ...] = "star"
    """As for tightening, which it is the reverse of."""
    rows: int | None = Field(default=None, ge=1, le=100)


class Fit(Variants):
    """A part fitted in a step."""

    part: Words
    count: int = Field(default=1, ge=1, le=999)
    how: Spoken | None = None
    """Orientation, lubricant: how it goes in."""
    new: bool = False
    chosen_by: Words | None = None
    """The reading or worked-out value by which a step before chose the part. `part` is then what it
    is called while nothing is chosen."""


class Remove(Variants):
    """A part taken off in a step, and the bag that it goes into."""

    part: Words
    count: int = Field(default=1, ge=1, le=999)
    discard: bool = False


class Answer(Model):
    """One answer to a step's question."""

    say: Words
    also: tuple[Words, ...] = ()
    then: Spoken | None = None
    """What the assistant says to this answer."""
    go_to: Ident | None = None
    """The step that this answer leads to instead of the next one."""


class Question(Model):
    """A question that the technician answers by looking at the part."""

    name: Ident
    say: Spoken
    answers: Annotated[tuple[Answer, ...], Field(min_length=2, max_length=12)]


class Limits(Model):
    """The least and the most that a reading may be; either may be left out."""

    least: Amount | None = None
    most: Amount | None = None


class Reading(Variants, Judged):
    """A reading to take with an instrument."""

    name: Words
    unit: Unit
    say: Spoken | None = None
    limits: Limits = Limits()
    resolution: Amount | None = None
    """The instrument's graduation, for judging a reading close to its limit."""
    new: Amount | None = None
    """What a new part reads; with `service_limit`, wear is worked out from the reading."""
    service_limit: Amount | None = None
    """What the part reads when all the wear that is allowed is used up."""
    plausible: Limits = Limits()
    """Outside these the instrument or the hearing must be wrong; kept wider than the limits."""
    times: int = Field(default=1, ge=1, le=50)
    """How often it is to be measured."""
    use: Literal["mean", "greatest", "least"] = "mean"
    """What is worked on with, where it was measured more than once. Whether it is within its limits
    is told by the worst."""


class Derived(Variants, Judged):
    """A value worked out from readings by a formula."""

    name: Words
    formula: Annotated[str, StringConstraints(min_length=1, max_length=200)]
    """Arithmetic on the readings' names, their spaces written as underscores."""
    unit: Unit
    limits: Limits = Limits()


class ChoiceRow(Model):
    """One row of a choice: values above `over` and up to and including `up_to` take `part`."""

    over: Amount | None = None
    up_to: Amount | None = None
    part: Words
    note: Spoken | None = None


class Choice(Model):
    """A part chosen from a reading or a worked-out value: the first row that holds it."""

    of: Words
    """The reading or worked-out value to choose by."""
    rows: Annotated[tuple[ChoiceRow, ...], Field(min_length=1, max_length=100)]


class Cure(Model):
    """Thread-locker whose cure is waited for; the time comes from the thread-locker table."""

    strength: Literal["low", "medium", "high"]
    temperature: Amount | None = None
    """Of the joint while it cures; 22 °C where it is left out."""
    gap: Amount | None = None
    primer: bool = False
    metal: str = "steel"
    """What the threads are of, as the table names it."""
    use: Literal["handling", "full", "pressure test", "fill", "run"] = "full"
    """What the joint has to be ready for."""
    table: str | None = Field(default=None, max_length=20_000)
    """A data sheet's times as text, laid out as `assistant/trade/threadlocker.yaml`; the
    procedure's `locker_table` where it has one, else the generic table."""


class Wait(Variants):
    """A time to let pass: cure, drain, pressure hold."""

    purpose: Words
    time: Amount | None = None
    locker: Cure | None = None
    """In place of `time`: the cure of a thread-locker."""
    since: Ident | None = None
    """The step whose last torque starts the clock; nobody has to start a timer then."""


class Leak(Judged):
    """A hold test of pressure or vacuum, judged once its readings are taken, here or before."""

    start: Words
    """Name of the reading of the pressure at first."""
    final: Words
    """The same at last."""
    start_temperature: Words | None = None
    final_temperature: Words | None = None
    allowed: Amount
    """The most pressure that may be lost to leak."""
    volume: Amount | None = None
    """Of what is tested, for a leak rate; needs `time`."""
    time: Amount | None = None


class Fluid(Judged):
    """A fluid that comes out or goes in, judged against what the machine holds."""

    name: Words
    capacity: Amount
    of: Words
    """Name of the reading that says how much."""
    drains: bool = False
    """Whether it comes out; else it goes in."""
    level: Annotated[Number, Field(gt=0, le=1)] = Decimal(1)
    """Where it should stand, as a share of full: a sight glass half way up is 0.5."""
    tolerance: Annotated[Number, Field(gt=0, lt=100)] = Decimal(10)
    """How far it may be from the capacity, in percent."""


class Mix(Model):
    """A mixture to make up."""

    first: Words
    second: Words
    ratio: str = Field(max_length=20)
    """Parts of the first to parts of the second, such as "50:1"."""
    total: Amount
    """How much of the mixture is wanted."""


class Before(Model):
    """What must be true before a step may be done: another step, or a thing affirmed."""

    step: Ident | None = None
    affirm: Spoken | None = None


class Step(Variants):
    """One step: what to do, and all that goes with it."""

    id: Ident
    say: Spoken
    detail: Spoken | None = None
    why: Spoken | None = None
    """The reason for the step, told to "why"."""
    before: tuple[Before, ...] = ()
    gate: Literal["job", "stage"] | None = None
    """Whether nothing else of the job, or of its stage, may be done before this: lock-out, prove
    dead, pressure let off."""
    lifts: tuple[Ident, ...] = ()
    """The gates that end with this step: the lock comes off, the supply comes on."""
    hazards: tuple[Hazard, ...] = ()
    tools: tuple[Spoken, ...] = ()
    fasteners: tuple[Fastener, ...] = ()
    remove: tuple[Remove, ...] = ()
    bag: int | None = Field(default=None, ge=1, le=999)
    """The bag that what comes off goes into; spoken, and said back by the technician."""
    from_bag: int | None = Field(default=None, ge=1, le=999)
    """The bag from the strip-down that this step takes its hardware from."""
    fit: tuple[Fit, ...] = ()
    question: Question | None = None
    readings: tuple[Reading, ...] = ()
    derived: tuple[Derived, ...] = ()
    choice: Choice | None = None
    tighten: tuple[Tighten, ...] = ()
    loosen: tuple[Loosen, ...] = ()
    wait: Wait | None = None
    leak: Leak | None = None
    fluid: Fluid | None = None
    mix: Mix | None = None


class Stage(Model):
    """A named stage of the job: strip-down, inspection, build-up."""

    name: Spoken
    taken: Taken | None = None
    """Whether its results tell how the machine came in, or how it leaves."""
    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=500)]


class Equipment(Model):
    """What the procedure is for."""

    kind: Spoken
    maker: Spoken | None = None
    model: Spoken | None = None


class Wrench(Model):
    """A torque wrench of the shop's list; range and graduation in the unit of its scale."""

    name: Words
    least: Amount
    most: Amount
    graduation: Amount
    kind: str = Field(default="II A", max_length=10)
    """Class by ISO 6789-1, such as II A for one that is set and clicks."""
    length: Amount | None = None
    """From the middle of the drive to the middle of the hand; needed with an adapter."""
    calibrated: date | None = None
    """Day of the last calibration; where it is left out, calibration is not judged."""
    interval_months: int = Field(default=12, ge=1, le=60)


class Procedure(Model):
    """A whole procedure, as read from one file."""

    procedure: Ident
    title: Spoken
    revision: str = Field(max_length=30, coerce_numbers_to_str=True)
    sample: bool = False
    """An invented example: said so at the start of the job and on the record."""
    equipment: Equipment
    hazards: tuple[Hazard, ...] = ()
    tools: tuple[Item, ...] = ()
    wrenches: tuple[Wrench, ...] = ()
    """The torque wrenches that are at hand."""
    consumables: tuple[Item, ...] = ()
    parts: tuple[Part, ...] = ()
    conditions: tuple[Words, ...] = ()
    """Conditions beyond the usual ones, for findings."""
    places: tuple[Words, ...] = ()
    """Places on this assembly, for findings: upper, lower, drum side."""
    respell: dict[Words, Words] = Field(default_factory=dict)
    """Words that recognisers lack, spelt with words that they have: circlip = sir clip."""
    concessions_by: tuple[str, ...] = ()
    """Names of those who may accept what only `listed` people may."""
    locker_table: dict[str, Any] | None = None
    """The shop's own thread-locker: its data sheet, laid out as
    `assistant/trade/threadlocker.yaml`, in place of the generic table."""
    stages: Annotated[tuple[Stage, ...], Field(min_length=1, max_length=50)]

    @model_validator(mode="after")
    def _hand_the_table_down(self) -> Self:
        """Give the shop's thread-locker table to each wait for it, so that a wait is whole."""
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

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps, in order."""
        return tuple(step for stage in self.stages for step in stage.steps)

    def stage_of(self, step_id: str) -> Stage:
        """Return the stage that holds the step."""
        for stage in self.stages:
            if any(step.id == step_id for step in stage.steps):
                return stage
        raise KeyError(step_id)

    def index(self, step_id: str) -> int:
        """Return the place of the step in `steps`, from 0."""
        for number, step in enumerate(self.steps):
            if step.id == step_id:
                return number
        raise KeyError(step_id)

    def taken(self, step_id: str, result: Judged) -> Taken:
        """Return whether a result of a step tells how the machine came in, or how it leaves.

        Where neither the result nor its stage says so, it is as found until the first step in which
        something is fitted or tightened.
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
        """Return the wrench called so."""
        return next((wrench for wrench in self.wrenches if wrench.name == name), None)

    def part(self, name: str) -> Part | None:
        """Return the part called so, by any of its names."""
        return self.parts_by_name.get(name)

    @cached_property
    def parts_by_name(self) -> dict[str, Part]:
        """Every part by each of its names, the first where two share one."""
        found: dict[str, Part] = {}
        for part in self.parts:
            several = (part.plural_name, *map(nouns.plural, part.also))
            for name in (part.name, *part.also, *several):
                found.setdefault(name, part)
        return found
