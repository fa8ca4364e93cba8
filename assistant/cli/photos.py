"""`assistant photo`: put a picture from a file into a job, or take one back."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_journal
from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.cli.options import Commands


def add_parser(commands: Commands) -> None:
    """Add the command."""
    photo = add_command(
        commands,
        "photo",
        "put a picture from a file into a job",
        "Put a JPEG or PNG file with the finding, note or part that was said last in a job, or "
        "with the event that --event gives. The picture itself goes into the journal, and its hash "
        "into the record, so that verify notices a changed or missing one. Only the image is kept: "
        "where and by what it was taken is left out, and it is made no larger than 2048 pixels. "
        "Without a file, list what a photo can go with, by number.\n\n"
        "--withdraw takes a photo back: the report leaves it out, and nothing is removed from the "
        "journal. A closed job is sealed: a photo that is put in then is kept beside its record, "
        "and can be taken back; one that is in the record stays.",
        "examples:\n  assistant photo 3                       what a photo can go with\n"
        "  assistant photo 3 race.jpg              with what was said last\n"
        "  assistant photo 3 race.jpg --event 41\n"
        "  assistant photo 3 --withdraw 57",
    )
    photo.add_argument("job", type=int, metavar="JOB")
    photo.add_argument("file", nargs="?", type=Path, metavar="FILE", help="a JPEG or PNG file")
    photo.add_argument("--event", type=int, metavar="N", help="the event that it goes with")
    photo.add_argument("--withdraw", type=int, metavar="N", help="take back the photo of event N")
    photo.add_argument("--by", metavar="NAME", help="who enters it; recorded with it")
    journal_option(photo)
    photo.set_defaults(run=_photo)


def _photo(args: argparse.Namespace) -> int:
    from assistant.desk import photos
    from assistant.dialogue import events
    from assistant.imaging import pictures
    from assistant.report import log, wording

    if args.withdraw is not None and (args.file is not None or args.event is not None):
        raise AssistantError("--withdraw goes alone, without a file and --event.")
    if args.file is None and args.event is not None:
        raise AssistantError("Give the picture's file as well, as in: assistant photo 3 race.jpg")
    journal = open_journal(args)
    if args.withdraw is not None:
        photos.withdraw(journal, args.job, args.withdraw, args.by)
        print(f"Job {args.job}: the photo of event {args.withdraw} is withdrawn.")
    elif args.file is None:
        history = journal.events(args.job)
        found = list(photos.listed(history, journal.additions(args.job)))
        for one in found:
            told = wording.event(one.event)
            if isinstance(one.event, events.PictureTaken):
                told += log.of_what(history, one.event)
                told += ", put in after closing" if one.number > len(history) else ""
            print(plain(f"{one.number:5}  {one.event.at:%Y-%m-%d %H:%M}  {told}"))
        if not found:
            print("There is nothing yet that a photo can go with.")
    else:
        # Before the job is looked at: a file that is none is said first.
        picture = pictures.read(args.file)
        of = photos.enter(journal, args.job, picture, args.event, args.by)
        told = wording.event(of.event)
        print(plain(f"Job {args.job}: photo kept with event {of.number}, {told}."))
    return 0
