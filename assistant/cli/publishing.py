"""`assistant publish`: sends the bench's journal to the shop's database, once or on a timer."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from assistant.errors import AssistantError
from assistant.text import plain

if TYPE_CHECKING:
    from assistant.journal.publish import Outcome
    from assistant.journal.server import Server
    from assistant.journal.store import Journal

_LEAST_S = 1.0
_TELL_EVERY_S = 2.0


def add_parser(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    journal_option: Callable[[argparse.ArgumentParser], None],
    open_journal: Callable[[argparse.Namespace], Journal],
) -> None:
    """Add the command to the command line."""
    parser = commands.add_parser(
        "publish",
        help="send this bench's journal to the shop's database",
        description="""\
Send to the shop's PostgreSQL what it does not have of this bench's journal: events in order, with
their clips. Each event is verified by its hash before it leaves and again as it arrives; a job
that was altered is refused and named, and the others go on. Run it whenever you like, on any
number of benches at once: what is there already is not sent again. Stopped anywhere, it leaves
nothing half done. The bench works without a network, and its journal stays whole. The first run
makes the tables.""",
        epilog="examples:\n"
        "  assistant publish --to postgresql://bench@records.shop/bench\n"
        "  assistant publish --to postgresql://bench@records.shop/bench --every 60\n"
        "  assistant jobs --journal postgresql://bench@records.shop/bench\n\n"
        "Keep a password out of the command: in ~/.pgpass, or in the environment as PGPASSWORD.\n"
        "It needs: pip install '.[shop]'\n\n"
        "exit status: 0 all of it is there, 1 not all of it, 2 not possible so",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument(
        "--to", required=True, metavar="URL", help="postgresql://USER@HOST/DATABASE"
    )
    parser.add_argument(
        "--every",
        type=float,
        metavar="SECONDS",
        help="keep running, and look again so often; where the database is out of reach, go on "
        "trying",
    )
    journal_option(parser)
    parser.set_defaults(run=lambda args: _run(args, open_journal))


def _run(args: argparse.Namespace, open_journal: Callable[[argparse.Namespace], Journal]) -> int:
    from assistant.journal.server import Server

    if args.every is not None and not _LEAST_S <= args.every < float("inf"):
        raise AssistantError(f"--every takes seconds, {_LEAST_S:g} or more.")
    server = Server(args.to)
    journal = open_journal(args)
    if args.every is None:
        return _once(journal, server)
    _keep_on(journal, server, args.every)
    return 0


def _once(journal: Journal, server: Server) -> int:
    from assistant.journal.publish import publish
    from assistant.journal.server import Unreachable

    try:
        outcome = publish(journal, server, _teller())
    except Unreachable as error:
        _complain(f"{error}\nNothing is lost: it is all in {journal.path}. Run this again later.")
        return 1
    print(_said(outcome, server.name))
    for refusal in outcome.refused:
        _complain(str(refusal))
    return 1 if outcome.refused else 0


def _keep_on(
    journal: Journal, server: Server, seconds: float, sleep: Callable[[float], None] = time.sleep
) -> None:
    """Publish again and again. Says what changes, and once that the database is out of reach."""
    from assistant.journal.publish import publish
    from assistant.journal.server import Unreachable

    away = False
    refused: list[str] = []
    while True:
        try:
            outcome = publish(journal, server, _teller())
        except Unreachable as error:
            if not away:
                _complain(
                    f"{error}\nNothing is lost: it is all in {journal.path}. "
                    f"Trying again every {seconds:g} s."
                )
            away = True
        else:
            if away:
                print(f"{server.name} is in reach again.", flush=True)
                away = False
            if outcome.events or outcome.entries:
                print(_said(outcome, server.name), flush=True)
            complaints = [str(refusal) for refusal in outcome.refused]
            for text in complaints:
                if text not in refused:
                    _complain(text)
            refused = complaints
        sleep(seconds)


def _said(outcome: Outcome, name: str) -> str:
    if not outcome.events and not outcome.entries:
        if outcome.refused:
            return f"Nothing was sent to {name}."
        return f"{name} has all of it already: {_count(outcome.looked_at, 'job')}."
    later = f"{_count(outcome.entries, 'order')} moved after closing"
    if not outcome.events:
        return f"Sent to {name}: {later}."
    return (
        f"Sent to {name}: {_count(outcome.events, 'event')} and {_count(outcome.clips, 'clip')} "
        f"of {_count(outcome.jobs, 'job')}{f', {later}' if outcome.entries else ''}."
    )


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _complain(text: str) -> None:
    print(plain(text, keep="\n"), file=sys.stderr, flush=True)


def _teller() -> Callable[[str], None]:
    """Return what tells how far it is, where it takes long enough for somebody to wonder."""
    last = time.monotonic()

    def tell(text: str) -> None:
        nonlocal last
        if time.monotonic() - last >= _TELL_EVERY_S:
            last = time.monotonic()
            _complain(f"… {text}")

    return tell
