"""The record's lists one by one, flat, for spreadsheets and other programs.

A row has a name for each of its cells and no cell has parts, so that the same row is a line of CSV
and an object of JSON. `assistant schema` prints how each list is laid out.
"""

from __future__ import annotations

import csv as csv_format
import io
import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, create_model

from assistant.errors import AssistantError
from assistant.report import model as m
from assistant.report.tables import guarded
from assistant.text import escaped


class OrderRow(m.OrderEntry):
    """One order of a part, as it was said."""

    part: str
    part_number: str | None


class NonconformityRow(m.Nonconformity):
    """A result that does not meet its requirement, or did not at some time of the job."""

    conceded_by: str | None
    conceded_at: AwareDatetime | None
    reason: str | None
    """Of the concession, as typed; None where it was spoken, and is in `reason_clip`."""
    reason_clip: int | None
    lapsed: bool | None
    """Whether the concession was for another result than there is now."""


class _HeardFlat(BaseModel):
    model_config = ConfigDict(use_attribute_docstrings=True)

    words: str | None = None
    """As heard; empty for free speech, which its clip has."""
    confidence: float | None = None
    """0 to 1."""
    recogniser: str | None = None
    """Its name, or "typed"."""
    clip: int | None = None
    """The number of its sound in the journal that the list is from."""
    clip_sha256: str | None = None
    """What identifies the sound wherever it travels."""


class _TranscriptsFlat(BaseModel):
    model_config = ConfigDict(use_attribute_docstrings=True)

    transcript: str | None = None
    """What recognisers made of its sound, one after another; none is verified."""


# What is a model of its own in the record is several cells in a row.
_FLAT: Mapping[str, type[BaseModel]] = {
    "heard": _HeardFlat,
    "transcripts": _TranscriptsFlat,
    "judgement": m.Judgement,
}


_NUMBER = re.compile(m.NUMBER)


@dataclass(frozen=True)
class List:
    """A list of the record."""

    of: type[m.Model]
    rows: Callable[[m.Record], Iterable[m.Model]]
    leaves_out: frozenset[str] = frozenset()


def _orders(record: m.Record) -> Iterable[OrderRow]:
    for order in record.orders:
        for one in order.orders:
            yield OrderRow(**vars(one), part=order.part, part_number=order.part_number)


def _nonconformities(record: m.Record) -> Iterable[NonconformityRow]:
    for one in record.nonconformities:
        given = one.concession
        heard = given.heard if given else None
        yield NonconformityRow(
            **vars(one),
            conceded_by=given.by if given else None,
            conceded_at=given.at if given else None,
            reason=given.reason if given else None,
            reason_clip=heard.clip if heard else None,
            lapsed=given.lapsed if given else None,
        )


LISTS: Mapping[str, List] = {
    "nonconformities": List(NonconformityRow, _nonconformities, frozenset({"concession"})),
    "steps": List(m.StepRecord, lambda r: r.steps, frozenset({"lines"})),
    "findings": List(m.Finding, lambda r: r.findings),
    "notes": List(m.Note, lambda r: r.notes),
    "photos": List(m.Photo, lambda r: r.photos),
    "readings": List(m.Reading, lambda r: r.readings),
    "reading-sets": List(m.ReadingSet, lambda r: r.reading_sets),
    "found-and-left": List(m.Pair, lambda r: r.found_and_left),
    "worked-out": List(m.WorkedOut, lambda r: r.worked_out),
    "parts-chosen": List(m.PartChosen, lambda r: r.parts_chosen),
    "leak-tests": List(m.LeakTest, lambda r: r.leak_tests),
    "fluids": List(m.Fluid, lambda r: r.fluids),
    "torques": List(m.Torque, lambda r: r.torques),
    "fitted": List(m.Fitted, lambda r: r.fitted),
    "parts": List(m.PartLife, lambda r: r.parts),
    "orders": List(OrderRow, _orders),
    "afterwards": List(m.Afterwards, lambda r: r.afterwards),
    "extra-work": List(m.ExtraWork, lambda r: r.extra_work),
    "kit": List(m.KitItem, lambda r: r.kit),
    "bags": List(m.Bag, lambda r: r.bags),
    "answers": List(m.Answer, lambda r: r.answers),
    "timers": List(m.Timer, lambda r: r.timers),
    "job-hazards": List(m.JobHazard, lambda r: r.job_hazards),
    "hazards": List(m.Affirmed, lambda r: r.hazards),
    "conditions": List(m.Affirmed, lambda r: r.conditions),
    "questioned": List(m.Questioned, lambda r: r.questioned),
    "withdrawn": List(m.Withdrawn, lambda r: r.withdrawn),
    "spans": List(m.Span, lambda r: r.spans),
    "time-by-person": List(m.PersonTime, lambda r: r.time_by_person),
}


