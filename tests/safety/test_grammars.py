"""Grammars from anybody: nothing that explodes, hangs, or reads files beside the grammar's own."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import strategies as st

from assistant import resources
from assistant.errors import AssistantError
from assistant.grammar import jsgf
from tests.safety.hammering import hammer, in_time, mangled, sizes

HEAD = "#JSGF V1.0;\ngrammar a;\n"


def rules(numbers: range, each: str) -> str:
    """A rule for each number, N being its own and M the next."""
    return "".join(each.replace("N", str(n)).replace("M", str(n + 1)) for n in numbers)


DOUBLING = "public <a0> = <a1> <a1>;" + rules(range(1, 40), "<aN> = <aM> <aM>;")
CHAIN = "public <a0> = <a1>;" + rules(range(1, 900), "<aN> = <aM>;")


def use(text: str) -> None:
    """Do all that is done with a grammar."""
    grammar = jsgf.parse(text, "a.gram")
    grammar.words()
    network = grammar.network()
    network.compact()
    jsgf.cover(network, limit=500)
    for said in ("x", "x y x y", "circlip missing upper", "one two " * 10, ""):
        found = grammar.parse_first(said.split())
        assert (found is not None) == network.accepts(said.split())


@pytest.mark.parametrize(
    ("rules", "why"),
    [
        ("public <a> = " + "(" * 5000 + "x" + ")" * 5000 + ";", "3: nested too deeply"),
        ("public <a> = " + "[" * 300 + "x" + "]" * 300 + ";", "3: nested too deeply"),
        ("public <a> = x" + "*" * 5000 + ";", "3: nested too deeply"),
        (DOUBLING + "<a40> = x;", "more than 200000 parts"),
        (DOUBLING + "<a40> = <VOID>;", "more than 200000 parts"),
        (CHAIN + "<a900> = x;", "rules are nested in rules too deeply"),
        (CHAIN + rules(range(900, 2000), "<aN> = x;"), "2000 rules"),
        ("public <a> = /1e999/ x | /1/ y;", "3: expected at least one weight above zero"),
        ("public <a> = /1e999/ [x] | /1e999/ y*;", "3: expected at least one weight above zero"),
        ("public <a> = (x|y)* x " + "(x|y) " * 16 + ";", "more than 20000 states"),
        ("public <a> = <a> x;", "3: <a> comes back to itself"),
        ("public <a> = [x] <a>;", "3: <a> starts with itself"),
        ("import </etc/passwd.*>; public <a> = x;", "3: /etc/passwd is not the name of a grammar"),
        ("import <../../x.*>; public <a> = x;", "3: ../../x is not the name of a grammar"),
        ("import <..\\x.*>; public <a> = x;", "is not the name of a grammar"),
        ("public <a> = x;" + " " * 1_000_001, "1: larger than a grammar can be"),
    ],
)
def test_what_is_refused(rules: str, why: str) -> None:
    with in_time(10), pytest.raises(AssistantError) as caught:
        use(HEAD + rules)
    assert why in str(caught.value)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    "rules",
    [
        "public <a> = (x*)*;",
        "public <a> = (<GARBAGE>* x*)* y;",
        "public <a> = " + "[x] " * 14 + "y;",
        "public <a> = ((x|x)+|(x|x)+)+;",
        "public <a> = x <a> | <NULL>;",
    ],
)
def test_what_can_be_said_in_many_ways_takes_no_time(rules: str) -> None:
    grammar = jsgf.parse(HEAD + rules)
    with in_time(5):
        grammar.parse_first(["x"] * 60)
        grammar.parse_first(["x"] * 60 + ["z"])


@pytest.mark.parametrize(
    "encoding", ["hex", "idna", "punycode", "undefined", "utf-7", "utf-16", "mbcs", "rot13", "zlib"]
)
def test_encodings_that_a_header_may_name(tmp_path: Path, encoding: str) -> None:
    file = tmp_path / "a.gram"
    file.write_bytes(
        f"#JSGF V1.0 {encoding} en;\ngrammar a;\npublic <a> = x".encode() + b"\\u \xff;"
    )
    with pytest.raises(AssistantError, match=r"a\.gram:\d"):
        jsgf.read(file)


def test_imports_are_bounded_too(tmp_path: Path) -> None:
    (tmp_path / "a.gram").write_text(HEAD + "import <b.*>; public <a> = <x>;")
    with (tmp_path / "b.gram").open("wb") as file:
        file.truncate(10**12)
    with in_time(5), pytest.raises(AssistantError, match=r"b\.gram:1: larger"):
        jsgf.read(tmp_path / "a.gram")
    (tmp_path / "b.gram").write_bytes(b"#JSGF V1.0;\ngrammar b;\npublic <x> = \xff;")
    with pytest.raises(AssistantError, match=r"b\.gram:3: this is not text"):
        jsgf.read(tmp_path / "a.gram")


TOKENS = [
    *("public ", "<a>", "<b>", "<c> ", " = ", ";", ";\n", "|", "(", ")", "[", "]", "*", "+", "/2/"),
    *(
        "/1e999/",
        "/0/",
        "/.5f/",
        "{t}",
        "{",
        "}",
        '"',
        '"x y"',
        "\\",
        "x ",
        "y ",
        "<NULL>",
        "<VOID>",
    ),
    *("<GARBAGE>", "//", "/*", "*/", "import <b.*>;", "grammar b;", "<>", "<", ">", "#JSGF V1.0;"),
]
SAMPLE = """\
public <a> = [please] (<b> | /3/ <c> {tag}) [thank you];
<b> = open {o} | close <place>* | <GARBAGE>;
<c> = (x | y)+ <c2>;
<c2> = y [<c2>];
<place> = upper | lower "quoted word" | <NULL>;
"""


@sizes(80, 8000)
def test_any_rules(examples: int) -> None:
    rules = st.lists(st.sampled_from(TOKENS) | st.text(max_size=3), max_size=40).map("".join)
    hammer(lambda text: use(HEAD + text), rules, examples)


@sizes(80, 8000)
def test_mangled_rules(examples: int) -> None:
    hammer(lambda text: use(HEAD + text), mangled([SAMPLE], TOKENS), examples)


@sizes(10, 400)
def test_mangled_grammars_of_our_own(examples: int) -> None:
    files = resources.folder("grammars").glob("*.gram")
    texts = [file.read_text(encoding="utf-8") for file in sorted(files)]
    hammer(use, mangled([text for text in texts if "import" not in text], TOKENS), examples)


@sizes(40, 3000)
def test_any_bytes_in_a_file(examples: int, tmp_path: Path) -> None:
    file = tmp_path / "a.gram"

    def read(data: bytes) -> None:
        file.write_bytes(data)
        jsgf.read(file)

    start = st.sampled_from([b"", b"#JSGF V1.0;", b"#JSGF V1.0 ISO8859-1 en;\ngrammar a;\n"])
    hammer(read, st.tuples(start, st.binary(max_size=60)).map(b"".join), examples)
