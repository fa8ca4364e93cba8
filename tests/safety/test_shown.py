"""What is shown of a record: no markup, no formulas, nothing that drives a terminal."""

from __future__ import annotations

import csv
import io
import json
import random
import re
import unicodedata
from decimal import Decimal
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from hypothesis import strategies as st

from assistant.bench.terminal import Terminal
from assistant.cli.main import main
from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of
from assistant.dialogue.turn import Reply
from assistant.errors import AssistantError
from assistant.journal import chain
from assistant.journal.records import Identity
from assistant.journal.store import Journal
from assistant.report import lists, log, page, record, tables
from assistant.text import escaped, plain
from tests.bench_helpers import SMALL
from tests.report.whole_job import PROCEDURE, whole_job
from tests.safety.hammering import hammer, in_time, sizes

MARKUP = [
    *("<script>alert(1)</script>", "</title><script>x</script>", "</style><img src=x onerror=y>"),
    *('" onmouseover="alert(1)', "' onfocus='alert(1)' autofocus='", "javascript:alert(1)"),
    *(
        "data:text/html;base64,PHNjcmlwdD4=",
        "<!--",
        "-->",
        "]]>",
        "{{ 7*7 }}",
        "{% raw %}",
        "&#x3c;b>",
    ),
    *("<svg/onload=x>", "\u2028<b>", "＜script＞", "<a href='//x'>", "<meta http-equiv=refresh>"),
]
DRIVES_A_TERMINAL = "\x1b]0;title\x07\x1b[2J\x9b31m\x90q\x9c\b\r\x7f"
TURNS_A_LINE = "\u202e\u2066\u200e\u061c\ufeff\u200b"


class Structure(HTMLParser):
    """The tags and names of attributes of a page, and the values of those that can act."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, ...]] = []
        self.acts: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, *(name for name, _ in attrs)))
        self.acts += [v or "" for name, v in attrs if name in ("src", "href", "style", "action")]

    def handle_endtag(self, tag: str) -> None:
        self.found.append(("/" + tag,))

    def handle_comment(self, data: str) -> None:
        self.found.append(("comment",))


@cache
def bodies() -> tuple[dict[str, Any], ...]:
    """The events of a job with everything in it, as JSON."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        job = whole_job(Path(folder) / "a.db")
        found = tuple(json.loads(e.model_dump_json()) for e in job.events)
        job.hands.bench.journal.close()
    return found


FREE = {
    *("words", "recogniser", "by", "title", "procedure", "revision", "unit_", "remark", "text"),
    *("part", "plural", "condition", "place", "part_number", "note", "unsure", "chosen_by"),
    *("fastener", "wrench", "name", "question", "answer", "answers", "purpose", "stage"),
}


def poisoned(with_: str, sources: bool = True) -> tuple[events.Event, ...]:
    """The same events, with a text in every place where text is free."""

    def poison(value: Any, key: str) -> Any:
        if isinstance(value, dict):
            return {k: poison(v, k) for k, v in value.items()}
        if isinstance(value, list):
            return [poison(v, key) for v in value]
        return with_ if isinstance(value, str) and key in FREE else value

    history = [poison(body, "") for body in bodies()]
    history[0] |= {"unit": with_, "remark": with_}
    return tuple(events.EVENT.validate_python(e) for e in json_events(history))


def json_events(history: list[Any]) -> list[Any]:
    return [events.EVENT.validate_json(json.dumps(event)) for event in history]


def built(history: tuple[events.Event, ...]) -> tuple[str, str, str]:
    """The page, the table and the log of events."""
    procedure = procedure_of(history, 1)
    of = record.build(history, procedure, 1)
    return (
        page.html(of, {1: b"fLaC", 2: b"fLaC"}),
        tables.csv(of),
        "\n".join(log.lines(history, procedure)),
    )


@pytest.mark.parametrize("text", MARKUP)
def test_no_text_becomes_markup(text: str) -> None:
    harmless = Structure(built(poisoned("harmless"))[0])
    hostile = Structure(built(poisoned(text))[0])
    assert hostile.found == harmless.found
    assert hostile.acts == harmless.acts
    assert all(value.startswith("data:audio/flac;base64,") for value in hostile.acts)


