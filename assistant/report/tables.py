"""The job record as one table for spreadsheets and other programs: CSV as in RFC 4180."""

from __future__ import annotations

import csv as csv_format
import io
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from decimal import Decimal

from assistant.report import wording
from assistant.report.model import Entry, Record
from assistant.text import FORMULA, plain
from assistant.trade import units

COLUMNS = (
    "job",
    "time",
    "step number",
    "step",
    "kind",
    "what",
    "part",
    "count",
    "value",
    "unit",
    "asked",
    "within",
    "words",
    "confidence",
    "recogniser",
    "by",
    "note",
    "unit code",
    "severity",
    "disposition",
    "status",
    "taken",
    "set",
)
"""One row for each recorded thing. `asked` holds the torque, the limits or the bag asked for, and
`unit code` the unit's code in UCUM. `status` says how a nonconformity stands, or "earlier set" for
a result that a retest or rework has replaced. New columns are put at the end."""

ORDER_COLUMNS = (
    "job",
    "bench",
    "title",
    "unit",
    "closed",
    "step",
    "time",
    "by",
    "part",
    "part number",
    "count",
    "asked",
    "ordered",
    "received",
    "fitted",
    "cancelled",
)
"""One row for each order: `count` is what was asked for, and comes to the sum of the last five."""

Cell = str | int | float | Decimal | None
Row = dict[str, Cell]


def csv(record: Record) -> str:
    """Return the record as CSV, in order of time; steps that were not entered come last.

    Text that a spreadsheet would take as a formula gets an apostrophe in front; numbers never do.
    """
    timed: list[tuple[datetime, Row]] = []
    untimed: list[Row] = []
    for at, row in _rows(record):
        if at is None:
            untimed.append(row)
        else:
            timed.append((at, row | {"time": at.isoformat()}))
    timed.sort(key=lambda item: item[0])
    rows = [row for _, row in timed] + untimed
    return _written(COLUMNS, (_with_code(row) | {"job": record.job} for row in rows))


def _with_code(row: Row) -> Row:
    unit = row.get("unit")
    if not isinstance(unit, str):
        return row
    return row | {"unit": wording.symbol(unit), "unit code": units.ucum(unit)}


def orders(rows: Iterable[Row]) -> str:
    """Return the orders of many jobs as CSV, guarded in the same way."""
    return _written(ORDER_COLUMNS, rows)


def _written(columns: Sequence[str], rows: Iterable[Row]) -> str:
    out = io.StringIO()
    writer = csv_format.DictWriter(out, columns, restval="")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: guarded(cell) for name, cell in row.items()})
    return out.getvalue()


def guarded(cell: Cell) -> Cell:
    """Return the cell as it is written: a text that would be a formula gets an apostrophe."""
    if isinstance(cell, Decimal):
        return f"{cell:f}"
    if isinstance(cell, str):
        # Before control characters go, so that what hid behind one is caught as well.
        begins = cell.startswith(FORMULA)
        cell = plain(cell)
        if begins or cell.lstrip().startswith(FORMULA):
            return f"'{cell}"
    return cell


def _of(entry: Entry, kind: str, **cells: Cell) -> tuple[datetime, Row]:
    heard = entry.heard
    row: Row = {
        "step number": entry.number,
        "step": entry.step,
        "kind": kind,
        "what": entry.what,
        "words": heard.words if heard else None,
        "confidence": heard.confidence if heard else None,
        "recogniser": heard.recogniser if heard else None,
        "by": entry.by,
    }
    return entry.at, row | cells


def _yes(within: bool | None) -> str | None:
    return None if within is None else "yes" if within else "no"


_CLOSE = "too close to the limit to call"


def _notes(*texts: str | None) -> str | None:
    return "; ".join(text for text in texts if text) or None


def _first(heard: str | None) -> str | None:
    return f"heard first: {heard}" if heard else None


