"""The schema that editors use: it takes what is right, and marks what does not fit."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from assistant import plain_yaml
from assistant.authoring import schema
from assistant.cli.main import main
from assistant.procedure import reading, reference, trees
from assistant.procedure.model import Procedure
from tests.bench_helpers import SMALL

SCHEMA = schema.procedure()
EDITOR = jsonschema.Draft202012Validator(SCHEMA)


def as_an_editor_has_it(text: str) -> Any:
    """The file as JSON: a day is text there."""
    tree = trees.plain(plain_yaml.load(text))
    return json.loads(json.dumps(tree, default=str))


def marked(text: str) -> list[str]:
    return [error.message for error in EDITOR.iter_errors(as_an_editor_has_it(text))]


def test_it_is_a_schema_of_its_dialect() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_the_samples_fit() -> None:
    texts = [path.read_text(encoding="utf-8") for path in reading.samples().values()]
    assert len(texts) >= 3
    for text in [*texts, SMALL, SMALL.replace("revision: A", "revision: 2")]:
        assert marked(text) == []


@pytest.mark.parametrize(
    ("right", "wrong", "what"),
    [
        ("title: Small box", "titel: Small box", "titel"),
        ("title: Small box\n", "", "'title' is a required property"),
        ("torque: 10 N·m", "torque: 10", "10 is not of type 'string'"),
        ("torque: 10 N·m", "torque: N·m", "does not match"),
        ("signal: warning", "signal: beware", "'beware' is not one of"),
        ("count: 4", "count: four", "'four' is not of type 'integer'"),
        ("count: 4", "count: 0", "less than the minimum"),
        ("id: open", "id: Open It", "does not match"),
        ("strength: medium", "strength: strong", "'strong' is not one of"),
        ("bag: 1\n", "bag: 1\n        colour: red\n", "colour"),
        ("name: drain plug", "name: plug n.7", "does not match"),
        ("stages:", "unwritten: {}\nstages:", "unwritten"),
    ],
)
def test_what_is_wrong_is_marked(right: str, wrong: str, what: str) -> None:
    broken = SMALL.replace(right, wrong)
    assert broken != SMALL
    assert any(what in message for message in marked(broken)), marked(broken)


def test_each_key_has_its_sentence() -> None:
    for cls in reference.classes():
        described = SCHEMA if cls is Procedure else SCHEMA["$defs"][cls.__name__]
        keys = cls.model_fields.keys() - reference.OURS
        assert described["properties"].keys() == keys
        assert {key: described["properties"][key]["description"] for key in keys} == {
            key: reference.meaning(cls, key) for key in keys
        }


def test_the_command_prints_it_or_writes_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["schema"]) == 0
    assert "procedure " in capsys.readouterr().out
    assert main(["schema", "procedure"]) == 0
    assert json.loads(capsys.readouterr().out) == SCHEMA
    out = tmp_path / schema.FILE
    assert main(["schema", "procedure", "-o", str(out)]) == 0
    assert json.loads(out.read_text(encoding="utf-8")) == SCHEMA
    assert main(["schema", "procedure", "-o", str(out)]) == 2
    assert "--force" in capsys.readouterr().err
