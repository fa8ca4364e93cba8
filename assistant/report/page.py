"""The job record as one page that needs nothing else: no network, no script, no other file."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from assistant.report import charts, overview, sections, wording
from assistant.report.model import Record
from assistant.text import plain


@dataclass(frozen=True)
class Live:
    """What a page has that is served, and not a file."""

    head: Markup
    """In place of the policy, which the server sends."""
    top: Markup
    clips: Mapping[int, str]
    """Where each clip is fetched."""
    photos: Mapping[str, str]
    """Where each photo is fetched, by its SHA-256."""


def html(
    record: Record,
    clips: Mapping[int, bytes],
    live: Live | None = None,
    *,
    photos: Mapping[str, bytes] | None = None,
) -> str:
    """Return the page.

    `clips` holds the sound of the clips by number, as FLAC, which every current browser plays, and
    `photos` the pictures by their SHA-256, as JPEG. A clip or photo that is not there is named as
    missing. Everything spoken or typed is escaped.
    """
    verdict, complete = overview.verdict(record)
    return (
        environment()
        .get_template("page.html.j2")
        .render(
            record=record,
            verdict=verdict,
            complete=complete,
            signed=overview.signed(record),
            facts=overview.facts(record),
            care=overview.CARE,
            judging=overview.JUDGING,
            failing=sections.nonconformities(record),
            headline=overview.headline(record),
            nothing_stands_out=overview.nothing_stands_out(record),
            counts=overview.counts(record),
            outstanding=overview.outstanding(record),
            referred=overview.referred(record),
            grave=overview.grave(record),
            minor=overview.minor(record),
            places=overview.places(record),
            time_line=charts.time_line(record),
            time_spent=sections.time_spent(record),
            time_by_person=sections.time_by_person(record),
            sections=sections.sections(record),
            clips=live.clips
            if live
            else {n: _inline("audio/flac", flac) for n, flac in clips.items()},
            sources=live.photos
            if live
            else {digest: _inline("image/jpeg", jpeg) for digest, jpeg in (photos or {}).items()},
            # One picture may be of several things.
            photos={f"{one.sha256} {one.of}": one for one in record.photos},
            live=live,
        )
    )


def _inline(media_type: str, data: bytes) -> str:
    return f"data:{media_type};base64,{base64.b64encode(data).decode()}"


@cache
def environment() -> Environment:
    """Return what the pages of this folder are made with: all text is made plain and escaped."""
    made = Environment(
        loader=PackageLoader("assistant.report", ""),
        autoescape=True,
        finalize=shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(time=time, upper_first=wording.upper_first)
    made.globals.update(kinds=overview.KINDS, note_text=overview.note_text)
    return made


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
