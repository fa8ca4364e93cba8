"""JSGF: what is read and what is refused, compared with PocketSphinx's own reader."""

import itertools
import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import AssistantError
from assistant.grammar import jsgf

HEAD = "#JSGF V1.0;\ngrammar test;\n"


def grammar(body: str) -> jsgf.Grammar:
    return jsgf.parse(HEAD + body)


def accepts(body: str, sentence: str) -> bool:
    """Return whether the grammar accepts a sentence; network, compact and parser must agree."""
    rules = grammar(body)
    words = sentence.split()
    verdict = rules.network().accepts(words)
    assert rules.network().compact().accepts(words) is verdict
    tree = rules.parse_first(words)
    assert (tree is not None) is verdict
    if tree is not None:
        assert tree.words() == tuple(word.casefold() for word in words)
    return verdict


# The Note's own examples, from memory.
NOTE_COMMAND = """#JSGF V1.0 ISO8859-1 en;
grammar com.acme.commands;
/** Documentation comment. @example please move the window */
public <basicCmd> = <startPolite> <command> <endPolite>;
<startPolite> = (please | kindly | could you | oh mighty computer)*;
<endPolite> = [please | thanks | thank you];
<command> = <action> <object>;
<action> = /10/ open | /2/ close | /1/ delete | /1/ move;   // weights
<object> = [the | a] (window | file | menu);
"""
SAID = "oh mighty computer could you open the window thanks"


def test_the_notes_example() -> None:
    rules = jsgf.parse(NOTE_COMMAND)
    assert rules.name == "com.acme.commands" and rules.public == ("basicCmd",)
    tree = rules.parse_first(SAID.split())
    assert tree is not None
    action = tree.find("action")
    assert action is not None and action.words() == ("open",) and action.start == 5
    assert rules.parse_first(["open", "the"]) is None
    first = {a.word: a.probability for a in rules.network().compact().leaving[0]}
    assert first["open"] == pytest.approx(5 * first["close"])


@pytest.mark.parametrize(
    ("body", "yes", "no"),
    [
        ("public <a> = /0/ a | /1/ b;", ["b"], ["a"]),
        ("public <a> = b c | d;", ["b c", "d"], ["b", "c", "", "b c d"]),
        ("public <a> = (b | c) d;", ["b d", "c d"], ["b", "b c d"]),
        ("public <a> = [b] c;", ["b c", "c"], ["b", ""]),
        ("public <a> = b* c;", ["c", "b c", "b b b c"], ["b", ""]),
        ("public <a> = (b c)+;", ["b c", "b c b c"], ["", "b c b"]),
        ("public <a> = b [c]* d;", ["b d", "b c c d"], ["b c"]),
        ("public <a> = ([b] [c])+;", ["", "b", "c b c", "b b"], ["d"]),
        ("public <a> = b <NULL> c;", ["b c"], ["b", "c"]),
        ("public <a> = b | c <VOID>;", ["b"], ["c"]),
        ('public <a> = "New York" | "C++";', ["new york", "NEW York", "c++"], ["new"]),
        ("public <a> = Größe | 넥스트 | what's;", ["GRÖSSE", "넥스트", "what's"], ["grosse"]),
        ("public <a> = b\\;c | public grammar import;", ["b;c", "public grammar import"], ["b"]),
        ("public <a> = b {t} {u}* | c {x\\}y};", ["", "b", "b b", "c"], ["t"]),
        ("public <a> = b // no\n /* <x> = ; */ c;", ["b c"], ["b"]),
        ("public <a> = b; public <c> = d;", ["b", "d"], ["b d"]),
        ("public <a> = b <a> | c;", ["c", "b c", "b b b c"], ["b", "c b", "c c"]),
        ("public <a> = x <b> | y; <b> = z <a>;", ["y", "x z y", "x z x z y"], ["x y", "x z"]),
        ("public <t> = a | <r>; <r> = x <r> | y;", ["a", "x y", "y"], ["x a", "x"]),
        ("public <a> = b <a> {t} | c;", ["b b c"], ["b"]),
        ("public <a> = note <GARBAGE>;", ["note", "note any thing"], ["a note"]),
        ("public <a> = <GARBAGE> stop;", ["stop", "please stop", "stop stop"], ["stop now"]),
        ("public <a:b;c> = b;", ["b"], []),
    ],
)
def test_sentences(body: str, yes: list[str], no: list[str]) -> None:
    assert [s for s in yes if not accepts(body, s)] == []
    assert [s for s in no if accepts(body, s)] == []


