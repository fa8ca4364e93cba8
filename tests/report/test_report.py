"""The record, the page, the table and the log, of jobs done by the real code."""

import base64
import csv
import io
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.audio import pcm
from assistant.report import log, page, record, tables
from assistant.session import events as ev
from tests.bench_helpers import Hands

SOUND = (np.sin(np.arange(8000) / 5) * 9000).astype(np.int16)


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "order two drain plugs", "order three circlips", "disregard")
    hands.bench.spoken(
        ev.Heard(words="circlip missing upper", confidence=0.91, recogniser="test"),
        True,
        lambda: pcm.write_flac(SOUND.tobytes()),
    )
    hands.say("note <script>alert(1)</script> =1+1 & so on")
    hands.say("bag four", "correction bag one", "next step", "splined shaft", "next step")
    hands.say("reading 25.10", "affirm", "reading 24.98", "next step", "affirm")
    hands.say("tightened seven", "tightened four zero", "correction one four")
    hands.say("skip step", "the wrench broke")
    return hands


def built(hands: Hands) -> record.Record:
    return record.build(hands.bench.journal.events(1), hands.procedure, 1)


def pages(hands: Hands) -> str:
    clips = {1: hands.bench.journal.clip(1)}
    return page.html(built(hands), clips)


def test_the_record_holds_what_was_done(hands: Hands) -> None:
    told = built(hands)
    assert [(o.part, o.count, o.part_number) for o in told.orders] == [("drain plugs", 2, "TB-1")]
    assert [(f.part, f.condition, f.place, f.clip) for f in told.findings] == [
        ("circlip", "missing", "upper", 1)
    ]
    assert [(t.value, t.asked, t.first_heard) for t in told.torques] == [
        ("7", "7", None),
        ("14", "14", "four zero"),
    ]
    readings = {r.name: (r.value, r.limits, r.within) for r in told.readings}
    assert readings["bore"] == ("25.10", "24.95 to 25.05 mm", False)
    assert readings["shaft"] == ("24.98", None, None)
    assert readings["clearance"] == ("0.12", "up to 0.05 mm", False)
    assert [(b.number, b.contents) for b in told.bags] == [
        (1, "one end plate and four plate bolts")
    ]
    assert (told.complete, told.closed, told.steps_skipped) == (False, None, 1)
    assert [s.state for s in told.steps] == [
        *("done", "done", "does not apply", "done", "skipped", "not done"),
    ]
    assert told.people == ("sam",)


def test_what_stands_out_is_on_top(hands: Hands) -> None:
    texts = " ".join(line.text for line in built(hands).stands_out)
    assert "heard bag four. The step says bag one. Then recorded: bag one." in texts
    assert "heard four zero" in texts
    assert "Then recorded: long bolt, pass two of three tightened one four" in texts
    assert "Step skipped, the wrench broke. Outstanding: the torque, long bolt" in texts
    assert "Recorded as affirmed: bore two five point one zero" in texts
    assert "Clearance comes to" in texts or "clearance comes to" in texts


def test_what_was_withdrawn_stays_in_sight(hands: Hands) -> None:
    told = built(hands)
    assert [line.text for line in told.withdrawn] == ["Withdrawn: order three circlips."]
    lines = list(log.lines(hands.bench.journal.events(1), hands.procedure))
    (marked,) = [line for line in lines if "[withdrawn]" in line]
    assert "order three circlips" in marked


class Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href")]

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def test_the_page_needs_nothing_else_and_takes_no_word_as_html(hands: Hands) -> None:
    read = Page()
    read.feed(pages(hands))
    assert "script" not in read.tags
    assert "<script>alert(1)</script> =1+1 & so on" in " ".join(read.text)
    assert read.links
    assert all(link.startswith("data:audio/flac;base64,") for link in read.links)
    assert not re.search(r"https?://|url\(", pages(hands))


def test_the_clip_plays_what_was_heard(hands: Hands) -> None:
    (sound,) = re.findall(r"data:audio/flac;base64,([^\"]+)", pages(hands))
    samples, rate = soundfile.read(io.BytesIO(base64.b64decode(sound)), dtype="int16")
    assert rate == 16_000
    assert np.array_equal(samples, SOUND)


def test_the_table_has_a_row_for_each_thing_and_no_formula(hands: Hands) -> None:
    hands.say("note =cmd|' /C calc'!A0")
    rows = list(csv.DictReader(io.StringIO(tables.csv(built(hands)))))
    assert tuple(rows[0]) == tables.COLUMNS
    bore = next(row for row in rows if row["part"] == "bore")
    assert (bore["value"], bore["unit"], bore["within"]) == ("25.10", "mm", "no")
    assert [row["time"] for row in rows] == sorted(row["time"] for row in rows)
    for row in rows:
        for cell in row.values():
            assert not re.match(r"[=@\t\r]|[+-](?![\d.]+$)", cell), cell


def test_the_json_reads_back(hands: Hands) -> None:
    told = built(hands)
    assert record.Record.model_validate_json(told.model_dump_json()) is not None
    assert told.model_dump_json().count("2031-03-04T11:") > 10


def test_a_job_with_nothing_in_it(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    text = page.html(built(hands), {})
    assert "the job is still open" in text
    assert "Nothing was skipped" in text
    with pytest.raises(ValueError, match="opening"):
        record.build([], hands.procedure, 1)
