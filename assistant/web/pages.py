"""What the display and the board have in common: templates, and the files that go with them."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path

from jinja2 import PackageLoader, Template
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from assistant.report import page

_FOLDER = Path(__file__).parent
STATIC = Mount("/static", StaticFiles(directory=_FOLDER / "static"))


def _version() -> str:
    files = sorted(path for path in _FOLDER.rglob("*.*") if path.suffix in (".js", ".css", ".j2"))
    return sha256(b"".join(path.read_bytes() for path in files)).hexdigest()[:16]


VERSION = _version()
"""Identifies the templates, scripts and styles: a browser that has another version reloads."""


@cache
def template(name: str) -> Template:
    """Return a template; whatever is put into it is made plain and escaped, as in the record."""
    environment = page.environment().overlay(loader=PackageLoader("assistant.web"))
    return environment.get_template(name)
