"""Photos in the record: beside what they show, small and then large, on the page, in the PDF, as
data, and on the board.
"""

from __future__ import annotations

import base64
import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pypdf
import pypdfium2
import pytest
from PIL import Image
from starlette.testclient import TestClient

from assistant.cli import main as cli
from assistant.desk import photos as at_the_computer
from assistant.dialogue.replaying import procedure_of
from assistant.imaging.pictures import kept
from assistant.journal.store import Journal
from assistant.report import document, log, page, record
from assistant.report.model import Record
from assistant.web import board, guard
from tests import snapshots
from tests.bench_helpers import Hands
from tests.report.whole_job import Page
from tests.web import browser as browsers

if TYPE_CHECKING:
    from playwright.sync_api import Browser
    from playwright.sync_api import Page as BrowserPage


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    """A job with a photo of a finding, of a note, of a bag, and of a finding that was corrected."""
    hands = Hands(tmp_path / "journal.db")
    hands.with_camera(snapshots.Still("red", "blue", "green", "orange"))
    hands.say("affirm", "circlip missing upper", "photo", "note <b>old</b> paint", "photo")
    hands.say("bag one", "photo", "drain plug worn", "photo", "correction drain plug bent")
    return hands


def built(hands: Hands) -> Record:
    journal = hands.bench.journal
    history = journal.events(1)
    return record.kept(journal, 1, history, procedure_of(history, 1))


def shown(hands: Hands) -> str:
    return page.html(built(hands), {}, photos=dict(hands.bench.journal.pictures(1)))


