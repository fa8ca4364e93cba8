"""The names of the trade: their form, how they sound beside each other, and a shop's own list."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

from assistant import plain_yaml
from assistant.errors import AssistantError
from assistant.grammar import jsgf, nouns, respelling
from assistant.procedure import lexicon
from assistant.procedure.lexicon import Lexicon
from assistant.recognition.alignment import COSTS, Aligner
from assistant.recognition.lexicon import Lexicon as Pronunciations
from assistant.recognition.lexicon import _dictionary
from assistant.recognition.pronunciation import PHONES
from tests.safety.hammering import hammer, mangled, sizes

KINDS = ("general", "pump", "gearbox", "engine", "compressor", "hydraulics", "electrics")

# One phone misheard, put in or lost costs at most 0.8, with phones of one kind. A noun names the
# piece, so between two nouns there has to be more than one phone misheard and another blurred
# (0.8 + 0.4): 1.4 is two phones lost, or more. A qualifier leaves the right noun, and the few that
# every shop says are close ("upper" and "outer" are 1.2 apart): two phones have to differ.
NOUNS_APART = 2 * COSTS.gap
QUALIFIERS_APART = COSTS.gap + COSTS.alike

# What was asked for by name (the plain words of any strip-down).
PLAIN = (
    "cover bolt nut stud screw washer gasket seal dowel bracket tube pipe hose clamp shaft bearing "
    "race bush circlip plug damper housing spring pin key plate pump filter wire lead linkage "
    "lever mount grommet shim spacer"
)


@pytest.fixture(scope="module", params=KINDS)
def live(request: pytest.FixtureRequest) -> Lexicon:
    return lexicon.read(request.param)


@pytest.fixture(scope="module")
def pronunciations() -> Pronunciations:
    return Pronunciations(respelling.standing(), "pocketsphinx")


def said(pronunciations: Pronunciations, text: str) -> Iterator[tuple[str, ...]]:
    ways = itertools.product(*(pronunciations.of(word) for word in text.split()))
    return (tuple(phone for word in way for phone in word) for way in ways)


def aligner(pronunciations: Pronunciations, expansion: str) -> Aligner:
    grammar = jsgf.parse(f"#JSGF V1.0; grammar g; public <n> = {expansion};", "test")
    return Aligner(grammar.network(), pronunciations)


def test_the_kinds_of_machine_are_these() -> None:
    assert tuple(lexicon.kinds()) == KINDS
    assert lexicon.kinds()["pump"] == "pump"
    assert lexicon.kinds()["general"] == "any machine"


def test_the_store_is_large_and_holds_what_was_asked_for() -> None:
    store = lexicon._shipped()
    assert len(store.nouns) >= 150
    assert {*PLAIN.split(), "o ring"} <= set(store.nouns)
    assert {"upper", "lower", "drive side", "main", "end", "long", "short", "rubber", "steel"} <= (
        set(store.qualifiers)
    )
    assert set(store.qualifiers.values()) == set(lexicon.CLASSES)


def test_a_list_is_short_enough_to_be_heard_well(live: Lexicon) -> None:
    assert 35 <= len(live.nouns) + len(live.qualifier_words()) <= 50


def test_what_every_machine_has_is_on_every_list(live: Lexicon) -> None:
    names = {noun.name for noun in live.nouns}
    assert {"bolt", "nut", "gasket", "seal", "cover", "o ring", "dowel", "bracket"} <= names
    assert {"upper", "lower", "inner", "outer", "long", "short", "end"} <= set(
        live.qualifier_words()
    )
    assert "washer" in names or "plain washer" in names


def test_every_word_is_in_the_recognisers_dictionary_or_respelt() -> None:
    store = lexicon._shipped()
    respellings, known = respelling.standing(), _dictionary()
    names = [*store.nouns, *store.nouns.values(), *store.qualifiers]
    unknown = set()
    for word in {word for name in names for word in name.split()} - set(known):
        spelt = respellings.of(word, "pocketsphinx") or ("?",)
        if not (all(p in PHONES for p in spelt) or all(part in known for part in spelt)):
            unknown.add(word)
    assert unknown == set()


def test_plurals_are_those_of_the_trade(live: Lexicon) -> None:
    for noun in live.nouns:
        assert noun.plural != noun.name
        assert noun.plural == nouns.plural(noun.name)


def test_plurals_are_written_only_where_an_s_is_not_enough() -> None:
    tree = plain_yaml.load(Path(lexicon.resources.folder("grammars") / "trade.yaml").read_text())
    for name, plural in tree["nouns"].items():
        assert plural is None or plural != f"{name}s", name
        assert plural or nouns.plural(name) == f"{name}s" or name.endswith(("y", "f")), name


def test_no_two_names_of_a_machine_sound_alike(
    live: Lexicon, pronunciations: Pronunciations
) -> None:
    name_of = {form: n.name for n in live.nouns for form in (n.name, n.plural)}
    one_of = " | ".join(name_of)
    names = aligner(pronunciations, f"[{' | '.join(live.qualifier_words())}] ({one_of})")
    close = {}
    for form, name in name_of.items():
        for phones in said(pronunciations, form):
            for match in names.nearest(phones, 6):
                other = " ".join(match.words)
                # One and several of a thing are one name; the number said with it tells them apart.
                if name_of.get(other) != name and match.distance < NOUNS_APART - 1e-4:
                    close[form, other] = round(match.distance, 2)
    assert close == {}


def test_no_two_qualifiers_of_a_machine_sound_alike(
    live: Lexicon, pronunciations: Pronunciations
) -> None:
    words = live.qualifier_words()
    qualifiers = aligner(pronunciations, " | ".join(words))
    close = {}
    for word in words:
        for phones in said(pronunciations, word):
            for match in qualifiers.nearest(phones, 4):
                other = " ".join(match.words)
                if other != word and match.distance < QUALIFIERS_APART - 1e-4:
                    close[word, other] = round(match.distance, 2)
    assert close == {}


def test_the_measure_finds_the_pairs_that_are_known_to_be_close(
    pronunciations: Pronunciations,
) -> None:
    for one, other in [("seal", "seat"), ("dowel", "dial"), ("bolt", "belt"), ("shim", "pin")]:
        (match,) = aligner(pronunciations, other).nearest(next(said(pronunciations, one)), 1)
        assert match.distance < NOUNS_APART


OWN = """\
title: capstan drive
like: gearbox
nouns:
  - drum
  - pawl
  - leaf: leaves
  - Warping-Head
  - roller
