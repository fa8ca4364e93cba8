"""Words to intents, by the table of utterances and by the grammar itself."""

import json
import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant import resources
from assistant.dialogue import intents, live, understanding
from assistant.procedure import reading
from tests.fixtures import commands, state_of


@pytest.mark.parametrize("row", commands(), ids=lambda row: row["text"])
def test_each_command_of_the_table(row: dict[str, str]) -> None:
    intent = understanding.understand(row["text"].split(), state_of(row["step"], row["asked"]))
    assert intent is not None
    assert intents.as_dict(intent) == json.loads(row["intent"])


def test_the_table_holds_every_intent_that_can_be_said() -> None:
    said = {json.loads(row["intent"])["intent"] for row in commands()}
    # A bare value, and the name of what a value is of, only answer a question; time, a camera,
    # instruments and scanners need no words.
    assert {kind.__name__ for kind in intents.ALL} - said == {
        "Value",
        "Tick",
        "PictureReady",
        "PictureFailed",
        "Sent",
        "Which",
        "ScannedTag",
        "ScannedNumber",
    }


def test_a_slip_of_the_tongue_keeps_the_unit_that_was_said_with_it() -> None:
    state = state_of("winch-gearbox/fit-pinion", "")
    words = ["tightened", "two", "nine", "foot", "pounds", "correction", "three", "zero"]
    said = understanding.understand(words, state)
    assert said == intents.Tightened(Decimal(30), "lbf·ft", slip=Decimal(29))
    words = ["tightened", "two", "nine", "correction", "three", "zero", "foot", "pounds"]
    assert understanding.understand(words, state) == said


def test_random_sentences_of_the_live_grammar_are_understood() -> None:
    """Whatever the recogniser may return means something, or is a number said unclearly."""
    state = state_of("pump-rebuild/measure-hub", "")
    network = live.grammar_for(state).network()
    chance = random.Random(7)
    understood = 0
    for _ in range(400):
        words, at = [], network.start
        while at not in network.finals or chance.random() < 0.5:
            arcs = network.leaving[at]
            if not arcs:
                break
            arc = chance.choice(arcs)
            at = arc.target
            if arc.word and arc.word != "<GARBAGE>":
                words.append(arc.word)
        understood += understanding.understand(words, state) is not None
    assert understood >= 396


@given(some.text(max_size=200))
def test_no_typed_text_breaks_it(text: str) -> None:
    understanding.understand_typed(text, STATE)


STATE = state_of("winch-gearbox/fit-top-cover", "")


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("Tightened 14 Nm.", intents.Tightened(14, "N·m")),
        ("tightened 14", intents.Tightened(14)),
        ("go to step 12", intents.GoTo(12)),
        ("Bag 5!", intents.Bag(5)),
        ("note: the cover was glued", intents.Note("the cover was glued")),
    ],
)
def test_typed_figures_and_stops(typed: str, expected: intents.Intent) -> None:
    assert understanding.understand_typed(typed, STATE) == expected


def test_shipped_files_are_found() -> None:
    assert (resources.folder("grammars") / "shared.gram").is_file()
    assert len(reading.samples()) == 3
