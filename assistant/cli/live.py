"""The options of a bench that is talked to: devices, tones, keys, and who is being spoken to."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from typing import TYPE_CHECKING

from assistant.cli.devices import ROOM_S, camera_name, chosen, device_options, recorded
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.audio.voice import Voice
    from assistant.bench.addressing import Addressing
    from assistant.bench.inputs import Inputs
    from assistant.bench.microphone import Live
    from assistant.bench.photographer import Photographer

_log = logging.getLogger(__name__)

_CALL_WORD_VARIABLE = "ASSISTANT_CALL_WORD"


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options."""
    _addressing_options(parser)
    device_options(parser)
    parser.add_argument(
        "--headset",
        action="store_true",
        help="replies go into a headset, where the microphone cannot hear them: talk over them, "
        "and they stop. Without it, the assistant does not listen while it speaks",
    )
    parser.add_argument(
        "--no-earcons", action="store_true", help="no tones before replies; they are still shown"
    )
    for answer in ("affirm", "negative"):
        parser.add_argument(
            f"--{answer}-key",
            metavar="KEY",
            help=f"a key of this terminal, or a pedal that sends it, that says {answer!r}: one "
            "character, or enter, space or tab",
        )


def _addressing_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--address",
        choices=("open", "call-word", "key-held", "key-tapped"),
        default="open",
        help="which phrases are for the assistant: all (open, for a quiet bench); those that begin "
        "with the call word, and what follows an answer within 8 s; those said while a key is "
        "held, or after it was tapped. Any key of this terminal will do, such as the space bar; a "
        "foot pedal with a USB plug is a keyboard that sends a key",
    )
    parser.add_argument(
        "--call-word",
        metavar="WORD",
        default=os.environ.get(_CALL_WORD_VARIABLE, "bench"),
        help="what the assistant is called by, as in 'bench, next step' (default: "
        f"{_CALL_WORD_VARIABLE}, or bench)",
    )


def addressing(args: argparse.Namespace) -> Addressing:
    """Return how the assistant is addressed. Raises AssistantError where that cannot work here."""
    from assistant.bench import keys
    from assistant.bench.addressing import Addressing, Way
    from assistant.bench.calling import call_word

    way = Way(args.address)
    if way.by_key:
        if args.recordings:
            raise AssistantError(
                "No key is pressed in recordings; with --from choose --address open or call-word."
            )
        # Find out now that there is no terminal, and not when the job has begun.
        with keys.presses():
            pass
    return Addressing(way, call_word(args.call_word))


def opened(args: argparse.Namespace) -> Live:
    """Open the microphone and the voice that the options name, and listen to the room.

    Done before a job is begun, so that no job is begun where there is no microphone.
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
    microphone, levels = Microphone(chosen(args, "microphone")), Levels()
    microphone.open()
    advice = levels.room(recorded(microphone, ROOM_S))
    if advice is not None:
        _log.warning("%s", advice)
    answers = keys.Answers(phrases)
    return Live(microphone, spoken, args.headset, answers, levels, inputs(typed=False))


def inputs(*, typed: bool) -> Inputs:
    """Return the instruments and scanners that are set up; `typed` where phrases are typed too.

    Warns of those that type where that cannot be read, or cannot be told from what people type.
    """
    from assistant.bench import settings
    from assistant.bench.inputs import Inputs

    devices = settings.read_or_usual(_log.warning).attached
    if not typed and not sys.stdin.isatty():
        for one in devices:
            if one.types:
                _log.warning("The %s types, and there is no terminal to type into.", one.name)
        devices = tuple(one for one in devices if not one.types)
    for one in devices:
        if typed and one.types and not one.prefix and one.kind == "instrument":
            _log.warning("The %s is told from what you type by a prefix alone.", one.name)
    return Inputs(devices)


def photographer(args: argparse.Namespace) -> Photographer:
    """Return what takes pictures, with the camera that the options name."""
    from assistant.bench.photographer import Photographer
    from assistant.imaging.camera import Camera

    name = camera_name(args)
    return Photographer(None if name is None else Camera(name))


def voice(args: argparse.Namespace, *, waits: bool) -> Voice:
    """Open the voice that the options name, or a silent one; `waits` until it has spoken."""
    from assistant.audio.voice import open_voice

    return open_voice(
        silent=args.silent,
        name=chosen(args, "loudspeaker"),
        waits=waits,
        tones=not args.no_earcons,
    )
