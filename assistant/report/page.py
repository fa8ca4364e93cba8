"""The job record as one page that needs nothing else: no network, no script, no other file."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from datetime import datetime
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

from assistant.plain_text import plain
from assistant.report import charts, sections, writing
from assistant.report.model import Record


def html(record: Record, clips: Mapping[int, bytes]) -> str:
    """Return the page.

    `clips` holds the sound of the clips by number, as FLAC, which every current browser plays; a
    clip that is not there is named as missing. Everything spoken or typed is escaped.
    """
    verdict, complete = sections.verdict(record)
    return _template().render(
        record=record,
        verdict=verdict,
        complete=complete,
        facts=sections.facts(record),
        care=sections.CARE,
        judging=sections.JUDGING,
        time_spent=sections.time_spent(record),
        counts=sections.counts(record),
        outstanding=sections.outstanding(record),
        grave=sections.grave(record),
        minor=sections.minor(record),
        places=sections.places(record),
        sections=sections.sections(record),
        time_line=charts.time_line(record),
        clips={number: base64.b64encode(flac).decode() for number, flac in clips.items()},
    )


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("assistant.report", ""),
        autoescape=True,
        finalize=_shown,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(
        duration=writing.duration,
        grouped=writing.grouped,
        time=_time,
        upper_first=writing.upper_first,
    )
    environment.globals.update(kinds=sections.KINDS, note_text=sections.note_text)
    return environment.get_template("page.html.j2")


def _shown(value: object) -> object:
    """Leave out of each text what could turn a line round; then it is escaped."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return plain(value, keep="\n")
    return value


def _time(at: datetime) -> Markup:
    """Write a local time; the date and the minutes each hold together."""
    return Markup('<time datetime="{}"><span>{}</span> <span>{}</span></time>').format(
        at.isoformat(), f"{at:%Y-%m-%d}", f"{at:%H:%M}"
    )
