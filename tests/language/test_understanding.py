"""Words to intents, by the table of utterances and by the grammar itself."""

import csv
import json
import random
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant import resources
from assistant.language import live, understanding
from assistant.procedure import reading
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import state as st

ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2031, 1, 1, tzinfo=UTC)


def state_of(step: str, asked: str) -> st.State:
    """Return the state in which a row of the table is said."""
    name, step_id = step.split("/")
    state = st.at_step(reading.read(reading.find(name)), step_id)
    kind = {"reason": ev.SkipAsked, "stand by": ev.StoodBy}.get(asked)
    return st.apply(state, kind(at=NOW, turn=1, step=step_id)) if kind else state


def table() -> list[dict[str, str]]:
    with (ROOT / "audio_fixtures" / "commands.tsv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, delimiter="\t", quoting=csv.QUOTE_NONE))


@pytest.mark.parametrize("row", table(), ids=lambda row: row["text"])
def test_each_command_of_the_table(row: dict[str, str]) -> None:
    intent = understanding.understand(row["text"].split(), state_of(row["step"], row["asked"]))
    assert intent is not None
    assert it.as_dict(intent) == json.loads(row["intent"])


def test_the_table_holds_every_intent_that_can_be_said() -> None:
    said = {json.loads(row["intent"])["intent"] for row in table()}
    # A bare value is only understood while a value is in question; time needs no words.
    assert {kind.__name__ for kind in it.ALL} - said == {"Value", "Tick"}


def test_every_rule_of_the_grammars_has_a_builder() -> None:
    state = state_of("winch-gearbox/fit-top-cover", "")
    rules = {
        inner.rule
        for name in ("reasons", "noting", "standby")
        for inner in [live.fixed(name)]
        for inner in _commands(inner)
    } | {node.rule for node in _commands(live.grammar_for(state))}
    assert rules <= set(understanding.BUILDERS)


def _commands(grammar):  # type: ignore[no-untyped-def]
    class Named:
        def __init__(self, rule: str) -> None:
            self.rule = rule

    expansion = grammar.rules["command"].expansion
    found = []

    def walk(node):  # type: ignore[no-untyped-def]
        name = getattr(node, "name", None) or getattr(node, "rule", None)
        if name and name in grammar.rules:
            found.append(Named(name))
            return
        for child in getattr(node, "parts", ()) or getattr(node, "items", ()) or ():
            walk(child[-1] if isinstance(child, tuple) else child)

    walk(expansion)
    return found


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
        ("Tightened 14 Nm.", it.Tightened(14, "N·m")),
        ("tightened 14", it.Tightened(14)),
        ("go to step 12", it.GoTo(12)),
        ("Bag 5!", it.Bag(5)),
        ("note: the cover was glued", it.Note("the cover was glued")),
    ],
)
def test_typed_figures_and_stops(typed: str, expected: it.Intent) -> None:
    assert understanding.understand_typed(typed, STATE) == expected


def test_shipped_files_are_found() -> None:
    assert (resources.folder("grammars") / "commands.gram").is_file()
    assert len(reading.samples()) == 3
