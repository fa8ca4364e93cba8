"""The project's own promises: the README's commands, the layout, the wheel's data."""

import re
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


def test_ci_calls_exactly_the_commands_of_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = readme.split("## Two commands")[1].split("\n## ")[0]
    commands = re.findall(r"```sh\n(.*?)\n```", section, re.DOTALL)
    assert len(commands) == 2
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    for command in commands:
        assert command in script


def test_the_top_level_is_as_agreed() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {name.split("/")[0] for name in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "assistant",
        "grammars",
        "procedures",
        "tests",
        "audio_fixtures",
    }


def test_recordings_stay_small() -> None:
    sizes = [p.stat().st_size for p in ROOT.rglob("*") if p.suffix in (".flac", ".wav")]
    assert sum(sizes) < 25_000_000


def test_every_requirement_has_a_range() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    for requirement in project["dependencies"]:
        assert re.search(r">=[\d.]+,<[\d.]+$", requirement.partition(";")[0]), requirement


@pytest.mark.slow
def test_the_wheel_carries_the_samples(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--no-deps", "-q", "-w", str(tmp_path), str(ROOT)],
        check=True,
    )
    (wheel,) = tmp_path.glob("*.whl")
    names = zipfile.ZipFile(wheel).namelist()
    for name in (
        "assistant/data/grammars/shared.gram",
        "assistant/data/grammars/trade.yaml",
        "assistant/data/procedures/winch-gearbox.yaml",
        "assistant/data/audio_fixtures/demo/script.txt",
        "assistant/data/audio_fixtures/demo/001.flac",
        "assistant/data/audio_fixtures/demo/unwritten/script.txt",
        "assistant/data/audio_fixtures/demo/unwritten/kit.csv",
        "assistant/data/audio_fixtures/demo/unwritten/001.flac",
        "assistant/trade/threadlocker.yaml",
        "assistant/web/static/display.js",
        "assistant/web/templates/jobs.html.j2",
        "assistant/report/page.css",
        "assistant/report/document.typ",
        "assistant/guide/at-the-bench.md",
        "assistant/guide/guide.css",
        "assistant/web/templates/guide.html.j2",
        "assistant/report/schemas/findings.json",
        "assistant/journal/migrations/env.py",
        "assistant/journal/migrations/versions/v0001_record.py",
    ):
        assert name in names
    assert not [name for name in names if "commands/" in name]
