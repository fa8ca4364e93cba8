"""Who may be at the bench, and two of them on one job."""

from dataclasses import replace
from pathlib import Path

import pytest

from assistant.bench import technicians
from assistant.bench.technicians import Technicians
from assistant.dialogue import intents, understanding
from assistant.dialogue.replaying import procedure_of
from assistant.errors import AssistantError
from assistant.report import log, page, record
from tests.bench_helpers import Hands
from tests.fixtures import state_of


def test_names_come_from_a_file_else_the_environment_else_the_settings(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "names"
    file.write_text("Ann\n\n Siobhan : shiv on \nMary Ann O'Brien\n", encoding="utf-8")
    expected = Technicians(("Ann", "Siobhan", "Mary Ann O'Brien"), {"Siobhan": "shiv on"})
    assert technicians.choose(file, ["Cy"]) == expected
    monkeypatch.setenv(technicians.VARIABLE, "Ann,Bo")
    assert technicians.choose(None, ["Cy"]).names == ("Ann", "Bo")
    monkeypatch.delenv(technicians.VARIABLE)
    assert technicians.choose(None, ["Cy"]).names == ("Cy",)
    assert technicians.choose(None, []) == Technicians()


@pytest.mark.parametrize(
    ("entries", "why"),
    [
        (["Ann 2"], "'Ann 2' is no name"),
        (["a;b = c"], "is no name"),
        (["<script>"], "is no name"),
        (["one two three four"], "is no name"),
        ([": shiv on"], "is no name"),
        (["Ann", "ann"], "there twice"),
        (["Ann Lee: an lee"], "one by one"),
        ([f"N{'x' * number}" for number in range(60)], "more than 50"),
    ],
)
def test_what_is_no_list_of_names_is_refused(entries: list[str], why: str) -> None:
    with pytest.raises(AssistantError, match=why):
        technicians.parse(entries, "names")


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match="cannot be read"):
        technicians.choose(tmp_path / "none", [])
    file = tmp_path / "names"
    file.write_bytes(b"\xff\xfe")
    with pytest.raises(AssistantError, match="UTF-8"):
        technicians.choose(file, [])
    file.write_text("Ann\n" * 3000, encoding="utf-8")
    with pytest.raises(AssistantError, match="too large"):
        technicians.choose(file, [])


def test_only_names_of_the_list_are_understood() -> None:
    state = state_of("winch-gearbox/look-housing", "")
    assert understanding.understand_typed("this is ann", state) is None
    state = replace(state, technicians=("Ann", "Mary Ann O'Brien"))
    for said in ("This is Ann.", "ann here", "Ann speaking"):
        assert understanding.understand_typed(said, state) == intents.SignOn("Ann")
    assert understanding.understand_typed("mary ann o'brien here", state) == intents.SignOn(
        "Mary Ann O'Brien"
    )
    assert understanding.understand_typed("bo here", state) is None


def test_two_on_one_job_are_told_apart_in_the_record(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.technicians = ("Ann", "Bo")
    hands.stop_and_take_up(minutes=1)
    assert hands.say("this is ann") == "Ann at the bench."
    hands.say("affirm", "bag two")
    assert hands.say("bo here").startswith("Bo at the bench. I heard bag two.")
    hands.say("affirm", "note: seen by two")
    hands.say("disregard")
    hands.say("this is ann", "next step")
    events = hands.bench.journal.events(hands.bench.job)
    by = [(e.kind, e.by) for e in events if e.kind not in ("step entered", "job opened")]
    assert by == [
        ("job taken up", "sam"),
        ("signed on", "Ann"),
        ("hazards heard", "Ann"),
        ("value questioned", "Ann"),
        ("signed on", "Bo"),
        ("bag recorded", "Bo"),
        ("note", "Bo"),
        ("withdrawn", "Bo"),
        ("signed on", "Ann"),
        ("step done", "Ann"),
    ]
    procedure = procedure_of(events, hands.bench.job)
    lines = list(log.lines(events, procedure))
    assert any("bag 2, asked bag 1" in line and "[by Bo]" in line for line in lines)
    assert any("hazards affirmed: warning" in line and "[by Ann]" in line for line in lines)
    built = record.build(events, procedure, hands.bench.job)
    assert built.by == ("sam", "Ann", "Bo")
    assert "sam, Ann, Bo" in page.html(built, {})
    # Who is there is not known after a stop, until they say so.
    hands.stop_and_take_up(hours=1)
    assert hands.bench.keeper.by == "sam"


def test_a_name_in_a_job_of_one_is_not_repeated_in_the_log(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm")
    events = hands.bench.journal.events(hands.bench.job)
    lines = log.lines(events, procedure_of(events, hands.bench.job))
    assert not any("[by" in line for line in lines)
