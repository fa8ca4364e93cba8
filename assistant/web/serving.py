"""Serves an application at an address: checks the address, takes the port, prints the link."""

from __future__ import annotations

import errno
import ipaddress
import os
import re
import secrets
import socket
import sys
import threading
from collections.abc import Sequence
from dataclasses import dataclass

import uvicorn
from starlette.types import ASGIApp

from assistant.errors import AssistantError
from assistant.text import plain
from assistant.web import guard

TOKEN_VARIABLE = "ASSISTANT_WEB_TOKEN"

_SHORTEST_TOKEN = 16
_MOST_AT_ONCE = 100
_STOPPING_S = 2.0
_PLACE = re.compile(r"(?:\[(?P<six>[^\]]+)\]|(?P<name>[^:\[\]]+)):(?P<port>\d{1,5})")


@dataclass(frozen=True)
class Opening:
    """Where to serve, and to whom, as given on the command line."""

    address: str
    """ADDRESS:PORT."""
    to_network: bool = False
    known_as: Sequence[str] = ()


@dataclass(frozen=True)
class Served:
    """A port that was taken, ready to be served at."""

    socket: socket.socket
    link: str
    """The link to open in a browser, with the token if there is one."""
    who: guard.Access


def claim(opening: Opening, token: str | None = None) -> Served:
    """Take the port. `token` is the value of ASSISTANT_WEB_TOKEN; without it one is made up.

    Raises AssistantError if the address is malformed, is not this computer's, is in use, or can be
    reached from the network although that was not asked for; and if the token could be guessed.
    """
    token = _token(token) if opening.to_network else None
    taken = _bind(opening)
    address, port = taken.getsockname()[:2]
    names = (*opening.known_as, *(_own_names() if opening.to_network else ()))
    return Served(taken, _link(address, port, token), guard.access(port, token, names))


def _place(text: str) -> tuple[str, int]:
    match = _PLACE.fullmatch(text)
    if match is None or int(match["port"]) > 65535:
        raise AssistantError(
            f"{plain(text)} is no address to serve at. Write ADDRESS:PORT, such as 127.0.0.1:8621."
        )
    return match["six"] or match["name"], int(match["port"])


def _bind(opening: Opening) -> socket.socket:
    host, port = _place(opening.address)
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)
        family, _, _, _, address = found[0]
        if not (_ip(address[0]).is_loopback or opening.to_network):
            raise AssistantError(
                f"{opening.address} can be reached from the network. If that is wanted, add "
                "--open-to-network; it then asks each browser for a token."
            )
        taken = socket.create_server(address, family=family, backlog=_MOST_AT_ONCE)
    except (OSError, UnicodeError) as error:
        raise AssistantError(_why_not(error, host, port)) from error
    # Connections take it over. Without it each answer waits 40 ms for the browser's receipt.
    taken.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    return taken


def _why_not(error: Exception, host: str, port: int) -> str:
    code = error.errno if isinstance(error, OSError) else None
    if code == errno.EADDRINUSE:
        return f"Port {port} is in use already. Choose another, such as {host}:{port + 1}."
    if code == errno.EACCES:
        return f"You may not serve on port {port}. Choose one above 1023, such as {host}:8621."
    return f"This computer has no address {plain(host)}. Use one of its own, such as 127.0.0.1."


def _ip(address: str | int) -> ipaddress.IPv4Address | ipaddress.IPv6Address:
    return ipaddress.ip_address(str(address).partition("%")[0])


def _token(given: str | None) -> str:
    if given is None:
        return secrets.token_urlsafe(24)
    if len(given) < _SHORTEST_TOKEN or not re.fullmatch(r"[A-Za-z0-9._~-]+", given):
        raise AssistantError(
            f"The token in {TOKEN_VARIABLE} has to be at least {_SHORTEST_TOKEN} letters, digits, "
            "or - . _ ~, so that nobody guesses it. Leave it unset to have one made."
        )
    return given


def _own_names() -> set[str]:
    name = socket.gethostname().lower()
    return {name, socket.getfqdn().lower(), f"{name.partition('.')[0]}.local"}


def _link(address: str, port: int, token: str | None) -> str:
    if _ip(address).is_unspecified:
        address = socket.gethostname()
    host = f"[{address}]" if ":" in address else address
    return f"http://{host}:{port}/" + (f"?token={token}" if token else "")


def announce(served: Served, what: str) -> None:
    """Print the link to open, and what to mind if others on the network can open it."""
    print(f"{what}: {served.link}", file=sys.stderr, flush=True)
    if served.who.token is None:
        return
    port = served.socket.getsockname()[1]
    print(
        "Whoever has that link can read along; a browser keeps it in a cookie. "
        f"For the same link each time, set {TOKEN_VARIABLE}.\n"
        "The connection is not encrypted. To have TLS, serve on loopback behind a proxy on this "
        f"computer that has a certificate (https://bench.example to 127.0.0.1:{port}), and start "
        f"with 127.0.0.1:{port} --open-to-network --known-as bench.example",
        file=sys.stderr,
        flush=True,
    )


def token_from_environment() -> str | None:
    """Return the shop's own token, where one is set."""
    return os.environ.get(TOKEN_VARIABLE) or None


class Server:
    """Serves an application, in the calling thread or in one of its own."""

    def __init__(self, app: ASGIApp, served: Served) -> None:
        config = uvicorn.Config(
            guard.Guard(app, served.who),
            lifespan="off",
            ws="none",
            log_config=None,
            access_log=False,
            server_header=False,
            limit_concurrency=_MOST_AT_ONCE,
            timeout_graceful_shutdown=1,
        )
        self._served = served
        self._uvicorn = uvicorn.Server(config)
        self._thread: threading.Thread | None = None

    def run(self) -> None:
        """Serve until the program is interrupted."""
        self._uvicorn.run(sockets=[self._served.socket])

    def start(self) -> None:
        """Serve in a thread of its own."""
        self._thread = threading.Thread(target=self.run, name="display", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop serving and free the port, within two seconds even if somebody is still reading."""
        self._uvicorn.should_exit = True
        if self._thread is not None:
            self._thread.join(_STOPPING_S)
        self._served.socket.close()
