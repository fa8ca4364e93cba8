"""Decides who may read a page, by the host name that was asked for and by the token.

Puts the security headers on every answer.
"""

from __future__ import annotations

import ipaddress
import re
import secrets
from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import quote, urlencode

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "img-src 'self'; media-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
"""The Content-Security-Policy of a page: its own files, and nothing from elsewhere."""

_HEADERS = {
    "Content-Security-Policy": POLICY,
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
_HOST = re.compile(r"\[(?P<six>[0-9a-f:.]+)\](:\d+)?|(?P<name>[^:\[\]]+)(:\d+)?")
_A_YEAR_S = 365 * 24 * 3600


@dataclass(frozen=True)
class Access:
    """Who may read. With `token` None that is everybody who can reach the address."""

    names: frozenset[str]
    """Host names, in lower case, that the computer is known by; numeric addresses always are."""
    token: str | None
    cookie: str
    """The cookie's name, with the port in it: browsers send a host's cookies to all its ports."""


def access(port: int, token: str | None, names: Iterable[str] = ()) -> Access:
    """Return who may read what is served on this port, by `localhost` and these names."""
    known = {"localhost", *(name.lower().rstrip(".") for name in names)}
    return Access(frozenset(known), token, f"assistant-{port}")


class Guard:
    """Lets through who may read, and puts the security headers on each answer."""

    def __init__(self, app: ASGIApp, who: Access) -> None:
        self._app = app
        self._who = who

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        answer = self._instead(Request(scope)) or self._app
        await answer(scope, receive, guarded)

    def _instead(self, request: Request) -> Response | None:
        """Return the answer for whoever is not let through; None for who is."""
        if not self._known(request.headers.get("host", "")):
            # A stranger's page whose name was made to lead here (DNS rebinding) asks by that name.
            return PlainTextResponse(
                "This computer is not known by that name here. Use its address in numbers, or "
                "start the assistant with --known-as NAME.\n",
                status_code=421,
            )
        if self._who.token is None:
            return None
        given = request.query_params.get("token")
        if given is not None and self._is_token(given):
            return self._let_in(request)
        if self._is_token(request.cookies.get(self._who.cookie, "")):
            return None
        return PlainTextResponse(
            "Open this page by the link that the assistant printed when it was started.\n",
            status_code=401,
        )

    def _known(self, host: str) -> bool:
        match = _HOST.fullmatch(host.lower())
        if match is None:
            return False
        name = (match["six"] or match["name"]).rstrip(".")
        if name in self._who.names:
            return True
        try:
            # No name server has a say in a numeric address.
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True

    def _is_token(self, given: str) -> bool:
        wanted = (self._who.token or "").encode()
        return secrets.compare_digest(given.encode("utf-8", "surrogateescape"), wanted)

    def _let_in(self, request: Request) -> Response:
        """Keep the token in a cookie, and take it out of the address."""
        rest = [(k, v) for k, v in request.query_params.multi_items() if k != "token"]
        # From the root of this very place: two slashes would lead to another.
        where = "/" + quote(request.scope["path"].lstrip("/\\"))
        answer = RedirectResponse(f"{where}?{urlencode(rest)}" if rest else where, 303)
        answer.set_cookie(
            self._who.cookie,
            self._who.token or "",
            max_age=_A_YEAR_S,
            httponly=True,
            secure=request.url.scheme == "https",
            samesite="lax",
        )
        return answer