def colour(data: bytes) -> str:
    image = Image.open(io.BytesIO(data)).convert("RGB")
    found = image.getpixel((image.width * 3 // 4, image.height * 3 // 4))
    names = {"red": (255, 0, 0), "blue": (0, 0, 255), "green": (0, 128, 0), "orange": (255, 165, 0)}
    return min(names, key=lambda n: sum((a - b) ** 2 for a, b in zip(names[n], found, strict=True)))


def test_each_is_beside_what_it_shows(hands: Hands) -> None:
    of = built(hands)
    pictures = dict(hands.bench.journal.pictures(1))
    found = {
        f"{f.part} {f.condition}": [colour(pictures[digest]) for digest in f.photos]
        for f in of.findings
    }
    assert found == {"circlip missing": ["red"], "drain plug bent": ["orange"]}
    assert [[colour(pictures[d]) for d in note.photos] for note in of.notes] == [["blue"]]
    assert [(photo.of, photo.of_stands, photo.number) for photo in of.photos] == [
        ("circlip missing, upper", True, 1),
        ("note: <b>old</b> paint", True, 1),
        ("bag 1", True, 1),
        ("drain plug bent", True, 1),
    ]


def test_the_page_shows_them_small_and_large_on_a_click_without_a_script(hands: Hands) -> None:
    text = shown(hands)
    parsed = Page(text)
    images = parsed.all("img")
    assert len(images) == len(parsed.all("details")) == len(parsed.all("summary")) == 4
    assert sorted(image["alt"] or "" for image in images) == [
        "Photo: <b>old</b> paint",
        "Photo: bag 1",
        "Photo: circlip missing, upper",
        "Photo: drain plug bent",
    ]
    pictures = dict(hands.bench.journal.pictures(1)).values()
    inside = {base64.b64decode((image["src"] or "").split(",")[1]) for image in images}
    assert inside == set(pictures)
    assert not parsed.all("script") and "<b>old" not in text
    (policy,) = re.findall(r'Content-Security-Policy" content="([^"]*)"', text)
    assert "default-src 'none'" in policy and policy.endswith("img-src data:")
    assert not re.search(r'(src|href)="(?!data:)', text)


def test_a_photo_that_is_not_there_is_named(hands: Hands) -> None:
    of = built(hands)
    parsed = Page(page.html(of, {}))
    assert not parsed.all("img")
    assert f"photo {of.photos[0].sha256[:16]}… is not in this page" in parsed.text


def test_a_withdrawn_photo_is_shown_nowhere_and_is_in_the_log(hands: Hands) -> None:
    hands.say("disregard", "disregard")
    of = built(hands)
    assert len(of.photos) == 3 and all(colour_ != "orange" for colour_ in _colours(hands, of))
    assert len(Page(shown(hands)).all("img")) == 3
    told = list(log.lines(hands.bench.journal.events(1), hands.procedure))
    assert any("photo of drain plug worn" in line and "[withdrawn" in line for line in told)
    assert any("withdrawn: photo" in line for line in told)
    assert any(one.what == "photo" for one in of.withdrawn)


def _colours(hands: Hands, of: Record) -> list[str]:
    pictures = dict(hands.bench.journal.pictures(1))
    return [colour(pictures[photo.sha256]) for photo in of.photos]


def test_a_photo_of_what_was_withdrawn_says_so(hands: Hands) -> None:
    hands.say("circlip worn", "photo")
    number = len(hands.bench.journal.events(1))
    at_the_computer.enter(hands.bench.journal, 1, kept(snapshots.image("red")), number - 1, "kim")
    hands.wait(seconds=1)
    hands.say("disregard", "disregard")
    of = built(hands)
    last = of.photos[-1]
    assert (last.of, last.of_stands, last.at_desk, last.by) == ("circlip worn", False, True, "kim")
    rows = Page(shown(hands)).rows("photos")
    assert any("withdrawn since" in " ".join(row) for row in rows)


def test_other_programs_get_them(hands: Hands, capsys: pytest.CaptureFixture[str]) -> None:
    journal = ["--journal", str(hands.path)]
    digests = [digest for digest, _ in hands.bench.journal.pictures(1)]
    assert cli.main(["report", "1", "--json", *journal]) == 0
    of = json.loads(capsys.readouterr().out)
    assert [photo["sha256"] for photo in of["photos"]] == digests
    assert of["findings"][0]["photos"] == digests[:1]
    assert cli.main(["report", "1", "--list", "photos", "--csv", *journal]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [(row["sha256"], row["width"], row["media_type"]) for row in rows] == [
        (digest, "48", "image/jpeg") for digest in digests
    ]
    assert cli.main(["report", "1", "--csv", *journal]) == 0
    table = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    photos = [row for row in table if row["kind"] == "photo"]
    assert photos[0]["what"] == "circlip missing, upper"
    assert digests[0] in photos[0]["note"]
    assert cli.main(["log", "1", "--json", *journal]) == 0
    told = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [e["sha256"] for e in told if e["kind"] == "picture taken"] == digests


def test_the_report_command_puts_them_into_page_and_pdf(hands: Hands, tmp_path: Path) -> None:
    out, pdf = tmp_path / "a.html", tmp_path / "a.pdf"
    report = ["report", "1", "-o", str(out), "--pdf", str(pdf), "--journal", str(hands.path)]
    assert cli.main(report) == 0
    assert out.read_text(encoding="utf-8").count("data:image/jpeg") == 4
    assert sum(map(len, _pictures_in(pdf.read_bytes()))) == 8


def _pictures_in(pdf: bytes) -> list[list[str]]:
    """Return the colours of the pictures on each page."""
    kind = pypdfium2.raw.FPDF_PAGEOBJ_IMAGE
    return [
        [colour(snapshots.data(one.get_bitmap().to_pil(), "PNG")) for one in of.get_objects([kind])]
        for of in pypdfium2.PdfDocument(pdf)
    ]


def test_the_pdf_shows_them_small_with_a_link_to_the_large_ones(hands: Hands) -> None:
    pictures = dict(hands.bench.journal.pictures(1))
    pdf = document.pdf(built(hands), photos=pictures)
    assert pdf == document.pdf(built(hands), photos=pictures), "the same record, the same file"
    pages = _pictures_in(pdf)
    small = [one for page_ in pages for one in page_]
    assert sorted(small) == sorted(["red", "blue", "green", "orange"] * 2)
    read = pypdf.PdfReader(io.BytesIO(pdf))
    assert read.trailer["/Root"]["/MarkInfo"]["/Marked"]
    links = [
        note
        for one in read.pages
        for note in one.get("/Annots", [])
        if note.get_object()["/Subtype"] == "/Link"
    ]
    assert len(links) >= 4
    text = " ".join(one.extract_text() for one in read.pages)
    assert "Photo: Step 1: circlip missing, upper" in text


def test_a_picture_from_elsewhere_that_is_none_breaks_no_report(hands: Hands) -> None:
    of = built(hands)
    bad = {photo.sha256: b"\xff\xd8 no picture" for photo in of.photos}
    pdf = document.pdf(of, photos=bad)
    text = " ".join(one.extract_text() for one in pypdf.PdfReader(io.BytesIO(pdf)).pages)
    assert "cannot be shown" in text
    assert document.pdf(of)
    assert len(Page(page.html(of, {}, photos=bad)).all("img")) == 4


def test_the_board_fetches_them_from_itself(hands: Hands) -> None:
    app = guard.Guard(
        board.app(lambda: Journal(hands.path, create=False)), guard.access(8620, None)
    )
    client = TestClient(app, base_url="http://127.0.0.1:8620")
    answer = client.get("/jobs/1")
    parsed = Page(answer.text)
    assert "img-src 'self'" in answer.headers["content-security-policy"]
    sources = [image["src"] or "" for image in parsed.all("img")]
    assert len([source for source in sources if source.startswith("/jobs/1/photos/")]) == 4
    pictures = dict(hands.bench.journal.pictures(1))
    for digest, jpeg in pictures.items():
        got = client.get(f"/jobs/1/photos/{digest}.jpg")
        assert (got.content, got.headers["content-type"]) == (jpeg, "image/jpeg")
        assert got.headers["x-content-type-options"] == "nosniff"
        assert client.get(f"/jobs/2/photos/{digest}.jpg").status_code == 404
    for wrong in ("ab" * 32, "x", "..%2f..%2fetc", "%00"):
        assert client.get(f"/jobs/1/photos/{wrong}.jpg").status_code == 404
    before = client.get("/jobs/1/version").text
    at_the_computer.enter(Journal(hands.path), 1, kept(snapshots.image("grey")))
    assert client.get("/jobs/1/version").text != before


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsers.chromium() as running:
        yield running


def test_in_a_browser_a_click_or_a_key_makes_it_large(
    hands: Hands, browser: Browser, tmp_path: Path
) -> None:
    hands.with_camera(snapshots.Still("red"))
    big = kept(snapshots.image("purple", (1600, 1200)))
    at_the_computer.enter(hands.bench.journal, 1, big)
    path = tmp_path / "a.html"
    path.write_text(shown(hands), encoding="utf-8")
    asked: list[str] = []
    with browsers.page(browser) as view:
        _look(view, path, asked)
    assert all(url.startswith(("file:", "data:")) for url in asked)


def _look(view: BrowserPage, path: Path, asked: list[str]) -> None:
    view.on("request", lambda request: asked.append(request.url))
    view.goto(path.as_uri())
    image = view.locator('img[width="1600"]')
    assert image.evaluate("i => i.complete && i.naturalWidth") == 1600, "the policy lets it show"
    small = image.bounding_box()
    assert small is not None and small["width"] < 200
    image.click()
    large = image.bounding_box()
    assert large is not None and large["width"] > 700
    view.locator("summary", has=image).press("Enter")
    again = image.bounding_box()
    assert again is not None and again["width"] < 200
    assert browsers.violations(view) == []
