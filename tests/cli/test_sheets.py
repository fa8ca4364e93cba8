"""`assistant sheet`, both ways: what comes back from a review, and what is never written over."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from assistant.cli.main import main
from assistant.procedure import reading
from tests.authoring.test_shop_sheet import FIT, HEADINGS, workbook

Out = pytest.CaptureFixture[str]


@pytest.fixture
def review(tmp_path: Path) -> Path:
    """A sample as sheets."""
    path = tmp_path / "review.xlsx"
    assert main(["sheet", "pump-rebuild", "-o", str(path)]) == 0
    return path


def changed(path: Path, sheet: str, row: dict[str, str], heading: str, value: Any) -> None:
    """Change a cell as a reviewer would: in the row that has these texts, below this heading."""
    book = openpyxl.load_workbook(path)
    page = book[sheet]
    columns = {cell.value: cell.column for cell in page[1]}
    (line,) = [
        line
        for line in range(2, page.max_row + 1)
        if all(page.cell(line, columns[key]).value == text for key, text in row.items())
    ]
    page.cell(line, columns[heading]).value = value
    book.save(path)


def back(path: Path, status: int = 0) -> Path:
    out = path.with_suffix(".yaml")
    assert main(["sheet", str(path), "-o", str(out)]) == status
    return out


def test_a_sheet_becomes_a_procedure_that_check_likes(tmp_path: Path, capsys: Out) -> None:
    path = workbook(tmp_path / "steps.xlsx", [HEADINGS, FIT])
    out = tmp_path / "my.yaml"
    assert main(["sheet", str(path), "-o", str(out)]) == 0
    assert capsys.readouterr().out == f"{out}: 1 step.\nNow: assistant check {out}\n"
    assert main(["check", str(out)]) == 0


def test_what_could_not_be_read_is_listed_with_its_cell(tmp_path: Path, capsys: Out) -> None:
    path = workbook(tmp_path / "steps.xlsx", [HEADINGS, [*FIT[:5], "8-10"]])
    out = tmp_path / "my.yaml"
    assert main(["sheet", str(path), "-o", str(out)]) == 1
    told = capsys.readouterr()
    assert told.err.startswith(f"{path}: List 1 F2: Torque (Nm): '8-10' is a range; give one value")
    assert "1 to settle; each is in the file as a comment: TO DO." in told.out
    assert "# TO DO: List 1 F2" in out.read_text(encoding="utf-8")
    assert main(["check", str(out)]) == 0


def test_a_file_is_written_over_only_where_that_was_asked_for(review: Path, capsys: Out) -> None:
    before = review.read_bytes()
    assert main(["sheet", "winch-gearbox", "-o", str(review)]) == 2
    assert review.read_bytes() == before
    assert f"There is a file {review} already." in capsys.readouterr().err
    assert main(["sheet", "winch-gearbox", "-o", str(review), "--force"]) == 0
    assert review.read_bytes() != before


def test_a_source_is_never_lost_where_it_is_faulty(tmp_path: Path) -> None:
    out = tmp_path / "my.yaml"
    out.write_text("kept", encoding="utf-8")
    faulty = tmp_path / "faulty.xlsx"
    faulty.write_bytes(b"PK\x03\x04 nothing")
    assert main(["sheet", str(faulty), "-o", str(out), "--force"]) == 2
    assert out.read_text(encoding="utf-8") == "kept"


@pytest.mark.parametrize(
    ("source", "out"),
    [
        ("steps.xlsx", "steps.ods"),
        ("my.yaml", "other.yaml"),
        ("steps.xlsx", "x"),
        ("a.txt", "b.csv"),
    ],
)
def test_other_pairs_of_files_are_refused(
    source: str, out: str, tmp_path: Path, capsys: Out
) -> None:
    assert main(["sheet", str(tmp_path / source), "-o", str(tmp_path / out)]) == 2
    assert "A sheet (.xlsx, .ods, .csv) or a text (.txt) becomes a procedure" in (
        capsys.readouterr().err
    )


def test_what_a_reviewer_changes_comes_back_and_nothing_else(review: Path) -> None:
    fastener = {"Fastener": "cover screw", "Torque": "22 N·m"}
    changed(review, "Steps", fastener, "Torque", "20Nm")
    changed(review, "Steps", {"Step id": "bend-tab"}, "Task", "Bend the tab up.")
    changed(review, "Readings", {"Name": "run out"}, "Limits most", "0,04 mm")
    changed(review, "Procedure", {"Key": "Revision"}, "Value", 5)
    before, after = reading.read(reading.find("pump-rebuild")), reading.read(back(review))
    assert after.revision == "5"
    assert after.step("bend-tab").say == "Bend the tab up."
    assert str(after.step("fit-shaft").tighten[0].torque) == "20 N·m"
    assert str(after.step("measure-run-out").readings[0].limits.most) == "0.04 mm"
    same = [one.id for one, other in zip(before.steps, after.steps, strict=True) if one != other]
    assert same == ["measure-run-out", "fit-shaft", "bend-tab"]


def test_a_reviewer_adds_a_step_and_a_fastener(review: Path, capsys: Out) -> None:
    book = openpyxl.load_workbook(review)
    page = book["Steps"]
    columns = {cell.value: cell.column for cell in page[1]}
    last = page.max_row
    for line, cells in (
        (last + 1, {"Task": "Wash the pump down.", "Fastener": "cover bolt", "Qty": 2}),
        (last + 2, {"Fastener": "long bolt", "Qty": 4, "Torque": "9 Nm"}),
    ):
        for heading, value in cells.items():
            page.cell(line, columns[heading]).value = value
    book.save(review)
    added = reading.read(back(review, 1)).steps[-1]
    assert (added.id, added.say) == ("wash-pump-down", "Wash the pump down.")
    assert [(one.name, one.count) for one in added.fasteners] == [
        ("cover bolt", 2),
        ("long bolt", 4),
    ]
    # Nobody said what goes on its threads, and nobody guesses it.
    assert added.tighten[0].lubricated == "not stated"
    assert "Threads are: nothing is stated; write dry, oil" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("sheet", "row", "heading", "value", "expected"),
    [
        ("Steps", {"Step id": "fit-shaft"}, "Torque", "8-10 Nm", "8-10 Nm"),
        ("Steps", {"Step id": "bend-tab"}, "Bag", "three", "bag 'three': "),
        ("Readings", {"Name": "run out"}, "Limits most", "0.05", "most '0.05': "),
        ("Readings", {"Name": "run out"}, "Step id", "bend-tap", "there is no step 'bend-tap'"),
        ("Wait", {"Purpose": "drain"}, "Time", "soon", "time 'soon': "),
        ("Procedure", {"Key": "Title"}, "Key", "Titel", "the key 'Titel' is not known"),
    ],
)
def test_what_a_reviewer_gets_wrong_is_told_with_its_cell(
    sheet: str, row: dict[str, str], heading: str, value: str, expected: str,
    review: Path, capsys: Out,
) -> None:  # fmt: skip
    changed(review, sheet, row, heading, value)
    out = back(review, 1)
    (told,) = [line for line in capsys.readouterr().err.splitlines() if expected in line]
    assert told.startswith(f"{review}: {sheet} ")
    assert "# TO DO: " in out.read_text(encoding="utf-8")


def test_csv_has_the_steps_and_says_what_it_leaves_out(tmp_path: Path, capsys: Out) -> None:
    path = tmp_path / "steps.csv"
    assert main(["sheet", "pump-rebuild", "-o", str(path)]) == 0
    told = capsys.readouterr().err
    assert told.startswith("A CSV file has one sheet. Left out: Procedure, Stages, Hazards, Tools,")
    assert "Use .xlsx or .ods to keep all." in told
    before, out = reading.read(reading.find("pump-rebuild")), back(path)
    text = out.read_text(encoding="utf-8")
    for step in before.steps:
        assert f"id: {step.id}\n" in text
    assert "torque: 70 N·m" in text and "locker: {strength: medium" in text


def test_what_check_found_goes_with_it_for_review(tmp_path: Path) -> None:
    source = tmp_path / "my.yaml"
    text = reading.load(reading.find("pump-rebuild")).text
    source.write_text(text.replace("torque: 22 N·m", "torque: 60 N·m"), encoding="utf-8")
    warnings = reading.load(source).warnings
    assert warnings
    path = tmp_path / "review.ods"
    assert main(["sheet", str(source), "-o", str(path)]) == 0
    from assistant.procedure import spreadsheet

    (check,) = [table for table in spreadsheet.tables(path) if table.sheet == "Check"]
    assert [row.cell(0) for row in check.rows[1:]] == [
        f"line {one.removeprefix(f'{source}:')}" for one in warnings
    ]
    again = tmp_path / "again.yaml"
    assert main(["sheet", str(path), "-o", str(again)]) == 0
    assert reading.read(again) == reading.read(source)


def test_no_cell_is_a_formula(tmp_path: Path) -> None:
    source, path = tmp_path / "my.yaml", tmp_path / "review.xlsx"
    text = reading.load(reading.find("pump-rebuild")).text
    source.write_text(text.replace(
        "title: Centrifugal pump rebuild", 'title: "=cmd|x!A1"'), encoding="utf-8")  # fmt: skip
    assert main(["sheet", str(source), "-o", str(path)]) == 0
    cells = [cell for sheet in openpyxl.load_workbook(path) for row in sheet for cell in row]
    assert all(cell.data_type in ("s", "n") for cell in cells)
    assert not any(str(cell.value).startswith("=") for cell in cells)
    assert reading.read(back(path)).title == "=cmd|x!A1"


def test_a_title_above_the_headings_does_no_harm(review: Path) -> None:
    book = openpyxl.load_workbook(review)
    book["Steps"].insert_rows(1, 2)
    book["Steps"]["A1"] = "Reviewed by R. Moss"
    book.save(review)
    assert reading.read(back(review)) == reading.read(reading.find("pump-rebuild"))


def test_a_name_that_is_wrong_stays_where_it_was(review: Path) -> None:
    changed(review, "Steps", {"Step id": "bend-tab"}, "Step id", "Bend Tab")
    text = back(review, 1).read_text(encoding="utf-8")
    assert "- id: Bend Tab\n        say: Bend the tab of the lock washer" in text
