"""Sheets that other programs wrote: odfpy, openpyxl, and LibreOffice where it is there."""

from __future__ import annotations

import shutil
import subprocess
import warnings
import zipfile
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from odf import opendocument, style, table, text

from assistant.errors import AssistantError
from assistant.procedure import kit_list, spreadsheet
from assistant.procedure.table import DATE, NOT_WORKED_OUT
from tests.safety.hammering import in_time


def written_by_odfpy(path: Path) -> None:
    """Write a sheet with what is awkward in one, as OpenDocument 1.3 has it."""
    book = opendocument.OpenDocumentSpreadsheet()
    not_shown = style.Style(name="hidden", family="table")
    not_shown.addElement(style.TableProperties(display="false"))
    book.automaticstyles.addElement(not_shown)
    sheet = table.Table(name="Steps")
    sheet.addElement(table.TableColumn(numbercolumnsrepeated=3))
    sheet.addElement(table.TableColumn(visibility="collapse"))

    def row(*cells: Any, **attributes: Any) -> None:
        line = table.TableRow(**attributes)
        for cell in cells:
            line.addElement(cell)
        sheet.addElement(line)

    def said(*lines: str, **attributes: Any) -> table.TableCell:
        cell = table.TableCell(valuetype="string", **attributes)
        for one in lines:
            cell.addElement(text.P(text=one))
        return cell

    def number(value: str, shown: str, **attributes: Any) -> table.TableCell:
        cell = table.TableCell(valuetype="float", value=value, **attributes)
        cell.addElement(text.P(text=shown))
        return cell

    row(said("Step"), said("Task"), said("Torque"), said("Price"))
    row(number("7", "0007"), said("Take off", "the cover"), number("25.50", "25,5"), said("9"))
    row(numberrowsrepeated=1000)
    dated = table.TableCell(valuetype="date", datevalue="2031-03-04")
    dated.addElement(text.P(text="3-4"))
    row(dated, table.TableCell(formula="of:=1+1"), said("Err:502 #N/A"), said("x"))
    row(said("down", numberrowsspanned=2), said("twice", numbercolumnsrepeated=2))
    row(table.CoveredTableCell(), said("#N/A"))
    row(said("not shown"), visibility="collapse")
    row(table.TableCell(numbercolumnsrepeated=16384), numberrowsrepeated=1_047_000)
    book.spreadsheet.addElement(sheet)
    book.spreadsheet.addElement(table.Table(name="Old", stylename=not_shown))
    book.save(str(path))


def test_a_sheet_that_another_library_wrote(tmp_path: Path) -> None:
    path = tmp_path / "steps.ods"
    written_by_odfpy(path)
    with in_time():
        book = spreadsheet.book(path)
    (steps,) = book.tables
    assert book.hidden == ("Old",)
    assert [(row.line, row.cells) for row in steps.rows] == [
        (1, ("Step", "Task", "Torque")),
        (2, ("0007", "Take off the cover", "25.5")),
        (1003, ("3-4", "", "Err:502 #N/A")),
        (1004, ("down", "twice", "twice")),
        (1005, ("", "#N/A")),
    ]
    assert steps.rows[1].text(1) == "Take off\nthe cover"
    assert steps.rows[2].faults == {0: DATE, 1: NOT_WORKED_OUT}
    assert steps.rows[4].faults == {1: "holds the error #N/A"}
    assert steps.rows[4].shared == {0: "down"}
    assert steps.hidden == (1006,) and steps.hidden_columns == (3,)
    assert steps.place(steps.rows[2], 1) == "Steps B1003"


