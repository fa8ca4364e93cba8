"""An instrument or a scanner at the bench: what it is, and how what it sends comes in.

Either it types, as a keyboard does, a line that ends in Enter; or it has a serial line of its own.
One that types is told from the others, and from people, by its prefix: what it is set to type
before each value.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Annotated, Literal, NamedTuple

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from assistant.dialogue.instrument import Instrument
from assistant.errors import AssistantError
from assistant.grammar import units


class Framing(NamedTuple):
    """How a serial line is set."""

    baud: int
    bits: int
    parity: str
    """N, E, O, M or S, as pyserial has them."""
    stop: float


_FRAMING = re.compile(r"(\d{2,7}) ([5-8])([NEOMS])(1|1\.5|2)")
USUAL_FRAMING = "9600 8N1"


def framing(text: str) -> Framing:
    """Read how a serial line is set, such as "9600 8N1" or "4800 7E2"; else AssistantError."""
    match = _FRAMING.fullmatch(" ".join(text.upper().split()))
    if match is None:
        raise AssistantError(
            f"{text!r} does not say how a serial line is set. Give the speed, bits, parity and "
            f"stop bits from the instrument's manual, such as {USUAL_FRAMING!r}."
        )
    return Framing(int(match[1]), int(match[2]), match[3], float(match[4]))


def _name(text: str) -> str:
    if not re.fullmatch(r"[a-z]+(?:[ -][a-z]+)*", text):
        raise ValueError("a name is spoken: small letters and spaces only, such as dial gauge")
    return text


def _framing(text: str) -> str:
    try:
        framing(text)
    except AssistantError as error:
        raise ValueError(str(error)) from None
    return text


def _unit(text: str) -> str:
    if text not in units.WRITTEN:
        raise ValueError(f"{text!r} is no unit, such as mm or N·m")
    return units.WRITTEN[text]


class Attached(BaseModel):
    """A device that sends, as the settings keep it."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    name: Annotated[str, Field(max_length=60), AfterValidator(_name)]
    """What it is called at the bench."""
    kind: Literal["instrument", "scanner"]
    serial: str | None = Field(default=None, max_length=60)
    calibrated_until: date | None = None
    unit: Annotated[str, AfterValidator(_unit)] | None = None
    """What its values are in where it sends no unit; None for that of the step."""
    prefix: str = Field(default="", max_length=20, pattern=r"^[!-~]*$")
    """What it sends before each value."""
    port: str | None = Field(default=None, max_length=200)
    """Its serial port; None for one that types."""
    line: Annotated[str, AfterValidator(_framing)] = USUAL_FRAMING
    """How its serial line is set."""

    @property
    def types(self) -> bool:
        """Whether it types as a keyboard does."""
        return self.port is None

    @property
    def instrument(self) -> Instrument:
        """What is kept with a value of it."""
        return Instrument(
            name=self.name, serial=self.serial, calibrated_until=self.calibrated_until
        )


def check(devices: Iterable[Attached]) -> None:
    """Raise AssistantError where what comes in would not tell which of the devices sent it."""
    found = list(devices)
    for place, one in enumerate(found):
        if one.types and one.kind == "scanner" and one.prefix.isalpha():
            raise AssistantError(
                f"{one.prefix} also begins words that people type. Set the {one.name} to send a "
                "prefix with a sign or a figure in it, such as #."
            )
        for other in found[:place]:
            if one.name == other.name:
                raise AssistantError(f"There is a {one.name} already.")
            if not one.types or not other.types:
                if one.port is not None and one.port == other.port:
                    raise AssistantError(f"The {other.name} has the port {one.port} already.")
            elif one.prefix.startswith(other.prefix) or other.prefix.startswith(one.prefix):
                raise AssistantError(
                    f"The {other.name} and the {one.name} both type, and nothing tells them apart. "
                    "Set each to send something before its values, neither the beginning of the "
                    "other, and give it with --prefix."
                )
