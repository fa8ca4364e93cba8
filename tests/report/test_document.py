"""The PDF, read back by two libraries that have nothing to do with the one that sets it."""

from __future__ import annotations

import io
import re
import sys
from pathlib import Path

import pypdf
import pypdfium2
import pytest

from assistant.cli.main import main
from assistant.errors import AssistantError
from assistant.report import document, overview, wording
from assistant.report.model import Record
from tests.report.overhaul import Overhaul
from tests.report.whole_job import FORMULA, HOSTILE, Job


def _read(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def _text(pdf: bytes) -> str:
    words = " ".join(page.extract_text() for page in _read(pdf).pages)
    return re.sub(r"\s+", " ", words.replace("\u200b", ""))


def _noted(job: Job, *texts: str) -> Record:
    record = job.record()
    notes = [record.notes[0].model_copy(update={"text": text}) for text in texts]
    return record.model_copy(update={"notes": tuple(notes)})


def _runs_over(pdf: bytes) -> list[str]:
    """Return the words that lie outside the print area of their page, or nearly."""
    found = []
    for page in pypdfium2.PdfDocument(pdf):
        width, height = page.get_size()
        text = page.get_textpage()
        for number in range(text.count_rects()):
            left, bottom, right, top = text.get_rect(number)
            if left < 20 or bottom < 20 or right > width - 20 or top > height - 20:
                found.append(text.get_text_bounded(left, bottom, right, top))
    return found


@pytest.fixture(scope="module")
def overhaul_pdf(overhaul: Overhaul) -> bytes:
    return document.pdf(overhaul.record())


def test_it_has_as_many_pages_as_it_should(overhaul_pdf: bytes) -> None:
    # Sixty-five steps with all that was recorded: looked at, page by page, when it was set so.
    assert len(_read(overhaul_pdf).pages) == 13


def test_it_says_what_the_record_says(overhaul: Overhaul, overhaul_pdf: bytes) -> None:
    record, text = overhaul.record(), _text(overhaul_pdf)
    assert record.title in text and record.equipment in text and "winch 2, port side" in text
    assert overview.verdict(record)[0] in text
    assert "Drain plug stripped serious → renew said at the bench" in text
    for reading in record.readings:
        assert f"{reading.name} {reading.taken} " in text
        assert wording.quantity(reading.value, reading.unit) in text
    for step in record.steps:
        assert step.say in text
    for torque in record.torques:
        assert wording.quantity(torque.asked, torque.asked_unit) in text
    assert record.seal and record.seal[:4] in text


def test_no_word_is_cut_off_at_the_edge(job: Job, overhaul_pdf: bytes) -> None:
    long_unit = job.record().model_copy(update={"unit": "U" * 300, "title": "T" * 180})
    for pdf in (overhaul_pdf, document.pdf(job.record()), document.pdf(long_unit)):
        assert not _runs_over(pdf)


def test_a_long_note_goes_over_pages_and_loses_nothing(job: Job) -> None:
    words = [f"word{number}" for number in range(3000)]
    pdf = document.pdf(_noted(job, " ".join(words), "x" * 2000))
    assert len(_read(pdf).pages) > len(_read(document.pdf(job.record())).pages) + 2
    assert re.findall(r"word\d+", _text(pdf))[:3000] == words
    assert sum(map(len, re.findall(r"x{20,}", _text(pdf)))) == 2000
    assert not _runs_over(pdf)


@pytest.mark.parametrize(
    ("paper", "size"),
    # ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch.
    [("a4", (210 / 25.4 * 72, 297 / 25.4 * 72)), ("letter", (612, 792))],
)
def test_each_page_has_the_size_of_its_paper(
    job: Job, paper: document.Paper, size: tuple[float, float]
) -> None:
    for page in _read(document.pdf(job.record(), paper)).pages:
        box = page.mediabox
        assert (float(box.width), float(box.height)) == pytest.approx(size, abs=0.5)


def test_every_script_that_people_write_is_shown(job: Job) -> None:
    words = "Ёлка Größe ⅝ Ω µ Ελλ 日本語 한국어 漢字 ქართული हिन्दी ไทย 😀 ≤ →"
    pdf = document.pdf(_noted(job, words))
    text = _text(pdf)
    for word in words.split():
        assert word in text
    # Set from right to left, so read back in another order: the letters are there.
    arabic = _text(document.pdf(_noted(job, "عربية שלום")))
    assert set("שלום") <= set(arabic)
    assert _read(pdf).trailer["/Root"]["/MarkInfo"]["/Marked"]


def test_what_no_font_has_does_not_stop_the_record(job: Job) -> None:
    assert "before" in _text(document.pdf(_noted(job, "before \U00013000 \ue000 after")))


def test_nothing_written_is_taken_as_markup(job: Job) -> None:
    hostile = (
        '#let x = 1 *bold* _i_ $y$ `raw` <label> @ref = head\n- item \\u{41} #read("/etc/passwd")'
    )
    text = _text(document.pdf(_noted(job, hostile, HOSTILE, FORMULA)))
    assert re.sub(r"\s+", " ", hostile) in text
    assert HOSTILE in text and FORMULA in text


def test_drawings_and_the_file_have_words_for_who_cannot_see(overhaul_pdf: bytes) -> None:
    read = _read(overhaul_pdf)
    root = read.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/Lang"] == "en"
    assert read.metadata and read.metadata.title == "Harbour winch gearbox overhaul"
    assert b"pdfuaid" in read.xmp_metadata.stream.get_data()  # type: ignore[union-attr]
    told = "\n".join(_alternatives(root["/StructTreeRoot"]))
    assert "drained: 0.95 L keeps to 0.9 L and 1.2 L" in told
    assert "Time line of the job: 2031-03-04: at work 3 h 50 min" in told


def _alternatives(element: pypdf.generic.PdfObject) -> list[str]:
    of = element.get_object()
    if isinstance(of, list):
        return [text for kid in of for text in _alternatives(kid)]
    if not isinstance(of, dict):
        return []
    own = [str(of["/Alt"])] if "/Alt" in of else []
    return own + (_alternatives(of["/K"]) if "/K" in of else [])


def test_a_time_between_two_seconds_is_no_trouble(job: Job) -> None:
    record = job.record()
    later = record.model_copy(update={"last": record.last.replace(microsecond=123_456)})
    assert _read(document.pdf(later)).pages


def test_the_same_record_gives_the_same_file(job: Job) -> None:
    assert document.pdf(job.record()) == document.pdf(job.record())


def test_the_command_writes_it(overhaul: Overhaul, tmp_path: Path) -> None:
    out = tmp_path / "job.pdf"
    where = ["--journal", str(overhaul.path)]
    assert main(["report", "1", "--pdf", str(out), "--paper", "letter", *where]) == 0
    assert len(_read(out.read_bytes()).pages) in (13, 14)
    page = tmp_path / "page.html"
    assert main(["report", "1", "--pdf", str(out), "-o", str(page), *where]) == 0
    assert page.read_text(encoding="utf-8").lower().startswith("<!doctype html>")


def test_without_its_packages_it_says_what_to_install(
    job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "typst", None)
    with pytest.raises(AssistantError, match=r"pip install '\.\[pdf\]'"):
        document.pdf(job.record())
