"""The options of a bench that is talked to live, and `assistant devices`: list, choose, check."""

from __future__ import annotations

import argparse
import sys
import time
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.audio.devices import Kind
    from assistant.audio.levels import Levels
    from assistant.audio.microphone import Microphone
    from assistant.audio.voice import Voice
    from assistant.bench.microphone import Live

_ROOM_S = 1.0
_SPEECH_S = 5.0


def add(parser: argparse.ArgumentParser) -> None:
    """Add the options of `run` and `resume` that concern devices, tones and keys."""
    _device_options(parser)
    parser.add_argument(
        "--headset",
        action="store_true",
        help="replies go into a headset, where the microphone cannot hear them: talk over them, "
        "and they stop. Without it, it does not listen while it speaks",
    )
    parser.add_argument(
        "--no-earcons", action="store_true", help="no tones before replies; they are shown still"
    )
    for answer in ("affirm", "negative"):
        parser.add_argument(
            f"--{answer}-key",
            metavar="KEY",
            help=f"a key of this terminal, or a pedal that sends it, that says {answer!r}: one "
            "character, or enter, space or tab",
        )


def _device_options(parser: argparse.ArgumentParser) -> None:
    for kind in ("microphone", "loudspeaker"):
        parser.add_argument(
            f"--{kind}",
            metavar="NAME",
            help=f"the {kind}'s name or part of it, remembered for the next time; default for the "
            "system's own (assistant devices lists them)",
        )


def add_devices(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `assistant devices`."""
    devices = commands.add_parser(
        "devices",
        help="list microphones and loudspeakers, choose and check them",
        description="List the sound devices. With a name one is chosen for good; with --check the "
        "chosen ones are tried: how loud the room is, and you, and whether you hear the tones.",
        epilog="examples:\n  assistant devices\n"
        "  assistant devices --microphone usb --loudspeaker headset --check\n"
        "  assistant devices --microphone default",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    _device_options(devices)
    devices.add_argument("--check", action="store_true", help="listen and play for a moment")
    devices.set_defaults(run=_devices)


def opened(args: argparse.Namespace) -> Live:
    """Open the microphone and the voice that the options name, and listen to the room.

    Done before a job is begun, so that none is begun for want of a microphone to be noticed.
    """
    from assistant.audio.levels import Levels
    from assistant.audio.microphone import Microphone
    from assistant.bench import keys
    from assistant.bench.microphone import Live

    phrases = {
        keys.key(name): phrase
        for phrase, name in (("affirm", args.affirm_key), ("negative", args.negative_key))
        if name is not None
    }
    if phrases:
        with keys.presses():
            pass
    spoken = voice(args, waits=False)
    microphone, levels = Microphone(_chosen(args, "microphone")), Levels()
    microphone.open()
    advice = levels.room(_recorded(microphone, _ROOM_S))
    if advice is not None:
        print(advice, file=sys.stderr)
    return Live(microphone, spoken, args.headset, keys.Answers(phrases), levels)


def voice(args: argparse.Namespace, *, waits: bool) -> Voice:
    """Open the voice that the options name, or one that is silent."""
    from assistant.audio.voice import open_voice

    return open_voice(
        silent=args.silent,
        name=_chosen(args, "loudspeaker"),
        waits=waits,
        tones=not args.no_earcons,
    )


def _chosen(args: argparse.Namespace, kind: str) -> str | None:
    """Return the name that an option gives, and remember it; else the one that is remembered."""
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
    from assistant.audio import devices

    chosen = {kind: _chosen(args, kind.value) for kind in devices.Kind}
    found = False
    for kind in devices.Kind:
        there = devices.listed(kind)
        found = found or bool(there)
        print(f"{kind.value.capitalize()}s:" if there else f"There is no {kind.value}.")
        meant = _meant(chosen[kind], kind) if there else None
        for device in there:
            mark = "*" if device.number == meant else " "
            print(plain(f"{mark} {device.name}   ({device.interface})"))
    if found:
        print(
            "\n* is used. Choose with --microphone NAME or --loudspeaker NAME; part of it will do."
        )
    return _check(args) if args.check else 0


def _meant(name: str | None, kind: Kind) -> int | None:
    from assistant.audio import devices

    try:
        return devices.find(name, kind).number
    except AssistantError as error:
        print(error, file=sys.stderr)
        return None


def _check(args: argparse.Namespace) -> int:
    """Try both devices; 0 where nothing was found wrong, else 1."""
    from assistant.audio.cue import Cue
    from assistant.audio.levels import Levels
    from assistant.audio.loudspeaker import Loudspeaker
    from assistant.audio.microphone import Microphone
    from assistant.audio.voice import SpokenVoice

    microphone, levels = Microphone(_chosen(args, "microphone")), Levels()
    microphone.open()
    print(f"\nListening to the room for {_ROOM_S:.0f} s: say nothing …")
    advice = [levels.room(_recorded(microphone, _ROOM_S))]
    print(f"The room: {levels.noise_db:.0f} dBFS.")
    if advice == [None]:
        print(f"Now say, as you would at work: next step … ({_SPEECH_S:.0f} s)")
        advice = [_spoken(microphone, levels)]
    microphone.close()
    speaker = SpokenVoice(Loudspeaker(_chosen(args, "loudspeaker")))
    for cue in Cue:
        print(f"Tone: {cue.value}")
        speaker.cue(cue)
        speaker.say(f"{cue.value}.")
    speaker.close()
    told = [sentence for sentence in advice if sentence is not None]
    print("\n".join(told) or "Nothing was found wrong. If you heard no tones, turn it up.")
    return 1 if told else 0


def _spoken(microphone: Microphone, levels: Levels) -> str | None:
    """Take what is said for a few seconds; return what is wrong with it."""
    from assistant.audio.endpoint import Endpointer
    from assistant.audio.levels import clips, judged, speech_level
    from assistant.audio.pcm import from_bytes

    sound = _recorded(microphone, _SPEECH_S)
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


def _recorded(microphone: Microphone, seconds: float) -> bytes:
    """Return so much sound; less where the microphone gives none in time."""
    from assistant.audio.capture import BLOCK_S

    sound = b""
    last = time.monotonic() + seconds + 5.0
    for _ in range(round(seconds / BLOCK_S)):
        block = microphone.next(max(0.0, last - time.monotonic()))
        if block is None:
            break
        sound += block.data
    return sound