def test_the_procedures_own_text_becomes_no_markup() -> None:
    source = PROCEDURE.replace("Paint it.", "'<script>x</script>'").replace(
        "name: build-up", "name: '<img src=x>'"
    )
    history = [dict(body) for body in bodies()]
    history[0]["source"] = source
    text = built(tuple(json_events(history)))[0]
    assert "<script" not in text
    assert "<img" not in text
    assert "&lt;script&gt;x" in text


def test_the_page_can_fetch_and_run_nothing() -> None:
    text = built(poisoned("x"))[0]
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    inside = "media-src data:; img-src data:"
    assert policy[1] == f"default-src 'none'; style-src 'unsafe-inline'; {inside}"


FORMULAS = [
    *(
        "=1+1",
        "+1",
        "-1+cmd",
        "@SUM(1)",
        "\t=1",
        "\r=1",
        "\n=1",
        " =1",
        "\u00a0=1",
        "\u200b=1",
        "＝1",
    ),
    *(
        "=cmd|' /C calc'!A0",
        "-",
        "+",
        "=",
        '="x"',
        "\x1b=1",
        "\ufeff=1",
        "\u202e=1",
        "－1",
        "\x00=1",
    ),
]


@pytest.mark.parametrize("text", FORMULAS)
def test_no_text_becomes_a_formula(text: str) -> None:
    # OWASP, "CSV Injection": a cell must not begin with = + - @ tab or carriage return.
    rows = list(csv.DictReader(io.StringIO(built(poisoned(text))[1])))
    cells = [cell for row in rows for cell in row.values()]
    assert any(cell.startswith("'") for cell in cells)
    for cell in cells:
        if cell.lstrip("\u00a0 ").startswith(tuple("=+-@\t\r\n＝＋－＠")):
            Decimal(cell)  # only a plain number may begin with a sign


@pytest.mark.parametrize("text", FORMULAS)
def test_no_text_becomes_a_formula_in_a_list(text: str) -> None:
    history = poisoned(text)
    made = record.build(history, procedure_of(history, 1), 1)
    for name in lists.LISTS:
        for row in csv.DictReader(io.StringIO(lists.csv(made, name), newline="")):
            for cell in row.values():
                if cell.lstrip("\u00a0 ").startswith(tuple("=+-@\t\r\n＝＋－＠")):
                    Decimal(cell)  # only a plain number may begin with a sign


def test_negative_numbers_still_read_as_numbers() -> None:
    history = [dict(body) for body in bodies()]
    readings = [e for e in history if e["kind"] == "reading recorded"]
    for e in readings:
        e["value"] = "-0.05"
    rows = list(csv.DictReader(io.StringIO(built(tuple(json_events(history)))[1])))
    values = [row["value"] for row in rows if row["kind"] == "reading"]
    assert values
    assert {float(value) for value in values} == {-0.05}


def is_plain(text: str) -> bool:
    return all(c == "\n" or unicodedata.category(c) not in ("Cc", "Cf", "Cs") for c in text)


