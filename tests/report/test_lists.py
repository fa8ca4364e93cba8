"""Lists for other programs against their JSON Schemas, by a library that knows nothing of ours."""

from __future__ import annotations

import csv
import io
import json
from datetime import datetime
from decimal import Decimal
from typing import Any

import jsonschema
import pytest

from assistant.cli.main import main
from assistant.errors import AssistantError
from assistant.report import layouts, lists
from assistant.report.model import VERSION, Record
from tests.report.overhaul import Overhaul
from tests.report.whole_job import FORMULA, Job

REFRESH = "write them again with: python -m assistant.report.layouts, and raise model.VERSION"


@pytest.fixture(scope="module")
def records(job: Job, overhaul: Overhaul) -> list[Record]:
    return [job.record(), overhaul.record()]


@pytest.mark.parametrize("name", layouts.names())
def test_the_schema_in_the_package_is_that_of_the_models(name: str) -> None:
    assert layouts.read(name) == layouts.made(name), REFRESH
    jsonschema.Draft202012Validator.check_schema(layouts.read(name))


def test_there_is_no_schema_that_nothing_is_laid_out_by() -> None:
    files = {path.stem for path in layouts.FOLDER.glob("*.json")}
    assert files == set(layouts.names())


def _times(value: Any, schema: Any, root: Any) -> list[str]:
    """Return every value whose schema says that it is a time."""
    schema = root["$defs"][schema["$ref"].rsplit("/", 1)[1]] if "$ref" in schema else schema
    if schema.get("format") == "date-time":
        return [value]
    if "anyOf" in schema and value is not None:
        return [
            t
            for one in schema["anyOf"]
            if one.get("type") != "null"
            for t in _times(value, one, root)
        ]
    if isinstance(value, dict):
        inner = schema.get("properties", {})
        return [t for key, item in value.items() for t in _times(item, inner.get(key, {}), root)]
    if isinstance(value, list):
        return [t for item in value for t in _times(item, schema.get("items", {}), root)]
    return []


@pytest.mark.parametrize("name", lists.LISTS)
def test_a_list_is_laid_out_as_its_schema_says(name: str, records: list[Record]) -> None:
    schema = layouts.read(name)
    for record in records:
        made = json.loads(lists.json_text(record, name))
        jsonschema.validate(made, schema)
        assert (made["version"], made["list"]) == (VERSION, name)
        for time in _times(made, schema, schema):
            # ISO 8601 with the offset; the bench's own, so never bare UTC here.
            assert datetime.fromisoformat(time).utcoffset() and time.endswith((":00", "Z"))


def test_the_whole_record_is_laid_out_as_its_schema_says(records: list[Record]) -> None:
    schema = layouts.read("record")
    for record in records:
        made = json.loads(record.model_dump_json())
        jsonschema.validate(made, schema)
        assert len(_times(made, schema, schema)) > 50
        made["summary"]["surprise"] = 1
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(made, schema)


def test_each_line_of_the_log_is_an_event_of_the_schema(
    overhaul: Overhaul, capsys: pytest.CaptureFixture[str]
) -> None:
    check = jsonschema.Draft202012Validator(layouts.read("event"))
    assert main(["log", "1", "--json", "--journal", str(overhaul.path)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) == len(overhaul.events)
    for line in lines:
        check.validate(json.loads(line))
    whole = json.loads(overhaul.events[0].model_dump_json())
    check.validate(whole)
    with pytest.raises(jsonschema.ValidationError):
        check.validate(whole | {"revision": 3})


@pytest.mark.parametrize("name", lists.LISTS)
def test_csv_has_the_cells_of_json(name: str, records: list[Record]) -> None:
    for record in records:
        rows = json.loads(lists.json_text(record, name))["rows"]
        read = list(csv.DictReader(io.StringIO(lists.csv(record, name), newline="")))
        assert len(read) == len(rows)
        for cells, row in zip(read, rows, strict=True):
            assert set(cells) == {"job", *row}
            for key, value in row.items():
                if isinstance(value, bool):
                    assert cells[key] == str(value).lower()
                elif value is None:
                    assert cells[key] == ""
                else:
                    assert cells[key].lstrip("'") == " ".join(str(value).split())


def test_every_thing_recorded_is_in_its_list(overhaul: Overhaul) -> None:
    record, events = overhaul.record(), overhaul.events
    for name, kind in (
        ("torques", "torque recorded"),
        ("readings", "reading recorded"),
        ("bags", "bag recorded"),
        ("orders", "part ordered"),
        ("hazards", "hazards heard"),
    ):
        rows = json.loads(lists.json_text(record, name))["rows"]
        kept = [e.at.isoformat() for e in events if e.kind == kind]
        withdrawn = [e for e in events if e.kind == "withdrawn"]
        assert 0 <= len(kept) - len(rows) <= len(withdrawn)
        assert {row["at"] for row in rows} <= set(kept)


def test_units_have_their_ucum_code_beside_them(overhaul: Overhaul) -> None:
    record = overhaul.record()
    readings = json.loads(lists.json_text(record, "readings"))["rows"]
    codes = {row["unit"]: row["ucum"] for row in readings}
    # From memory, of UCUM: litre, millimetre, degree Celsius, bar.
    assert codes == {"l": "L", "mm": "mm", "°C": "Cel", "bar": "bar"}
    for row in json.loads(lists.json_text(record, "torques"))["rows"]:
        assert (row["unit"], row["ucum"], row["asked_ucum"]) == ("N·m", "N.m", "N.m")
        assert Decimal(row["setting"]) == Decimal(row["asked"])


def test_a_formula_is_kept_from_a_spreadsheet_and_a_number_is_not(job: Job) -> None:
    record = job.record()
    (_, note, _) = csv.DictReader(io.StringIO(lists.csv(record, "notes")))
    assert note["text"] == f"'{FORMULA}"
    low = record.readings[0].model_copy(update={"value": Decimal("-0.05")})
    (row,) = csv.DictReader(
        io.StringIO(lists.csv(record.model_copy(update={"readings": (low,)}), "readings"))
    )
    assert row["value"] == "-0.05"


def test_the_commands(overhaul: Overhaul, capsys: pytest.CaptureFixture[str]) -> None:
    where = ["--journal", str(overhaul.path)]
    assert main(["report", "1", "--list", "findings", "--json", *where]) == 0
    made = json.loads(capsys.readouterr().out)
    assert main(["schema", "findings"]) == 0
    jsonschema.validate(made, json.loads(capsys.readouterr().out))
    (plug,) = made["rows"]  # the loose dowel was taken back
    assert (plug["part"], plug["condition"], plug["disposition"]) == (
        "drain plug",
        "stripped",
        "renew",
    )
    assert main(["schema"]) == 0
    assert "findings" in capsys.readouterr().out
    assert main(["report", "1", "--list", "findings", *where]) == 2
    assert "--list goes with --json or --csv." in capsys.readouterr().err
    assert main(["report", "1", "--list", "nuts", "--csv", *where]) == 2
    assert "it is one of nonconformities, steps, findings" in capsys.readouterr().err
    assert main(["schema", "nuts"]) == 2
    with pytest.raises(AssistantError):
        lists.layout("nuts")
