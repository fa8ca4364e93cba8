"""A kit's list as suppliers send it: what is read of it, what is told, and what is refused."""

from __future__ import annotations

import io
import zipfile
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.procedure import kit_list, spreadsheet
from assistant.procedure.kit_list import KitLine
from tests.safety.hammering import hammer, in_time, mangled, sizes

SMALL = """\
Part No,Description,Qty
10-442,"SEAL, OIL 35x52x7",1
10-443,O-Ring Ø20,6
"""
PARTS = (
    KitLine("10-442", "oil seal", "oil seals", 1, "SEAL, OIL 35x52x7", 2),
    KitLine("10-443", "o ring", "o rings", 6, "O-Ring Ø20", 3),
)


def csv(folder: Path, text: str | bytes, name: str = "kit.csv") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def workbook(folder: Path, *sheets: list[list[Any]]) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for number, rows in enumerate(sheets, 1):
        sheet = book.create_sheet(f"List {number}")
        for row in rows:
            sheet.append(row)
    path = folder / "kit.xlsx"
    book.save(path)
    return path


def told(path: Path) -> list[str]:
    return [text.removeprefix(f"{path}:") for text in kit_list.load(path).warnings]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_csv_as_it_is_saved(tmp_path: Path, delimiter: str, encoding: str, end: str) -> None:
    rows = [line.rsplit(",", 1) for line in SMALL.splitlines()]
    rows = [[*head.split(",", 1), count] for head, count in rows]
    text = end.join(delimiter.join(row) for row in rows) + end
    path = csv(tmp_path, text.encode(encoding))
    assert kit_list.read(path) == PARTS
    assert kit_list.load(path).warnings == ()


def test_a_workbook_is_read_as_people_see_it(tmp_path: Path) -> None:
    rows = [
        ["Fennimar Pump Spares"],
        [None, "Delivery", 4471],
        ["Item", "Part number", "Description", "Unit", "Price", "Qty"],
        [1, 10442, "SEAL, OIL 35x52x7", "EA", 12.5, 1],
        [],
        [2, 443.0, "O-Ring Ø20", "EA", 0.8, 6.0],
    ]
    path = workbook(tmp_path, rows)
    book = openpyxl.load_workbook(path)
    book.active["B6"].number_format = "000000"
    book.save(path)
    assert kit_list.read(path) == (
        KitLine("10442", "oil seal", "oil seals", 1, "SEAL, OIL 35x52x7", 4),
        KitLine("000443", "o ring", "o rings", 6, "O-Ring Ø20", 6),
    )


def test_hidden_rows_columns_and_sheets_are_left_out_and_told(tmp_path: Path) -> None:
    rows: list[list[Any]] = [
        ["Number", "Name", "Count", "Qty delivered"],
        ["1", "seal", 2, 9],
        ["2", "old seal", 2, 9],
        ["3", "gasket", 1, 9],
        ["4", "old gasket", 1, 9],
    ]
    path = workbook(tmp_path, [["Prices"]], rows, rows, rows)
    book = openpyxl.load_workbook(path)
    book.worksheets[1].row_dimensions[3].hidden = True
    book.worksheets[1].row_dimensions[5].hidden = True
    book.worksheets[1].column_dimensions["D"].hidden = True
    book.worksheets[2].sheet_state = "hidden"
    book.save(path)
    assert [(one.name, one.count) for one in kit_list.read(path)] == [("seal", 2), ("gasket", 1)]
    assert told(path) == [
        "1: warning: only the sheet 'List 2' is read; 'List 4' has a list too.",
        "3: warning: 2 hidden rows are left out, from here on.",
    ]


