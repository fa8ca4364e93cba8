"""`assistant devices`: list what is at the bench, choose and check it."""

from __future__ import annotations

import argparse
import logging
import time
from typing import TYPE_CHECKING

from assistant.cli import attached
from assistant.cli.options import add_command
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.audio.devices import Kind
    from assistant.audio.levels import Levels
    from assistant.audio.microphone import Microphone
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)

ROOM_S = 1.0
"""How long the room is listened to, in seconds."""
_SPEECH_S = 5.0
"""How long somebody has to say a phrase for the check, in seconds."""
_PATIENCE_S = 5.0
"""How long a microphone may take longer than the sound it gives, in seconds."""


def add_parser(commands: Commands) -> None:
    """Add the command."""
    devices = add_command(
        commands,
        "devices",
        "list microphones, loudspeakers, cameras and instruments, choose and check them",
        "List the sound devices, the cameras, and the instruments and scanners that are set up. A "
        "name chooses one for good. --check tries them: how loud the room is, how loud you are, "
        "whether you hear the tones, whether the camera gives a picture, and what instruments and "
        "scanners send.",
        "examples:\n  assistant devices\n"
        "  assistant devices --microphone usb --loudspeaker headset --check\n"
        "  assistant devices --camera /dev/video0 --check\n"
        "  assistant devices --instrument 'bore gauge' --port /dev/ttyUSB0 --serial B-3 --check\n"
        "  assistant devices --scanner scanner --prefix '#'\n"
        "  assistant devices --microphone default",
    )
    device_options(devices)
    attached.add_options(devices)
    devices.add_argument("--check", action="store_true", help="listen and play for a moment")
    devices.set_defaults(run=_devices)


def device_options(parser: argparse.ArgumentParser) -> None:
    """Add `--microphone`, `--loudspeaker` and `--camera`."""
    for kind in ("microphone", "loudspeaker"):
        parser.add_argument(
            f"--{kind}",
            metavar="NAME",
            help=f"the {kind}'s name or part of it, remembered for the next time; 'default' for "
            "the system's own (assistant devices lists them)",
        )
    parser.add_argument(
        "--camera",
        metavar="DEVICE",
        help="a camera over the bench, which takes the photos that are asked for: its device, such "
        "as /dev/video0, or part of its name; remembered for the next time; 'none' for no camera. "
        "A picture or video file serves for trying it out",
    )


def camera_name(args: argparse.Namespace) -> str | None:
    """Return the camera that `--camera` names, and remember it; else the remembered one."""
    from assistant.bench import settings

    given: str | None = args.camera
    if given is None:
        return settings.read_or_usual().camera
    from assistant.imaging import camera

    name = None if given == "none" else camera.known(given)
    settings.remember(camera=name)
    return name


def chosen(args: argparse.Namespace, kind: str) -> str | None:
    """Return the device name that an option gives, and remember it; else the remembered one."""
    from assistant.audio import devices
    from assistant.bench import settings

    given: str | None = getattr(args, kind)
    if given is None:
        remembered: str | None = getattr(settings.read_or_usual(), kind)
        return remembered
    name = None if given == "default" else given
    devices.find(name, devices.Kind(kind))
    settings.remember(**{kind: name})
    return name


def _devices(args: argparse.Namespace) -> int:
    from assistant.bench import settings
    from assistant.journal.clock import local_now

    attached.change(args)
    attached.listed(local_now().date())
    print()
    _list_cameras(args)
    # Before the sound devices: there may be none.
    faults = 0
    if args.check:
        faults = _check_camera(args) | attached.check(settings.read().attached)
    print()
    from assistant.audio import devices

    names = {kind: chosen(args, kind.value) for kind in devices.Kind}
    found = False
    for kind in devices.Kind:
        there = devices.listed(kind)
        found = found or bool(there)
        print(f"{kind.value.capitalize()}s:" if there else f"There is no {kind.value}.")
        meant = _meant(names[kind], kind) if there else None
        for device in there:
            mark = "*" if device.number == meant else " "
            print(plain(f"{mark} {device.name}   ({device.interface})"))
    if found:
        print(
            "\n* is used. Choose with --microphone NAME or --loudspeaker NAME; part of it will do."
        )
    return (_check(args) or faults) if args.check else 0


