"""No event keeps a sentence, and no handler holds one."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from assistant import dialogue
from assistant.dialogue import events, facts
from assistant.dialogue.commands import RULEBOOK
from assistant.procedure.model import Taken
from tests.dialogue.every import DOUBTS, EVENTS, LEFT, OUTSTANDING, QUESTIONED, kinds

FOLDER = Path(dialogue.__file__).parent

HANDLERS = (
    *(
        "answers_about_parts",
        "asking",
        "attention",
        "bags",
        "corrections",
        "asking_customer",
        "customer",
        "decide",
        "kit",
        "moving",
        "questioning",
        "second_check",
    ),
    *("recording", "remaining", "supplying", "telling", "tightening", "timers", "working_out"),
    *("bolts", "nonconformities", "outstanding_work", "photos", "results", "settling"),
    "revising",
    *("scanned", "sent"),
)

NAMES_AND_IDENTIFIERS = {
    *("by", "step", "came_from", "name", "part", "plural", "fastener", "wrench", "fluid", "unsure"),
    *("chosen_by", "place", "purpose", "stage", "unit", "asked_unit", "part_number", "recogniser"),
    *("done_by", "clip_sha256", "procedure", "title", "revision", "question", "answer", "answers"),
    *("of", "steps", "wanted", "inputs", "rules", "thread", "uid", "sha256"),
    *("serial", "readings", "fasteners", "goes", "before", "file", "superseded"),
}
AS_SOMEBODY_WROTE_OR_SAID = {
    "words",  # Heard, as the recogniser gave them.
    "source",  # The procedure's text.
    "remark",  # Given when the job was opened.
    "text",  # A typed note, or a procedure's text.
    "note",  # A procedure's note beside a part, or a reason in the technician's own words.
    "condition",  # A procedure's, or how a part was found.
    "reason",  # Typed, for a concession.
}


def _strings(model: type[BaseModel], seen: set[type]) -> Iterator[tuple[str, str]]:
    """Yield each field of a model, and of the models in it, that can hold any text."""
    if model in seen:
        return
    seen.add(model)
    for name, field in model.model_fields.items():
        for kind in _kinds(field.annotation):
            if kind is str:
                yield model.__name__, name
            elif isinstance(kind, type) and issubclass(kind, BaseModel):
                yield from _strings(kind, seen)


def _kinds(annotation: Any) -> Iterator[Any]:
    inner = get_args(annotation)
    if not inner or str(annotation).startswith("typing.Literal"):
        yield annotation
    for one in inner:
        yield from _kinds(one)


def test_what_is_text_in_an_event_is_a_name_or_what_somebody_wrote_or_said() -> None:
    seen: set[type] = set()
    found = {pair for event in kinds(events.Event) for pair in _strings(event, seen)}
    assert facts.Parts in seen and facts.StepBefore in seen
    known = NAMES_AND_IDENTIFIERS | AS_SOMEBODY_WROTE_OR_SAID
    assert {pair for pair in found if pair[1] not in known} == set()
    assert {name for _, name in found} == known, "a name that no event has any more"


def test_there_is_an_example_of_everything() -> None:
    assert {type(event) for event in EVENTS} == kinds(events.Event)
    assert {type(item) for item in OUTSTANDING} == kinds(facts.Outstanding)
    assert {type(item) for item in LEFT} == kinds(facts.Left)
    assert {type(doubt) for doubt in DOUBTS} == kinds(facts.WrenchDoubt)
    assert {type(asked.doubt) for asked in QUESTIONED} == kinds(facts.Doubt)


@pytest.mark.parametrize("event", EVENTS, ids=lambda event: event.kind)
def test_an_event_is_read_back_from_its_json(event: events.Event) -> None:
    assert events.EVENT.validate_json(event.model_dump_json()) == event


def _literals(tree: ast.Module) -> Iterator[str]:
    """Yield the texts of a module that are no docstring, and no table of help for a listener."""
    left_out = {
        node
        for statement in ast.walk(tree)
        if (isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant))
        or (
            isinstance(statement, ast.Assign)
            and any(isinstance(t, ast.Name) and t.id == "_HELP" for t in statement.targets)
        )
        for node in ast.walk(statement)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Raise):
            left_out |= set(ast.walk(node))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and node not in left_out:
            yield node.value


@pytest.mark.parametrize("name", HANDLERS)
def test_a_handler_holds_no_sentence(name: str) -> None:
    tree = ast.parse((FOLDER / f"{name}.py").read_text(encoding="utf-8"))
    # An identifier or a unit has no space; "short in the kit" and the like are codes of facts.
    codes = {*get_args(facts.Lacking), *get_args(events.Asked), "part not here"}
    codes |= {*get_args(facts.ResultKind), *get_args(Taken)}
    held = [text for text in _literals(tree) if " " in text.strip() and text not in codes]
    assert held == []
    assert not any(text.endswith((".", "?")) for text in _literals(tree) if len(text) > 1)


def test_each_reason_that_the_grammar_offers_has_a_code() -> None:
    phrases = RULEBOOK.by_rule["reason"].phrases
    tags = {part.split("}")[0] for part in phrases.split("{")[1:]}
    assert tags == set(facts.SKIP_CODES)


def test_a_reason_that_is_none_of_the_usual_ones_is_kept_as_it_was_said() -> None:
    assert facts.SkipReason.of("not needed") == facts.SkipReason(code="not needed")
    assert facts.SkipReason.of("lent out") == facts.SkipReason(note="lent out")