@pytest.mark.parametrize(
    ("header", "row"),
    [
        ("part #;name;qty.", "A1;seal;2"),
        ("Part-No.;Item description;QUANTITY", "A1;seal;2"),
        ("Item;Description;Count", "A1;seal;2"),
        ("Pos;Artikel-Nr.;Bezeichnung;Menge", "10;A1;seal;2"),
        ("Description;Qty ordered;Qty shipped;SKU", "seal;4;2;A1"),
        ("No.;Designation;No off;Unit price", "A1;seal;2;0,40"),
        ("Référence;Désignation;Qté;Article", "x;seal;2;A1"),
        ("number, name, count", "A1, seal, 2"),
    ],
)
def test_columns_are_found_by_their_names(tmp_path: Path, header: str, row: str) -> None:
    found = kit_list.read(csv(tmp_path, f"{header}\n{row}\n"))
    assert found == (KitLine("A1", "seal", "seals", 2, "seal", 2),)


@pytest.mark.parametrize(("header", "row"), [("Item,Qty", "seal,2"), ("Part,Pcs", "seal,2 pcs")])
def test_a_list_without_numbers_has_none(tmp_path: Path, header: str, row: str) -> None:
    found = kit_list.read(csv(tmp_path, f"{header}\n{row}\n"))
    assert found == (KitLine(None, "seal", "seals", 2, "seal", 2),)


@pytest.mark.parametrize(
    ("written", "count"),
    [
        ("4", 4), ("4.0", 4), ('"4,00"', 4), ("x4", 4), ("4 off", 4), ("4 EA", 4), ("4pcs.", 4),
        ("0", 0), ("0.0", 0), ("004", 4), ('"2,000"', 2), ("999", 999),
    ],
)  # fmt: skip
def test_counts_as_they_are_written(tmp_path: Path, written: str, count: int) -> None:
    (found,) = kit_list.read(csv(tmp_path, f"No,Name,Qty\n1,seal,{written}\n"))
    assert found.count == count


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("", "a count is missing; write how many there are, 0 for none"),
        ("1.5", "expected whole pieces, not '1.5'; write 1 for one length"),
        ("0.75 l", "expected how many pieces, such as 4, not '0.75 l'"),
        ("two", "not 'two'"),
        ("-1", "expected 0 to 999 pieces"),
        ("1000", "expected 0 to 999 pieces"),
        ('"1,500"', "expected whole pieces"),
        ("1.2.3", "expected how many pieces"),
        ("9" * 5000, "expected how many pieces"),
    ],
)
def test_counts_that_are_none(tmp_path: Path, written: str, expected: str) -> None:
    path = csv(tmp_path, f"No,Name,Qty\n1,seal,1\n\n2,cover,{written}\n")
    with pytest.raises(AssistantError) as error:
        kit_list.read(path)
    assert str(error.value).startswith(f"{path}:4: Qty (column 3): ")
    assert expected in str(error.value)


def test_all_faults_are_told_together(tmp_path: Path) -> None:
    path = csv(tmp_path, "No,Name,Qty\n1,seal,x\n2,cover,1\n3,plug,\n")
    with pytest.raises(AssistantError) as error:
        kit_list.read(path)
    lines = str(error.value).splitlines()
    assert [line.removeprefix(f"{path}:").split(":")[0] for line in lines] == ["2", "4"]


def test_headings_totals_and_headers_again_are_no_parts(tmp_path: Path) -> None:
    text = (
        "sep=;\nFennimar;;\n;;\nNo;Name;Qty\n;SEALS;\n1;oil seal;2\n;Subtotal;2\n"
        "No;Name;Qty\n2;gasket;1\n;;3\n;Total pieces:;3\nTotal;;3\n;;\n"
    )
    path = csv(tmp_path, text)
    assert [(p.name, p.count, p.line) for p in kit_list.read(path)] == [
        ("oil seal", 2, 6),
        ("gasket", 1, 9),
    ]
    assert told(path) == [
        "5: warning: 'SEALS' has no number and no count, so it is left out.",
        "10: warning: the count '3' has no part, so it is left out.",
    ]