@pytest.mark.parametrize(
    ("text", "line", "expected"),
    [
        ("", 1, "expected the header '#JSGF V1.0;', found the end"),
        ("grammar a;", 1, "header"),
        ("#JSGF V1.0;\npublic <a> = b;", 2, "'grammar NAME;'"),
        (HEAD + "public <a> = b", 3, "';'"),
        (HEAD + "\npublic <a> = (b;", 4, "found ';'"),
        (HEAD + "public <a> = ();", 3, "found ')'"),
        (HEAD + "public <a> = b | ;", 3, "found ';'"),
        (
            HEAD + "public <a> = b",
            3,
            "expected '(', '*', '+', ';', '[', '|', a quoted word, a rule name like <this>, a word "
            "or a {tag}, found the end of the file.",
        ),
        (HEAD + "public <a> = b /* no end", 3, "found '/'"),
        (HEAD + "public <a> =\n <b>;", 4, "found <b>"),
        (HEAD + "<a> = b;", 3, "public rule"),
        (HEAD + "public <a> = b;\n<a> = c;", 4, "second time"),
        (HEAD + "public <NULL> = b;", 3, "built in"),
        (HEAD + "public <a> = /0/ b | /0/ c;", 3, "above zero"),
        (HEAD + "public <a> = <a> b | c;", 3, "right recursion"),
        (HEAD + "public <a> = b <a> c | c;", 3, "right recursion"),
        (HEAD + "public <a> = [b] <a> | c;", 3, "left recursion"),
        (HEAD + "public <a> = <b>;\n<b> = <a> | c;", 4, "left recursion"),
        (HEAD + "public <a> = (b <a>)* c;", 3, "right recursion"),
        ("#JSGF V1.0;\ngrammar a;\nimport <x>;\npublic <a> = b;", 3, "GRAMMAR.RULE"),
        ("#JSGF V1.0;\ngrammar a;\nimport <x.y>;\npublic <a> = b;", 3, "cannot find"),
        ('#JSGF V1.0;\ngrammar a;\npublic <a> = " ";', 3, "between the quotes"),
    ],
)
def test_errors_tell_line_and_what_was_expected(text: str, line: int, expected: str) -> None:
    with pytest.raises(AssistantError) as error:
        jsgf.parse(text, "shop.gram")
    assert str(error.value).startswith(f"shop.gram:{line}: ")
    assert expected in str(error.value)


def test_a_parse_prefers_earlier_alternatives_and_lists_every_other() -> None:
    rules = grammar("public <a> = <one> {x} | <two> | b c;\n<one> = b {t} c {u};\n<two> = b [c];")
    trees = list(rules.parse_words(["B", "C"]))
    assert [t.children[0] if isinstance(t.children[0], str) else t.children[0].rule for t in trees]
    assert trees[0].tags == ("x",)
    one = trees[0].find("one")
    assert one is not None and one.tags == ("t", "u") and one.children == ("b", "c")
    assert trees[1].find("two") is not None
    assert trees[2].children == ("b", "c") and len(trees) == 3


def test_silent_and_repeated_parts_end() -> None:
    rules = grammar("public <a> = ([b]* [c]*)* [<d>]; <d> = [b] | c;")
    words = ["b", "c", "b", "c"]
    first = rules.parse_first(words)
    assert first is not None and first.words() == tuple(words)
    many = list(itertools.islice(rules.parse_words(words), 1000))
    assert len(many) > 3 and all(tree.words() == tuple(words) for tree in many)


def test_imports(tmp_path: Path) -> None:
    (tmp_path / "com" / "shop").mkdir(parents=True)
    (tmp_path / "com" / "shop" / "numbers.gram").write_text(
        "#JSGF V1.0;\ngrammar com.shop.numbers;\npublic <digit> = <low> | two;\n<low> = one;\n"
    )
    main = tmp_path / "main.gram"
    take = "#JSGF V1.0;\ngrammar main;\nimport <com.shop.numbers.{}>;\npublic <a> = bag <{}>;\n"
    for wanted, used in [
        ("*", "digit"),
        ("digit", "numbers.digit"),
        ("*", "com.shop.numbers.digit"),
    ]:
        main.write_text(take.format(wanted, used))
        rules = jsgf.read(main)
        assert rules.public == ("a",) and rules.words() == {"bag", "one", "two"}
    main.write_text(take.format("low", "low"))
    with pytest.raises(AssistantError, match="only public rules"):
        jsgf.read(main)


