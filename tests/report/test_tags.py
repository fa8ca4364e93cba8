"""Labels for bags: what stands on them, where they lie on the sheet, and codes that scan."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pypdf
import pypdfium2
import pytest
import zxingcpp

from assistant.cli.main import main
from assistant.dialogue import state as job_state
from assistant.dialogue import tag_codes
from assistant.errors import AssistantError
from assistant.report import document, tags
from tests.bench_helpers import Hands
from tests.report.overhaul import Overhaul
from tests.report.test_record import _built
from tests.report.whole_job import PROCEDURE

MM = 72 / 25.4
UID = "5c597638-92db-4013-b3a8-791934b5f494"


def _of(hands: Hands, only: tuple[int, ...] = ()) -> list[tags.Tag]:
    state = job_state.replay(hands.procedure, hands.bench.journal.events(hands.bench.job))
    return tags.tags(_built(hands), state, UID, only)


@pytest.fixture(scope="module")
def made(overhaul: Overhaul) -> list[tags.Tag]:
    record = overhaul.record()
    uid = overhaul.bench.journal.identity(record.job).uid
    return tags.tags(record, overhaul.bench.state, uid)


def _pdf(made: list[tags.Tag], sheet: str, skip: int = 0) -> bytes:
    laid_out = tags.data(made, tags.SHEETS[sheet], skip)
    return document.typeset("tags.typ", laid_out, made[0].at or pytest.fail("no time"))


def _scanned(pdf: bytes) -> list[tuple[str, float, float]]:
    """Return each code on the first page, with its middle in mm from the top left."""
    page = pypdfium2.PdfDocument(pdf)[0]
    scale = 3
    seen = np.ascontiguousarray(page.render(scale=scale, grayscale=True).to_numpy())
    found = []
    for code in zxingcpp.read_barcodes(seen.reshape(seen.shape[0], seen.shape[1])):
        corners = [
            code.position.top_left,
            code.position.top_right,
            code.position.bottom_left,
            code.position.bottom_right,
        ]
        x = sum(corner.x for corner in corners) / 4 / scale / MM
        y = sum(corner.y for corner in corners) / 4 / scale / MM
        found.append((code.text, x, y))
    return found


@pytest.mark.parametrize("name", tags.SHEETS)
def test_each_code_scans_from_the_sheet_and_lies_on_its_label(
    name: str, made: list[tags.Tag]
) -> None:
    sheet = tags.SHEETS[name]
    skip = 1
    found = _scanned(_pdf(made, name, skip))
    on_sheet = made[: sheet.count - skip]
    assert sorted(text for text, _, _ in found) == sorted(tag.code for tag in on_sheet)
    for text, x, y in found:
        place = skip + next(n for n, tag in enumerate(on_sheet) if tag.code == text)
        left = sheet.left + place % sheet.across * (sheet.label[0] + sheet.gap)
        top = sheet.top + place // sheet.across * sheet.label[1]
        assert left < x < left + sheet.label[0] / 2
        # In the middle of its label, from the top.
        assert y == pytest.approx(top + sheet.label[1] / 2, abs=1)


@pytest.mark.parametrize("name", tags.SHEETS)
def test_the_labels_fit_their_paper(name: str) -> None:
    sheet = tags.SHEETS[name]
    width = sheet.across * sheet.label[0] + (sheet.across - 1) * sheet.gap
    # What is left on the right is what is left on the left, and so above and below.
    assert sheet.paper[0] - sheet.left - width == pytest.approx(sheet.left, abs=0.6)
    assert sheet.paper[1] - sheet.top - sheet.down * sheet.label[1] == pytest.approx(
        sheet.top, abs=0.6
    )


def test_a_tag_says_what_was_recorded(made: list[tags.Tag]) -> None:
    assert [tag.bag for tag in made] == list(range(1, 9))
    fifth = made[4]
    assert fifth.contents == "1 top cover, 4 long bolts and 4 short bolts"
    assert (fifth.where, fifth.unit) == ("step 12, strip-down", "winch 2, port side")
    assert fifth.at and f"{fifth.at:%Y-%m-%d}" == "2031-03-04" and fifth.by == "Ann"
    (page,) = pypdf.PdfReader(io.BytesIO(_pdf(made, "a4-3x8"))).pages
    text = " ".join(page.extract_text().split())
    assert "Bag 5" in text and "4 short bolts" in text and "2031-03-04 · step 12" in text


def test_a_bag_ahead_has_what_the_procedure_says(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    (tag,) = _of(hands)
    assert (tag.bag, tag.contents, tag.at) == (1, "4 plate bolts", None)
    assert (tag.where, tag.by) == ("step 1, strip-down", None)


def test_a_bag_by_another_number_is_the_one_that_was_used(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db", PROCEDURE)
    hands.say("affirm", "bag seven", "affirm")
    (tag,) = _of(hands)
    assert (tag.bag, tag.contents) == (7, "4 plate bolts")
    assert tag_codes.scanned(tag.code) == (UID, 7)


def test_one_bag_and_labels_that_are_used(made: list[tags.Tag]) -> None:
    sheet = tags.SHEETS["letter-2x5"]
    first, second = tags.sheets(made, sheet, skip=7)
    assert first[:7] == [None] * 7 and first[7:] == made[:3]
    assert second == made[3:]
    for skip in (-1, 10):
        with pytest.raises(AssistantError, match="--skip is 0 to 9"):
            tags.sheets(made, sheet, skip)


def test_a_bag_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="no bag 4"):
        _of(Hands(tmp_path / "journal.db", PROCEDURE), (4,))


@pytest.mark.parametrize(
    "text", ["", "https://example.org", f"bench:job/{UID}/bag/0", f"bench:job/{UID}/bag/1 "]
)
def test_another_code_is_refused(text: str) -> None:
    with pytest.raises(AssistantError):
        tag_codes.scanned(text)


def test_what_is_too_long_for_a_label_says_so_and_nothing_is_markup(made: list[tags.Tag]) -> None:
    hostile = "<script>alert(1)</script>" + "nut " * 200
    long = [type(made[0])(**{**vars(made[0]), "contents": hostile, "unit": hostile})]
    text = tags.html(long, tags.SHEETS["letter-3x10"])
    assert "<script" not in text and "…</p>" in text
    assert tags.shortened("four bolts", tags.SHEETS["letter-3x10"]) == "four bolts"
    for name in tags.SHEETS:
        box = pypdfium2.PdfDocument(_pdf(long, name))[0].get_textpage()
        sheet = tags.SHEETS[name]
        height = sheet.paper[1] - sheet.top - sheet.label[1]
        lowest = min(box.get_rect(n)[1] for n in range(box.count_rects()))
        assert lowest > height * MM - 2


def test_the_command(overhaul: Overhaul, tmp_path: Path) -> None:
    where = ["--journal", str(overhaul.path)]
    out, pdf = tmp_path / "tags.html", tmp_path / "tags.pdf"
    assert main(["tags", "1", "-o", str(out), *where]) == 0
    assert out.read_text(encoding="utf-8").count("<article") == 8
    options = ["--sheet", "letter-3x10", "--bag", "4", "--bag", "5", "--skip", "3"]
    assert main(["tags", "1", "--pdf", str(pdf), *options, *where]) == 0
    assert {tag_codes.scanned(text)[1] for text, _, _ in _scanned(pdf.read_bytes())} == {4, 5}
    assert main(["tags", "1", "--sheet", "a9", *where]) == 2
    assert main(["tags", "1", "--bag", "77", *where]) == 2