def test_lines_of_one_part_are_added_up_and_told(tmp_path: Path) -> None:
    text = "No,Name,Qty\nA 1,Oil seal 20,2\nB,Cover,1\na1,'SEAL, OIL' 20,3\n"
    path = csv(tmp_path, text.replace("'", '"'))
    assert kit_list.read(path) == (
        KitLine("A 1", "oil seal", "oil seals", 5, "Oil seal 20 / SEAL, OIL 20", 2),
        KitLine("B", "cover", "covers", 1, "Cover", 3),
    )
    assert told(path) == ["4: warning: added to line 2, which is the same part."]


def test_one_number_for_two_sizes_stays_two_parts(tmp_path: Path) -> None:
    path = csv(tmp_path, "No,Name,Qty\nA1,O-ring 20,2\nA1,O-ring 30,3\nn/a,plug,1\nn/a,nut,1\n")
    found = kit_list.read(path)
    assert [(p.number, p.name, p.count) for p in found] == [
        ("A1", "small o ring", 2),
        ("A1", "large o ring", 3),
        (None, "plug", 1),
        (None, "nut", 1),
    ]
    assert told(path) == [
        "2: warning: 'O-ring 20' is called 'small o ring'.",
        "3: warning: 'O-ring 30' is called 'large o ring'.",
        "3: warning: line 2 has the number 'A1' too.",
    ]


def test_no_line_is_lost_where_names_are_alike(tmp_path: Path) -> None:
    text = "No,Name,Qty\n1,Gasket,1\n2,Gasket,2\n3,,3\n,Gasket,4\n,gasket,1\n4,12345,6\n"
    found = kit_list.read(csv(tmp_path, text))
    assert [(p.name, p.number, p.count, p.description) for p in found] == [
        ("gasket number one", "1", 1, "Gasket"),
        ("gasket number two", "2", 2, "Gasket"),
        ("item number three", "3", 3, "3"),
        ("gasket number three", None, 5, "Gasket"),
        ("item number five", "4", 6, "12345"),
    ]


def test_too_many_of_one_part_together(tmp_path: Path) -> None:
    path = csv(tmp_path, "No,Name,Qty\n1,nut,600\n1,nut,600\n")
    with pytest.raises(AssistantError, match=r"kit\.csv:3: with line 2, more than 999 pieces\."):
        kit_list.read(path)


def test_a_line_that_goes_on_is_named_by_its_first(tmp_path: Path) -> None:
    path = csv(tmp_path, 'No,Name,Qty\n1,"seal\nfor the shaft",1\n2,plug,1\n')
    assert [(p.name, p.line) for p in kit_list.read(path)] == [("shaft seal", 2), ("plug", 4)]


@pytest.mark.parametrize(
    ("text", "line", "expected"),
    [
        ("", 1, "no line names the columns"),
        ("1,seal,2\n2,cover,1\n", 1, "Put one above the parts, such as number, name, count."),
        ("\nNo,Name,Colour\n1,seal,red\n", 2, "there is no column for the counts"),
        ("Part no,Qty\n1,2\n", 1, "there is no column for the names"),
        ("\n\nNo,Name,Qty\n\n", 3, "there are no parts below this line"),
        ("No,Name,Qty\n" + "1" * 61 + ",seal,1\n", 2, "longer than 60 characters"),
        ("No,Name" + "," * 200 + "Qty\n1,seal" + "," * 200 + "1\n", 1, "no column for the counts"),
        ("No,Name,Qty\n1," + "x" * 200_000 + ",1\n", 2, "cannot be read as CSV"),
        ("No,Name,Qty\n" + "1,seal,1\n" * 6000, 5001, "more than 5000 rows"),
        (b"No,Name,Qty\n1,\x81\x8d,1\n", 2, "neither UTF-8 nor Windows-1252"),
    ],
)
def test_errors_name_file_and_line(
    tmp_path: Path, text: str | bytes, line: int, expected: str
) -> None:
    path = csv(tmp_path, text)
    with in_time(), pytest.raises(AssistantError) as error:
        kit_list.read(path)
    assert str(error.value).startswith(f"{path}:{line}: ")
    assert expected in str(error.value)


