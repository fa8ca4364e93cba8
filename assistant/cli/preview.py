"""`assistant preview`: a procedure as the technician will hear it, and a picture of its flow."""

from __future__ import annotations

import argparse
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli.options import add_command
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.authoring.preview import Preview
    from assistant.cli.options import Commands

_log = logging.getLogger(__name__)


def add_parser(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands,
        "preview",
        "read a procedure as the technician will hear it",
        "Walk through a procedure in the words of the bench, with how long each step takes to "
        "hear: as text, aloud, or as a sheet to print. Hazards are affirmed, questions are "
        "answered as told or by their first answer, and each step is taken as done. Nothing is "
        "recorded.",
        "examples:\n  assistant preview my-pump.yaml\n"
        "  assistant preview my-pump.yaml --answer shaft='splined shaft' --aloud\n"
        "  assistant preview my-pump.yaml --pdf heard.pdf --flow flow.svg",
    )
    parser.add_argument("procedure", help="a procedure file, or the name of a sample")
    parser.add_argument(
        "--answer",
        action="append",
        default=[],
        metavar="QUESTION=ANSWER",
        help="how a question is answered, by its name in the file; for several, give it again",
    )
    parser.add_argument("--aloud", action="store_true", help="say it as well")
    parser.add_argument("--html", type=Path, metavar="FILE", help="as a page to print")
    parser.add_argument("--pdf", type=Path, metavar="FILE", help="as a PDF to print")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="the PDF's paper")
    parser.add_argument(
        "--flow", type=Path, metavar="FILE.svg", help="a picture of what opens what"
    )
    parser.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from assistant.audio.manner import Manner
    from assistant.authoring import preview
    from assistant.procedure import reading

    loaded = reading.load(reading.find(args.procedure))
    for warning in loaded.warnings:
        _log.warning("%s", warning)
    found = preview.preview(loaded.procedure, dict(map(_answer, args.answer)))
    written = []
    if args.html or args.pdf:
        from assistant.report import preview_sheet

        data = preview.data(found, Manner())
        if args.html:
            written.append((args.html, preview_sheet.html(data).encode()))
        if args.pdf:
            written.append((args.pdf, preview_sheet.pdf(data, args.paper)))
    if args.flow:
        from assistant.report import flow

        written.append((args.flow, flow.drawing(loaded.procedure).alone.encode()))
    for path, content in written:
        _write(path, content)
    if args.aloud or not written:
        _read(found, aloud=args.aloud)
    return 0


def _answer(text: str) -> tuple[str, str]:
    name, mark, answer = text.partition("=")
    if not mark:
        raise AssistantError(f"{text}: write the question and its answer, as in shaft=keyed shaft.")
    return name.strip(), " ".join(answer.split())


def _read(of: Preview, *, aloud: bool) -> None:
    """Print a preview as the bench prints what it says, and say it."""
    from assistant.audio.manner import Manner
    from assistant.audio.voice import open_voice
    from assistant.authoring import wording
    from assistant.bench.presenter import cue_of
    from assistant.bench.terminal import Terminal

    manner, terminal, voice = Manner(), Terminal(), open_voice(silent=not aloud)
    print(plain(f"{of.procedure.title}: {wording.text_of(of.procedure)}"))
    print(plain(wording.about_preview(of.answers, of.left_out, of.seconds(manner))))
    for heard in of.steps:
        taken = wording.seconds(heard.seconds(manner))
        print(plain(f"\n-- {heard.stage}, step {heard.number}, {heard.step.id}: {taken}"))
        for turn in heard.turns:
            if turn.phrase:
                terminal.heard(turn.phrase)
            terminal.said(turn.replies, cue_of(turn.replies))
            voice.cue(cue_of(turn.replies))
            voice.say(turn.text)


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise AssistantError(f"Cannot write {path}: {error.strerror}.") from error
    print(plain(str(path)))