def _list_cameras(args: argparse.Namespace) -> None:
    from assistant.imaging import camera

    used, there = camera_name(args), camera.listed()
    print("Cameras:" if there or used else "There is no camera.")
    for device in there:
        mark = "*" if used and device.matches(used) else " "
        print(plain(f"{mark} {device.name}   ({device.description})"))
    if used and not any(device.matches(used) for device in there):
        print(plain(f"* {used}"))
    if there and not used:
        print("None is used. Choose one with --camera DEVICE.")


def _check_camera(args: argparse.Namespace) -> int:
    """Take a picture with the camera, if there is one to try; return 0 if it does, else 1."""
    from assistant.imaging.camera import DARK, Camera, NoPicture

    name = camera_name(args)
    if name is None:
        return 0
    camera = Camera(name)
    try:
        picture, brightness = camera.take(), camera.brightness()
    except NoPicture as error:
        print(plain(f"The camera: {error}"))
        return 1
    print(f"The camera: a picture of {picture.width} × {picture.height}.")
    if brightness < DARK:
        print("It is black. Take off the lens cap, or put on the light.")
        return 1
    return 0


def _meant(name: str | None, kind: Kind) -> int | None:
    from assistant.audio import devices

    try:
        return devices.find(name, kind).number
    except AssistantError as error:
        _log.warning("%s", error)
        return None


def _check(args: argparse.Namespace) -> int:
    """Try both devices; return 0 if nothing was found wrong, else 1."""
    from assistant.audio.cue import Cue
    from assistant.audio.levels import Levels
    from assistant.audio.loudspeaker import Loudspeaker
    from assistant.audio.microphone import Microphone
    from assistant.audio.voice import SpokenVoice

    microphone, levels = Microphone(chosen(args, "microphone")), Levels()
    microphone.open()
    print(f"\nListening to the room for {ROOM_S:.0f} s: say nothing …")
    advice = [levels.room(recorded(microphone, ROOM_S))]
    print(f"The room: {levels.noise_db:.0f} dBFS.")
    if advice == [None]:
        print(f"Now say, as you would at work: next step … ({_SPEECH_S:.0f} s)")
        advice = [_spoken(microphone, levels)]
    microphone.close()
    speaker = SpokenVoice(Loudspeaker(chosen(args, "loudspeaker")))
    for cue in Cue:
        print(f"Tone: {cue.value}")
        speaker.cue(cue)
        speaker.say(f"{cue.value}.")
    speaker.close()
    told = [sentence for sentence in advice if sentence is not None]
    print("\n".join(told) or "Nothing was found wrong. If you heard no tones, turn it up.")
    return 1 if told else 0


def _spoken(microphone: Microphone, levels: Levels) -> str | None:
    """Listen for a few seconds; return what is wrong with the phrase that was said."""
    from assistant.audio.endpoint import Endpointer
    from assistant.audio.levels import clips, judged, speech_level
    from assistant.audio.pcm import from_bytes

    sound = recorded(microphone, _SPEECH_S)
    endpointer = Endpointer()
    phrases = [*endpointer.feed(sound), *endpointer.flush()]
    if not phrases:
        return (
            "I heard nobody. Speak up, bring the microphone nearer, or choose another with "
            "--microphone NAME."
        )
    samples = [from_bytes(phrase.data).samples for phrase in phrases]
    loudest = max(speech_level(each) for each in samples)
    print(f"You: {loudest:.0f} dBFS.")
    return judged(loudest, levels.noise_db, any(clips(each) for each in samples))


def recorded(microphone: Microphone, seconds: float) -> bytes:
    """Return so many seconds of sound; less where the microphone does not give it in time."""
    from assistant.audio.capture import BLOCK_S

    sound = b""
    last = time.monotonic() + seconds + _PATIENCE_S
    for _ in range(round(seconds / BLOCK_S)):
        block = microphone.next(max(0.0, last - time.monotonic()))
        if block is None:
            break
        sound += block.data
    return sound