def test_cells_that_a_workbook_got_wrong(tmp_path: Path) -> None:
    rows = [
        ["No", "Name", "Qty", "Date"],
        [date(2031, 3, 1), "seal", 1, date(2031, 3, 1)],
        ["2", "#N/A", 1],
        ["3", "plug", "#REF!"],
        ["4", "nut", "=1+1"],
    ]
    path = workbook(tmp_path, rows)
    with pytest.raises(AssistantError) as error:
        kit_list.read(path)
    assert str(error.value).splitlines() == [
        f"{path}:2: No (column A): holds a date or time; format the column as text and enter it "
        "again.",
        f"{path}:3: Name (column B): holds the error #N/A.",
        f"{path}:4: Qty (column C): holds the error #REF!.",
        # A formula whose value was never saved.
        f"{path}:5: Qty (column C): holds a formula whose value was never saved; open the file, "
        "save it, and try again.",
    ]


def test_files_that_are_none(tmp_path: Path) -> None:
    for name, data, expected in [
        ("a.xls", b"\xd0\xcf\x11\xe0" + bytes(600), "Save it as .xlsx or .csv"),
        ("a.xlsx", b"PK\x03\x04 nothing", "cannot be read as a workbook"),
        ("a.csv", b"No,Name\0,Qty\n", "not text"),
    ]:
        with pytest.raises(AssistantError, match=expected):
            kit_list.read(csv(tmp_path, data, name))
    with pytest.raises(AssistantError, match="cannot read this list: No such file"):
        kit_list.read(tmp_path / "none.csv")
    with pytest.raises(AssistantError, match="cannot read this list"):
        kit_list.read(tmp_path)
    with pytest.raises(AssistantError, match="cannot read this list"):
        kit_list.read(Path("a\0b"))
    large = tmp_path / "large.csv"
    with large.open("wb") as file:
        file.truncate(10**12)
    with pytest.raises(AssistantError, match="larger than a list can be"):
        kit_list.read(large)


def test_a_workbook_that_unpacks_without_end(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/workbook.xml", bytes(150_000_000))
    path = csv(tmp_path, packed.getvalue(), "a.xlsx")
    assert path.stat().st_size < spreadsheet.MOST_BYTES
    with in_time(), pytest.raises(AssistantError, match="larger than a workbook can be"):
        kit_list.read(path)


def test_a_cell_in_the_last_corner_costs_nothing(tmp_path: Path) -> None:
    path = workbook(tmp_path, [["No", "Name", "Qty"], [1, "seal", 2]])
    book = openpyxl.load_workbook(path)
    book.active.cell(1_048_576, 16_384, "x")
    book.save(path)
    with in_time():
        assert [one.name for one in kit_list.read(path)] == ["seal"]


@sizes(60, 3000)
def test_any_text(examples: int, tmp_path: Path) -> None:
    path = tmp_path / "kit.csv"

    def read(text: str) -> None:
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        for one in kit_list.read(path):
            assert one.name and one.description and 0 <= one.count <= 999

    tokens = (",", ";", "\t", '"', "Qty", "Name", "No", "O-ring 20", "1.5", "\r", "\ufeff", "\0")
    hammer(read, mangled([SMALL, SMALL.replace(",", ";")], tokens), examples)


@sizes(40, 2000)
def test_any_workbook(examples: int, tmp_path: Path) -> None:
    path = workbook(tmp_path, [["No", "Name", "Qty"], ["1", "seal", 1], ["2", "plug", 2]])
    whole = path.read_bytes()

    def read(edit: tuple[int, bytes]) -> None:
        at, put_in = edit
        path.write_bytes(whole[:at] + put_in + whole[at + len(put_in) :])
        kit_list.read(path)

    hammer(read, st.tuples(st.integers(0, len(whole)), st.binary(max_size=20)), examples)
