"""Steps written once and included: the whole text is kept, and a fault is told where it stands."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant import plain_yaml
from assistant.authoring import schema
from assistant.cli.main import main
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from assistant.procedure import fragments, reading, trees, yaml_lines
from assistant.procedure.reading import ProcedureError
from tests.authoring.test_schema import EDITOR, marked

MAIN = """\
procedure: box
title: Box
revision: A
equipment: {kind: test box}
parts: [{name: cover}]
stages:
  - name: strip-down
    steps:
      # First make it safe.
      - include: shared/isolate.yaml
      # Then open it.
      - id: open
        say: Take off the cover.
        remove: [{part: cover}]
        bag: 1

  - name: build-up
    steps:
    - id: close
      say: Fit the cover.
      from_bag: 1
      fit: [{part: cover}]
    - include: shared/leak.yaml
      values: {name: cover, pressure: 0.5 bar, allowed: 0.01 bar}
    - {include: shared/leak.yaml, values: {name: body, pressure: 1 bar, allowed: 0.02 bar}}
"""

ISOLATE = """\
# For every machine with a motor.
fragment: isolate
about: How we lock out.
steps:
# The lock.
- id: lock-out
  say: Lock it out.   # and tag it
  gate: job

- id: prove-dead
  say: >-
    Prove it
    dead.
"""

LEAK = """\
fragment: leak
steps:
    - id: leak-<name>
      say: Pump it up to <pressure>. "<name>" first.
      readings:
        - {name: <name> start, unit: bar, plausible: {most: <pressure>}}
        - {name: <name> final, unit: bar}
      leak:
        start: <name> start
        final: <name> final
        allowed: <allowed>
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "shared").mkdir()
    for name, text in {"box": MAIN, "shared/isolate": ISOLATE, "shared/leak": LEAK}.items():
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def refused(path: Path) -> str:
    with pytest.raises(AssistantError) as caught:
        reading.load(path)
    return str(caught.value).replace(f"{path.parent}/", "")


def test_the_steps_stand_where_they_are_included(folder: Path) -> None:
    loaded = reading.load(folder / "box.yaml")
    names = [(stage.name, [step.id for step in stage.steps]) for stage in loaded.procedure.stages]
    assert names == [
        ("strip-down", ["lock-out", "prove-dead", "open"]),
        ("build-up", ["close", "leak-cover", "leak-body"]),
    ]
    cover, body = loaded.procedure.steps[-2:]
    assert cover.say == 'Pump it up to 0.5 bar. "cover" first.'
    assert body.leak is not None and str(body.leak.allowed) == "0.02 bar"
    assert loaded.procedure.step("prove-dead").say == "Prove it dead."


def test_the_text_that_is_kept_is_the_whole_text(folder: Path) -> None:
    loaded = reading.load(folder / "box.yaml")
    assert "include" not in loaded.text
    assert "# From shared/leak.yaml, with name cover, pressure 0.5 bar" in loaded.text
    assert "# First make it safe." in loaded.text and "# Then open it." in loaded.text
    assert reading.parse(loaded.text, "kept", stored=True) == loaded.procedure
    assert reading.parse(loaded.text, "kept") == loaded.procedure


