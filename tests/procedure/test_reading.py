"""Faults in procedure files: each is found, with its line and what was expected."""

from pathlib import Path

import pytest

from assistant.errors import AssistantError
from assistant.procedure import reading
from tests.bench_helpers import SMALL


def line_of(text: str, part: str) -> int:
    return max(n for n, line in enumerate(text.splitlines(), 1) if part in line)


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("torque: 14 N·m", "torqe: 14 N·m", "did you mean 'torque'"),
        ("torque: 14 N·m", "torque: 14", "a number and a unit"),
        ("torque: 14 N·m", "torque: 14 mm", "expected a torque"),
        ("torque: 14 N·m", "torque: 14 Nmm2x", "Nmm2x"),
        ("torque: 14 N·m", "torque: 0 N·m", "more than nothing"),
        ("id: which", "id: open", "called 'open' already"),
        ("go_to: measure", "go_to: mesure", "did you mean 'measure'"),
        ("go_to: measure", "go_to: open", "later step"),
        ("when: {shaft: keyed shaft}", "when: {shift: keyed shaft}", "did you mean 'shaft'"),
        ("when: {shaft: keyed shaft}", "when: {shaft: kyed shaft}", "did you mean 'keyed shaft'"),
        ("formula: bore - shaft", "formula: boar - shaft", "did you mean 'bore'"),
        ("formula: bore - shaft", "formula: bore -", "expected such as"),
        ("formula: bore - shaft", "formula: __import__('os')", "__import__"),
        ("least: 24.95 mm", "least: 25.95 mm", "more than the most"),
        ("least: 24.95 mm", "least: 24.95 bar", "expected a value in mm"),
        ("part: end plate}]", "part: end plat}]", "did you mean 'end plate'"),
        ("from_bag: 1", "from_bag: 3", "no earlier step puts anything into bag 3"),
        ("signal: warning", "signal: beware", "warning"),
        ("fastener: long bolt", "fastener: lang bolt", "did you mean 'long bolt'"),
        ("name: circlip", "name: circlip 2", "numbers spelt out"),
        ("of: clearance", "of: clearence", "did you mean 'clearance'"),
        ("purpose: cure, time: 10 min", "purpose: cure, time: 10 mm", "expected a time"),
        ("strength: medium", "strength: mighty", "'medium'"),
        ("count: 4", "count: four", "integer"),
    ],
)
def test_a_fault_is_named_with_its_line(right: str, wrong: str, expected: str) -> None:
    assert right in SMALL
    text = SMALL.replace(right, wrong, 1)
    with pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "shop.yaml")
    line = line_of(text, wrong)
    matching = [m for m in str(caught.value).splitlines() if m.startswith(f"shop.yaml:{line}:")]
    assert any(expected in message for message in matching), str(caught.value)


def test_every_fault_is_told_at_once() -> None:
    text = SMALL.replace("torque: 14 N·m", "torque: 14").replace("count: 4", "count: none")
    with pytest.raises(reading.ProcedureError) as caught:
        reading.parse(text, "shop.yaml")
    assert len(str(caught.value).splitlines()) == 2


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "expected a procedure"),
        ("- a\n- b\n", "expected a procedure"),
        ("a: [1,\nb: 2", ":2:"),
        ("a: 1\na: 2", 'duplicate key "a"'),
        ("title: x", "'procedure' is missing"),
        ("a: !!python/object/apply:os.system [ls]", "unknown key 'a'"),
        ("a: " + "[" * 500 + "]" * 500, "nested"),
    ],
)
def test_what_is_no_procedure(text: str, expected: str) -> None:
    with pytest.raises(reading.ProcedureError, match=r"shop\.yaml:\d+:") as caught:
        reading.parse(text, "shop.yaml")
    assert expected in str(caught.value)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="winch-gearbox"):
        reading.find("no-such-thing")
    with pytest.raises(AssistantError, match=r"no procedure file \./x\.yaml"):
        reading.find("./x.yaml")
    (tmp_path / "latin.yaml").write_bytes(b"title: caf\xe9")
    with pytest.raises(reading.ProcedureError, match="not UTF-8"):
        reading.read(tmp_path / "latin.yaml")
    (tmp_path / "long.yaml").write_text("x" * (reading.MOST_BYTES + 1))
    with pytest.raises(reading.ProcedureError, match="larger"):
        reading.read(tmp_path / "long.yaml")