qualifiers:
  where: [seaward, "drive side"]
  which: [warping]
without: [worm wheel, drive side, input]
"""


def own(folder: Path, text: str) -> Path:
    path = folder / "capstan.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_shops_own_list_is_joined_with_the_one_it_is_like(tmp_path: Path) -> None:
    found = lexicon.read(own(tmp_path, OWN))
    plurals = {noun.name: noun.plural for noun in found.nouns}
    assert found.title == "capstan drive"
    assert plurals["leaf"] == "leaves" and plurals["warping head"] == "warping heads"
    assert {"bolt", "worm shaft", "drum", "pawl", "roller"} <= set(plurals)
    assert "worm wheel" not in plurals
    classes = dict(found.qualifiers)
    # A list leaves words out of those before it, never its own.
    assert {"seaward", "drive side", "upper"} <= set(classes["where"])
    assert "input" not in found.qualifier_words()
    assert classes["which"] == ("end", "warping")
    assert lexicon.read(str(own(tmp_path, OWN))) == found


def test_a_list_of_its_own_has_what_is_common_and_its_words(tmp_path: Path) -> None:
    path = own(tmp_path, "\ufeffnouns: {bush: , pawl: pawls}\nqualifiers: [main]\n")
    found = lexicon.read(path)
    assert found.title == "capstan"
    common = {
        noun.name for noun in lexicon._live(lexicon._shipped().common, lexicon._shipped()).nouns
    }
    assert {noun.name for noun in found.nouns} == {*common, "bush", "pawl"}
    assert {noun.name: noun.plural for noun in found.nouns}["bush"] == "bushes"
    assert dict(found.qualifiers)["which"] == ("end", "main")


@pytest.mark.parametrize(
    ("text", "line", "expected"),
    [
        ("nouns: [bolt,\n nut", 2, "expected"),
        ("- bolt\n", 1, "expected the keys title, like"),
        ("", 1, "expected the keys title, like"),
        ("title: x\nnoun: [bolt]\n", 2, "unknown key 'noun'"),
        ("machines:\n  pump:\n    nouns: [bolt]\n", 1, "one file holds the list of one machine"),
        ("title: x\nlike: gear box\n", 2, "no machine 'gear box' comes with the program"),
        ("title: x\nlike: [pump]\n", 2, "no machine"),
        ("title:\n", 1, "expected what the machine is called"),
        ("nouns: [drum]\ntitle: " + "x" * 70, 2, "at most 60 characters"),
        ("nouns:\n  - drum\n  - M8 bolt\n", 3, "letters only, numbers spelt out"),
        ("nouns:\n  - drum\n  - 12\n", 3, "found '12'"),
        ("nouns:\n  - drum\n  - on\n  - yes\n  - true\n", 5, "found 'True'"),
        ("nouns:\n  - drum\n  - drum\n", 3, "'drum' is here twice"),
        ("nouns:\n  drum: 2 drums\n", 2, "the plural of 'drum'"),
        ("nouns: drum\n", 1, "expected a list of names"),
        ("nouns:\n  - [drum]\n", 2, "expected a name"),
        ("title: x\nqualifiers: [upper, seaward]\n", 2, "'seaward' is new"),
        ("qualifiers:\n  side: [seaward]\n", 2, "unknown key 'side'; known keys are where"),
        ("qualifiers:\n  where: seaward\n", 2, "expected a list of words"),
        ("qualifiers:\n  where:\n    - seaward\n    - seaward\n", 4, "here twice"),
        ("qualifiers: seaward\n", 1, "expected the keys where"),
        ("without:\n  - drumm\n", 2, "no name 'drumm'"),
        ("without: drum\n", 1, "expected a list of names to leave out"),
        ("nouns: [" + "x" * 70 + "]\n", 1, "at most 60"),
        ("nouns: &a [bolt, *a]\n", 1, "is used inside what it stands for"),
        ("title: !!python/name:os.system\n", 1, "tags such as"),
    ],
)
def test_errors_name_file_and_line(tmp_path: Path, text: str, line: int, expected: str) -> None:
    path = own(tmp_path, text)
    with pytest.raises(AssistantError) as error:
        lexicon.read(path)
    assert str(error.value).startswith(f"{path}:{line}: ")
    assert expected in str(error.value)
    assert str(error.value)[-1] in ".?"
    assert "\n" not in str(error.value)


def test_too_many_names_are_a_mistake(tmp_path: Path) -> None:
    letters = "abcdefghij"
    many = [f"x{a}{b}{c}" for a in letters for b in letters for c in letters]
    with pytest.raises(AssistantError, match="more than 500 nouns"):
        lexicon.read(own(tmp_path, f"nouns: [{', '.join(many)}]\n"))


def test_a_machine_that_is_not_known_is_told_with_those_that_are(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match=r"Did you mean gearbox\? The kinds are general, pump"):
        lexicon.read("gear box")
    with pytest.raises(AssistantError, match="There is no list of names at"):
        lexicon.read(tmp_path / "none.yaml")
    with pytest.raises(AssistantError):
        lexicon.read("a\0b")
    with pytest.raises(AssistantError):
        lexicon.read("a" * 5000)


def test_a_file_that_is_not_text_or_too_large(tmp_path: Path) -> None:
    path = tmp_path / "x.yaml"
    path.write_bytes(b"title: caf\xe9\n")
    with pytest.raises(AssistantError, match="not UTF-8 text"):
        lexicon.read(path)
    with path.open("wb") as file:
        file.truncate(10**9)
    with pytest.raises(AssistantError, match="larger than a list of names"):
        lexicon.read(path)


@sizes(60, 3000)
def test_any_list(examples: int, tmp_path: Path) -> None:
    path = tmp_path / "capstan.yaml"

    def read(text: str) -> None:
        path.write_bytes(text.encode("utf-8", "surrogatepass"))
        found = lexicon.read(path)
        assert all(noun.name and noun.plural for noun in found.nouns)

    tokens = ("nouns: ", "like: ", "pump", "&a ", "*a", "<<: ", "- ", "[", "{", ": ", "\0", "? ")
    hammer(read, mangled([OWN, OWN.split("qualifiers")[0]], tokens), examples)