def test_a_job_is_worked_from_what_was_included_when_it_began(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", iter(["affirm\n"]))
    journal = folder / "journal.db"
    words = ["run", str(folder / "box.yaml"), "--typed", "--journal", str(journal)]
    assert main(words) == 0
    change(folder / "shared" / "isolate.yaml", "Lock it out.", "Leave it on.")
    (folder / "shared" / "leak.yaml").unlink()
    kept = Journal(journal).procedure(1)
    assert kept.steps[0].say == "Lock it out." and len(kept.steps) == 6


def test_a_file_without_includes_is_its_own_text(folder: Path) -> None:
    text = MAIN.replace("shared/isolate.yaml", "x")
    path = folder / "plain.yaml"
    plain = "\n".join(line for line in text.splitlines() if "include" not in line) + "\n"
    plain = plain.replace("      values: {name: cover, pressure: 0.5 bar, allowed: 0.01 bar}\n", "")
    path.write_text(plain, encoding="utf-8")
    assert reading.load(path).text == plain


# Where a fault is told


def test_a_fault_of_the_procedure_keeps_its_line(folder: Path) -> None:
    change(folder / "box.yaml", "part: cover}]\n        bag: 1", "part: lid}]\n        bag: 1")
    assert refused(folder / "box.yaml").startswith("box.yaml:14: ")


def test_a_fault_of_a_fragment_is_told_there_with_the_place_of_the_include(folder: Path) -> None:
    change(folder / "shared" / "leak.yaml", "unit: bar}\n      leak", "unit: barn}\n      leak")
    told = refused(folder / "box.yaml").splitlines()
    assert len(told) == 2
    assert told[0].startswith("shared/leak.yaml:7: unit: ")
    assert told[0].endswith("(Included at box.yaml:23.)")
    assert told[1].endswith("(Included at box.yaml:25.)")


def test_what_yaml_does_not_take_is_told_there_too(folder: Path) -> None:
    change(folder / "shared" / "isolate.yaml", "say: Lock it out.", "say: Lock: it out.")
    assert refused(folder / "box.yaml").startswith("shared/isolate.yaml:7: ")
    change(folder / "box.yaml", "say: Fit the cover.", "say: Fit: the cover.")
    assert refused(folder / "box.yaml").startswith("box.yaml:20: ")


def test_a_warning_is_told_there_too(folder: Path) -> None:
    more = "  tools: [spanner]\n  bag: 7\n  gate: job"
    change(folder / "shared" / "isolate.yaml", "  gate: job", more)
    warnings = reading.load(folder / "box.yaml").warnings
    assert warnings
    start = f"{folder}/shared/isolate.yaml:9: warning: "
    assert all(one.startswith(start) for one in warnings)
    assert all(one.endswith(f"(Included at {folder}/box.yaml:10.)") for one in warnings)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("isolate.yaml", "isolation.yaml", "box.yaml:10: include: there is no file shared/isol"),
        ("shared/isolate.yaml", "/etc/passwd", "box.yaml:10: include: write the fragment's file"),
        ("shared/isolate.yaml", "/shared/isolate.yaml", "as seen from this one"),
        ("shared/isolate.yaml", "[a, b]", "as seen from this one"),
        ("shared/isolate.yaml", '"a\\0b.yaml"', "there is no file"),
        ("shared/isolate.yaml", f"{'x' * 5000}.yaml", "there is no file"),
        ("shared/isolate.yaml", "shared", "as seen from this one"),
        ("shared/isolate.yaml", "box.yaml", "box.yaml:10: include: a circle of fragments: box.yam"),
        (
            "pressure: 0.5 bar, ",
            "",
            "box.yaml:23: include: shared/leak.yaml has to be told values:",
        ),
        ("pressure: 0.5 bar, ", "presure: 0.5 bar, ", "<presure> to fill in. Did you mean press"),
        ("{name: cover, pressure: 0.5 bar, allowed: 0.01 bar}", "high", "write values as pairs"),
        ("pressure: 0.5 bar", "pressure: 'a: b'", "box.yaml:23: include: pressure: a value is"),
        ("pressure: 0.5 bar", "pressure: 'a # b'", "pressure: a value is words"),
        ("pressure: 0.5 bar", "pressure: 'a, b'", "pressure: a value is words"),
        ("pressure: 0.5 bar", "pressure: [a]", "pressure: a value is words"),
        ("      values: {name", "      with: {name", "beside it stands only values, not with"),
        (
            "    steps:\n    - id: close\n",
            "    steps: [{include: shared/leak.yaml}]\n    x:\n    - id: close\n",
            "box.yaml:18: include: begin it on a line of its own",
        ),
    ],
)
def test_an_include_that_cannot_be_followed_is_refused(
    folder: Path, old: str, new: str, told: str
) -> None:
    change(folder / "box.yaml", old, new)
    assert told in refused(folder / "box.yaml")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("procedure: other\n", "isolate.yaml:1: include: no fragment: one begins"),
        ("- a\n", "isolate.yaml:1: include: no fragment"),
        ("fragment: isolate\n", "a fragment has steps"),
        ("fragment: isolate\nsteps: [{id: a, say: A.}]\n", "a fragment has steps, each"),
        ("fragment: isolate\nstep:\n  - id: a\n", "isolate.yaml:2: include: a fragment has no key"),
        ("fragment: isolate\nsteps:\n  - {id: a\n", "isolate.yaml:4: include: "),
        ("fragment: isolate\nsteps:\n  - !x {id: a}\n", "isolate.yaml:3: include: tags"),
    ],
)
def test_a_file_that_is_no_fragment_is_refused(folder: Path, text: str, told: str) -> None:
    (folder / "shared" / "isolate.yaml").write_text(text, encoding="utf-8")
    assert told in refused(folder / "box.yaml")


