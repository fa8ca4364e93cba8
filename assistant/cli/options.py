"""What several commands have in common: how a parser is added, which journal, which recogniser."""

from __future__ import annotations

import argparse
import textwrap
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.journal.records import Records
    from assistant.journal.store import Journal

    Commands: TypeAlias = argparse._SubParsersAction[argparse.ArgumentParser]


def add_command(
    commands: Commands, name: str, about: str, description: str, epilog: str | None = None
) -> argparse.ArgumentParser:
    """Add a command: `about` is its line in the list, `description` is wrapped by paragraphs."""
    paragraphs = [textwrap.fill(paragraph, 79) for paragraph in description.split("\n\n")]
    return commands.add_parser(
        name,
        help=about,
        description="\n\n".join(paragraphs),
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def day(text: str) -> date:
    """Read a date; AssistantError for what is none."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise AssistantError(f"Write a date as 2026-03-31, not {text!r}.") from None


def journal_option(parser: argparse.ArgumentParser, *, shop: bool = False) -> None:
    """Add `--journal`; with `shop` the help names the shop's database too."""
    parser.add_argument(
        "--journal",
        type=_place,
        metavar="PATH",
        help="the bench's journal file (default: in your user data folder)"
        + ("; or the shop's database, as postgresql://…" if shop else ""),
    )


def _place(text: str) -> Path | str:
    """Return a journal's path; a URL as it is, because a path would lose one of its slashes."""
    return text if "://" in text else Path(text)


def open_journal(args: argparse.Namespace, *, create: bool = False) -> Journal:
    """Open the bench's own journal that `--journal` names, or the user's."""
    from assistant.journal.store import Journal

    path: Path | str | None = args.journal
    if isinstance(path, str):
        raise AssistantError(
            "This works on the bench's own journal, a file. The shop's database is read with jobs, "
            "log, orders, report and verify, and filled with publish."
        )
    if path is None:
        import platformdirs

        path = platformdirs.user_data_path("bench-assistant", appauthor=False) / "journal.db"
    return Journal(path, create=create)


def open_records(args: argparse.Namespace) -> Records:
    """Open for reading what `--journal` names: the bench's own journal, or the shop's database."""
    if isinstance(args.journal, str):
        from assistant.journal.shop import Shop

        return Shop(args.journal)
    return open_journal(args)


def hearing_options(parser: argparse.ArgumentParser) -> None:
    """Add the options that choose a recogniser."""
    parser.add_argument(
        "--recogniser",
        choices=("auto", "vosk", "pocketsphinx"),
        default="auto",
        help="auto takes Vosk if its model is found, else the built-in PocketSphinx",
    )
    parser.add_argument(
        "--model", type=Path, metavar="PATH", help="folder of the recogniser's model"
    )
    parser.add_argument(
        "--respell",
        type=Path,
        metavar="FILE",
        help="YAML file of words that the recogniser lacks, spelt with words it has",
    )
