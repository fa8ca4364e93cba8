"""`assistant guide`: list the guides, show one in the terminal, or write it as a page."""

from __future__ import annotations

import argparse
import shutil
from pathlib import Path

from assistant.errors import AssistantError

_WIDEST = 100
"""Characters in a line of text; longer lines are hard to read."""


def add_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add `assistant guide`."""
    parser = commands.add_parser(
        "guide",
        help="show a guide: at the bench, writing procedures, the desk, the computer",
        description="Show a guide in the terminal, or write it as a page for a browser. Without a "
        "name, list the guides. A part of a name is enough.",
        epilog="examples:\n"
        "  assistant guide\n"
        "  assistant guide bench\n"
        "  assistant guide card -o card.html      the commands on one sheet, to print",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("name", nargs="?", metavar="NAME", help="which guide (default: list them)")
    parser.add_argument("-o", "--out", type=Path, metavar="FILE", help="write it as an HTML page")
    parser.set_defaults(run=_guide)


def _guide(args: argparse.Namespace) -> int:
    import pydoc
    import textwrap

    from assistant.guide import guides, rendering

    width = min(_WIDEST, shutil.get_terminal_size().columns)
    if args.name is None:
        if args.out:
            raise AssistantError("Say which guide to write, as in: assistant guide card -o FILE")
        for guide in guides.every():
            print(guide.name)
            print(textwrap.fill(guide.summary, width, initial_indent="  ", subsequent_indent="  "))
        return 0
    guide = guides.find(args.name)
    if args.out is None:
        # Text goes through a pager only where somebody sits at a terminal.
        pydoc.pager(rendering.text(guide, width))
        return 0
    try:
        args.out.write_text(rendering.page(guide), encoding="utf-8")
    except OSError as error:
        raise AssistantError(f"Cannot write {args.out}: {error.strerror}.") from error
    print(args.out)
    return 0
