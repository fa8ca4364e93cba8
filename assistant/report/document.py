"""The job record as a PDF: the same words as the page, set for paper.

Typst sets it. The words go in as data, so that nothing spoken or written is taken as markup, and
the letters come from packages, so that the same record gives the same file on any machine. It is
tagged for screen readers (PDF/UA-1), and its drawings have their text.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from markupsafe import Markup

from assistant.errors import AssistantError
from assistant.imaging import pictures
from assistant.report import charts, grid, overview, sections, svg, wording
from assistant.report.model import Entry, Finding, Note, Photo, Record, StandsOut
from assistant.text import plain

Paper = Literal["a4", "letter"]

_FONTS = ("manimgx_fonts", "manimgx_fonts_cjk")
_SMALL_PX, _LARGE_PX = 420, 1500
"""Longer side of a photo as it is shown: 300 pixels an inch at 36 mm, 220 over the page."""
_LONG = 1200
"""Characters; what is longer may be broken over two pages."""


def pdf(record: Record, paper: Paper = "a4", photos: Mapping[str, bytes] | None = None) -> bytes:
    """Return the record as a PDF of A4 or Letter pages.

    `photos` holds the pictures by their SHA-256, as JPEG. They stand small where they belong, and
    large on pages at the end, where a click on a small one leads.

    Raises AssistantError where the packages of the extra `pdf` are not installed.
    """
    files = _files(record, photos or {})
    data = _data(record) | {
        "paper": "us-letter" if paper == "letter" else "a4",
        "photos": [_photo(one) for one in record.photos],
        "there": list(map(Markup, sorted(files))),
    }
    return typeset("document.typ", data, record.last, files)


def typeset(
    template: str,
    data: Mapping[str, Any],
    at: datetime,
    files: Mapping[str, bytes] | None = None,
) -> bytes:
    """Return what a template of this folder makes of the data, all its text made safe to show.

    `at` is the time in the file; the same data gives the same bytes. `files` are those that the
    template reads, by name.

    Raises AssistantError where the packages of the extra `pdf` are not installed.
    """
    if not all(find_spec(name) for name in ("typst", *_FONTS)):
        raise AssistantError("A PDF needs more packages: pip install '.[pdf]'")
    import typst

    def compiled(standard: Literal["ua-1"] | None) -> bytes:
        return typst.compile(
            folder / template,
            root=folder,
            format="pdf",
            font_paths=[_folder(name) for name in _FONTS],
            ignore_system_fonts=True,
            sys_inputs={"data": text},
            pdf_standards=standard,
            timestamp=at.replace(microsecond=0),
        )

    text = json.dumps(_safe(data))
    with TemporaryDirectory() as made:
        folder = Path(made)
        (folder / template).write_bytes(Path(__file__).with_name(template).read_bytes())
        for name, content in (files or {}).items():
            (folder / name).write_bytes(content)
        try:
            return compiled("ua-1")
        except typst.TypstError as error:
            # Somebody wrote a sign that no font has: it is shown as a box, and the standard
            # forbids it.
            if "could not be displayed" not in error.message:
                raise
            return compiled(None)


def _files(record: Record, photos: Mapping[str, bytes]) -> dict[str, bytes]:
    """Return the photos as files, small and large. One that is no picture is left out: it came
    from elsewhere, and the page of the record says what was to be there.
    """
    found: dict[str, bytes] = {}
    for one in record.photos:
        with suppress(KeyError, AssistantError):
            jpeg = photos[one.sha256]
            small = pictures.small(jpeg, _SMALL_PX)
            found[f"{one.sha256}-large.jpg"] = pictures.small(jpeg, _LARGE_PX)
            found[f"{one.sha256}-small.jpg"] = small
    return found


def _photo(one: Photo) -> dict[str, Any]:
    where = f"Step {one.number}: " if one.number else ""
    return {
        "sha256": Markup(one.sha256),
        "told": f"Photo: {where}{one.of}",
        "source": _source(one) + ("" if one.of_stands else " · withdrawn since"),
    }


def _folder(package: str) -> Path:
    spec = find_spec(package)
    assert spec is not None and spec.origin is not None
    return Path(spec.origin).parent


def _safe(value: Any) -> Any:
    """Leave out what could turn a line round, and let a long run of letters be broken."""
    match value:
        case Markup():
            return value
        case str():
            return _RUN.sub("\\g<0>\u200b", plain(value, keep="\n"))
        case dict():
            return {key: _safe(item) for key, item in value.items()}
        case list() | tuple():
            return [_safe(item) for item in value]
        case _:
            return value


# Scripts that are written without spaces break by themselves.
_RUN = re.compile(r"[!-~\u00a1-\u024f]{20}(?=[!-~\u00a1-\u024f]{8})")


def _data(record: Record) -> dict[str, Any]:
    verdict, complete = overview.verdict(record)
    remarks = [
        (wording.upper_first(place.name) or "No place said", [_finding(f) for f in place.findings])
        for place in overview.places(record)
    ]
    notes = [
        _remark(note, f"Note: {note.text}" if note.text else overview.note_text(note))
        for note in record.notes
    ]
    return {
        "sample": record.sample,
        "eyebrow": f"Job record {record.job}",
        "title": record.title,
        "by": list(record.by),
        "equipment": record.equipment,
        "unit": record.unit or "not given",
        "verdict": verdict,
        "complete": complete,
        "signed": overview.signed(record),
        "facts": [
            {
                "name": fact.name,
                "text": _written(fact.at) + fact.text + "; ".join(link.text for link in fact.links),
                "small": fact.small,
                "broad": fact.broad,
            }
            for fact in overview.facts(record)
        ],
        "care": overview.CARE,
        "footer": _footer(record),
        "failing": _table(sections.nonconformities(record)),
        "headline": overview.headline(record),
        "now": record.summary.open > 0,
        "nothing": overview.nothing_stands_out(record),
        "counts": overview.counts(record),
        "outstanding": overview.outstanding(record),
        "referred": overview.referred(record),
        "grave": [_standout(item) for item in overview.grave(record)],
        "minor": [_standout(item) for item in overview.minor(record)],
        "remarks": remarks + ([("Notes", notes)] if notes else []),
        "judged": bool(record.findings),
        "judging": overview.JUDGING,
        "time_line": [_drawing(of) for of in charts.time_line(record)],
        "spans": _table(sections.time_spent(record)),
        "people": _table(sections.time_by_person(record)),
        "sections": [
            {
                "title": section.title,
                "otherwise": section.otherwise,
                "tables": [_table(table) for table in section.tables],
            }
            for section in sections.sections(record)
        ],
    }


def _footer(record: Record) -> str:
    title = record.title if len(record.title) <= 60 else f"{record.title[:59]}…"
    seal = f"seal {wording.grouped(record.seal[:16])} …" if record.seal else "not sealed"
    return f"Job {record.job} · {title} · {seal}"


def _written(at: object) -> str:
    return f"{at:%Y-%m-%d %H:%M}" if at else ""


def _drawing(of: svg.Drawing) -> dict[str, str]:
    return {"svg": Markup(of.alone), "told": f"{of.title}: {of.told}"}


def _long(texts: Iterable[str]) -> bool:
    return sum(map(len, texts)) > _LONG


def _table(table: grid.Table) -> dict[str, Any]:
    return {
        "caption": table.caption,
        "columns": [{"head": c.head, "kind": c.kind} for c in table.columns],
        "rows": [
            {
                "group": row.group,
                "faint": row.faint,
                "long": any(map(_is_long, row.cells)),
                "cells": [_cell(cell) for cell in row.cells],
            }
            for row in table.rows
        ],
    }


def _is_long(cell: grid.Cell) -> bool:
    return _long([cell.struck, cell.text, *cell.small, *(text for text, _ in cell.lines)])


def _cell(cell: grid.Cell) -> dict[str, Any]:
    return {
        "struck": cell.struck,
        "text": cell.text or _written(cell.at),
        "strong": cell.strong,
        "flag": cell.flag,
        "grave": cell.grave,
        "plot": _drawing(cell.plot) if cell.plot else None,
        "photo": Markup(cell.photo.sha256) if cell.photo else None,
        "small": [*cell.small, *(_clip(cell.entry) if cell.entry else ())],
        "lines": cell.lines,
    }


def _clip(entry: Entry) -> Iterator[str]:
    """Yield how it was heard, and where the sound is; paper plays none."""
    heard = entry.heard
    if heard and heard.words:
        sure = "" if heard.confidence is None else f"confidence {heard.confidence:.2f}, "
        yield f"heard “{heard.words}”, {sure}{heard.recogniser}"
    if heard and heard.clip is not None:
        yield f"clip {heard.clip}, on the page"


def _source(entry: Entry) -> str:
    step = f"Step {entry.number}" if entry.number else None
    parts = (step, _written(entry.at), entry.by, *_clip(entry))
    return " · ".join(part for part in parts if part)


def _standout(item: StandsOut) -> dict[str, Any]:
    where = f"Step {item.number}: " if item.number else ""
    by = f", {item.by}" if item.by else ""
    return {
        "kind": overview.KINDS[item.kind],
        "what": f"{where}{wording.upper_first(item.what)}.",
        "source": f"{_written(item.at)}{by}",
        "details": list(map(wording.upper_first, item.details)),
        "long": _long([item.what, *item.details]),
    }


def _finding(finding: Finding) -> dict[str, Any]:
    of = finding.judgement
    grave = of.severity in ("serious", "not rated")
    what = wording.upper_first(f"{finding.part} {finding.condition}")
    done = "; ".join(finding.done) or "nothing recorded as done about it"
    told = {"done": f"{wording.upper_first(finding.taken)}; {done}"}
    return {**_remark(finding, what), **of.model_dump(), **told, "grave": grave}


def _remark(entry: Finding | Note, what: str) -> dict[str, Any]:
    return {
        "what": what,
        "severity": "",
        "done": "",
        "grave": False,
        "source": _source(entry),
        # Names of files, which are not broken as other long runs are.
        "photos": list(map(Markup, entry.photos)),
        "transcripts": [
            f"transcript, not verified: “{made.text}” {made.recogniser}, {_written(made.at)}"
            for made in entry.transcripts
        ],
        "long": _long([what, *(made.text for made in entry.transcripts)]),
    }
