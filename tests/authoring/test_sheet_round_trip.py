"""A procedure as sheets and back is the same procedure, in XLSX and in ODS."""

from __future__ import annotations

import shutil
import subprocess
import warnings
from pathlib import Path

import pytest

from assistant.authoring import from_layout, imported, imported_yaml, sheet_files, sheets
from assistant.grammar.numbers import cardinal
from assistant.procedure import reading, spreadsheet
from assistant.procedure.model import Procedure
from assistant.procedure.problems import Problem, Severity
from tests.authoring.made_procedures import procedures
from tests.safety.hammering import hammer, in_time, sizes

CHECKED = Problem(3, "=1+1", Severity.WARNING, "trade")


def through(procedure: Procedure, path: Path) -> Procedure:
    """Return a procedure after it was written as a file of sheets, and that as a procedure."""
    path.write_bytes(sheet_files.contents(sheets.laid_out(procedure, [CHECKED]), path.suffix))
    read = imported.settled(from_layout.read(spreadsheet.tables(path), "made"))
    assert read.remarks == []
    return reading.parse(imported_yaml.text(read), path.name, stored=True)


@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
@pytest.mark.parametrize("sample", reading.samples())
def test_the_samples_come_back_as_they_were(sample: str, ending: str, tmp_path: Path) -> None:
    procedure = reading.read(reading.find(sample))
    assert through(procedure, tmp_path / f"steps{ending}") == procedure


@sizes(5, 20)
@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
def test_any_procedure_comes_back_as_it_was(ending: str, examples: int, tmp_path: Path) -> None:
    path = tmp_path / f"steps{ending}"

    def same(procedure: Procedure) -> None:
        assert through(procedure, path) == procedure

    hammer(same, procedures, examples)


@pytest.mark.parametrize("ending", ["xlsx", "ods"])
def test_an_office_program_keeps_it_all(ending: str, tmp_path: Path) -> None:
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        warnings.warn("not run: LibreOffice is not there", stacklevel=1)
        pytest.skip("LibreOffice is not there")
    procedure = reading.read(reading.find("pump-rebuild"))
    path, other = tmp_path / f"steps.{ending}", {"xlsx": "ods", "ods": "xlsx"}[ending]
    path.write_bytes(sheet_files.contents(sheets.laid_out(procedure), path.suffix))
    command = [office, f"-env:UserInstallation=file://{tmp_path}/office", "--headless"]
    command += ["--convert-to", other, "--outdir", str(tmp_path), str(path)]
    subprocess.run(command, check=True, capture_output=True, timeout=300)
    tables = spreadsheet.tables(tmp_path / f"steps.{other}")
    read = imported.settled(from_layout.read(tables, "made"))
    assert read.remarks == []
    assert reading.parse(imported_yaml.text(read), "made") == procedure


@pytest.mark.slow
def test_a_long_procedure_is_soon_through(tmp_path: Path) -> None:
    whole = sheets.tree(reading.read(reading.find("pump-rebuild")))
    steps = [step for stage in whole["stages"] for step in stage["steps"]]
    whole["parts"] = [{"name": f"part {cardinal(number)}"} for number in range(5000)]
    whole["stages"] = [
        {
            "name": f"Stage {stage}",
            "steps": [
                {**steps[number % len(steps)], "id": f"step-{stage}-{number}"}
                for number in range(400)
            ],
        }
        for stage in range(5)
    ]
    procedure = Procedure.model_validate(whole)
    path = tmp_path / "long.xlsx"
    with in_time(60):
        path.write_bytes(sheet_files.contents(sheets.laid_out(procedure), path.suffix))
        read = imported.settled(from_layout.read(spreadsheet.tables(path), "made"))
    assert Procedure.model_validate(read.tree) == procedure
