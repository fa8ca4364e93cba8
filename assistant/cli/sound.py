"""`assistant hear`, `say` and `demo`: sound without a job at the bench."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, hearing_options
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.cli.options import Commands


def add_parsers(commands: Commands) -> None:
    """Add the commands."""
    hear = add_command(
        commands,
        "hear",
        "recognise recordings, and print what was understood",
        "Recognise each WAV or FLAC file as one phrase, against any JSGF grammar with a public "
        "rule, or against what can be said at a procedure's step.",
        "examples:\n  assistant hear --grammar commands.gram take1.wav take2.flac\n"
        "  assistant hear --procedure pump-rebuild --step measure-shaft --json *.wav",
    )
    hear.add_argument("files", nargs="+", type=Path, metavar="FILE")
    what = hear.add_mutually_exclusive_group()
    what.add_argument("--grammar", type=Path, metavar="FILE.gram", help="a JSGF grammar")
    what.add_argument("--procedure", metavar="NAME", help="a procedure file or sample")
    hear.add_argument("--step", metavar="ID", help="the procedure's step (default: the first)")
    hear.add_argument("--json", action="store_true", help="one JSON object a line")
    hearing_options(hear)
    hear.set_defaults(run=_hear)

    say = add_command(
        commands,
        "say",
        "say a text aloud, or into a WAV file",
        "Say a text with the assistant's voice, to hear whether it can be understood. With --word, "
        "print how recognisers expect a word to sound, too, and where that comes from.",
    )
    say.add_argument("text", nargs="*", metavar="TEXT")
    say.add_argument("--word", metavar="WORD", help="one word, with its expected pronunciation")
    say.add_argument("-o", "--out", type=Path, metavar="FILE.wav", help="into a file")
    say.set_defaults(run=_say)

    demo = add_command(
        commands,
        "demo",
        "hear a whole overhaul by voice, from recordings",
        "Work through the winch gearbox sample from recordings, as if from a microphone, print the "
        "dialogue, and leave the journal and the report. With --unwritten, take down and build up "
        "a machine that has no procedure.",
    )
    demo.add_argument(
        "--unwritten", action="store_true", help="a job that nobody has written up (about a minute)"
    )
    demo.add_argument(
        "--out", type=Path, metavar="DIR", help="where to leave them (default: a new folder)"
    )
    demo.add_argument(
        "--silent", action="store_true", help="do not speak, even with a sound device"
    )
    hearing_options(demo)
    demo.set_defaults(run=_demo)


def _hear(args: argparse.Namespace) -> int:
    from assistant.cli import hear

    if args.step and not args.procedure:
        raise AssistantError("--step goes with --procedure.")
    return hear.run(
        args.files,
        grammar=args.grammar,
        procedure=args.procedure,
        step=args.step,
        recogniser=args.recogniser,
        model=args.model,
        respell=args.respell,
        as_json=args.json,
    )


def _say(args: argparse.Namespace) -> int:
    from assistant.audio import voice

    if bool(args.text) == bool(args.word):
        raise AssistantError("Give a text to say, or one word with --word.")
    if args.word:
        _print_pronunciation(args.word)
    text = args.word or " ".join(args.text)
    if args.out:
        voice.to_wav(text, args.out)
        print(args.out)
        return 0
    speaker = voice.open_voice()
    print(text)
    speaker.say(text)
    return 0


def _print_pronunciation(word: str) -> None:
    """Print a word's phones, in the alphabet of CMUdict, and whether a dictionary has them."""
    from assistant.grammar import respelling
    from assistant.recognition.lexicon import Lexicon, spelt_with_known_words

    if not word.replace("'", "").isalpha():
        raise AssistantError(f"{word!r} is not one word of letters; give numbers as text.")
    lexicon = Lexicon(respelling.standing())
    respelt, lacking = respelling.standing().of(word), lexicon.lacks(word)
    origin = "by rule: no dictionary has it" if lacking else "from the dictionary"
    if respelt:
        origin = f"respelt: {' '.join(respelt)}"
    for phones in lexicon.of(word):
        print(f"{word}: {' '.join(phones)} ({origin})")
    known = spelt_with_known_words(word.lower(), lexicon.of(word)[0]) if lacking else None
    if known:
        print(f"as two known words: respell: {{{word.lower()}: {' '.join(known)}}}")


def _demo(args: argparse.Namespace) -> int:
    from assistant.cli import demo

    work = demo.UNWRITTEN if args.unwritten else demo.WRITTEN
    return demo.run(args.out, args.silent, args.recogniser, args.model, args.respell, work)
