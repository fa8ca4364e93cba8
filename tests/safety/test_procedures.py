"""Procedures from anybody: no code, no bombs, no way out of the folder, and a line for each fault.

The bombs and tags are the usual ones against YAML loaders: aliases of aliases ("a billion
laughs"), and tags that make a loader call functions.
"""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import strategies as st

from assistant import plain_yaml, resources
from assistant.cli.main import main
from assistant.errors import AssistantError
from assistant.grammar import respelling
from assistant.procedure import reading
from assistant.report import page, record
from assistant.trade import measure, threadlocker
from tests.bench_helpers import SMALL, Hands
from tests.report.whole_job import PROCEDURE
from tests.safety.hammering import hammer, in_time, mangled, only_told, sizes

BOMB = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{new}: &{new} [{', '.join([f'*{old}'] * 9)}]\n"
    for old, new in itertools.pairwise("abcdefghi")
)
TORQUE = "torque: 14 N·m"

REFUSED = {
    "aliases of aliases": (BOMB, "x:6: more than 100000 values"),
    "an alias of itself": ("a: &a [*a]\n", "x:1: *a is used inside what it stands for"),
    "a tag that runs": ("title: !!python/object/apply:os.system ['id']\n", "x:1: tags such as"),
    "a tag that makes": ("title: !!python/name:os.system\n", "x:1: tags such as"),
    "a tag of one's own": ("a: 1\ntitle: !ruby/object:Gem {}\n", "x:2: tags such as !ruby"),
    "a binary": ("title: !!binary aGk=\n", "x:1: tags such as"),
    "lists in lists": ("a: " + "[" * 5000, "x:1: nested too deeply"),
    "maps in maps": ("".join(" " * n + "a:\n" for n in range(200)), "nested too deeply"),
    "a number without end": ("revision: " + "9" * 5000, "x:1: a number too long"),
    "a long hexadecimal": ("a: 1\nrevision: 0x" + "f" * 9000, "x:2: a number too long"),
    "a day that is none": ("revision: 2031-02-31\n", "x:1: '2031-02-31' looks like a date"),
    "a null character": ("title: a\0b\n", "U+0000"),
    "half a character": ("title: a\ud800b\n", "U+D800"),
    "too long": ("# " + "x" * plain_yaml.MOST_BYTES, "longer than such a file can be"),
    "a map that is a key": ("a: 1\n? : : ", "x:2: a list or map cannot be the name"),
    "a list that is a key": ("? [a, b]\n: 1", "x:1: a list or map cannot be the name"),
    "a merge of nothing": ("<<: 5\n", "merging"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_a_loader_must_refuse(name: str) -> None:
    text, why = REFUSED[name]
    with in_time(5), pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "x")
    assert why in str(caught.value)
    assert "\n" not in str(caught.value)
    # The other files of YAML are read the same way.
    with in_time(5), pytest.raises(AssistantError):
        threadlocker.read_table(text)


def test_nothing_is_run(tmp_path: Path) -> None:
    mark = tmp_path / "mark"
    for form in (
        f"!!python/object/apply:os.mkdir ['{mark}']",
        f"!!python/object/new:os.mkdir ['{mark}']",
        f"!!python/object/apply:subprocess.check_output [['touch', '{mark}']]",
    ):
        for text in (f"procedure: {form}\n", SMALL.replace("Small box", form)):
            assert only_told(lambda t: reading.parse(t, "x"), text)
    assert not mark.exists()


def test_anchors_that_only_save_writing_are_taken() -> None:
    text = SMALL.replace("hazards: [", "hazards: &h [", 1).replace(
        "say: Take out the key.", "say: Take out the key.\n        hazards: *h"
    )
    assert reading.parse(text, "x").steps[2].hazards == reading.parse(text, "x").steps[0].hazards


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (TORQUE, "torque: '1 a" + " " * 200_000 + "b 1'"),  # backtracking, for hours
        (TORQUE, "torque: " + "9" * 100_000 + " N·m"),
        (TORQUE, "torque: {value: '1e99999999', unit: N·m}"),  # a gigabyte when written out
        (TORQUE, "torque: {value: '-1e-99999999', unit: N·m}"),
        (TORQUE, TORQUE + "\n            tolerance: '1e-9999999'"),
        (TORQUE, "torque: {value: nan, unit: N·m}"),
        ("formula: bore - shaft", "formula: " + "(" * 37 + "9" + "**4)" * 37),
        ("formula: bore - shaft", "formula: " + "bore*" * 39 + "bore"),
        ("formula: bore - shaft", "formula: bore.__class__"),
        ("formula: bore - shaft", "formula: abs(bore.__init__.__globals__)"),
        ("formula: bore - shaft", "formula: \"'a'*9999999\""),
        ("formula: bore - shaft", "formula: '[bore for bore in (1,)]'"),
        ("formula: bore - shaft", "formula: '(lambda: bore)()'"),
        ("time: 10 min", "time: " + "9" * 60),
        ("count: 4", "count: 1e9"),
        ("Small box", "|\n  " + "x" * 900_000),
    ],
)
def test_what_a_value_must_not_be(old: str, new: str) -> None:
    text = SMALL.replace(old, new, 1)
    assert text != SMALL
    told = only_told(lambda t: reading.parse(t, "x"), text)
    assert told is not None
    assert told.startswith("x:")
    assert len(told) < 2000