def _rows(record: Record) -> Iterator[tuple[datetime | None, Row]]:
    for step in record.steps:
        note = _notes(
            step.reason,
            *(f"outstanding: {item}" for item in step.outstanding),
            f"entered {step.entered.isoformat()}" if step.entered else None,
        )
        yield (
            step.done or step.skipped or step.entered,
            {
                "step number": step.number,
                "step": step.id,
                "kind": f"step {step.status}",
                "what": step.say,
                "note": note,
            },
        )
    for failed in record.nonconformities:
        yield _of(
            failed,
            "nonconformity",
            part=failed.part,
            value=failed.found,
            unit=failed.unit,
            within="no",
            status=failed.status,
            taken=failed.taken,
            note=_notes(*wording.status(failed)),
        )
    for finding in record.findings:
        yield _of(
            finding,
            "finding",
            part=finding.part,
            severity=finding.judgement.severity,
            disposition=finding.judgement.disposition,
            taken=finding.taken,
            note=_notes(_clip(finding, finding.place), *finding.done),
        )
    for note_ in record.notes:
        yield _of(note_, "note", what=note_.text or "spoken note", note=_clip(note_, None))
    for photo in record.photos:
        yield _of(
            photo,
            "photo",
            what=photo.of,
            note=_notes(
                f"{photo.width} × {photo.height}, SHA-256 {photo.sha256}",
                None if photo.of_stands else "what it shows was withdrawn since",
                "put in after closing, under no seal" if photo.after_closing else None,
            ),
        )
    for reading in record.readings:
        yield _of(
            reading,
            "reading",
            what=reading.name,
            value=reading.value,
            unit=reading.unit,
            asked=reading.limits,
            within=_yes(reading.within),
            taken=reading.taken,
            set=reading.set,
            status=None if reading.stands else "earlier set",
            note=_notes(
                _first(reading.first_heard),
                _CLOSE if reading.too_close else None,
                wording.sent_by(reading),
            ),
        )
    for value in record.worked_out:
        yield _of(
            value,
            "worked out",
            what=value.name,
            value=value.value,
            unit=value.unit,
            asked=value.limits,
            within=_yes(value.within),
            taken=value.taken,
            note=_notes(
                f"uncertainty {wording.quantity(value.uncertainty, value.unit)}"
                if value.uncertainty
                else None,
                _CLOSE if value.too_close else None,
            ),
        )
    for test in record.leak_tests:
        yield _of(
            test,
            "leak test",
            value=test.lost,
            unit=test.unit,
            asked=f"at most {wording.quantity(test.allowed, test.unit)}",
            within=_yes(test.within),
            taken=test.taken,
            note=f"{test.outcome}; the gauge lost {test.measured:f}, temperature explains "
            f"{test.thermal:f}",
        )
    for fluid in record.fluids:
        yield _of(
            fluid,
            "fluid",
            value=fluid.value,
            unit=fluid.unit,
            asked=wording.quantity(fluid.capacity, fluid.unit),
            within=_yes(fluid.within),
            taken=fluid.taken,
            note=None if fluid.within else wording.missing(fluid.missing, fluid.unit),
        )
    for chosen in record.parts_chosen:
        yield _of(
            chosen,
            "part chosen",
            part=chosen.part,
            note=_notes(
                f"by {wording.chosen_by(chosen.chosen_by, chosen.value, chosen.unit)}",
                chosen.note,
                f"might be {chosen.unsure}" if chosen.unsure else None,
                "from a value that fails" if chosen.failed else None,
            ),
        )
    for torque in record.torques:
        yield _of(
            torque,
            "torque",
            what=f"{torque.fastener}, pass {torque.stage} of {torque.stages}"
            + (f", bolt {torque.bolt}" if torque.bolt is not None else ""),
            part=torque.fastener,
            value=torque.value,
            unit=torque.unit,
            asked=wording.quantity(torque.asked, torque.asked_unit),
            within=_yes(torque.within),
            taken=torque.taken,
            set=torque.set,
            status=None if torque.stands else "earlier set",
            note=_notes(
                _first(torque.first_heard),
                "all said as one" if torque.as_one else None,
                torque.wrench,
                torque.warning,
                wording.sent_by(torque),
            ),
        )
    for order in record.orders:
        number = f"part number {order.part_number}" if order.part_number else None
        for one in order.orders:
            yield _of(
                one,
                "order",
                part=order.part,
                count=one.count,
                note=_notes(number, _first(one.first_heard)),
            )
    for entry in record.afterwards:
        yield _of(entry, "after closing", part=entry.part, count=entry.count, note="under no seal")
    for extra in record.extra_work:
        told = (extra.name, extra.note, "under no seal" if extra.after_closing else None)
        yield _of(extra, "extra work", what=extra.work, note=_notes(extra.stand, *told))
    for signed in record.sign_offs:
        yield (
            signed.at,
            {
                "kind": "sign-off",
                "what": _notes(signed.note, *(f"though {one}" for one in signed.despite)),
                "by": signed.by,
                "note": "beside the record, names its seal",
            },
        )
    for bag in record.bags:
        yield _of(
            bag,
            "bag",
            value=bag.bag,
            asked=bag.asked,
            within=_yes(bag.within),
            note=_notes(bag.contents, _first(bag.first_heard)),
        )
    for answer in record.answers:
        yield _of(answer, "answer", note=answer.question)
    for timer in record.timers:
        rang = f"up {timer.rang.isoformat()}" if timer.rang else "not announced"
        if timer.cancelled:
            rang = f"cancelled {timer.cancelled.isoformat()}"
        yield _of(
            timer,
            "wait" if timer.for_wait else "timer",
            what=timer.name,
            value=timer.seconds,
            unit="s",
            note=rang,
        )
    for hazard in record.job_hazards:
        yield (
            hazard.affirmed,
            {
                "kind": "hazard of the job",
                "what": hazard.text,
                "by": hazard.by,
                "note": "not affirmed" if hazard.asked and not hazard.affirmed else None,
            },
        )
    for hazards in record.hazards:
        yield _of(hazards, "hazards heard", what=" ".join(hazards.texts))
    for condition in record.conditions:
        yield _of(condition, "condition affirmed", what=" ".join(condition.texts))
    for asked in record.questioned:
        came = f"{asked.outcome}: {asked.recorded}" if asked.recorded else asked.outcome
        since = " (since withdrawn)" if asked.since_withdrawn else ""
        yield _of(asked, "questioned", note=f"{asked.why}; {came}{since}")
    for gone in record.withdrawn:
        verb = "corrected" if gone.corrected else "withdrawn"
        by = f" by {gone.withdrawn_by}" if gone.withdrawn_by else ""
        now = f"; now: {gone.instead}" if gone.instead else ""
        yield _of(gone, verb, note=f"{verb} {gone.withdrawn_at.isoformat()}{by}{now}")


def _clip(entry: Entry, text: str | None) -> str | None:
    clip = entry.heard.clip if entry.heard else None
    made = (f"transcript, not verified, by {t.recogniser}: {t.text}" for t in entry.transcripts)
    return _notes(text, None if clip is None else f"clip {clip}", *made)