def awkward(path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Steps"
    for row in (
        ["Step", "Task", "Torque", "No", "Seen by", "Price"],
        [1, "Take off\nthe  cover", 25.5, 7, "", 9],
        [2, "=1+1", 6, 8, "", 9],
        ["x", "y"],
        ["3-4", 8.8, 0.1 + 0.2, date(2031, 3, 4), True],
    ):
        sheet.append(row)
    sheet["C2"].number_format = '0.0" Nm"'
    sheet["D2"].number_format = "0000"
    sheet.merge_cells("C3:C4")
    sheet.column_dimensions["F"].hidden = True
    book.create_sheet("Old").sheet_state = "hidden"
    book.save(path)


def test_a_workbook_is_read_as_people_see_it(tmp_path: Path) -> None:
    path = tmp_path / "steps.xlsx"
    awkward(path)
    book = spreadsheet.book(path)
    (steps,) = book.tables
    assert book.hidden == ("Old",) and steps.hidden_columns == (5,)
    assert [row.cells for row in steps.rows[1:]] == [
        ("1", "Take off the cover", "25.5 Nm", "0007"),
        ("2", "", "6", "8"),
        ("x", "y"),
        ("3-4", "8.8", "0.3", "2031-03-04 00:00:00", "true"),
    ]
    assert steps.rows[2].faults == {1: NOT_WORKED_OUT}
    assert steps.rows[3].shared == {2: "6"}
    assert steps.rows[4].faults == {3: DATE}


def test_the_same_saved_by_an_office_program(tmp_path: Path) -> None:
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        warnings.warn("not run: LibreOffice is not there", stacklevel=1)
        pytest.skip("LibreOffice is not there")
    path = tmp_path / "steps.xlsx"
    awkward(path)
    for ending, again in (("ods", path), ("xlsx", tmp_path / "ods" / "steps.ods")):
        command = [office, f"-env:UserInstallation=file://{tmp_path}/office", "--headless"]
        command += ["--convert-to", ending, "--outdir", str(tmp_path / ending), str(again)]
        subprocess.run(command, check=True, capture_output=True, timeout=300)
        book = spreadsheet.book(tmp_path / ending / f"steps.{ending}")
        (steps,) = book.tables
        assert book.hidden == ("Old",) and steps.hidden_columns == (5,)
        assert [row.cells[:3] for row in steps.rows[1:]] == [
            ("1", "Take off the cover", "25.5 Nm"),
            ("2", "2", "6"),  # the formula's value is saved now
            ("x", "y"),
            ("3-4", "8.8", "0.3"),
        ]
        assert steps.rows[3].shared == {2: "6"} and steps.rows[4].faults == {3: DATE}


def test_a_kit_can_come_as_ods_too(tmp_path: Path) -> None:
    book = opendocument.OpenDocumentSpreadsheet()
    sheet = table.Table(name="Kit")
    for cells in (("Part no", "Description", "Qty"), ("A-1", "SEAL, OIL 35x52x7", "2")):
        row = table.TableRow()
        for said in cells:
            cell = table.TableCell(valuetype="string")
            cell.addElement(text.P(text=said))
            row.addElement(cell)
        sheet.addElement(row)
    book.spreadsheet.addElement(sheet)
    path = tmp_path / "kit.ods"
    book.save(str(path))
    assert [(one.number, one.name, one.count) for one in kit_list.read(path)] == [
        ("A-1", "oil seal", 2)
    ]


def test_a_damaged_sheet_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "steps.ods"
    written_by_odfpy(path)
    whole = path.read_bytes()
    for at in range(100, len(whole), len(whole) // 25):
        path.write_bytes(whole[:at] + b"\0\xff\0" + whole[at + 3 :])
        with in_time():
            try:
                spreadsheet.book(path)
            except AssistantError as error:
                assert str(error).startswith(f"{path}: ")


def test_a_sheet_of_entities_that_multiply_is_refused(tmp_path: Path) -> None:
    path, bomb = tmp_path / "steps.ods", tmp_path / "bomb.ods"
    written_by_odfpy(path)
    entities = '<!ENTITY a "' + "x" * 1000 + '">' + "".join(
        f'<!ENTITY {name} "{f"&{before};" * 50}">' for before, name in pairwise("abcdef")
    )  # fmt: skip
    with zipfile.ZipFile(path) as whole, zipfile.ZipFile(bomb, "w") as new:
        for part in whole.namelist():
            data = whole.read(part)
            if part == "content.xml":
                begins = data.index(b"<office:document-content")
                data = b"<!DOCTYPE x [" + entities.encode() + b"]>" + data[begins:]
                data = data.replace(b"the cover", b"&f;")
            new.writestr(part, data)
    with in_time():
        try:
            book = spreadsheet.book(bomb)
        except AssistantError as error:
            assert str(error).startswith(f"{bomb}: cannot be read as a workbook")
        else:
            assert all(len(cell) < 40_000 for row in book.tables[0].rows for cell in row.cells)
