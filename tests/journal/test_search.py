"""What a search finds, and that nothing typed is more than words."""

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as s

from assistant.cli import main as cli
from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from tests.bench_helpers import SMALL, Hands


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("shop") / "journal.db"
    one = Hands(path)
    one.say("affirm", "circlip missing upper", "note Dichtung vom Gehäuse gerissen", "bag one")
    text = SMALL.replace("Small box", "Harbour winch").replace("small-box", "winch")
    two = Hands(path, text, open_job=False)
    two.bench.open(two.procedure, text, unit="serial 44-71")
    two.say("affirm", "order two drain plugs", "skip step", "waiting for part")
    two.say("close job", "affirm")
    three = Hands(path)
    three.say("affirm", "circlip worn", "disregard", "order one circlip")
    return path


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("circlip missing", [(1, "finding")]),
        ("circ", [(3, "part ordered"), (3, "finding"), (1, "finding")]),
        ("CIRCLIP Worn", [(3, "finding")]),  # What was withdrawn was said.
        ("gehause", [(1, "note")]),
        ("TB-1", [(2, "part ordered")]),
        ("end plate", [(1, "bag recorded")]),
        ("not here", [(2, "step skipped")]),
        # The title finds the job once; together with what was found, only that.
        ("small box", [(3, "job opened"), (1, "job opened")]),
        ("44-71", [(2, "job opened")]),
        ("harbour drain", [(2, "part ordered")]),
        ("small drain", []),
        ("gearbox", []),
    ],
)
def test_words_of_the_event_and_of_its_job_are_found(
    shop: Path, text: str, found: list[tuple[int, str]]
) -> None:
    journal = Journal(shop)
    hits = journal.search(text)
    assert [(hit.job, hit.kind) for hit in hits] == found
    for hit in hits:
        event = journal.events(hit.job)[hit.place - 1]
        assert (event.kind, event.at) == (hit.kind, hit.at)
    jobs = dict.fromkeys(job for job, _ in found)
    assert [job.job for job in journal.jobs(search=text)] == list(jobs)
    assert [job.job for job in journal.jobs(limit=1, search=text)] == list(jobs)[:1]
    assert [hit.job for hit in journal.search(text, limit=1)] == [job for job, _ in found[:1]]


def test_the_list_has_its_limit_and_the_seal(shop: Path) -> None:
    journal = Journal(shop)
    assert [job.job for job in journal.jobs(limit=2)] == [3, 2]
    two = journal.jobs()[1]
    assert (two.closed, two.seal, two.unit) == (True, journal.seal(2), "serial 44-71")
    assert two.events == len(journal.events(2))
    assert journal.jobs()[0].seal is None
    assert journal.latest_open() == 3
    assert {job.bench for job in journal.jobs()} == {journal.bench}


@settings(max_examples=300)
@given(
    s.text() | s.text(alphabet="a\"*()^:{}+-\0'\\ ORANDNEAR") | s.sampled_from(["AND", "a OR", "*"])
)
def test_nothing_typed_is_more_than_words(shop: Path, text: str) -> None:
    journal = Journal(shop)
    try:
        hits = journal.search(text)
    except AssistantError as error:
        assert "at least one word" in str(error)
        return
    finally:
        assert len(journal.numbers()) == 3
        journal.close()
    assert all(isinstance(hit.text, str) for hit in hits)


def test_a_note_that_is_fts_is_kept_as_it_is(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say('note "worn" OR circlip* {text} : 1; DROP TABLE job')
    (note,) = hands.events("note")
    assert isinstance(note, events.NoteRecorded)
    assert note.text == '"worn" OR circlip* {text} : 1; DROP TABLE job'
    assert [hit.kind for hit in hands.bench.journal.search("drop table")] == ["note"]


def test_the_command_shows_what_was_found(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["jobs", "--search", "circlip", "--limit", "1", "--journal", str(shop)]) == 0
    job, ordered, found = capsys.readouterr().out.splitlines()
    assert job.startswith("    3  ") and "Small box" in job
    assert ordered.endswith("part ordered: circlip TB-2") and found.endswith(
        "finding: circlip worn"
    )
    assert cli.main(["jobs", "--search", "harbour", "--json", "--journal", str(shop)]) == 0
    assert json.loads(capsys.readouterr().out)["job"] == 2
    assert cli.main(["jobs", "--search", "gearbox", "--journal", str(shop)]) == 0
    assert capsys.readouterr().out == "No job has these words.\n"
    assert cli.main(["jobs", "--limit", "0", "--journal", str(shop)]) == 2
    assert cli.main(["jobs", "--search", "!", "--journal", str(shop)]) == 2
