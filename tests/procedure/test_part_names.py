"""Names that can be said, out of what suppliers write."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.procedure import part_names
from assistant.procedure.part_names import Spoken, spoken, told_apart

SAYABLE = re.compile(r"[a-z]+( [a-z]+)*")


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("SEAL, OIL 35x52x7", "oil seal"),
        ("O-Ring Ø20", "o ring"),
        ("O-RING 20x2 NBR70", "o ring"),
        ("Ø20 o'ring", "o ring"),
        ("ORING", "o ring"),
        ("BOLT, HEX HEAD, M8x40, ZINC", "zinc hex head bolt"),
        ("SCREW, CAP, SOCKET HEAD M8 X 40 LONG", "socket head cap screw"),
        ("SHCS M8x40", "socket head cap screw"),
        ("BRG, BALL 6204-2RS", "ball bearing"),
        ("WSHR, SPRING M8 DIN 127", "spring washer"),
        ("Gasket for cover", "cover gasket"),
        ("Screws for the end cover", "end cover screw"),
        ("Kit, gasket (incl. o-rings)", "gasket kit"),
        ("Filter, oil, with gasket", "oil filter"),
        ("CIRCLIPS, INTERNAL 52mm", "internal circlip"),
        ("Thread locker, medium, 50 ml", "medium thread locker"),
        ("Gasket, cover, 0,5 mm", "cover gasket"),
        ('Rubber mount 3/8"-16', "rubber mount"),
        ("Lip seal - shaft", "shaft lip seal"),
        ("Mech. seal, 25 mm, C/SiC", "sic mechanical seal"),
        ("Oil seal, R.H.", "right oil seal"),
        ("Part No 12 Filter", "filter"),
        ("V-belt A42", "v belt"),
        ("Plug G1/4 A", "plug"),
        ("Brass bushes", "brass bush"),
        ("BELLOWS", "bellows"),
        ("Lens", "lens"),
        ("Clevises", "clevis"),
        ("Dichtung für Gehäuse", "dichtung fur gehause"),
        ("(bronze)", "bronze"),
        ("ring20x2", "ring"),
        # At most four words; those nearest to the head stay.
        ("Housing, bearing, pump, cast iron, painted", "painted pump bearing housing"),
    ],
)
def test_what_suppliers_write_is_said(written: str, said: str) -> None:
    assert spoken(written) == said


@pytest.mark.parametrize("written", ["", "123", "Ø20", "NBR", "Прокладка", "-", "(12)", "x" * 200])
def test_what_has_no_words_has_no_name(written: str) -> None:
    assert spoken(written) is None


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (["O-ring 20x2", "O-ring 30x2"], ["small o ring", "large o ring"]),
        (["Bolt M8x55", "Bolt M8x40"], ["long bolt", "short bolt"]),
        (["Bolt M10x40", "Bolt M8x40"], ["large bolt", "small bolt"]),
        (
            ["O-ring 20x2", "O-ring 30x2", "O-ring 20.5x2"],
            ["o ring twenty", "o ring thirty", "o ring two zero point five"],
        ),
        (["Gasket", "Gasket, 12"], ["gasket number one", "gasket number two"]),
        (["gasket", "cover", "gasket"], ["gasket number one", "cover", "gasket number two"]),
        (["cover", "12", "plug", ""], ["cover", "item number two", "plug", "item number four"]),
        # The easy names are taken, or would say two lengths of one bolt.
        (["seal 10", "seal 12", "small seal"], ["seal ten", "seal twelve", "small seal"]),
        (["long bolt M8x40", "long bolt M8x50"], ["long bolt forty", "long bolt fifty"]),
        (
            ["gasket", "gasket", "gasket number one"],
            ["gasket number four", "gasket number five", "gasket number one"],
        ),
    ],
)
def test_lines_that_sound_the_same_are_told_apart(written: list[str], said: list[str]) -> None:
    assert [one.name for one in told_apart(written)] == said


def test_the_figure_in_a_name_has_no_plural() -> None:
    found = told_apart(["O-ring 20", "O-ring 30", "O-ring 40"])
    assert found[0] == Spoken("o ring twenty", "o rings twenty")
    assert told_apart(["Bolt M8x40", "Bolt M8x55"])[1] == Spoken("long bolt", "long bolts")


WORDS = st.sampled_from(
    ["seal", "SEAL, OIL", "o-ring", "Ø20", "M8x40", "20x2", ",", "gasket", "small", "number one"]
)
WRITTEN = st.text(max_size=30) | st.lists(WORDS, max_size=4).map(" ".join)


@settings(max_examples=150, deadline=None)
@given(st.lists(WRITTEN, max_size=12))
def test_any_list_has_a_name_for_each_line(written: list[str]) -> None:
    found = told_apart(written)
    assert len(found) == len(written)
    assert len({one.name for one in found}) == len(found)
    for one in found:
        for name in (one.name, one.plural):
            assert SAYABLE.fullmatch(name), name
            assert len(name) <= 60


def test_a_long_list_of_one_name_is_quick() -> None:
    found = told_apart(["gasket"] * 5000)
    assert len({one.name for one in found}) == 5000
    assert part_names.figures("M8x1,25 x 40") == tuple(map(part_names.Decimal, ("8", "1.25", "40")))