@cache
def layout(name: str) -> type[BaseModel]:
    """Return the model of a whole list as JSON: what it is of, and its rows.

    Raises AssistantError for a list that there is not.
    """
    found = _list(name)
    fields: dict[str, Any] = {}
    for field, info in found.of.model_fields.items():
        if field in found.leaves_out:
            continue
        inner = _FLAT.get(field)
        if inner is not None:
            fields |= {n: (i.annotation, i) for n, i in inner.model_fields.items()}
        elif info.annotation in (tuple[str, ...], tuple[int, ...]):
            fields[field] = (str, Field(description=info.description))
        else:
            fields[field] = (info.annotation, info)
    config = ConfigDict(extra="forbid")
    row = create_model(f"{found.of.__name__}Row", __config__=config, **fields)
    row.__doc__ = found.of.__doc__
    head: dict[str, Any] = {
        "version": (Literal[m.VERSION], ...),
        "list": (Literal[name], ...),
        "job": (int, ...),
        "title": (str, ...),
        "unit": (str | None, ...),
        "rows": (tuple[row, ...], ...),
    }
    return create_model(name, __config__=config, **head)


def _list(name: str) -> List:
    if name not in LISTS:
        raise AssistantError(f"There is no list {name!r}: it is one of {', '.join(LISTS)}.")
    return LISTS[name]


def _rows(record: m.Record, name: str) -> list[dict[str, Any]]:
    found = _list(name)
    return [_row(entry, found.leaves_out) for entry in found.rows(record)]


def _row(entry: m.Model, leaves_out: frozenset[str]) -> dict[str, Any]:
    row: dict[str, Any] = {}
    for field, value in entry.model_dump(mode="json", exclude=set(leaves_out)).items():
        if field == "heard":
            row |= {name: (value or {}).get(name) for name in _HeardFlat.model_fields}
        elif field == "transcripts":
            row["transcript"] = "; ".join(made["text"] for made in value) or None
        elif field in _FLAT:
            row |= value
        else:
            row[field] = "; ".join(map(str, value)) if isinstance(value, list) else value
    return row


def json_text(record: m.Record, name: str) -> str:
    """Return a list as JSON. Raises AssistantError for a list that there is not."""
    made = {
        "version": m.VERSION,
        "list": name,
        "job": record.job,
        "title": record.title,
        "unit": record.unit,
        "rows": _rows(record, name),
    }
    return escaped(json.dumps(made, indent=2, ensure_ascii=False)) + "\n"


def csv(record: m.Record, name: str) -> str:
    """Return a list as CSV (RFC 4180), the job's number in front; truths are true and false.

    Text that a spreadsheet would take as a formula gets an apostrophe in front; numbers never do.
    Raises AssistantError for a list that there is not.
    """
    columns = ["job", *layout_of_row(name).model_fields]
    out = io.StringIO()
    writer = csv_format.DictWriter(out, columns, restval="")
    writer.writeheader()
    for row in _rows(record, name):
        writer.writerow({k: _cell(v) for k, v in ({"job": record.job} | row).items()})
    return out.getvalue()


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return str(value).lower()
    return value if _NUMBER.fullmatch(str(value)) else guarded(value)


def layout_of_row(name: str) -> type[BaseModel]:
    """Return the model of one row of a list. Raises AssistantError for a list that there is not."""
    rows = layout(name).model_fields["rows"].annotation
    row: type[BaseModel] = rows.__args__[0]  # type: ignore[union-attr]
    return row
