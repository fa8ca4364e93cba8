"""Pages for a browser: `--display` of run, resume and listen, and `assistant board`."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

from assistant.cli.options import add_command, journal_option, open_records
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.bench.conversation import Conversation
    from assistant.cli.options import Commands
    from assistant.web.serving import Opening

_DISPLAY = "127.0.0.1:8621"
_BOARD = "127.0.0.1:8620"


def display_options(parser: argparse.ArgumentParser) -> None:
    """Add `--display` and what goes with it."""
    parser.add_argument(
        "--display",
        nargs="?",
        const=_DISPLAY,
        metavar="ADDRESS:PORT",
        help="serve a page to glance at, for a tablet or monitor at the bench: step, torque, "
        "cautions, timers, what was heard and recorded "
        f"(by itself: {_DISPLAY}). Open the link that is printed in its browser",
    )
    _network_options(parser)


def _network_options(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--open-to-network",
        action="store_true",
        help="allow other computers to read the page, each with the token in the link that is "
        "printed; to have the same link every time, set ASSISTANT_WEB_TOKEN",
    )
    parser.add_argument(
        "--known-as",
        action="append",
        default=[],
        metavar="NAME",
        help="another name that browsers reach this computer by, such as that of a proxy with TLS "
        "in front of it; may be given several times",
    )


def show(
    bench: Conversation, args: argparse.Namespace, attend: Callable[[Conversation], None]
) -> Callable[[Conversation], None]:
    """Serve a display of this bench; return what feeds the bench and then lets the display go."""
    _see_that_it_is_installed()
    from assistant.web import serving
    from assistant.web.display import Display

    display = Display(bench.presenter, bench.clock, _hint(args))
    served = serving.claim(_opening(args, args.display), serving.token_from_environment())
    server = serving.Server(display.app(), served)
    server.start()
    serving.announce(served, "Display")

    def attended(spoken_to: Conversation) -> None:
        try:
            attend(spoken_to)
        finally:
            display.stop()
            server.stop()

    return attended


def _hint(args: argparse.Namespace) -> str:
    """Word how to be heard."""
    if args.typed:
        return "to what is typed"
    if args.recordings:
        return "to recordings"
    return {
        "open": "to all that is said",
        "call-word": f"say “{args.call_word}” first",
        "key-held": "hold the key to speak",
        "key-tapped": "tap the key to speak",
    }[str(args.address)]


def add_parser(commands: Commands) -> None:
    """Add `assistant board`."""
    parser = add_command(
        commands,
        "board",
        "serve the shop's jobs to browsers, to read",
        "Serve the jobs of a journal as pages: open and closed, where each stands, what is "
        "outstanding and which parts it waits for; a search; and each job's record as it grows, "
        "with its clips. Nothing can be changed from a browser. It reads the bench's own journal, "
        "also while a bench writes it, or the shop's database. Stop it with Ctrl C.",
        "examples:\n"
        "  assistant board\n"
        "  assistant board --journal postgresql://bench@records.shop/bench\n"
        "  assistant board --at 0.0.0.0:8620 --open-to-network     for other computers, by a link\n"
        "\nIt needs: pip install '.[web]'",
    )
    parser.add_argument(
        "--at",
        default=_BOARD,
        metavar="ADDRESS:PORT",
        help=f"where to serve it (default: {_BOARD}, this computer alone)",
    )
    _network_options(parser)
    journal_option(parser, shop=True)
    parser.set_defaults(run=_board)


def _board(args: argparse.Namespace) -> int:
    _see_that_it_is_installed()
    from assistant.web import board, serving

    app = board.app(lambda: open_records(args))
    served = serving.claim(_opening(args, args.at), serving.token_from_environment())
    serving.announce(served, "Board")
    with suppress(KeyboardInterrupt):
        serving.Server(app, served).run()
    return 0


def _opening(args: argparse.Namespace, address: str) -> Opening:
    from assistant.web.serving import Opening

    return Opening(address, args.open_to_network, tuple(args.known_as))


def _see_that_it_is_installed() -> None:
    try:
        import sse_starlette  # noqa: F401
        import starlette  # noqa: F401
        import uvicorn  # noqa: F401
    except ImportError as error:
        raise AssistantError(
            f"Pages for a browser need {error.name}. Install it with: pip install '.[web]'"
        ) from error
