"""What is read of the journal: no more than is shown, and a job once when it is taken up."""

from pathlib import Path
from typing import get_args

import pytest

from assistant.bench import shift
from assistant.dialogue import events, outstanding_work, replaying
from assistant.errors import AssistantError
from assistant.journal import search
from assistant.journal.records import Records
from assistant.journal.store import Journal
from assistant.report import record
from assistant.web import standing
from tests.bench_helpers import Hands


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A journal of a closed job and two open ones, all with events."""
    for phrases in (("close job", "affirm"), ("order two drain plugs",), ("bag one",)):
        hands = Hands(tmp_path / "journal.db")
        hands.say("affirm", *phrases)
        hands.bench.journal.close()
    return hands.path


@pytest.fixture
def read(monkeypatch: pytest.MonkeyPatch) -> list[tuple[int, int | None]]:
    """Each time that events are read from a journal: of which job, and at most how many."""
    found: list[tuple[int, int | None]] = []
    bodies = Journal._bodies

    def noted(self: Journal, job: int, after: int, limit: int | None) -> object:
        found.append((job, limit))
        return bodies(self, job, after, limit)

    monkeypatch.setattr(Journal, "_bodies", noted)
    return found


def test_a_list_of_jobs_reads_no_events(path: Path, read: list[tuple[int, int | None]]) -> None:
    journal = Journal(path)
    assert [job.job for job in journal.jobs(closed=False)] == [3, 2]
    assert [job.job for job in journal.jobs(1, closed=False)] == [3]
    assert [job.job for job in journal.jobs(closed=True)] == [1]
    assert [job.job for job in journal.jobs(closed=False, ordered=True)] == [2]
    assert (journal.latest_open(), journal.summary(2).job) == (3, 2)
    assert read == []


def test_the_procedure_of_a_job_is_in_its_first_event(
    path: Path, read: list[tuple[int, int | None]]
) -> None:
    journal = Journal(path)
    assert shift.respellings(journal, {}) == {}
    assert journal.procedure(1).title == "Small box"
    assert read == [(3, 1), (2, 1), (1, 1)]


def test_a_job_is_read_once_when_it_is_taken_up(
    path: Path, read: list[tuple[int, int | None]]
) -> None:
    hands = Hands(path, open_job=False)
    hands.bench.take_up(2)
    assert read == [(2, None)]


def test_events_after_a_place(path: Path) -> None:
    journal = Journal(path)
    history = journal.events(2)
    assert journal.events(2, after=3) == history[3:]
    assert journal.events(2, after=len(history)) == ()


def test_an_unknown_job_is_told_with_the_one_that_may_be_meant(path: Path) -> None:
    journal: Records = Journal(path)
    for ask in (journal.events, journal.procedure, journal.identity, journal.summary):
        with pytest.raises(AssistantError, match=r"no job 33 in .* Did you mean 3\?"):
            ask(33)


def test_what_is_searched_are_fields_of_the_events() -> None:
    """So that a field that gets another name is not silently lost to the search."""
    kinds = {
        model.model_fields["kind"].default: model for model in get_args(get_args(events.Event)[0])
    }
    for kind, paths in search.PATHS.items():
        fields = {path.partition(".")[0] for path in paths}
        assert fields <= kinds[kind].model_fields.keys(), kind


def test_texts_within_a_field_are_found() -> None:
    contents = [{"name": "cap bolt", "count": 4}, {"name": "shim", "count": 1}]
    event = {"kind": "bag recorded", "contents": contents}
    assert search.text_of(event) == "cap bolts shim"
    assert search.text_of({"kind": "bag recorded", "contents": []}) == ""


# Stored events that do not fit together, and errors of ours


def _altered(path: Path) -> tuple[events.Event, ...]:
    """Return a job's events, one of which names a step that the procedure does not have."""
    history = Journal(path).events(3)
    return tuple(
        event.model_copy(update={"step": "nowhere"})
        if isinstance(event, events.StepEntered)
        else event
        for event in history
    )


def test_events_that_do_not_fit_together_are_told_in_a_sentence(path: Path) -> None:
    history = _altered(path)
    procedure = replaying.procedure_of(history, 3)
    for use in (
        lambda: replaying.replay_stored(procedure, history),
        lambda: record.build(history, procedure, 3),
        lambda: standing.of(history, 3, history[-1].at),
    ):
        with pytest.raises(AssistantError, match="do not fit together"):
            use()


def _one_more(path: Path, **fields: object) -> tuple[events.Event, ...]:
    """Return a job's events and one withdrawal after them."""
    history = Journal(path).events(3)
    last = history[-1]
    more = events.Withdrawn(at=last.at, turn=last.turn + 1, **fields)  # type: ignore[arg-type]
    return (*history, more)


@pytest.mark.parametrize(
    ("more", "fits"),
    [
        ({"withdrew": 2}, True),
        ({"withdrew": 2, "place": 0}, True),
        ({"withdrew": 2, "place": 99}, False),
        ({"withdrew": 2, "place": -1}, False),
        ({"withdrew": 999}, False),
    ],
)
def test_what_takes_back_an_event_that_never_was_does_not_fit(
    path: Path, more: dict[str, int], fits: bool
) -> None:
    history = _one_more(path, **more)
    procedure = replaying.procedure_of(history, 3)
    if fits:
        replaying.replay_stored(procedure, history)
        return
    with pytest.raises(AssistantError, match="do not fit together"):
        replaying.replay_stored(procedure, history)


def test_an_error_of_ours_outside_the_replay_comes_through_as_itself(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise TypeError("an error of ours")

    history = Journal(path).events(3)
    procedure = replaying.procedure_of(history, 3)
    monkeypatch.setattr("assistant.report.record.spans", broken)
    with pytest.raises(TypeError, match="an error of ours"):
        record.build(history, procedure, 3)
    monkeypatch.setattr(outstanding_work, "outstanding", broken)
    with pytest.raises(TypeError, match="an error of ours"):
        standing.of(history, 3, history[-1].at)
    hands = Hands(path, open_job=False)
    offered = {"small": shift.Loaded(procedure, "", ())}
    hands.bench.shift = shift.Shift(hands.bench.journal, offered)
    hands.bench.come_in()
    monkeypatch.setattr("assistant.dialogue.decide.take_up", broken)
    with pytest.raises(TypeError, match="an error of ours"):
        hands.say("open job 3")
