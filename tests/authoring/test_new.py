"""A procedure begun: the skeleton is without fault, and nothing that is there is lost."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.authoring import schema, skeleton
from assistant.authoring.skeleton import Told
from assistant.cli.main import main
from assistant.errors import AssistantError
from assistant.procedure import reading
from tests.authoring.test_schema import marked

TOLD = ("--title", "Oil pump overhaul", "--machine", "gear oil pump")


def stages(text: str) -> list[tuple[str, list[str]]]:
    procedure = reading.parse(text, "skeleton")
    return [(stage.name, [step.say for step in stage.steps]) for stage in procedure.stages]


SAFE = ("Make safe", ["Make the machine safe, and keep it so."])


@pytest.mark.parametrize(
    ("steps", "found"),
    [
        ((), [(name, list(steps)) for name, steps in skeleton.USUAL]),
        (("Take off the cover.",), [("work", ["Take off the cover."])]),
        (
            ("down:", "Take off: gently.", "Take off: gently.", "empty:", "up:", " Fit it. "),
            [("down", ["Take off: gently.", "Take off: gently."]), ("up", ["Fit it."])],
        ),
    ],
)
def test_steps_stand_in_their_stages(
    steps: Sequence[str], found: list[tuple[str, list[str]]]
) -> None:
    text = skeleton.write(Told("Oil pump", "gear pump", tuple(steps)))
    assert stages(text) == [SAFE, *found]
    assert marked(text) == []


sentences = some.text(min_size=1, max_size=60).filter(lambda text: text.strip(" \t\n:") != "")


@given(title=sentences, machine=sentences, steps=some.lists(sentences, max_size=4))
def test_whatever_is_told_the_file_can_be_read(title: str, machine: str, steps: list[str]) -> None:
    try:
        text = skeleton.write(Told(title, machine, tuple(steps)))
    except AssistantError as error:
        assert "one line" in str(error)
        return
    procedure = reading.parse(text, "skeleton")
    assert procedure.draft and not procedure.approved
    assert procedure.steps[0].gate == "job"
    assert text.splitlines()[0] == f"# {schema.LINE}"


@pytest.mark.parametrize("title", ["", "x" * 101])
def test_a_title_that_cannot_be_one_is_refused(title: str) -> None:
    with pytest.raises(AssistantError, match="A title is one line"):
        skeleton.write(Told(title, "pump"))


def test_check_finds_nothing_wrong_with_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "pump.yaml"
    more = ("--maker", "Ostrevik", "--model", "7", "--author", "Ann Vik")
    steps = ("--steps", "strip-down:", "Take off the cover.", "build-up:", "Fit the cover.")
    assert main(["new", "-o", str(out), *TOLD, *more, *steps]) == 0
    loaded = reading.load(out)
    assert loaded.warnings == ()
    assert (loaded.procedure.author, loaded.procedure.equipment.maker) == ("Ann Vik", "Ostrevik")
    assert (tmp_path / schema.FILE).read_text(encoding="utf-8") == schema.text()
    assert main(["check", str(out)]) == 0
    assert "good, revision draft, 3 steps" in capsys.readouterr().out


def test_a_file_that_is_there_is_not_lost(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, beside = tmp_path / "pump.yaml", tmp_path / schema.FILE
    out.write_text("mine", encoding="utf-8")
    beside.write_text("mine too", encoding="utf-8")
    assert main(["new", "-o", str(out), *TOLD]) == 2
    assert "--force" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == "mine"
    assert main(["new", "-o", str(out), *TOLD, "--force"]) == 0
    assert "Oil pump" in out.read_text(encoding="utf-8")
    assert beside.read_text(encoding="utf-8") == "mine too"


class Keyboard(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_at_a_terminal_it_asks_for_what_is_not_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "pump.yaml"
    typed = "\nOil pump\ngear pump\nstrip-down:\nTake off the cover.\n\n"
    monkeypatch.setattr("sys.stdin", Keyboard(typed))
    assert main(["new", "-o", str(out)]) == 0
    assert stages(out.read_text(encoding="utf-8")) == [
        SAFE,
        ("strip-down", ["Take off the cover."]),
    ]
    assert capsys.readouterr().out.count("What is the job called") == 2


def test_where_nobody_answers_nothing_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "pump.yaml"
    monkeypatch.setattr("sys.stdin", Keyboard("Oil pump\n"))
    assert main(["new", "-o", str(out)]) == 2
    assert "Nothing was written." in capsys.readouterr().err
    monkeypatch.setattr("sys.stdin", io.StringIO("Oil pump\n"))
    assert main(["new", "-o", str(out), "--title", "Oil pump"]) == 2
    assert "Give --machine" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_samples_are_copied_all_or_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "ours" / "procedures"
    assert main(["samples", "--copy", str(folder)]) == 0
    assert sorted(path.stem for path in folder.iterdir()) == sorted(reading.samples())
    for name, path in reading.samples().items():
        assert (folder / path.name).read_text(encoding="utf-8") == path.read_text(encoding="utf-8")
        reading.load(folder / f"{name}.yaml")
    (folder / "pump-rebuild.yaml").write_text("mine", encoding="utf-8")
    (folder / "winch-gearbox.yaml").unlink()
    capsys.readouterr()
    assert main(["samples", "--copy", str(folder)]) == 2
    assert "pump-rebuild.yaml" in capsys.readouterr().err
    assert not (folder / "winch-gearbox.yaml").exists()
    assert main(["samples", "--copy", str(folder), "--force"]) == 0
    assert (folder / "pump-rebuild.yaml").read_text(encoding="utf-8") != "mine"
    (tmp_path / "file").touch()
    assert main(["samples", "--copy", str(tmp_path / "file")]) == 2
