from pathlib import Path

import pytest

from assistant.errors import AssistantError
from assistant.grammar import respelling


def test_a_models_own_respelling_comes_before_any(tmp_path: Path) -> None:
    path = tmp_path / "r.yaml"
    path.write_text("any:\n  Circlip: sir clip\n  shim: shimm\nvosk-x:\n  circlip: circle lip\n")
    spelt = respelling.read(path)
    assert spelt.of("circlip") == ("sir", "clip")
    assert spelt.of("CIRCLIP", "vosk-x") == ("circle", "lip")
    assert spelt.of("shim", "vosk-x") == ("shimm",)
    assert spelt.of("bolt") is None
    assert spelt.with_extra({"shim": "chim"}).of("shim") == ("chim",)


def test_a_file_without_sections_adds_to_any(tmp_path: Path) -> None:
    path = tmp_path / "r.yaml"
    path.write_text("grommet: grom it\n")
    spelt = respelling.read(path, respelling.standing())
    assert spelt.of("grommet") == ("grom", "it") and spelt.of("circlip") == ("sir", "clip")
    path.write_text("")
    assert respelling.read(path).sections == {}


@pytest.mark.parametrize(
    ("text", "line", "expected"),
    [
        ("any:\n  shim: 4\n", 2, "a word and its respelling"),
        ("any:\n  shim:\n", 2, "a word and its respelling"),
        ("any:\n  no: know\n  two words: x\n", 3, "one word"),
        ("- a\n", 1, "words and their respellings"),
        ("any:\n  a: [b\n", 3, "mistake"),
        ("any:\n  a: b\nshim: shimm\n", 3, "sections"),
    ],
)
def test_errors_name_the_line(tmp_path: Path, text: str, line: int, expected: str) -> None:
    path = tmp_path / "r.yaml"
    path.write_text(text)
    with pytest.raises(AssistantError) as error:
        respelling.read(path)
    assert f"r.yaml:{line}: " in str(error.value) and expected in str(error.value)


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="cannot read these respellings"):
        respelling.read(tmp_path / "none.yaml")
