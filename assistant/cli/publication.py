"""`assistant publish`: sends the bench's journal to the shop's database, once or on a timer."""

from __future__ import annotations

import argparse
import logging
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_journal
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.cli.options import Commands
    from assistant.journal.publication import Outcome
    from assistant.journal.server import Server
    from assistant.journal.store import Journal

_log = logging.getLogger(__name__)

_LEAST_S = 1.0
"""The shortest time between two runs."""
_TELL_EVERY_S = 2.0
"""How often progress is told."""


def add_parser(commands: Commands) -> None:
    """Add the command."""
    parser = add_command(
        commands,
        "publish",
        "send this bench's journal to the shop's database",
        "Send to the shop's PostgreSQL what it lacks of this bench's journal: events in order, "
        "with their clips. Each event is verified by its hash before it leaves and again as it "
        "arrives; a job that was altered is refused and named, and the others go on.\n\n"
        "Run it whenever you like, on any number of benches at once: nothing is sent twice, and "
        "stopping it anywhere leaves nothing half done. The bench works without a network, and its "
        "journal stays whole. The first run makes the tables.",
        "examples:\n"
        "  assistant publish --to postgresql://bench@records.shop/bench\n"
        "  assistant publish --to postgresql://bench@records.shop/bench --every 60\n"
        "  assistant jobs --journal postgresql://bench@records.shop/bench\n\n"
        "Keep a password out of the command: in ~/.pgpass, or in the environment as PGPASSWORD.\n"
        "It needs: pip install '.[shop]'\n\n"
        "exit status: 0 all of it is there, 1 not all of it, 2 it cannot work like this",
    )
    parser.add_argument(
        "--to", required=True, metavar="URL", help="postgresql://USER@HOST/DATABASE"
    )
    parser.add_argument(
        "--every",
        type=float,
        metavar="SECONDS",
        help="keep running, and look again every so many seconds; keep trying while the database "
        "is out of reach",
    )
    journal_option(parser)
    parser.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
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
    from assistant.journal.publication import publish
    from assistant.journal.server import Unreachable

    try:
        outcome = publish(journal, server, _teller())
    except Unreachable as error:
        _log.warning(
            "%s\nNothing is lost: it is all in %s. Run this again later.", error, journal.path
        )
        return 1
    print(_said(outcome, server.name))
    for refusal in outcome.refused:
        _log.warning("%s", refusal)
    return 1 if outcome.refused else 0


def _keep_on(
    journal: Journal, server: Server, seconds: float, sleep: Callable[[float], None] = time.sleep
) -> None:
    """Publish again and again. Tell what changes, and only once that the database is away."""
    from assistant.journal.publication import publish
    from assistant.journal.server import Unreachable

    away = False
    refused: list[str] = []
    while True:
        try:
            outcome = publish(journal, server, _teller())
        except Unreachable as error:
            if not away:
                _log.warning(
                    "%s\nNothing is lost: it is all in %s. Trying again every %g s.",
                    error,
                    journal.path,
                    seconds,
                )
            away = True
        else:
            if away:
                print(f"{server.name} is in reach again.", flush=True)
                away = False
            if outcome.events or outcome.additions:
                print(_said(outcome, server.name), flush=True)
            complaints = [str(refusal) for refusal in outcome.refused]
            for text in complaints:
                if text not in refused:
                    _log.warning("%s", text)
            refused = complaints
        sleep(seconds)


def _said(outcome: Outcome, name: str) -> str:
    if not outcome.events and not outcome.additions:
        if outcome.refused:
            return f"Nothing was sent to {name}."
        return f"{name} has all of it already: {_count(outcome.looked_at, 'job')}."
    entries = "entry" if outcome.additions == 1 else "entries"
    later = f"{outcome.additions} {entries} made after closing"
    if not outcome.events:
        return f"Sent to {name}: {later}."
    return (
        f"Sent to {name}: {_count(outcome.events, 'event')} and {_count(outcome.clips, 'clip')} "
        f"of {_count(outcome.jobs, 'job')}{f', {later}' if outcome.additions else ''}."
    )


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _teller() -> Callable[[str], None]:
    """Return what tells the progress, once it takes so long that somebody may wonder."""
    last = time.monotonic()

    def tell(text: str) -> None:
        nonlocal last
        if time.monotonic() - last >= _TELL_EVERY_S:
            last = time.monotonic()
            _log.info("… %s", text)

    return tell
