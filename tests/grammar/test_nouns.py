"""Plurals and articles of the trade's nouns."""

import pytest

from assistant.grammar import nouns


@pytest.mark.parametrize(
    ("one", "several"),
    [
        ("bush", "bushes"),
        ("thrust bush", "thrust bushes"),
        ("o-ring", "o-rings"),
        ("o ring", "o rings"),
        ("boss", "bosses"),
        ("key", "keys"),
        ("shim box", "shim boxes"),
        ("crankcase half", "crankcase halves"),
        ("circlip", "circlips"),
        ("pulley", "pulleys"),
        ("assembly", "assemblies"),
        ("die", "dies"),
        ("lens", "lenses"),
        ("cover bolts", "cover bolts"),
        ("case halves", "case halves"),
    ],
)
def test_plurals(one: str, several: str) -> None:
    assert nouns.plural(one) == several
    assert nouns.plural(several) == several
    assert nouns.counted(2, one) == several
    assert nouns.counted(1, one) == one
    assert nouns.counted(0, one) == several


def test_a_plural_that_is_given_goes_before() -> None:
    assert nouns.counted(2, "leaf", "leafs") == "leafs"
    assert nouns.counted(1, "leaf", "leafs") == "leaf"


@pytest.mark.parametrize(
    ("noun", "article"),
    [
        ("drain plug", "a"),
        ("o ring", "an"),
        ("o-ring", "an"),
        ("oil seal", "an"),
        ("end plate", "an"),
        ("union", "a"),
        ("u bolt", "a"),
        ("s hook", "an"),
        ("impeller", "an"),
        ("hose", "a"),
        ("hour meter", "an"),
    ],
)
def test_articles(noun: str, article: str) -> None:
    assert nouns.article(noun) == article
