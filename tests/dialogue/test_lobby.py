"""Between jobs: which are open, taking one up, beginning another, by typed phrases."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from assistant.audio.manner import Change
from assistant.bench.conversation import Conversation
from assistant.bench.session import LobbySession
from assistant.bench.shift import Shift, on_offer
from assistant.dialogue import intents
from assistant.dialogue import lobby as between
from assistant.dialogue import lobby_words as words_at_lobby
from assistant.dialogue.effects import BeginJob
from assistant.dialogue.lobby import Lobby, OpenJob, TakeUp
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from assistant.procedure import reading
from tests.bench_helpers import SMALL, ZONE, Notes, Typist, bench


class AtShift(Typist):
    """Types phrases at a shift, where one job comes after another."""

    def __init__(self, folder: Path) -> None:
        self.now = datetime(2031, 3, 4, 9, tzinfo=ZONE)
        self.notes = Notes()
        self.folder = folder
        self.bench = self._begun()

    def _begun(self) -> Conversation:
        self.journal = Journal(self.folder / "journal.db")
        at = self.elsewhere()
        at.technicians = ("Ann", "Bo")
        procedures = on_offer(self.folder / "procedures", self.notes.refused.append)
        at.shift = Shift(self.journal, procedures)
        at.come_in()
        return at

    def elsewhere(self) -> Conversation:
        """Return another bench with the same journal, without a job yet."""
        return bench(self.journal, self.notes, lambda: self.now)

    @property
    def lobby(self) -> Lobby:
        assert isinstance(self.bench.session, LobbySession)
        return self.bench.session.lobby

    def restart(self, **time: float) -> str:
        self.journal.close()
        self.now += timedelta(**time)
        self.notes.replies.clear()
        self.bench = self._begun()
        return " ".join(self.notes.replies)

    def kinds(self, job: int) -> list[str]:
        return [event.kind for event in self.journal.events(job)]


@pytest.fixture
def at(tmp_path: Path) -> Iterator[AtShift]:
    folder = tmp_path / "procedures"
    folder.mkdir()
    (folder / "small-box.yaml").write_text(SMALL, encoding="utf-8")
    other = SMALL.replace("small-box", "big-box").replace("Small box", "Big box 2")
    (folder / "big-box.yaml").write_text(other, encoding="utf-8")
    at = AtShift(tmp_path)
    yield at
    at.journal.close()


def test_the_whole_round(at: AtShift) -> None:
    said = " ".join(at.notes.replies)
    assert said == "No job is open. Say new job. Who is at the bench? Say this is, and your name."
    assert at.say("this is ann") == "Ann at the bench."
    assert at.say("new job") == "Which procedure? Big box and small box."
    assert at.say("small box") == "New job, small box. Affirm?"
    assert "Small box, six steps." in at.say("affirm")
    at.say("affirm", "bag one")
    said = at.say("set job aside")
    assert said.startswith("Job set aside. It stays open. One job is open.")
    assert "Who is at" not in said
    at.say("new job big box", "affirm")
    assert "Job set aside" in at.say("set this job aside")
    assert at.say("what jobs are open") == (
        "Job two, Big box two, at step one of six. Job one, Small box, at step one of six."
    )
    assert "Small box. Work stopped" in at.say("open job one")
    at.say("next step", "splined shaft")
    assert at.bench.state.step_id == "which"
    assert "Job closed. One job is open." in at.say("close job", "affirm")
    assert "Big box 2. Work stopped" in at.say("resume")
    assert "No job is open. Say new job." in at.say("close job", "affirm")
    assert "job closed" in at.kinds(1) and "job closed" in at.kinds(2)
    assert {event.by for event in at.journal.events(1)} == {"Ann"}


def test_a_job_is_taken_up_only_if_it_is_open(at: AtShift) -> None:
    at.say("new job small box", "affirm", "set job aside")
    assert at.say("open job two") == ""
    assert at.notes.refused[-1] == "open job two"
    _, refused = between.decide(at.lobby, TakeUp(2))
    assert refused.replies[0].text == "Job two is not open."


def test_a_job_without_a_procedure_is_begun_and_found_again(at: AtShift) -> None:
    assert at.say("new job unwritten") == "New job, unwritten. Affirm?"
    assert at.say("negative") == "No new job."
    assert "Which procedure?" in at.say("new job")
    assert at.say("unwritten") == "New job, unwritten. Affirm?"
    assert at.journal.jobs() == ()
    assert "Is the machine safe" in at.say("affirm")
    assert at.say("affirm", "removed six long bolts") == "Six long bolts off."
    at.say("set job aside")
    assert at.say("what jobs are open") == "Job one, Unwritten job, at step two of two."
    at.restart(days=2)
    assert "Take off six long bolts" in at.say("open job one")
    assert "Fit six long bolts" in at.say("start build up")
    assert "Job closed." in at.say("next step", "close job")


def test_a_procedure_by_the_word_for_none_is_left_out(tmp_path: Path) -> None:
    for name in ("unwritten", "good"):
        (tmp_path / f"{name}.yaml").write_text(SMALL, encoding="utf-8")
    told: list[str] = []
    assert list(on_offer(tmp_path, told.append)) == ["good"]
    assert "unwritten.yaml" in told[0] and "rename it" in told[0]


def test_what_is_asked_is_answered_or_dropped(at: AtShift) -> None:
    assert "Which procedure?" in at.say("new job")
    assert "Which procedure?" in at.say("resume")
    assert at.say("disregard") == "No new job."
    assert at.say("new job big box two") == ""  # its title holds a figure, and is not its name
    assert "Affirm?" in at.say("new job big box")
    assert at.say("what words") == "Say affirm or negative."
    assert at.say("small box") == "New job, small box. Affirm?"
    assert at.say("negative") == "No new job."
    assert at.journal.jobs() == ()


def test_a_plain_word_is_answered_with_the_one_to_say(at: AtShift) -> None:
    assert at.say("yes") == "Say affirm."
    assert at.say("new job small box", "no") == "Say negative."
    assert at.lobby.asks, "nothing came of it"


def test_it_stands_by_between_jobs(at: AtShift) -> None:
    at.say("stand by")
    assert at.say("new job") == "" and at.bench.standing_by
    assert at.say("resume") == "Listening."
    assert "Which procedure?" in at.say("new job")


def test_the_voice_is_changed_between_jobs_and_stays_so_in_them(at: AtShift) -> None:
    assert at.say("faster") == "Faster."
    assert at.say("new job small box") == at.say("say again") == "New job, small box. Affirm?"
    assert at.say("softer") == "Softer. New job, small box. Affirm?"
    at.say("affirm")
    assert at.bench.job == 1 and at.notes.manner.rate == 170


def test_three_are_told_and_the_rest_are_counted(at: AtShift) -> None:
    for _ in range(5):
        at.say("new job small box", "affirm", "set job aside")
    said = at.say("what jobs are open")
    assert said.startswith("Job five, ") and said.endswith("And two more.")
    assert "Job three" in said and "Job two" not in said
    assert "Work stopped" in at.say("open job one")


def test_timers_of_jobs_that_nobody_works_on_are_announced_once_there(at: AtShift) -> None:
    at.say("new job small box", "affirm", "affirm", "start drain timer five minutes")
    assert "Drain, four minutes and fifty seconds left." in at.say("set job aside")
    at.say("new job big box", "affirm")
    assert at.wait(minutes=5) == "Job one. Time. The drain is up."
    at.say("set job aside")
    assert at.wait(minutes=5) == ""
    assert "The drain was up five minutes" in at.say("open job one")
    assert at.kinds(1).count("timer rang") == 1


def test_after_a_restart_what_was_due_is_told_in_the_lobby(at: AtShift) -> None:
    at.say("new job small box", "affirm", "affirm", "start drain timer five minutes")
    assert "One job is open" in at.restart(hours=2)
    assert at.wait(seconds=1) == "Job one. Time. The drain is up."


def test_another_jobs_timer_waits_for_a_value_in_question_here(at: AtShift) -> None:
    at.say("new job small box", "affirm", "affirm", "start drain timer five minutes")
    at.say("set job aside", "new job big box", "affirm", "affirm", "bag one", "next step")
    at.say("splined shaft", "next step")
    at.now += timedelta(minutes=3, seconds=20)
    assert "I heard" in at.say("reading bore 25.2")
    assert at.wait(seconds=10) == ""
    assert at.wait(seconds=30) == "Job one. Time. The drain is up."


def test_a_job_that_goes_on_elsewhere_is_left_to_it(at: AtShift) -> None:
    at.say("new job small box", "affirm", "affirm", "start drain timer five minutes")
    elsewhere = at.elsewhere()
    elsewhere.take_up(1)
    assert "One job is open" in at.say("bag one")
    assert at.bench.job == 0 and at.lobby.jobs
    at.now += timedelta(minutes=6)
    elsewhere.tick()
    assert at.wait(seconds=1) == ""
    elsewhere.typed("bag one")
    assert at.kinds(1)[-2:] == ["timer rang", "bag recorded"]


def test_a_procedure_with_faults_is_left_out_and_told(tmp_path: Path) -> None:
    (tmp_path / "good.yaml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "bad.yaml").write_text("procedure: 1", encoding="utf-8")
    (tmp_path / "7.yaml").write_text(SMALL, encoding="utf-8")
    told: list[str] = []
    assert list(on_offer(tmp_path, told.append)) == ["good"]
    assert len(told) == 2 and "bad.yaml" in told[1]
    with pytest.raises(AssistantError, match="no folder"):
        on_offer(tmp_path / "none", told.append)
    (tmp_path / "none").mkdir()
    with pytest.raises(AssistantError, match="no procedure"):
        on_offer(tmp_path / "none", told.append)
    assert set(on_offer(None, told.append)) == {
        name.replace("-", " ") for name in reading.samples()
    }


def test_a_jobs_number_is_said_either_way() -> None:
    lobby = Lobby((OpenJob(112, "Box"), OpenJob(12, "Box")))
    for said, number in (
        ("one one two", 112),
        ("one hundred and twelve", 112),
        ("one two", 12),
        ("twelve", 12),
    ):
        assert words_at_lobby.understand(f"open job {said}".split(), lobby) == TakeUp(number)
    assert words_at_lobby.understand(["open", "job", "eleven"], lobby) is None
    assert words_at_lobby.understand_typed("Open job 112.", lobby) == TakeUp(112)


def test_nothing_that_is_meant_trips_it() -> None:
    meanings = [
        intents.Affirm(),
        intents.Negative(),
        intents.Disregard(),
        intents.Resume(),
        intents.SayAgain(),
        intents.Help(),
        intents.StandBy(),
        intents.SignOn("Ann"),
        between.WhichJobs(),
        TakeUp(1),
        between.NewJob(),
        between.NewJob("box"),
        between.NewJob(between.UNWRITTEN),
        between.Procedure("box"),
        *map(intents.Speak, Change),
    ]
    full = Lobby((OpenJob(1, "Box"),), (("box",), ("gear",)), ("Ann",))
    for lobby in (Lobby(), full):
        for first in meanings:
            for second in meanings:
                then, _ = between.decide(lobby, first)
                _, decision = between.decide(then, second)
                assert not decision.events
                begun = [e.procedure for e in decision.effects if isinstance(e, BeginJob)]
                assert not begun or (isinstance(second, intents.Affirm) and begun == [then.chosen])


def test_the_only_procedure_is_meant_where_none_is_named() -> None:
    only = Lobby(procedures=(("box", "gearbox"),))
    asked, decision = between.decide(only, between.NewJob())
    assert asked.chosen == "box"
    assert [reply.text for reply in decision.replies] == ["New job, box. Affirm?"]
