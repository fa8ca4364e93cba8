"""A shop's own sheet of steps: what becomes of it, what is told, and what is never guessed."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from assistant import plain_yaml
from assistant.authoring import importing
from assistant.errors import AssistantError
from assistant.procedure import reading
from assistant.procedure.model import Procedure
from tests.safety.hammering import hammer, in_time, mangled, sizes

Rows = list[list[Any]]

HEADINGS = ["Step", "Task", "Fastener", "Qty", "Size", "Torque (Nm)", "Thread-locker"]
FIT = [1, "Fit the cover.", "cover bolts", 4, "M8x30 8.8", 22, "medium"]


def workbook(path: Path, *sheets: Rows) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for number, rows in enumerate(sheets, 1):
        sheet = book.create_sheet(f"List {number}")
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


class Made:
    """What was made of a file."""

    def __init__(self, path: Path) -> None:
        written = importing.procedure_from(path)
        self.text = written.contents.decode()
        self.told = [one.removeprefix(f"{path}: ") for one in written.told]
        self.left_to_do = written.left_to_do
        self.path = path.with_suffix(".yaml")
        self.path.write_bytes(written.contents)

    @property
    def procedure(self) -> Procedure:
        """The procedure, checked."""
        return reading.read(self.path)


def made(folder: Path, *sheets: Rows) -> Made:
    return Made(workbook(folder / "steps.xlsx", *sheets))


def test_a_row_is_a_step_and_a_row_without_a_task_is_one_more_fastener(tmp_path: Path) -> None:
    long = [None, None, "long bolts", 2, "M8x50", 24, None]
    found = made(tmp_path, [HEADINGS, FIT, long, [2, "Wipe it clean."]])
    first, second = found.procedure.steps
    assert (first.say, second.say) == ("Fit the cover.", "Wipe it clean.")
    assert [(f.name, f.count, f.thread, str(f.length), f.grade) for f in first.fasteners] == [
        ("cover bolt", 4, "M8", "30 mm", "8.8"),
        ("long bolt", 2, "M8", "50 mm", None),
    ]
    assert [(t.fastener, str(t.torque), t.lubricated) for t in first.tighten] == [
        ("cover bolt", "22 N·m", "thread-locker"),
        ("long bolt", "24 N·m", "not stated"),
    ]
    assert first.tighten[0].locker is not None and first.tighten[0].locker.strength == "medium"
    assert found.told == [] and found.left_to_do == 0
    # Nobody has approved it, and it says so.
    assert found.procedure.draft and found.text.startswith("# DRAFT, written from steps.xlsx.")


@pytest.mark.parametrize(
    ("headings", "row"),
    [
        (["#", "Operation", "Bolt", "No off", "Thread", "ft-lb"],
         [10, "Fit it", "cap bolt", 2, "M8", 18]),
        (["Op. No.", "Work instruction", "Fixing", "Quantity", "Bolt size", "Tightening torque"],
         ["10", "Fit it", "cap bolt", "2 off", "M8", "18 ft-lb"]),
        (["Torque in ft-lb", "QTY.", "Fastener(s)", "Thread size", "TASK", "Item"],
         ["18", "2", "Cap bolt", "M8", "Fit it", 1]),
        (["Step", "Screws", "Qty", "Size", "Torque [lbf.ft]"],
         ["Fit it", "cap bolts", 2, "M8", 18.0]),
        (["Description", "Hardware", "Qty", "Torque/ft-lb", "Size"],
         ["Fit it", "cap bolts", 2, 18, "M8"]),
    ],
)  # fmt: skip
def test_columns_are_found_by_the_words_that_people_use(
    headings: list[Any], row: list[Any], tmp_path: Path
) -> None:
    (step,) = made(tmp_path, [headings, row]).procedure.steps
    assert step.say == "Fit it"
    assert [(f.name, f.count, f.thread) for f in step.fasteners] == [("cap bolt", 2, "M8")]
    assert [str(t.torque) for t in step.tighten] == ["18 lbf·ft"]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_csv_as_it_is_saved(delimiter: str, encoding: str, tmp_path: Path) -> None:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows([HEADINGS, [*FIT[:5], "22 N·m", "medium"]])
    path = tmp_path / "steps.csv"
    path.write_bytes(out.getvalue().encode(encoding))
    (step,) = Made(path).procedure.steps
    assert str(step.tighten[0].torque) == "22 N·m"


# What is ambiguous is told with its cell, stands in the file, and is no value


@pytest.mark.parametrize(
    ("torque", "expected"),
    [
        ("8-10 Nm", "F2: Torque (Nm): '8-10 Nm' is a range; give one value, and how far it may be "
         "off as a tolerance."),
        ("1,200", "F2: Torque (Nm): '1,200' may be 1.200 or 1200; write it with a decimal point, "
         "or without the comma."),
        ("hand tight", "F2: Torque (Nm): 'hand tight' is not a number with a unit, such as "
         "25 N·m."),
        (date(2031, 3, 4), "F2: Torque (Nm): holds a date or time; format the column as text and "
         "enter it again."),
        ("=3*4", "F2: Torque (Nm): holds a formula whose value was never saved; open the file, "
         "save it, and try again."),
        ("#REF!", "F2: Torque (Nm): holds the error #REF!."),
    ],
)  # fmt: skip
def test_a_torque_that_cannot_be_read(torque: Any, expected: str, tmp_path: Path) -> None:
    found = made(tmp_path, [HEADINGS, [*FIT[:5], torque]])
    assert found.told == [f"List 1 {expected}"]
    assert found.left_to_do == 1
    (step,) = found.procedure.steps
    assert step.fasteners and not step.tighten
    comments = " ".join(line.strip(" #") for line in found.text.splitlines() if "#" in line)
    assert f"TO DO: List 1 {expected[:-1]}" in " ".join(comments.split())


def test_a_decimal_comma_is_taken_and_told(tmp_path: Path) -> None:
    found = made(tmp_path, [HEADINGS, [*FIT[:5], "8,5"]])
    assert str(found.procedure.steps[0].tighten[0].torque) == "8.5 N·m"
    assert found.told == ["List 1 F2: Torque (Nm): the decimal comma in '8,5' is taken as 8.5."]
    assert found.left_to_do == 0 and "# List 1 F2" in found.text


def test_numbers_stored_as_text_empty_rows_and_headings_again(tmp_path: Path) -> None:
    again = ["1", "Fit the cover.", "cover bolts", "4", "M8x30 8.8", " 22 ", "medium"]
    rows: Rows = [["Harbour shop"], [], HEADINGS, [], again, [], HEADINGS, ["2", "Wipe it."], []]
    found = made(tmp_path, rows)
    assert [step.say for step in found.procedure.steps] == ["Fit the cover.", "Wipe it."]
    assert found.procedure.steps[0].fasteners[0].count == 4
    assert found.told == ["List 1 A1: above the steps: Harbour shop."]


def test_a_second_row_of_headings(tmp_path: Path) -> None:
    rows: Rows = [
        ["Step", "Task", "Fastener", None, None, "Torque"],
        [None, None, "Fastener", "Qty", "Size", "Torque (Nm)"],
        [1, "Fit the cover.", "cover bolts", 4, "M8", 22],
    ]
    assert str(made(tmp_path, rows).procedure.steps[0].tighten[0].torque) == "22 N·m"
    rows = [["Step", "Task", "Fastener", "Qty", "Torque"], [None, None, None, None, "(ft-lb)"],
            [1, "Fit the cover.", "cover bolts", 4, 22]]  # fmt: skip
    assert str(made(tmp_path, rows).procedure.steps[0].tighten[0].torque) == "22 lbf·ft"


def test_a_merged_cell_counts_for_each_of_its_rows(tmp_path: Path) -> None:
    path = workbook(tmp_path / "steps.xlsx", [
        HEADINGS, [*FIT[:6]], [None, None, "long bolts", 2, "M8x50"], [2, "Wipe it."],
    ])  # fmt: skip
    book = openpyxl.load_workbook(path)
    for area in ("A2:A3", "B2:B3", "F2:F3"):
        book.active.merge_cells(area)
    book.save(path)
    first, _ = Made(path).procedure.steps
    assert [str(t.torque) for t in first.tighten] == ["22 N·m", "22 N·m"]


def test_hidden_rows_columns_and_sheets_are_told(tmp_path: Path) -> None:
    steps = [HEADINGS, FIT, [2, "Old step."], [3, "Wipe it."]]
    path = workbook(tmp_path / "steps.xlsx", steps, [["x"]], [["y"]])
    book = openpyxl.load_workbook(path)
    book.worksheets[0].row_dimensions[3].hidden = True
    book.worksheets[0].column_dimensions["G"].hidden = True
    book.worksheets[1].sheet_state = "hidden"
    book.save(path)
    found = Made(path)
    assert [step.say for step in found.procedure.steps] == ["Fit the cover.", "Wipe it."]
    assert found.told == [
        "the sheet 'List 3' has no headings of steps, so it is left out.",
        "List 1: 1 hidden row is left out, from 3 on.",
        "List 1: 1 hidden column is left out, from column G on.",
        "the sheet 'List 2' is hidden, so it is left out.",
    ]


def test_nothing_is_left_out_in_silence(tmp_path: Path) -> None:
    headings = [*HEADINGS, "Seen by", "Remarks"]
    found = made(tmp_path, [headings, [*FIT, "R. Moss", "Mark it"], [None] * 7 + ["later"]])
    assert found.procedure.steps[0].detail == "Mark it"
    assert "# Seen by: R. Moss" in found.text and "# Seen by: later" in found.text
    assert found.told == [
        "List 1 H1: the column 'Seen by' is not known; what it holds stands in comments."
    ]


def test_stages_are_headings_of_their_own_a_column_or_a_sheet_each(tmp_path: Path) -> None:
    down, up = [1, "Take off the cover."], [2, "Fit the cover."]
    caution = ["Step", "Task", "Caution"]
    for sheets in (
        [[caution, ["STRIP-DOWN"], down, ["BUILD-UP"], up]],
        [[[*caution, "Stage"], [*down, None, "Strip-down"], [*up, None, "Build-up"]]],
    ):
        stages = made(tmp_path, *sheets).procedure.stages
        assert [(stage.name, len(stage.steps)) for stage in stages] == [
            ("Strip-down", 1),
            ("Build-up", 1),
        ]
    stages = made(tmp_path, [caution, down], [caution, up]).procedure.stages
    assert [stage.name for stage in stages] == ["List 1", "List 2"]


def test_parts_bags_hazards_tools_and_readings(tmp_path: Path) -> None:
    headings = ["Step", "Task", "Part", "Part No.", "New", "Bag", "Caution", "Tools", "Measure",
                "Limits (mm)", "Cure time"]  # fmt: skip
    found = made(tmp_path, [
        ["Title:", "Bilge pump"], ["Machine", "belt driven pump"], headings,
        [1, "Take off the cover.", "cover", "P-1", None, "Bag 3",
         "DANGER: It can start.\nSharp edges", "puller; 13 mm socket"],
        [None, None, "2 x O-ring", None, "x"],
        [2, "Fit the cover.", "cover", None, None, 3],
        [3, "Measure the play.", None, None, None, None, None, None, "end play", "0.05 max"],
        [4, "Let it cure.", None, None, None, None, None, None, None, None, "24 h"],
    ])  # fmt: skip
    procedure = found.procedure
    assert (procedure.title, procedure.equipment.kind) == ("Bilge pump", "belt driven pump")
    off, on, measured, cure = procedure.steps
    assert [(one.part, one.count, one.discard) for one in off.remove] == [
        ("cover", 1, False),
        ("o ring", 2, True),
    ]
    assert (off.bag, on.from_bag, [one.part for one in on.fit]) == (3, 3, ["cover"])
    assert [(h.signal.value, h.say) for h in off.hazards] == [
        ("danger", "It can start."),
        ("caution", "Sharp edges"),
    ]
    assert off.tools == ("puller", "13 mm socket")
    (reading_,) = measured.readings
    assert (reading_.name, reading_.unit, str(reading_.limits.most)) == (
        "end play", "mm", "0.05 mm")  # fmt: skip
    assert cure.wait is not None and (cure.wait.purpose, str(cure.wait.time)) == ("cure", "24 h")
    assert [(part.name, part.number, part.count) for part in procedure.parts] == [
        ("cover", "P-1", 1),
        ("o ring", None, 2),
    ]
    assert found.left_to_do == 0


def test_a_torque_of_nobody_knows_which_fastener_is_in_no_key(tmp_path: Path) -> None:
    rows: Rows = [
        ["Step", "Task", "Torque"],
        [1, "Fit the drain plug and the cover bolts.", "9 Nm"],
    ]
    found = made(tmp_path, rows)
    assert found.told == ["List 1 C2: '9 Nm': of which fastener? Name it, and add it to the step."]
    assert not found.procedure.steps[0].tighten
    # One fastener alone in the task is the one.
    found = made(tmp_path, [rows[0], [1, "Tighten the four cover bolts.", "9 Nm"]])
    (fastener,) = found.procedure.steps[0].fasteners
    assert (fastener.name, fastener.count) == ("cover bolt", 4)


def test_how_many_is_not_guessed(tmp_path: Path) -> None:
    found = made(tmp_path, [HEADINGS, [1, "Fit it.", "cover bolts", None, "M8", 22]])
    assert found.told == ["List 1 C2: cover bolt: 'count' is missing; write it."]
    with pytest.raises(AssistantError, match="the key 'count' is missing here"):
        reading.read(found.path)


def test_two_fasteners_of_one_name_are_told_apart(tmp_path: Path) -> None:
    rows = [HEADINGS, FIT[:6], [None, None, "cover bolts", 2, "M8x50", 24]]
    found = made(tmp_path, rows)
    (step,) = found.procedure.steps
    assert [one.name for one in step.fasteners] == ["short cover bolt", "long cover bolt"]
    assert [(t.fastener, str(t.torque)) for t in step.tighten] == [
        ("short cover bolt", "22 N·m"),
        ("long cover bolt", "24 N·m"),
    ]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        ([["Part no", "Description", "Qty"], ["1", "seal", 2]], "no row names the columns"),
        ([["x"]], "Put one above the steps, such as: step, task, fastener"),
        ([HEADINGS], "there are no steps below the headings"),
    ],
)
def test_sheets_without_steps(rows: Rows, expected: str, tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match=expected) as error:
        made(tmp_path, rows)
    assert str(error.value).startswith(f"{tmp_path}/steps.xlsx: ")


_SHEET = """\
Title,Pump
Step,Task,Fastener,Qty,Size,Torque (Nm),Thread-locker,Part,Bag,Limits,Caution,Tools,New
STRIP-DOWN
1,Take off the cover,cover bolts,4,M8x30 8.8,,,cover,1,,WARNING: hot,"puller; 13 mm",
,,,,,,,2 x o-ring,,,,,x
2,Fit the cover,cover bolts,4,M8x30 8.8,"20/40/60 Nm + 90°",medium,cover,1,0.05 mm max,,,
"""


@sizes(60, 200)
def test_any_sheet_makes_a_file_that_can_be_read_or_says_why_not(
    examples: int, tmp_path: Path
) -> None:
    path = tmp_path / "steps.csv"

    def make(text: str) -> None:
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        with in_time():
            written = importing.procedure_from(path)
        tree = plain_yaml.load(written.contents.decode())
        assert tree["revision"] == "draft" and written.steps > 0

    tokens = ["\n", ",", '"', "Step", "8-10", "25Nm", "M8x1.25", "x", "±", "1e9", "\t", ";", "max"]
    hammer(make, mangled([_SHEET], tokens), examples)


def test_what_belongs_to_a_torque_that_cannot_be_read_is_not_lost(tmp_path: Path) -> None:
    headings = [*HEADINGS, "Lubrication", "Sequence"]
    found = made(tmp_path, [headings, [*FIT[:5], "40/80", None, "oiled", "1-3-2-4"]])
    assert found.told[1] == (
        "List 1 H2: cover bolt: without a torque, Lubrication 'oiled', Sequence '1-3-2-4' is in no "
        "key; write its 'tighten'."
    )
    # At strip-down nothing is tightened, and nothing is told.
    assert made(tmp_path, [headings, [*FIT[:5], None, "-"]]).told == []


def test_parts_of_two_sizes_or_of_no_number_are_told(tmp_path: Path) -> None:
    headings = ["Step", "Task", "Part", "Caution"]
    found = made(tmp_path, [headings, [1, "Take off the o rings.", "O-ring 20\nO-ring 30\nshims"],
                            [2, "Fit the cap.", "cap (new)", "0.05 mm"]])  # fmt: skip
    assert found.told == [
        "List 1 C2: 'O-ring 30': another size is called 'o ring' already; give each a name of its "
        "own.",
        "List 1 C2: 'shims': how many? One is taken; write its 'count'.",
        "List 1 D3: '0.05 mm' is no hazard that can be said.",
    ]
    (fit,) = found.procedure.steps[1].fit
    assert (fit.part, fit.new) == ("cap", True)


def test_a_senior_technicians_card_of_25_rows(tmp_path: Path) -> None:
    """What a newcomer has to do from such a card to a procedure that `check` likes: nothing; and
    what there is to settle before somebody works from it is told.
    """
    headings = ["No.", "What to do", "Bolts", "Qty", "Size", "Class", "Torque Nm", "Thread lock",
                "Lubrication", "Sequence", "Parts", "Part no", "Bag", "Check", "Spec", "Warning",
                "Special tools", "Notes"]  # fmt: skip

    def row(**cells: Any) -> list[Any]:
        names = dict(zip(headings, headings, strict=True))
        keys = {name.split()[0].strip(".").lower(): name for name in names}
        keys |= {"part_no": "Part no", "torque": "Torque Nm", "locker": "Thread lock"}
        return [cells.get(next(k for k, v in reversed(keys.items()) if v == n)) for n in headings]

    cap: dict[str, Any] = {"bolts": "cap screws", "qty": 4, "size": "M6x20", "class": "8.8"}
    cover: dict[str, Any] = {"bolts": "cover bolts", "qty": 6, "size": "M8x25", "class": "8.8"}
    found = made(tmp_path, [
        ["Job card 88"], ["Machine", "Anchor windlass gearbox"], [], headings,
        ["MAKE SAFE"],
        row(no=1, what="Switch off, lock and tag. Prove dead.", warning="DANGER: it can start"),
        ["DISMANTLING"],
        row(no=2, what="Drain the oil", parts="drain plug; sealing washer", bag=1),
        row(no=3, what="Remove top cover", parts="top cover", part_no="AW-10", bag=2, **cover),
        row(parts="cover gasket", special="scraper"),
        row(no=4, what="Take off the end cap", parts="end cap", bag=3, **cap),
        row(no=5, what="Draw the worm shaft out", parts="worm shaft"),
        ["INSPECTION"],
        row(no=6, what="Clean everything", warning="Solvent fumes"),
        row(no=7, what="Measure worm shaft at the seats", check="shaft dia", spec="29.98-30.00 mm"),
        row(no=8, what="Check the bronze wheel teeth", check="tooth wear", spec="1,5 mm max"),
        ["RE-ASSEMBLY"],
        row(no=9, what="Fit worm shaft", parts="worm shaft", warning="Mind the seal lip"),
        row(no=10, what="Fit the end cap", torque=9, locker="medium", sequence="cross",
            parts="end cap", bag=3, **cap),
        row(no=11, what="Measure end float", check="end float", spec="0.05 - 0.10 mm"),
        row(no=12, what="Fit top cover", torque=22, lubrication="dry", parts="top cover", bag=2,
            **cover),
        row(parts="cover gasket (new)"),
        row(no=13, what="Fit drain plug", bolts="drain plug", qty=1, size="M14x1.5",
            torque="25-30", parts="drain plug", bag=1),
        row(no=14, what="Fill with oil", check="oil filled", spec="1.0-1.2 l"),
        ["TEST"],
        row(no=15, what="Take off lock, run 10 min each way", warning="Keep clear"),
    ])  # fmt: skip
    assert found.told == [
        "List 1 A1: above the steps: Job card 88.",
        "List 1 O16: Spec: the decimal comma in '1,5' is taken as 1.5.",
        "List 1 G23: Torque Nm: '25-30' is a range; give one value, and how far it may be off as a "
        "tolerance.",
    ]
    procedure = found.procedure
    assert len(procedure.steps) == 15 and len(procedure.stages) == 5
    assert sum(len(step.fasteners) for step in procedure.steps) == 5
    assert [str(t.torque) for step in procedure.steps for t in step.tighten] == ["9 N·m", "22 N·m"]


def test_a_step_that_is_filled_down_is_one_step(tmp_path: Path) -> None:
    headings = ["Step", "Task", "Part", "Bag", "Caution", "Fastener", "Qty", "Size"]
    down = [1, "Take off the cover.", "cover", 1, "Sharp edges."]
    for rows in (
        [[*down, "long bolts", 2, "M8x50"], [*down, "short bolts", 2, "M8x30"]],
        [[None, *down[1:], "long bolts", 2, "M8x50"], [None, *down[1:], "short bolts", 2, "M8x30"]],
    ):
        cut = 0 if rows[0][0] else 1
        found = made(tmp_path, [headings[cut:], *(row[cut:] for row in rows)])
        (step,) = found.procedure.steps
        assert [f.name for f in step.fasteners] == ["long bolt", "short bolt"]
        assert len(step.remove) == len(step.hazards) == 1
        assert (step.bag, step.from_bag, found.told) == (1, None, [])


def test_a_reading_merged_over_two_rows_is_one_reading(tmp_path: Path) -> None:
    headings = ["Step", "Task", "Check", "Limits (mm)", "Tools"]
    rows = [headings, [1, "Measure it.", "play", "0.1 max", "gauge"], [None] * 4 + ["stand"]]
    path = workbook(tmp_path / "steps.xlsx", rows)
    book = openpyxl.load_workbook(path)
    for area in ("A2:A3", "B2:B3", "C2:C3", "D2:D3"):
        book.active.merge_cells(area)
    book.save(path)
    (step,) = Made(path).procedure.steps
    assert [one.name for one in step.readings] == ["play"] and step.tools == ("gauge", "stand")
