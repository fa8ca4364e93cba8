"""The part of `assistant devices` for instruments and scanners that send what they read."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from contextlib import nullcontext
from datetime import date
from typing import TYPE_CHECKING

from assistant.cli.options import day
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.bench.attached import Attached

_TRIAL_S = 15.0
"""How long something may be sent for the check, in seconds."""
_LOOK_S = 0.02


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add what sets an instrument or a scanner up."""
    group = parser.add_argument_group("instruments and scanners")
    which = group.add_mutually_exclusive_group()
    which.add_argument(
        "--instrument",
        metavar="NAME",
        help="set up an instrument that sends its value, by the name that it is called at the "
        "bench; one of that name is replaced",
    )
    which.add_argument(
        "--scanner", metavar="NAME", help="the same for a scanner of tags and part numbers"
    )
    which.add_argument("--forget", metavar="NAME", help="forget an instrument or a scanner")
    group.add_argument(
        "--port",
        help="its serial port, such as /dev/ttyUSB0 or COM3; without one it types as a keyboard",
    )
    group.add_argument(
        "--line", metavar="SETTING", help="how its serial line is set (default: 9600 8N1)"
    )
    group.add_argument(
        "--prefix",
        metavar="TEXT",
        help="what it sends before each value; devices that type are told apart by it",
    )
    group.add_argument(
        "--unit-sent", metavar="UNIT", dest="unit", help="what its values are in if it sends none"
    )
    group.add_argument("--serial", metavar="TEXT", help="its serial or inventory number")
    group.add_argument(
        "--calibrated-until",
        metavar="DATE",
        help="the last day on which its calibration holds, as 2031-12-31",
    )


_DETAILS = ("port", "line", "prefix", "unit", "serial", "calibrated_until")


def change(args: argparse.Namespace) -> None:
    """Set up, or forget, what the options name. Raises AssistantError where that cannot be."""
    from assistant.bench import attached, settings

    name = args.instrument or args.scanner or args.forget
    given = {one: getattr(args, one) for one in _DETAILS if getattr(args, one) is not None}
    if given and not (args.instrument or args.scanner):
        raise AssistantError("Say which device this is of: --instrument NAME or --scanner NAME.")
    if name is None:
        return
    if args.calibrated_until is not None:
        given["calibrated_until"] = day(args.calibrated_until)
    kept = settings.read().attached
    others = tuple(one for one in kept if one.name != name)
    if args.forget is not None:
        if others == kept:
            known = ", ".join(one.name for one in kept) or "none"
            raise AssistantError(f"There is no {plain(name)}. These are set up: {known}.")
        settings.remember(attached=others)
        return
    kind = "instrument" if args.instrument else "scanner"
    made = (*others, _made(name=name, kind=kind, **given))
    attached.check(made)
    settings.remember(attached=made)


def _made(**given: object) -> Attached:
    from pydantic import ValidationError

    from assistant.bench.attached import Attached

    try:
        return Attached.model_validate(given)
    except ValidationError as error:
        first = error.errors()[0]
        where, why = first["loc"][0], first["msg"].removeprefix("Value error, ")
        raise AssistantError(f"{where}: {why}.") from None


def listed(today: date) -> None:
    """Print the instruments and scanners that are set up, and the serial ports that there are."""
    from serial.tools import list_ports

    from assistant.bench import settings

    devices = settings.read().attached
    print("Instruments and scanners:" if devices else "No instrument or scanner is set up.")
    for one in devices:
        print(plain(f"  {_described(one, today)}"))
    used = {one.port for one in devices}
    free = [port for port in list_ports.comports() if port.device not in used]
    if free:
        print("Serial ports:")
        for port in free:
            print(plain(f"  {port.device}   ({port.description})"))


def _described(one: Attached, today: date) -> str:
    told: list[str] = [one.name]
    if one.serial:
        told.append(f"serial {one.serial}")
    if one.calibrated_until:
        overdue = one.instrument.overdue(today)
        how = "out of calibration since" if overdue else "calibrated until"
        told.append(f"{how} {one.calibrated_until.isoformat()}")
    if one.unit:
        told.append(f"in {one.unit}")
    comes = f"{one.port}, {one.line}" if one.port else "types"
    after = f", prefix {one.prefix}" if one.prefix else ""
    return f"{', '.join(told)}   ({comes}{after})"


def check(devices: Sequence[Attached], seconds: float = _TRIAL_S) -> int:
    """Wait until each has sent something, and print it; return 0 if each has, else 1."""
    from assistant.bench import keys
    from assistant.bench.inputs import Inputs

    if not devices:
        return 0
    trial, inputs = _Trial(), Inputs(devices)
    print(f"Press the button of each instrument, and scan something … ({seconds:.0f} s)")
    typing = inputs.types and sys.stdin.isatty()
    with inputs.opened(), keys.presses() if typing else nullcontext(str) as pressed:
        until = time.monotonic() + seconds
        while time.monotonic() < until and len(trial.sent_by) < len(devices):
            inputs.keys(pressed())
            inputs.attend(trial)
            time.sleep(_LOOK_S)
    silent = [one.name for one in devices if one.name not in trial.sent_by]
    for name in silent:
        print(f"The {name} sent nothing.")
    return 1 if silent or trial.faults else 0


class _Trial:
    """Prints what devices send."""

    over = False

    def __init__(self) -> None:
        self.sent_by: set[str] = set()
        self.faults = 0

    def sent(self, by: Attached, line: str | None) -> None:
        """Print what a line would be taken as."""
        from assistant.bench.sent_lines import meaning
        from assistant.dialogue import intents

        self.sent_by.add(by.name)
        match meaning(line, by, lambda uid: True) if line else None:
            case None:
                self.faults += 1
                told = f"sent {line or 'half a line'!r}, which cannot be read"
            case intents.Sent(value, unit):
                told = f"{value} {unit or 'in the unit of the step'}"
            case intents.ScannedTag(bag):
                told = f"the tag of bag {bag}"
            case intents.ScannedNumber(number):
                told = f"part number {number}"
        print(plain(f"The {by.name}: {told}."))

    def tell(self, text: str) -> None:
        """Print news of a device."""
        print(plain(text))

    def not_taken(self, words: str, why: str) -> None:
        """Print nothing: a bounce is no fault."""
