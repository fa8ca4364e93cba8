"""Words from anybody: numbers, units and phrases, however they come."""

from __future__ import annotations

import itertools
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import strategies as st

from assistant.dialogue import events, live, state
from assistant.errors import AssistantError
from assistant.grammar import jsgf, numbers, units
from assistant.journal.store import Journal
from assistant.trade import units as trade_units
from tests.bench_helpers import SMALL, Hands
from tests.safety.hammering import hammer, in_time, sizes

NUMBER_WORDS = [
    *("zero", "one", "two", "nine", "niner", "oh", "ten", "fourteen", "forty", "twenty"),
    *("hundred", "thousand", "and", "a", "an", "of", "half", "quarter", "eighths"),
    *("thirty", "seconds", "sixty", "fourths", "dozen", "double", "triple", "point"),
    *("decimal", "minus", "pair", "thirds", "x"),
]


def parse_number(words: list[str]) -> None:
    for parse in (numbers.parse, numbers.parse_count):
        try:
            value = parse(words)
        except ValueError as error:
            assert str(error).endswith(".")
            assert "sys.set_int_max_str_digits" not in str(error)
            continue
        assert len(str(value)) < 1000
        if parse is numbers.parse:
            assert isinstance(value, Decimal)
            numbers.parse(numbers.spell_digits(value).split())


@sizes(300, 10_000)
def test_any_number_words(examples: int) -> None:
    hammer(parse_number, st.lists(st.sampled_from(NUMBER_WORDS), max_size=12), examples)


@pytest.mark.parametrize(
    "words",
    [
        ["nine"] * 5000,
        ["triple", "nine"] * 200,
        ["one", "point"] + ["nine"] * 50_000,
        ["double"] * 5000 + ["one"],
        ["thousand"] * 5000,
        ["a", "half"] * 3000,
        ["minus"] * 3000,
    ],
)
def test_numbers_without_end(words: list[str]) -> None:
    with in_time(5):
        parse_number(words)


@pytest.mark.parametrize(
    "value", ["1e99999999", "-1e-99999999", "Infinity", "NaN", "sNaN", "x", ""]
)
def test_numbers_that_are_not_said(value: str) -> None:
    with in_time(5), pytest.raises(ValueError, match=r"said|not a number|figures"):
        numbers.spell_digits(value)


FIGURES = [
    *"0123456789.,-–−/⁄½ :×",
    "14",
    "N·m",
    "Nm",
    "mm",
    " in ",
    "ft lb",
    "°C",
    '"',
    "µ",
    "1e9",
]


@sizes(200, 8_000)
def test_any_typed_figures(examples: int) -> None:
    texts = st.lists(st.sampled_from(FIGURES) | st.text(max_size=3), max_size=25).map("".join)
    hammer(numbers.digits_to_words, texts, examples)


@pytest.mark.parametrize(
    "text",
    [
        *("1" * 100_000, "1." * 20_000, "1," * 20_000, "1-" * 20_000, "1/" * 20_000, "- " * 20_000),
        *("1" + " " * 50_000 + "1", "1/" + "9" * 5000, "1" * 5000 + " 1/2", "½" * 20_000),
        *("1 " * 20_000 + "in", "1" + "n" * 50_000, "." * 50_000, "1.1" * 20_000),
    ],
)
def test_typed_figures_take_no_time(text: str) -> None:
    with in_time(5):
        numbers.digits_to_words(text)


def parse_units(text: str) -> None:
    for expected in ((), ("N·m", "mm", "lbf·ft")):
        try:
            units.parse(text.split(), expected)
        except ValueError as error:
            assert not isinstance(error, UnicodeError)
    trade_units.parse_quantity(text)


@sizes(100, 5000)
def test_any_quantity(examples: int) -> None:
    hammer(parse_units, st.lists(st.sampled_from(FIGURES), max_size=12).map("".join), examples)
    hammer(parse_units, st.text(max_size=80), examples // 2)
    hammer(trade_units.find, st.text(max_size=200), examples // 2)


def test_a_unit_without_end() -> None:
    for text in ("N·" * 100_000, "1 a" + " " * 100_000 + "\n1", "9" * 100_000 + " mm"):
        with in_time(5), pytest.raises(AssistantError):
            trade_units.parse_quantity(text)


# Phrases at the bench

JUNK = [
    *(
        "14",
        "forty",
        "1e99999999",
        "99999999999",
        "-1",
        "1.",
        ".5",
        "0",
        "9" * 60,
        "1/2",
        "0x1",
        "nan",
    ),
    *(
        "0x1",
        "nan",
        "\0",
        "\x1b[2J",
        "\u202e",
        "<script>",
        "=1+1",
        "'",
        '"',
        "%s",
        "{0}",
        "../..",
        "\U0001f527",
    ),
    *("note", "correction", "reason", "N·m", "mm", "bar", "degrees", "tightened", "reading"),
]


def vocabulary() -> list[str]:
    """Phrases and words that are understood somewhere in the small procedure."""
    from assistant.procedure import reading

    procedure = reading.parse(SMALL, "small.yaml")
    found: dict[str, None] = {}
    for step in procedure.steps:
        grammar = live.grammar_for(state.at_step(procedure, step.id))
        found |= dict.fromkeys(jsgf.cover(grammar.network(), limit=5000)[:400])
        found |= dict.fromkeys(sorted(grammar.words()))
    return list(found)


@sizes(25, 400)
def test_anything_typed_at_the_bench(examples: int, tmp_path: Path) -> None:
    phrase = st.sampled_from(vocabulary())
    odd = st.lists(st.sampled_from(JUNK) | phrase | st.text(max_size=4), max_size=5).map(" ".join)
    fresh = itertools.count()

    def talk(phrases: list[str]) -> None:
        hands = Hands(tmp_path / f"{next(fresh)}.db")
        for said in phrases:
            if hands.bench.over:
                break
            hands.say(said)
            hands.wait(minutes=3)
        # What was kept can be read again, and leads to the same.
        again = Journal(hands.path)
        assert len(again.events(1)) == hands.bench.keeper.known
        again.close()
        hands.bench.journal.close()

    hammer(talk, st.lists(phrase | odd, max_size=12), examples)


@pytest.mark.parametrize(
    "said",
    [
        "reading " + "9" * 1900,
        "reading bore 0." + "0" * 1900 + "1",
        "tightened " + "triple nine " * 150,
        "order " + "9" * 50 + " circlips",
        "bag " + "9" * 50,
        "go to step " + "9" * 50,
        "start timer " + "9" * 50 + " days",
        "start timer 999999 days",
        "note " + "x" * 100_000,
        "note" + " " * 100_000,
        "correction " * 500,
        "tightened one four correction " * 100,
        "(" * 2000,
        "\0" * 100,
        "note \ud800",
    ],
)
def test_what_nobody_says(tmp_path: Path, said: str) -> None:
    hands = Hands(tmp_path / "a.db")
    hands.at_close()
    known = hands.bench.keeper.known
    with in_time(10):
        try:
            hands.say("affirm", said, "affirm", "what is left")
        except AssistantError:
            assert said.endswith("\ud800")
            return
    assert len(hands.bench.journal.events(1)) == hands.bench.keeper.known >= known
    for event in hands.bench.journal.events(1):
        assert not isinstance(event, events.ReadingRecorded) or len(f"{event.value:f}") < 1000
