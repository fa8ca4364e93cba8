"""A procedure as sheets and back is the same procedure, in XLSX and in ODS."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.authoring import from_layout, imported, imported_yaml, sheet_files, sheets
from assistant.procedure import reading, spreadsheet
from assistant.procedure.model import Procedure
from tests.authoring.made_procedures import procedures
from tests.safety.hammering import hammer, sizes


def through(procedure: Procedure, path: Path) -> Procedure:
    """Return a procedure after it was written as a file of sheets, and that as a procedure."""
    path.write_bytes(sheet_files.contents(sheets.laid_out(procedure, ["line 3"]), path.suffix))
    read = imported.settled(from_layout.read(spreadsheet.tables(path), "made"))
    assert read.remarks == []
    return reading.parse(imported_yaml.text(read), path.name, stored=True)


@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
@pytest.mark.parametrize("sample", reading.samples())
def test_the_samples_come_back_as_they_were(sample: str, ending: str, tmp_path: Path) -> None:
    procedure = reading.read(reading.find(sample))
    assert through(procedure, tmp_path / f"steps{ending}") == procedure


@sizes(15, 1500)
@pytest.mark.parametrize("ending", [".xlsx", ".ods"])
def test_any_procedure_comes_back_as_it_was(ending: str, examples: int, tmp_path: Path) -> None:
    path = tmp_path / f"steps{ending}"

    def same(procedure: Procedure) -> None:
        assert through(procedure, path) == procedure

    hammer(same, procedures, examples)
