"""`assistant check` for people, for CI and for editors, and what it says about hearing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.authoring import checks, hearing
from assistant.cli import main as cli
from assistant.dialogue import answers
from assistant.procedure import reading
from assistant.procedure.problems import RULES, Severity
from assistant.recognition.alignment import phone_distance
from tests.bench_helpers import SMALL

GOOD = SMALL
WRONG = GOOD.replace("torque: 10 N·m", "torque: 90 N·m")
ALIKE = GOOD.replace("say: splined shaft", "say: kid shaft")


@pytest.fixture
def files(tmp_path: Path) -> dict[str, str]:
    found = {}
    for name, text in (("good", GOOD), ("wrong", WRONG), ("alike", ALIKE)):
        path = tmp_path / f"{name} one.yaml"
        path.write_text(text, encoding="utf-8")
        found[name] = str(path)
    return found


def test_the_exit_status_tells_errors_from_warnings(files: dict[str, str]) -> None:
    good, wrong, alike = (files[name] for name in ("good", "wrong", "alike"))
    assert cli.main(["check", good, alike]) == 0
    assert cli.main(["check", "--strict", good]) == 0
    assert cli.main(["check", "--strict", good, alike]) == 1
    assert cli.main(["check", "--strict", "--no-hearing", alike]) == 0
    assert cli.main(["check", "--strict", alike, wrong]) == 2
    assert cli.main(["check", good, "no-such-procedure"]) == 2


def test_the_help_tells_the_exit_status(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        cli.main(["check", "--help"])
    told = capsys.readouterr().out
    assert "exit status:" in told and "1  with --strict" in told


def test_an_error_stops_a_run_and_a_warning_does_not(files: dict[str, str], tmp_path: Path) -> None:
    run = ["run", "--typed", "--journal", str(tmp_path / "journal.db")]
    assert cli.main([*run, files["wrong"]]) == 2
    assert not (tmp_path / "journal.db").exists()
    for words in ("next step", "affirm", "say again", "bag one"):
        path = tmp_path / "command.yaml"
        path.write_text(GOOD.replace("say: splined shaft", f"say: {words}"), encoding="utf-8")
        assert cli.main([*run, str(path)]) == 2, words


def test_json_holds_what_the_lines_say(
    files: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["check", "--json", *files.values()]) == 2
    told = json.loads(capsys.readouterr().out)
    by_name = {Path(each["file"]).name: each for each in told["files"]}
    assert by_name["good one.yaml"]["good"] and by_name["good one.yaml"]["problems"] == []
    (wrong,) = by_name["wrong one.yaml"]["problems"]
    line = next(n for n, row in enumerate(WRONG.splitlines(), 1) if "90 N·m" in row)
    assert (wrong["line"], wrong["severity"], wrong["rule"]) == (line, "error", "danger")
    assert "proof load" in wrong["text"]


def test_sarif_is_what_the_standard_says(
    files: dict[str, str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(Path(files["good"]).parent)
    assert cli.main(["check", "--sarif", *files.values()]) == 2
    told = json.loads(capsys.readouterr().out)
    # By the clauses of SARIF 2.1.0 (OASIS Standard, 27 March 2020).
    assert told["version"] == "2.1.0"  # 3.13.2
    assert told["$schema"].endswith("/sarif-schema-2.1.0.json")  # 3.13.3
    (run,) = told["runs"]  # 3.13.4
    driver = run["tool"]["driver"]  # 3.14.6, 3.18.2
    assert driver["name"] and driver["version"]  # 3.19.8, 3.19.13
    assert [rule["id"] for rule in driver["rules"]] == list(RULES)  # 3.19.23, 3.49.3
    assert all(rule["shortDescription"]["text"] for rule in driver["rules"])  # 3.49.9
    assert run["columnKind"] == "unicodeCodePoints"  # 3.14.17
    assert set(run) == {"tool", "columnKind", "results"}
    results = told["runs"][0]["results"]
    assert [result["level"] for result in results] == ["error", "warning"]  # 3.27.10
    for result in results:
        assert result["message"]["text"]  # 3.27.11
        assert list(RULES)[result["ruleIndex"]] == result["ruleId"]  # 3.27.6
        place = result["locations"][0]["physicalLocation"]
        assert place["artifactLocation"]["uri"].endswith("%20one.yaml")  # 3.4.3: a URI reference
        assert "/" not in place["artifactLocation"]["uri"]
        assert place["region"]["startLine"] >= 1  # 3.30.5


def test_files_are_told_in_their_order_though_several_processes_check_them(tmp_path: Path) -> None:
    paths = []
    for number in range(checks._FEW + 3):
        paths.append(tmp_path / f"unit-{number}.yaml")
        paths[-1].write_text(GOOD if number % 2 else WRONG, encoding="utf-8")
    found = list(checks.check_all([str(path) for path in paths]))
    assert [one.source for one in found] == [str(path) for path in paths]
    assert [one.good for one in found] == [bool(n % 2) for n in range(len(paths))]
    assert found == [checks.check(str(path)) for path in paths]


@pytest.mark.parametrize("name", reading.samples())
def test_the_samples_check_clean(name: str) -> None:
    assert checks.check(name).problems == ()


def test_no_answer_of_the_samples_is_a_command() -> None:
    for path in reading.samples().values():
        assert list(answers.that_are_commands(reading.read(path))) == []


def hints(text: str) -> list[str]:
    return [what for (_, what), _ in hearing.hints(reading.parse(text, "x"))]


def test_a_word_that_no_dictionary_has_is_told_with_words_that_sound_like_it() -> None:
    assert hints(GOOD) == []
    lacking = GOOD.replace("name: end plate", "name: endcap").replace(
        "part: end plate", "part: endcap"
    )
    lacking = lacking.replace("name: circlip", "name: sprocketeer").replace(
        "circlip}", "sprocketeer}"
    )
    told, other = hints(lacking)[::-1]
    assert "EH N D K AE P" in told and "respell: {endcap: end cap}" in told
    assert "assistant say --word sprocketeer" in other and "or call the thing otherwise" in other
    # What is respelt is known, and so is what the program respells by itself.
    respelt = lacking.replace(
        "places:", "respell: {endcap: end cap, sprocketeer: sprocket ear}\nplaces:"
    )
    assert hints(respelt) == []


def test_names_that_sound_alike_are_told_where_they_stand_for_each_other() -> None:
    (told,) = hints(ALIKE)
    assert "'keyed shaft' and 'kid shaft' sound alike" in told
    # At two steps they cannot be taken for each other.
    assert (
        hints(GOOD.replace("name: bore", "name: board").replace("formula: bore", "formula: board"))
        == []
    )
    # A better choice is one that would not be told of.
    better = told.rpartition("such as '")[2].partition("'")[0]
    assert hints(GOOD.replace("say: splined shaft", f"say: {better}")) == []


def test_numbers_that_would_not_be_noticed_are_told_of() -> None:
    wide = GOOD.replace(
        "{name: shaft, unit: mm}", "{name: shaft, unit: mm, limits: {least: 12 mm, most: 45 mm}}"
    )
    assert "13 and 30 sound alike" in hints(wide)[0]
    assert hints(wide.replace("most: 45 mm}", "most: 45 mm}, resolution: 0.01 mm")) == []
    assert hints(wide.replace("most: 45 mm}", "most: 29 mm}")) == []
    both = GOOD.replace("torque: 10 N·m", "passes: [15 N·m], torque: 50 N·m")
    assert "15 and 50 N·m sound alike" in hints(both)[0]


def test_the_distance_of_phones_is_that_of_the_aligner() -> None:
    fifteen, fifty = ("F IH F T IY N", "F IH F T IY")
    assert phone_distance(tuple(fifteen.split()), tuple(fifty.split())) == pytest.approx(0.7)
    assert phone_distance(("P",), ("T",)) == pytest.approx(0.4)
    assert phone_distance((), ("P", "T")) == pytest.approx(1.4)
    assert phone_distance(("P",), ("P",)) == 0


def test_a_word_is_said_with_its_pronunciation(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    spoken: list[str] = []
    monkeypatch.setattr("assistant.audio.voice.to_wav", lambda text, path: spoken.append(text))
    out = str(tmp_path / "word.wav")
    assert cli.main(["say", "--word", "endcap", "-o", out]) == 0
    told = capsys.readouterr().out
    assert "endcap: EH N D K AE P (by rule: no dictionary has it)" in told
    assert "respell: {endcap: end cap}" in told
    assert cli.main(["say", "--word", "circlip", "-o", out]) == 0
    assert "circlip: S ER K L IH P (respelt: sir clip)" in capsys.readouterr().out
    assert cli.main(["say", "--word", "bolt", "-o", out]) == 0
    assert "bolt: B OW L T (from the dictionary)" in capsys.readouterr().out
    assert spoken == ["endcap", "circlip", "bolt"]
    assert cli.main(["say", "-o", out]) == 2
    assert cli.main(["say", "bolt", "--word", "bolt"]) == 2
    assert cli.main(["say", "--word", "comp-200", "-o", out]) == 2


def test_nothing_is_told_twice(files: dict[str, str]) -> None:
    for path in files.values():
        problems = checks.check(path).problems
        assert len(set(problems)) == len(problems)
        assert all(one.rule in RULES and isinstance(one.severity, Severity) for one in problems)