@pytest.mark.parametrize("text", [DRIVES_A_TERMINAL, TURNS_A_LINE])
def test_nothing_drives_a_terminal_or_turns_a_line(
    text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shown, table, lines = built(poisoned(f"a{text}b"))
    assert is_plain(shown)
    assert is_plain(table.replace("\r\n", "\n"))
    assert is_plain(lines)
    out = io.StringIO()
    terminal = Terminal(out)
    terminal.heard(text)
    terminal.not_taken(text, text)
    terminal.said([Reply(f"a {text} b")], None)
    assert is_plain(out.getvalue())
    # The whole way: typed, printed, listed, logged, and as JSON, which keeps the very text.
    (tmp_path / "s.yaml").write_text(SMALL)
    where = ["--journal", str(tmp_path / "journal.db")]
    monkeypatch.setattr("sys.stdin", iter(["affirm", f"note a{text}b"]))
    unit = f"u{text}v".replace("\0", "")
    assert (
        main(["run", str(tmp_path / "s.yaml"), "--typed", "--unit", unit, "--by", unit, *where])
        == 0
    )
    for command in (["jobs"], ["jobs", "--json"], ["jobs", "--search", "b"], ["log", "1"]):
        assert main([*command, *where]) == 0
    for form in ("--json", "--csv"):
        assert main(["report", "1", form, *where]) == 0
    assert main(["check", f"no{text}such"]) == 2
    said = capsys.readouterr()
    assert is_plain(said.out.replace("\r\n", "\n"))
    assert is_plain(said.err)
    main(["jobs", "--json", *where])
    assert json.loads(capsys.readouterr().out)["unit"] == unit


@sizes(200, 10_000)
def test_any_text_is_shown_plain_and_kept_whole_in_json(examples: int) -> None:
    def check(text: str) -> None:
        assert is_plain(plain(text))
        assert "\n" not in plain(text)
        assert is_plain(plain(text, keep="\n"))
        written = escaped(json.dumps({"x": text}, ensure_ascii=False))
        assert is_plain(written)
        assert json.loads(written) == {"x": text}

    hammer(
        check,
        st.text() | st.text(st.sampled_from(DRIVES_A_TERMINAL + TURNS_A_LINE + "ab\n\U000e0041")),
        examples,
    )


# Events from files and databases that others write

ODD = [
    *(None, True, -1, 0, 10**20, 10**400, 1e308, "", "x", "1e99999999", "-1e-99999999", "NaN"),
    *("Infinity", "9" * 3000, [], {}, ["a"], {"a": 1}, "0001-01-01T00:00:00+00:00", "°", "mm"),
    *("9999-12-31T23:59:59-23:59", "2031-03-04T09:00:00Z", "\0", "\u202e", "bad unit", "open"),
]


def altered(seed: int) -> list[dict[str, Any]]:
    chance = random.Random(seed)
    history: list[dict[str, Any]] = json.loads(json.dumps(bodies()))
    for _ in range(chance.choice((1, 1, 2, 5))):
        way = chance.random()
        if way < 0.6:
            of = chance.choice(history)
            key = chance.choice(list(of))
            if isinstance(of[key], dict) and chance.random() < 0.7:
                of, key = of[key], chance.choice(list(of[key]))
            of[key] = chance.choice(ODD)
        elif way < 0.75 and len(history) > 1:
            history.pop(chance.randrange(len(history)))
        elif way < 0.9:
            history.insert(chance.randrange(len(history) + 1), dict(chance.choice(history)))
        else:
            chance.shuffle(history)
    return history


@sizes(40, 4000)
def test_any_events_in_a_journal(examples: int, tmp_path: Path) -> None:
    journal = Journal(tmp_path / "a.db")
    taken = 0

    def read(seed: int) -> None:
        nonlocal taken
        uid = f"00000000-0000-4000-8000-{taken:012}"
        taken += 1
        texts = [json.dumps(event) for event in altered(seed)]
        who = Identity(uid, "bench", "2031-03-04T09:00:00+02:00", "title", None)
        try:
            number = journal.adopt(who, list(chain.links(uid, 1, chain.START, texts)), [])
        except (KeyError, TypeError, OverflowError):
            return  # without kind or time: an import has seen that before it gets here
        assert number is not None
        history = journal.events(number)
        procedure = procedure_of(history, number)
        made = record.build(history, procedure, number)
        page.html(made, journal.clips(history))
        tables.csv(made)
        for name in lists.LISTS:
            lists.csv(made, name)
            lists.json_text(made, name)
        list(log.lines(history, procedure))
        made.model_dump_json()

    hammer(read, st.integers(0, 10**9), examples)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("value", "1e999999999"),  # a gigabyte when it is written out
        ("value", "-1e-999999999"),
        ("value", "9" * 5000),
        ("heard", {"words": "x", "recogniser": "y", "clip": 10**20}),  # no number of a row
    ],
)
def test_a_number_that_is_ruinous(key: str, value: object, tmp_path: Path) -> None:
    history = [dict(body) for body in bodies()]
    next(e for e in history if e["kind"] == "reading recorded")[key] = value
    journal = Journal(tmp_path / "a.db")
    uid = "00000000-0000-4000-8000-000000000000"
    who = Identity(uid, "bench", history[0]["at"], "title", None)
    links = list(chain.links(uid, 1, chain.START, map(json.dumps, history)))
    number = journal.adopt(who, links, [])
    assert number is not None
    with in_time(5), pytest.raises(AssistantError, match="damaged"):
        journal.events(number)
