"""The CSV against the journal, read back by the csv module."""

import csv
import io
from datetime import datetime
from decimal import Decimal

import pytest

from assistant.report import tables
from tests.report.whole_job import FORMULA, HOSTILE, Job

Rows = list[dict[str, str]]


@pytest.fixture(scope="module")
def rows(job: Job) -> Rows:
    return list(csv.DictReader(io.StringIO(tables.csv(job.record()), newline="")))


def _of(rows: Rows, kind: str) -> Rows:
    return [row for row in rows if row["kind"] == kind]


def test_it_has_the_stated_columns_and_stands_in_order_of_time(rows: Rows) -> None:
    assert tuple(rows[0]) == tables.COLUMNS
    assert {row["job"] for row in rows} == {"1"}
    times = [datetime.fromisoformat(row["time"]) for row in rows if row["time"]]
    assert times == sorted(times)
    assert all(time.utcoffset() is not None for time in times)
    assert [row["step"] for row in rows if not row["time"]] == ["key"]


def test_each_kind_of_event_in_effect_has_its_row(job: Job, rows: Rows) -> None:
    for event_kind, row_kind, gone in [
        ("torque recorded", "torque", 0),
        ("reading recorded", "reading", 1),
        ("value worked out", "worked out", 1),
        ("part chosen", "part chosen", 1),
        ("part ordered", "order", 0),
        ("bag recorded", "bag", 0),
        ("finding", "finding", 1),
        ("note", "note", 0),
        ("step done", "step done", 0),
        ("value questioned", "questioned", 0),
    ]:
        assert len(_of(rows, row_kind)) == len(job.of(event_kind)) - gone > 0, row_kind
    assert len(_of(rows, "withdrawn")) + len(_of(rows, "corrected")) == 2


def test_numbers_stay_numbers(rows: Rows) -> None:
    torque = _of(rows, "torque")[1]
    assert (Decimal(torque["value"]), torque["unit"], torque["asked"]) == (
        Decimal(14),
        "N·m",
        "14 N·m",
    )
    assert torque["within"] == "yes" and "40" in torque["note"]
    bore = _of(rows, "reading")[0]
    assert (bore["value"], bore["within"], bore["asked"]) == ("25.10", "no", "24.95–25.05 mm")
    assert [row["count"] for row in _of(rows, "order")] == ["2", "1", "2"]
    finding = _of(rows, "finding")[0]
    assert (finding["confidence"], finding["recogniser"]) == ("0.87", "testear")
    assert "clip 1" in finding["note"]


def test_a_negative_number_is_no_formula(job: Job) -> None:
    built = job.record()
    worked = built.worked_out[0].model_copy(update={"value": Decimal("-5E+1")})
    text = tables.csv(built.model_copy(update={"worked_out": (worked,)}))
    (row,) = _of(list(csv.DictReader(io.StringIO(text, newline=""))), "worked out")
    assert row["value"] == "-50"


def test_text_that_looks_like_a_formula_is_made_text(rows: Rows) -> None:
    notes = [row["what"] for row in _of(rows, "note")]
    assert notes == [HOSTILE, "'" + FORMULA, "spoken note"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", " =", "\x00=", "＝"])
def test_every_way_into_a_formula_is_closed(job: Job, start: str) -> None:
    built = job.record()
    note = built.notes[0].model_copy(update={"text": f"{start}1+1", "by": f"{start}1+1"})
    text = tables.csv(built.model_copy(update={"notes": (note,)}))
    (row,) = _of(list(csv.DictReader(io.StringIO(text, newline=""))), "note")
    assert row["what"].startswith("'") and row["by"].startswith("'")
    for cell in row.values():
        assert not cell.lstrip().startswith(("=", "+", "-", "@", "\t", "\r", "＝"))


def test_units_have_their_code_and_findings_what_is_to_be_done(rows: Rows) -> None:
    (finding,) = _of(rows, "finding")
    assert (finding["severity"], finding["disposition"]) == ("serious", "renew")
    codes = {row["unit"]: row["unit code"] for row in rows if row["unit"]}
    # From memory, of UCUM.
    assert codes == {"mm": "mm", "N·m": "N.m", "°": "deg", "s": "s"}
