"""The sound devices of this computer, and finding one by its name."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from assistant.errors import AssistantError

NO_PORTAUDIO = (
    "PortAudio is not installed, so there is no sound (on Debian: apt install libportaudio2). "
    "Without it use --typed, or --from FILE."
)


class Kind(StrEnum):
    """What a device is used as; the option that names one is called the same."""

    MICROPHONE = "microphone"
    LOUDSPEAKER = "loudspeaker"


@dataclass(frozen=True)
class Device:
    """One device: its number with PortAudio, its name, the system's sound interface it is on."""

    number: int
    name: str
    interface: str
    is_default: bool


def portaudio() -> Any:
    """Return the sound library. Raises AssistantError where it or its PortAudio is missing."""
    try:
        import sounddevice
    except (ImportError, OSError):
        # The wheels for Linux bring no PortAudio.
        raise AssistantError(NO_PORTAUDIO) from None
    return sounddevice


def listed(kind: Kind) -> list[Device]:
    """Return the devices of this kind, in PortAudio's order; it looks once in a process."""
    library = portaudio()
    side = 0 if kind is Kind.MICROPHONE else 1
    channels = ("max_input_channels", "max_output_channels")[side]
    interfaces = library.query_hostapis()
    default = library.default.device[side]
    return [
        Device(number, str(d["name"]), str(interfaces[d["hostapi"]]["name"]), number == default)
        for number, d in enumerate(library.query_devices())
        if d[channels] > 0
    ]


def find(name: str | None, kind: Kind) -> Device:
    """Return the device with this name, or the only one with it in its name; None: the default.

    Windows and Linux show one device through several interfaces; of those with the same name the
    default's interface goes first. Raises AssistantError, with the names there are, where none or
    several fit.
    """
    there = listed(kind)
    option = f"--{kind.value}"
    if not there:
        raise AssistantError(
            f"There is no {kind.value}. Plug one in, or use --typed or --from FILE."
            if kind is Kind.MICROPHONE
            else f"There is no {kind.value}. Plug one in, or use --silent to read the replies."
        )
    default = next((device for device in there if device.is_default), there[0])
    if name is None:
        return default
    exact = [device for device in there if device.name.casefold() == name.casefold()]
    found = exact or [device for device in there if name.casefold() in device.name.casefold()]
    if len({device.name for device in found}) == 1:
        return min(found, key=lambda device: device.interface != default.interface)
    names = "; ".join(dict.fromkeys(device.name for device in (found or there)))
    if found:
        raise AssistantError(
            f"{option} {name} could be any of: {names}. Give more of the name you mean."
        )
    raise AssistantError(
        f"There is no {kind.value} with {name!r} in its name. There is: {names}. "
        f"Choose with {option} NAME."
    )


def refused(error: Exception, device: Device, kind: Kind) -> AssistantError:
    """Return an error that says in a plain sentence why PortAudio could not open a device."""
    code = error.args[1] if len(error.args) > 1 else None
    other = f"choose another with --{kind.value} NAME (assistant devices lists them)."
    if code == _UNAVAILABLE:
        return AssistantError(
            f"The {kind.value} {device.name} is in use by another program, or was just unplugged. "
            f"Close that program, or {other}"
        )
    if code == _BAD_RATE:
        return AssistantError(
            f"The {kind.value} {device.name} offers no sample rate that can be used; {other}"
        )
    why = str(error.args[0]) if error.args else str(error)
    return AssistantError(
        f"The {kind.value} {device.name} could not be opened ({why}). Plug it in again, or {other}"
    )


# PortAudio's paDeviceUnavailable, paInvalidSampleRate and paInvalidChannelCount: portaudio.h.
_UNAVAILABLE = -9985
_BAD_RATE = -9997
_BAD_CHANNELS = -9998


def is_bad_rate(error: Exception) -> bool:
    """Whether the device does not offer the sample rate that was asked for."""
    return len(error.args) > 1 and error.args[1] == _BAD_RATE


def is_bad_channel_count(error: Exception) -> bool:
    """Whether the device does not offer the number of channels that was asked for."""
    return len(error.args) > 1 and error.args[1] == _BAD_CHANNELS