@pytest.mark.parametrize(
    "name",
    [
        "../../etc/passwd",
        "/etc/passwd",
        "..",
        "/",
        "~nobody-of-that-name/x.yaml",
        "a" * 5000,
        "a\0b",
        "pump-rebuild/../../../../etc/passwd",
        "\u202ex",
        "/dev/zero",
        "/dev/stdin",
    ],
)
def test_names_that_lead_elsewhere(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", name]) == 2
    assert main(["run", name, "--typed", "--silent"]) == 2
    said = capsys.readouterr()
    assert "root:" not in said.err + said.out
    assert "\u202e" not in said.err
    assert "Traceback" not in said.err


def test_a_name_is_a_samples_and_never_a_path() -> None:
    folder = resources.folder("procedures")
    for path in reading.samples().values():
        assert path.parent == folder
    assert reading.find("pump-rebuild").parent == folder


def test_files_that_are_too_large_are_not_read(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    with path.open("wb") as file:
        file.truncate(10**12)  # sparse: a terabyte of nothing
    for read in (reading.load, respelling.read):
        with in_time(5), pytest.raises(AssistantError, match="larger than"):
            read(path)


def test_a_unit_or_remark_names_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "small.yaml").write_text(SMALL)
    where = ["--journal", str(tmp_path / "journal.db")]
    monkeypatch.setattr("sys.stdin", iter(["affirm"]))
    assert main(["run", "small.yaml", "--typed", "--unit", "../../../tmp/x/../y", *where]) == 0
    assert main(["report", "1", *where]) == 0
    names = {path.name for path in tmp_path.rglob("*")}
    assert names <= {"small.yaml", "journal.db", "journal.db-wal", "journal.db-shm", "job-1.html"}


# Made-up ones

YAML_TOKENS = [
    *(": ", "- ", "? ", "&a ", "*a ", "<<: ", "!!str ", "!x ", "|\n", ">\n", "---\n", "...\n"),
    *(
        "{",
        "}",
        "[",
        "]",
        ",",
        "#",
        "'",
        '"',
        "\t",
        "\n",
        "\r",
        "\0",
        "\x85",
        "\ufeff",
        "%YAML 1.1",
    ),
    *(
        "1e999",
        "-0",
        ".nan",
        "0o7",
        "2031-02-31",
        "12:30:45",
        "null",
        "true",
        "~",
        "yes",
        "=",
        "N·m",
    ),
    *("count: ", "unit: ", "when: ", "go_to: ", "14 N·m", "1e99999999 mm", "{value: 1, unit: mm}"),
    *("locker_table: ", "respell: ", "order: ", "torque: ", "formula: ", "9" * 30, "-", "{" * 50),
]


@sizes(30, 1000)
def test_any_yaml(examples: int) -> None:
    tokens = st.lists(st.sampled_from(YAML_TOKENS) | st.text(max_size=5), max_size=30)
    hammer(lambda t: reading.parse(t, "x"), tokens.map("".join) | st.text(), examples)


@sizes(30, 200)
def test_mangled_procedures(examples: int) -> None:
    winch = (resources.folder("procedures") / "winch-gearbox.yaml").read_text(encoding="utf-8")
    head, step = winch.split("stages:")[0], winch.index("\n      - id:", len(winch) // 2)
    part = head + "stages:\n  - name: x\n    steps:" + winch[step : winch.index("\n  -", step)]
    hammer(read_both_ways, mangled([SMALL, PROCEDURE, part], YAML_TOKENS), examples)


def read_both_ways(text: str) -> None:
    reading.parse(text, "x", stored=True)
    reading.parse(text, "x")


@sizes(15, 150)
def test_a_mangled_procedure_that_is_taken_can_be_worked_from(
    examples: int, tmp_path: Path
) -> None:
    numbers = itertools.count()

    def work(text: str) -> None:
        reading.parse(text, "x")
        hands = Hands(tmp_path / f"{next(numbers)}.db", text)
        for phrase in (
            "affirm",
            "bag one",
            "what torque",
            "next step",
            "splined shaft",
            "what is left",
        ):
            hands.say(phrase)
        hands.say("next step", "reading bore 25.1", "affirm", "reading shaft 24.9", "next step")
        hands.say("affirm", "tightened 14", "affirm", "what order", "start timer", "close job")
        journal = hands.bench.journal
        built = record.build(journal.events(1), hands.procedure, 1)
        page.html(built, {})
        journal.close()

    values = [
        "14",
        "0",
        "1",
        "°",
        "mm",
        "N·m",
        "[]",
        "''",
        "x",
        "-1",
        "1e9",
        "999",
        "medium",
        "steel",
    ]
    hammer(work, mangled([SMALL], values), examples)


@sizes(40, 800)
def test_any_respellings(examples: int, tmp_path: Path) -> None:
    file = tmp_path / "r.yaml"

    def read(text: str) -> None:
        file.write_text(text, encoding="utf-8", errors="surrogatepass")
        respelling.read(file)

    standing = (resources.folder("grammars") / "respellings.yaml").read_text(encoding="utf-8")
    hammer(read, mangled([standing[:800]], YAML_TOKENS), examples)


@sizes(40, 800)
def test_any_table_of_a_thread_locker(examples: int) -> None:
    table = threadlocker.SHIPPED.read_text(encoding="utf-8")
    hammer(threadlocker.read_table, mangled([table], YAML_TOKENS), examples)


FORMULA = [
    "bore",
    "shaft",
    "(",
    ")",
    "+",
    "-",
    "*",
    "/",
    "**",
    "^",
    "9",
    "0",
    "1e9",
    "mean(",
    "sqrt(",
]
FORMULA += [
    "min(",
    "abs(",
    ",",
    ".",
    "'",
    "[",
    "]",
    "lambda",
    "if",
    " ",
    "__class__",
    "True",
    "1j",
    "0x",
]


@sizes(100, 5000)
def test_any_formula(examples: int) -> None:
    tokens = st.lists(st.sampled_from(FORMULA) | st.text(max_size=3), max_size=60).map("".join)
    units = {"bore": "mm", "shaft": "°C"}
    hammer(lambda formula: measure.check_formula(formula, units, "mm"), tokens, examples)