def test_a_fragment_is_nothing_to_work_from(folder: Path) -> None:
    told = refused(folder / "shared" / "isolate.yaml")
    assert told.startswith("isolate.yaml:2: include: this is a fragment")


# Fragments in fragments


def test_a_fragment_includes_another_and_hands_its_values_on(folder: Path) -> None:
    (folder / "shared" / "tests.yaml").write_text(
        "fragment: tests\nsteps:\n  - id: before-<name>\n    say: Look at it.\n"
        "  - include: leak.yaml\n"
        "    values: {name: <name>, pressure: <pressure>, allowed: 0.01 bar}\n",
        encoding="utf-8",
    )
    change(folder / "box.yaml", "shared/leak.yaml\n", "shared/tests.yaml\n")
    change(folder / "box.yaml", "0.5 bar, allowed: 0.01 bar", "0.5 bar")
    loaded = reading.load(folder / "box.yaml")
    assert [step.id for step in loaded.procedure.steps[-3:]] == [
        *("before-cover", "leak-cover", "leak-body")
    ]
    change(folder / "shared" / "leak.yaml", "unit: bar}\n      leak", "unit: barn}\n      leak")
    told = refused(folder / "box.yaml").splitlines()
    assert {line.partition(": ")[0] for line in told} == {"shared/leak.yaml:7"}
    nested = "(Included at shared/tests.yaml:5.) (Included at box.yaml:23.)"
    through = ("(Included at box.yaml:25.)", nested)
    assert [line.endswith(through) for line in told] == [True, True]


def test_a_circle_is_refused_and_so_is_what_grows_without_end(folder: Path) -> None:
    shared = folder / "shared"
    head = "fragment: x\nsteps:\n"
    (shared / "isolate.yaml").write_text(f"{head}- include: b.yaml\n", encoding="utf-8")
    (shared / "b.yaml").write_text(f"{head}- include: ../shared/isolate.yaml\n", encoding="utf-8")
    told = refused(folder / "box.yaml")
    assert told.startswith("shared/b.yaml:3: include: a circle of fragments: box.yaml, which incl")
    for number in range(12):
        deeper = f"{head}- include: f{number + 1}.yaml\n- include: f{number + 1}.yaml\n"
        (shared / f"f{number}.yaml").write_text(deeper, encoding="utf-8")
    (shared / "isolate.yaml").write_text(f"{head}- include: f0.yaml\n", encoding="utf-8")
    assert "more than 10 deep" in refused(folder / "box.yaml")
    leaf = f"{head}- id: a\n  say: A.\n"
    (shared / "f8.yaml").write_text(leaf, encoding="utf-8")
    assert "more than 500 fragments" in refused(folder / "box.yaml")


# The lines of a list


@given(
    margin=some.integers(0, 8),
    inside=some.lists(some.sampled_from(["", "  x: 1", "# note", "    deeper: 2"]), max_size=6),
    after=some.sampled_from(["", "- y: 2", "# next", "# next\n- y: 2"]),
)
def test_an_entry_ends_before_what_is_indented_no_more(
    margin: int, inside: list[str], after: str
) -> None:
    spaces = " " * margin
    lines = [spaces + line for line in ["- z: 0", *inside, *after.split("\n")]]
    end = yaml_lines.end_of_entry(lines, 0)
    content = [line for line in lines[:end] if line.strip() and not line.lstrip().startswith("#")]
    assert content == [
        spaces + line for line in ["- z: 0", *inside] if line.startswith(("-", "  "))
    ]
    assert lines[end - 1].strip() and not lines[end - 1].lstrip().startswith("#")


# What editors know of it


def test_the_schema_knows_includes(folder: Path) -> None:
    assert marked(MAIN) == []
    wrong = marked(MAIN.replace("      values: {name", "      valus: {name"))
    assert any("valus" in message for message in wrong)
    assert any("'say'" in message for message in marked(MAIN.replace("say: Take", "sai: Take")))
    described = schema.procedure()["$defs"]["Include"]["properties"]
    assert described.keys() == fragments.Include.model_fields.keys()
    assert EDITOR.schema["$defs"].keys() >= {"Include", "Step"}


def test_a_fragment_as_it_is_documented(folder: Path) -> None:
    tree = trees.plain(plain_yaml.load(ISOLATE))
    assert fragments.Fragment.model_validate(tree).fragment == "isolate"
    with pytest.raises(ProcedureError):
        reading.parse(MAIN, "box.yaml")
