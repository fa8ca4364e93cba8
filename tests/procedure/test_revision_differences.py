"""Two revisions of a procedure, step by step; and what is said of one that nobody has approved."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.cli.main import main
from assistant.dialogue.wording import job as wording
from assistant.procedure import reading, revisions
from assistant.procedure.model import Procedure
from assistant.procedure.revisions import KeyChange
from tests.bench_helpers import SMALL, Hands

REAL = SMALL.replace("sample: true\n", "")


def read(text: str) -> Procedure:
    return reading.parse(text, "text")


def changed(*pairs: tuple[str, str]) -> str:
    text = SMALL
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    return text


def differences(text: str, was: str = SMALL) -> list[tuple[str, str, int | None, int | None]]:
    found = revisions.changes(read(was), read(text))
    return [(one.kind, one.id, one.was, one.now) for one in found.steps]


def test_the_same_text_is_no_change_however_it_is_laid_out() -> None:
    again = SMALL.replace("14 N·m", "14 Nm") + "# A comment.\n"
    found = revisions.changes(read(SMALL), read(again))
    assert (found.keys, found.steps, found.same) == ((), (), 6)


def test_what_is_changed_of_a_step_is_told_as_it_is_written() -> None:
    text = changed(("torque: 14 N·m", "torque: 15 N·m"), ("say: Let it cure.", "say: Wait."))
    found = revisions.changes(read(SMALL), read(text))
    assert differences(text) == [("changed", "close", 5, 5), ("changed", "cure", 6, 6)]
    (tighten,) = found.steps[0].keys
    assert tighten.key == "tighten"
    assert (tighten.was[0]["torque"], tighten.now[0]["torque"]) == ("14 N·m", "15 N·m")
    assert found.steps[1].keys == (KeyChange("say", "Let it cure.", "Wait."),)
    assert found.same == 4


def test_steps_that_are_new_gone_or_moved() -> None:
    key = "      - id: key\n        say: Take out the key.\n        when: {shaft: keyed shaft}\n"
    assert differences(changed((key, ""))) == [("gone", "key", 3, None)]
    assert differences(SMALL, changed((key, ""))) == [("new", "key", None, 3)]
    cure = "      - id: cure\n"
    moved = changed((key, ""), (cure, key + cure))
    assert differences(moved) == [("moved", "key", 3, 5)]
    assert differences(changed(("id: cure", "id: wait"))) == [
        ("gone", "cure", 6, None),
        ("new", "wait", None, 6),
    ]


def test_a_value_that_is_put_in_or_left_out_is_told() -> None:
    more = changed(("say: Let it cure.", "say: Let it cure.\n        why: It is wet."))
    (step,) = revisions.changes(read(SMALL), read(more)).steps
    assert step.keys == (KeyChange("why", None, "It is wet."),)
    (step,) = revisions.changes(read(more), read(SMALL)).steps
    assert step.keys == (KeyChange("why", "It is wet.", None),)


def test_what_is_of_the_whole_procedure_and_what_only_of_the_text() -> None:
    text = changed(
        ("revision: A", "revision: B\nauthor: Ann\nsupersedes: A\ndate: 2031-03-04"),
        ("places: [drum side]", "places: [drum side, rear]"),
        ("name: Build-up", "name: Build-up\n    taken: as left"),
    )
    found = revisions.changes(read(SMALL), read(text))
    assert {one.key for one in found.keys} == {
        *("revision", "author", "supersedes", "date", "places", "stages")
    }
    assert [one.key for one in found.work] == ["places", "stages"]
    assert read(text).date == date(2031, 3, 4)


@given(some.permutations(range(6)), some.sets(some.integers(0, 5)))
def test_every_step_is_told_once_or_is_the_same(order: list[int], left_out: set[int]) -> None:
    names = [f"s{number}" for number in order if number not in left_out] or ["s9"]

    def text(names: list[str]) -> str:
        steps = "".join(f"      - {{id: {name}, say: Do {name}.}}\n" for name in names)
        return (
            "procedure: p\ntitle: P\nrevision: 1\nequipment: {kind: k}\n"
            f"stages:\n  - name: work\n    steps:\n{steps}"
        )

    was, now = read(text([f"s{n}" for n in range(6)])), read(text(names))
    found = revisions.changes(was, now)
    told = [one.id for one in found.steps]
    assert len(told) == len(set(told))
    assert found.same + sum(one.kind != "gone" for one in found.steps) == len(names)
    assert {one.id for one in found.of("gone")} == {f"s{n}" for n in range(6)} - set(names)
    if names == sorted(names) and "s9" not in names:
        assert not found.of("moved")


def test_compare_prints_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    was, now = tmp_path / "was.yaml", tmp_path / "now.yaml"
    was.write_text(SMALL, encoding="utf-8")
    newer = ("revision: A", "revision: B\napprover: Ann Vik\nauthor: Bo\nsupersedes: A")
    text = changed(newer, ("torque: 10 N·m", "torque: 12 N·m"), ("id: cure", "id: wait"))
    now.write_text(text, encoding="utf-8")
    assert main(["compare", str(was), str(now)]) == 0
    told = capsys.readouterr().out
    assert "was  small-box, revision A, not approved\n" in told
    assert "now  small-box, revision B, in place of revision A, by Bo, approved by Ann Vik" in told
    assert "\nstep 5, close, Build-up: changed\n    tighten was: [{fastener: long bolt, " in told
    assert "\nstep 6 of before, cure, Build-up: gone\n    Let it cure.\n" in told
    assert told.endswith("Steps: 1 changed, 1 new, 1 gone, 4 the same.\n")

    assert main(["compare", str(was), str(now), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["now"]["approver"] == "Ann Vik"
    assert [step["kind"] for step in found["steps"]] == ["changed", "gone", "new"]
    assert found["same"] == 4

    assert main(["compare", str(was), str(was)]) == 0
    assert "Nothing that is worked from is different." in capsys.readouterr().out
    assert main(["compare", str(was), "pump-rebuild"]) == 0
    assert "two procedures, not two revisions" in capsys.readouterr().out
    assert main(["compare", str(was), "pomp-rebuild"]) == 2


# What is said at the start


APPROVED = REAL.replace("revision: A", "revision: A\napprover: Ann")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (REAL, wording.UNAPPROVED),
        (APPROVED, None),
        (SMALL, wording.SAMPLE),
        (REAL.replace("revision: A", "revision: draft"), wording.DRAFT),
        (APPROVED.replace("revision: A", "revision: Draft"), wording.DRAFT),
    ],
)
def test_one_that_nobody_has_approved_is_said_to_be_so(
    tmp_path: Path, text: str, told: str | None
) -> None:
    hands = Hands(tmp_path / "journal.db", text)
    hands.bench.take_up(hands.bench.job)
    for reply in (hands.notes.replies[0], hands.notes.replies[-1]):
        said = [one for one in (wording.UNAPPROVED, wording.DRAFT, wording.SAMPLE) if one in reply]
        assert said == ([told] if told else [])


def test_of_a_job_without_a_procedure_nothing_is_said_of_approval(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sys.stdin", iter([]))
    journal = str(tmp_path / "journal.db")
    assert main(["run", "--unwritten", "Capstan", "--typed", "--journal", journal]) == 0
    assert "approved" not in capsys.readouterr().out
