"""The job record as one page that needs nothing else: no network, no script, no other file."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

from assistant.plain_text import plain
from assistant.report import writing
from assistant.report.model import Record, StandsOut

_KINDS = {
    "skipped": "Skipped",
    "left undone": "Left undone",
    "outside": "Not as asked",
    "affirmed": "Affirmed",
    "doubtful": "Doubtful",
    "questioned": "Asked about",
    "corrected": "Corrected",
    "withdrawn": "Withdrawn",
}
_GRAVE = ("skipped", "left undone", "outside", "affirmed", "doubtful")


@dataclass(frozen=True)
class Live:
    """What a page has that is served, and not a file."""

    head: Markup
    """In place of the policy, which the server sends."""
    top: Markup
    clips: Mapping[int, str]
    """Where each clip is fetched."""


def html(record: Record, clips: Mapping[int, bytes], live: Live | None = None) -> str:
    """Return the page.

    `clips` holds the sound of the clips by number, as FLAC, which every current browser plays; a
    clip that is not there is named as missing. Everything spoken or typed is escaped.
    """
    return _template().render(
        record=record,
        remarks=sorted([*record.findings, *record.notes], key=lambda entry: entry.at),
        grave=[item for item in record.summary.stands_out if item.kind in _GRAVE],
        minor=[item for item in record.summary.stands_out if item.kind not in _GRAVE],
        clips=live.clips if live else {number: _inline(flac) for number, flac in clips.items()},
        live=live,
        offsets=sorted({_offset(at) for at in _times(record)}),
    )


def _inline(flac: bytes) -> str:
    return f"data:audio/flac;base64,{base64.b64encode(flac).decode()}"


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("assistant.report", ""),
        autoescape=True,
        finalize=shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        duration=writing.duration,
        grouped=writing.grouped,
        time=time,
        upper_first=upper_first,
        kind=_kind,
    )
    environment.globals.update(
        quantity=writing.quantity, change=writing.change, missing=writing.missing
    )
    return environment.get_template("page.html.j2")


def shown(value: object) -> object:
    """Leave out of each text what could turn a line round; then it is escaped."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return plain(value, keep="\n")
    return value


def time(at: datetime) -> Markup:
    """Write a local time; the date and the minutes each hold together."""
    return Markup('<time datetime="{}"><span>{}</span> <span>{}</span></time>').format(
        at.isoformat(), f"{at:%Y-%m-%d}", f"{at:%H:%M}"
    )


def upper_first(text: str) -> str:
    """Begin a text with a capital."""
    return text[:1].upper() + text[1:]


def _kind(item: StandsOut) -> str:
    return _KINDS[item.kind]


def _times(record: Record) -> list[datetime]:
    stops = [at for stop in record.stops for at in (stop.left, stop.taken_up)]
    return [record.opened, *stops, record.last]


def _offset(at: datetime) -> str:
    offset = f"{at:%z}"
    return f"UTC{offset[:3]}:{offset[3:5]}"
