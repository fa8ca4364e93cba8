"""The page as a browser's parser sees it."""

import base64
import io
import itertools
import re

import pytest
import soundfile

from assistant.report import page
from tests.report.whole_job import FORMULA, HOSTILE, Job, Page


@pytest.fixture(scope="module")
def text(job: Job) -> str:
    return page.html(job.record(), job.clips)


@pytest.fixture(scope="module")
def parsed(text: str) -> Page:
    return Page(text)


def test_nothing_said_becomes_markup(parsed: Page, text: str) -> None:
    assert not parsed.all("script")
    assert HOSTILE in parsed.text
    assert FORMULA in parsed.text
    assert "<script" not in text


def test_the_page_needs_nothing_from_elsewhere(parsed: Page, text: str) -> None:
    assert not re.search(r"https?:|url\(|@import", text, re.IGNORECASE)
    for _, attributes in parsed.tags:
        for name in ("src", "href", "srcset", "poster"):
            assert (attributes.get(name) or "data:").startswith("data:")
    (policy,) = [m for m in parsed.all("meta") if m.get("http-equiv")]
    assert (policy["content"] or "").startswith("default-src 'none'")


def test_the_clips_in_the_page_sound_as_they_were_kept(job: Job, parsed: Page) -> None:
    assert len(job.clips) == 2
    in_page = []
    for audio in parsed.all("audio"):
        assert "controls" in audio and audio["aria-label"]
        kind, data = (audio["src"] or "").split(",")
        assert kind == "data:audio/flac;base64"
        in_page.append(soundfile.read(io.BytesIO(base64.b64decode(data)), dtype="int16"))
    kept = [
        soundfile.read(io.BytesIO(job.hands.bench.journal.clip(number)), dtype="int16")
        for number in sorted(job.clips)
    ]
    assert [rate for _, rate in in_page] == [16000, 16000]
    for (shown, _), (stored, _) in zip(in_page, kept, strict=True):
        assert (shown == stored).all()


def test_a_clip_that_is_missing_is_named(job: Job) -> None:
    parsed = Page(page.html(job.record(), {}))
    assert not parsed.all("audio")
    assert "clip 1 is not in this page" in parsed.text


def test_it_says_that_it_is_a_sample_and_what_it_does_not_prove(job: Job, parsed: Page) -> None:
    assert "Not to be worked from" in parsed.text
    assert "manufacturer’s current data" in parsed.text
    real = job.record().model_copy(update={"sample": False})
    assert "Not to be worked from" not in Page(page.html(real, job.clips)).text


def test_what_stands_out_does_so_in_words(parsed: Page) -> None:
    assert "Not complete: the job is open, 1 result fails." in parsed.text
    assert "none while the job is open" in parsed.text
    assert "Skipped Step 7: Step skipped: part not here." in parsed.text
    assert "Nonconformities: 1 open" in parsed.text
    assert parsed.rows("nonconformities")[1][:4] == [
        "4",
        "Bore, as found",
        "25.10 mm 24.95–25.05 mm, by 0.05 mm",
        "open",
    ]
    assert "Withdrawn Step 1: Drain plug worn." in parsed.text


def test_the_tables_hold_what_the_journal_holds(parsed: Page) -> None:
    plug = parsed.rows("orders")[1]
    assert plug[:3] == ["drain plug", "=TB-1", "3"]
    bore = parsed.rows("readings")[1]
    assert bore[:5] == ["4", "bore", "as found", "25.10 mm", "24.95–25.05 mm"]
    assert bore[6] == "not within limits"
    second = parsed.rows("torques")[2]
    assert second[:5] == ["5", "long bolt 2 of them", "2 of 3", "14 N·m", "–"]
    assert second[5] == "14 N·m first heard “40”"
    assert parsed.rows("torques")[3][5] == "90°"
    taken_back = parsed.rows("withdrawn")[2]
    assert taken_back[3] == "shaft 25.07 mm"
    steps = [row for row in parsed.rows("steps")[1:] if len(row) == 5]
    assert [row[0] for row in steps] == [str(number) for number in range(1, 9)]
    assert steps[6][2] == "skipped part not here"


def test_every_event_time_in_the_page_has_its_offset(parsed: Page) -> None:
    times = [attributes["datetime"] or "" for attributes in parsed.all("time")]
    assert times and all(time.endswith("+02:00") for time in times)
    assert "UTC+02:00" in parsed.text


def test_a_screen_reader_finds_its_way(parsed: Page) -> None:
    assert parsed.all("html")[0]["lang"] == "en"
    assert len(parsed.all("h1")) == 1 and len(parsed.all("main")) == 1
    levels = [int(tag[1]) for tag, _ in parsed.tags if re.fullmatch(r"h\d", tag)]
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    assert len(parsed.all("caption")) == len(parsed.all("table")) > 0
    assert all(attributes.get("scope") for attributes in parsed.all("th"))
    ids = [a["id"] for _, a in parsed.tags if "id" in a]
    assert len(ids) == len(set(ids))
    pointed = [a["aria-labelledby"] or "" for _, a in parsed.tags if "aria-labelledby" in a]
    assert pointed and {name for names in pointed for name in names.split()} <= set(ids)


# WCAG 2.2, 1.4.3: 4.5 to 1; relative luminance as defined there.
def _luminance(colour: str) -> float:
    wide = colour if len(colour) == 7 else "#" + "".join(2 * c for c in colour[1:])
    parts = [int(wide[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_text_has_contrast_in_light_dark_and_print(text: str) -> None:
    schemes = re.findall(r":root \{([^}]*--ink[^}]*)\}", text)
    assert len(schemes) == 3
    for scheme in schemes:
        colour = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]+)", scheme))
        pairs = [("mark", "mark-back"), ("fail", "fail-back")] + [
            (front, back)
            for front in ("ink", "soft", "head", "mark", "good", "fail")
            for back in ("paper", "band")
        ]
        for front, back in pairs:
            light, dark = sorted((_luminance(colour[front]), _luminance(colour[back])))[::-1]
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (front, back)