def test_encodings(tmp_path: Path) -> None:
    path = tmp_path / "a.gram"
    body = "grammar a;\npublic <a> = größe;\n"
    for header, encoding in [
        ("#JSGF V1.0 ISO8859-1 de;", "latin-1"),
        ("#JSGF V1.0 UTF-8 de;", "utf-8"),
        ("#JSGF V1.0;", "utf-8-sig"),
    ]:
        path.write_bytes(f"{header}\r\n{body}".encode(encoding))
        assert jsgf.read(path).words() == {"grösse"}
    path.write_bytes(f"#JSGF V1.0;\n{body}".encode("latin-1"))
    with pytest.raises(AssistantError, match=r"a\.gram:3: .*UTF-8"):
        jsgf.read(path)
    path.write_bytes(b"#JSGF V1.0 klingon xx;\n")
    with pytest.raises(AssistantError, match="klingon"):
        jsgf.read(path)
    with pytest.raises(AssistantError, match="cannot read"):
        jsgf.read(tmp_path / "none.gram")


WORDS = ["one", "two", "three"]
expansions = st.recursive(
    st.sampled_from(WORDS),
    lambda inner: st.one_of(
        st.lists(inner, min_size=2, max_size=3).map(lambda p: f"( {' | '.join(p)} )"),
        st.lists(inner, min_size=2, max_size=3).map(lambda p: f"( {' '.join(p)} )"),
        inner.map(lambda p: f"[ {p} ]"),
        inner.map(lambda p: f"( {p} )*"),
        inner.map(lambda p: f"( {p} )+"),
    ),
    max_leaves=6,
)


@pytest.fixture(scope="module")
def decoder() -> object:
    pocketsphinx = pytest.importorskip("pocketsphinx")
    model = Path(pocketsphinx.__file__).parent / "model" / "en-us"
    return pocketsphinx.Decoder(
        hmm=str(model / "en-us"),
        dict=str(model / "cmudict-en-us.dict"),
        lm=None,
        loglevel="FATAL",
    )


@settings(max_examples=60, deadline=None)
@given(expansion=expansions, seed=st.integers(0, 1000))
def test_agrees_with_pocketsphinx_reader(decoder: object, expansion: str, seed: int) -> None:
    text = HEAD + f"public <a> = {expansion};\n"
    rules = jsgf.parse(text)
    theirs = decoder.parse_jsgf(text.encode(), "test.a")  # type: ignore[attr-defined]
    chance = random.Random(seed)
    # PocketSphinx's acceptor refuses a sentence without words in every grammar.
    sentences = [[w] for w in WORDS] + [chance.choices(WORDS, k=n) for n in (2, 2, 3, 3, 4, 5)]
    for words in sentences:
        verdict = rules.network().accepts(words)
        assert bool(theirs.accept(" ".join(words))) is verdict
        assert rules.network().compact().accepts(words) is verdict
        assert (rules.parse_first(words) is not None) is verdict


@settings(max_examples=60, deadline=None)
@given(expansion=expansions)
def test_cover_says_only_sentences_and_every_word(expansion: str) -> None:
    rules = grammar(f"public <a> = {expansion};")
    phrases = [phrase.split() for phrase in jsgf.cover(rules.network())]
    assert all(rules.network().accepts(phrase) for phrase in phrases)
    assert {word for phrase in phrases for word in phrase} == rules.words()
    compact = rules.network().compact()
    pairs = {(a.word, b.word) for a in compact.arcs for b in compact.leaving[a.target]}
    assert pairs == {pair for phrase in phrases for pair in itertools.pairwise(phrase)}


def test_cover_has_a_limit_and_names_free_speech() -> None:
    rules = grammar("public <a> = note <GARBAGE> | (a | b | c) (d | e | f);")
    assert "note [unk]" in jsgf.cover(rules.network(), garbage="[unk]")
    assert "note" in jsgf.cover(rules.network())
    with pytest.raises(AssistantError, match="more than 5"):
        jsgf.cover(rules.network(), limit=5)
