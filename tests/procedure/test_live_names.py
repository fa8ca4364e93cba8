"""The live names of a job without a procedure: the grammar takes them, and each is one part."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue import live
from assistant.grammar import jsgf
from assistant.procedure import kit_list, lexicon, live_names
from assistant.procedure.lexicon import Noun
from assistant.procedure.live_names import Names

GEARBOX = lexicon.read("gearbox")
KIT = (Noun("sun gear", "sun gears"), Noun("short bolt", "short bolts"))
JOB = (Noun("upper end cover", "upper end covers"), Noun("leaf", "leafs"))


def grammar(found: Names) -> jsgf.Grammar:
    command = ("command", "removed (<one_part> | <count> <many_parts>)")
    return live.joined(("numbers",), (command, *found.rules))


def heard(found: Names, text: str) -> str | None:
    tree = grammar(found).parse_first(text.split())
    if tree is None:
        return None
    part = tree.find("many_parts") or tree.find("one_part")
    assert part is not None
    noun = found.named(part.words())
    assert noun is not None
    return noun.name


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("removed upper end cover", "upper end cover"),
        ("removed six long bolts", "long bolt"),
        ("removed six bolts", "bolt"),
        ("removed cover", "cover"),
        ("removed two dowels", "dowel"),
        ("removed two bushes", "bush"),
        ("removed inner seal", "inner seal"),
        ("removed drive side oil seal", "drive side oil seal"),
        ("removed two outer drive side o rings", "outer drive side o ring"),
        # The order of two qualifiers does not make another part.
        ("removed four long upper bolts", "upper long bolt"),
        ("removed four upper long bolts", "upper long bolt"),
        ("removed lower left bracket", "lower left bracket"),
        ("removed left lower bracket", "lower left bracket"),
        # Names of the kit and of the job, with and without qualifiers.
        ("removed sun gear", "sun gear"),
        ("removed two inner sun gears", "inner sun gear"),
        ("removed three upper short bolts", "upper short bolt"),
        ("removed three short upper bolts", "upper short bolt"),
        ("removed two leafs", "leaf"),
    ],
)
def test_names_are_heard_and_understood(said: str, name: str) -> None:
    assert heard(live_names.names(GEARBOX, KIT, JOB), said) == name


@pytest.mark.parametrize(
    "said",
    [
        "removed upper",
        "removed cover upper",
        "removed six bolt",
        "removed bolts",
        "removed upper inner left seal",
        "removed impeller",
        "removed",
    ],
)
def test_what_is_no_name_is_no_sentence(said: str) -> None:
    assert heard(live_names.names(GEARBOX), said) is None


@pytest.mark.parametrize("kind", lexicon.kinds())
def test_every_name_is_heard_in_one_and_in_several(kind: str) -> None:
    found = live_names.names(lexicon.read(kind))
    network = grammar(found).network()
    for noun in found.nouns:
        assert network.accepts(("removed", *noun.name.split()))
        assert network.accepts(("removed", "six", *noun.plural.split()))
        assert found.named(noun.plural.split()) == found.named(noun.name.split()) == noun


def test_the_grammar_holds_no_product_of_qualifiers_and_names() -> None:
    found = live_names.names(GEARBOX)
    arcs = live.joined((), (("command", "<part>"), *found.rules)).network().compact().arcs
    # A name stands after none, one and two qualifiers, and not once for each pair of them.
    assert sum(arc.word == "gaskets" for arc in arcs) == 3


@given(st.data())
def test_a_name_that_was_kept_is_the_same_name_again(data: st.DataObject) -> None:
    found = live_names.names(GEARBOX, KIT, JOB)
    ahead = data.draw(st.lists(st.sampled_from(found.qualifiers), max_size=2, unique=True))
    noun = data.draw(st.sampled_from(found.nouns))
    last = data.draw(st.sampled_from([noun.name, noun.plural]))
    kept = found.named(" ".join([*ahead, last]).split())
    assert kept is not None
    assert found.named(kept.name.split()) == found.named(kept.plural.split()) == kept
    for order in itertools.permutations(ahead):
        assert found.named(" ".join([*order, last]).split()) == kept
    # Once it is a name of the job, it is still that name.
    later = live_names.names(GEARBOX, KIT, (*JOB, kept))
    assert later.named(kept.name.split()) == kept


def test_a_list_without_qualifiers_has_names_all_the_same() -> None:
    bare = lexicon.Lexicon("bare", (Noun("seal", "seals"),), ())
    assert heard(live_names.names(bare), "removed two seals") == "seal"
    assert live_names.names(bare).named(("upper", "seal")) is None
    assert live_names.names(bare).named(()) is None


def test_the_names_of_a_kits_list_can_be_said(tmp_path: Path) -> None:
    path = tmp_path / "kit.csv"
    path.write_text(
        "No,Name,Qty\n1,O-ring 20,2\n2,O-ring 30,2\n3,O-ring 40,2\n4,Screws for the end cover,6\n"
        '5,"Lip seal, shaft 35x52",1\n6,4711,1\n',
        encoding="utf-8",
    )
    found = live_names.names(GEARBOX, [line.noun for line in kit_list.read(path)])
    assert heard(found, "removed two o rings twenty") == "o ring twenty"
    assert heard(found, "removed two o rings") == "o ring"
    assert heard(found, "removed six end cover screws") == "end cover screw"
    assert heard(found, "removed shaft lip seal") == "shaft lip seal"
    assert heard(found, "removed item number six") == "item number six"
