"""A newer revision of a job's procedure: offered on resuming, taken or left, and recorded."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.dialogue import events
from assistant.dialogue.replaying import procedure_of, replay_stored
from assistant.dialogue.state import Mode
from assistant.errors import AssistantError
from assistant.journal.store import Journal
from assistant.procedure import reading
from assistant.report import document, page, record
from tests.bench_helpers import SMALL, Hands, Notes, bench

A = SMALL.replace("sample: true\n", "").replace("revision: A", "revision: A\napprover: Ann Vik")
B = A.replace("revision: A", "revision: B\nsupersedes: A")
LATER = B.replace("torque: 10 N·m", "torque: 12 N·m")
"""It changes step five, which is not worked on at first."""


class Bench(Hands):
    """A bench whose job was begun from a file."""

    def __init__(self, folder: Path, text: str = A) -> None:
        self.file = folder / "small.yaml"
        self.write(text)
        super().__init__(folder / "journal.db", text, open_job=False)
        loaded = reading.load(self.file)
        self.bench.open(loaded.procedure, loaded.text, file=self.file)

    def write(self, text: str) -> None:
        self.file.write_text(text, encoding="utf-8")

    def again(self) -> str:
        """Stop, and take the job up again; return what is said."""
        self.notes = Notes()
        self.now += timedelta(days=1)
        self.bench = bench(
            Journal(self.path), self.notes, lambda: self.now, by="Sam", technicians=()
        )
        self.bench.take_up(1)
        return " ".join(self.notes.replies)

    @property
    def history(self) -> tuple[events.Event, ...]:
        return self.bench.journal.events(1)

    def kinds(self) -> list[str]:
        return [event.kind for event in self.history]

    @property
    def record(self) -> record.Record:
        history = self.history
        return record.kept(self.bench.journal, 1, history, procedure_of(history, 1))


@pytest.fixture
def hands(tmp_path: Path) -> Bench:
    made = Bench(tmp_path)
    made.say("affirm", "bag one", "next step")
    return made


def test_a_job_stays_on_the_text_that_it_began_with(hands: Bench) -> None:
    assert "newer text" not in hands.again()
    hands.write(LATER)
    told = hands.again()
    assert told.endswith(
        "There is a newer text, revision B: step five changed. Go on with it? Affirm or negative?"
    )
    assert hands.bench.state.mode is Mode.REVISING
    assert str(hands.bench.state.procedure.step("close").tighten[1].torque) == "10 N·m"
    # Nothing else is taken until that is answered.
    assert "Go on with it?" in hands.say("next step")
    assert "Go on with it?" in hands.again(), "nor is it forgotten"
    assert hands.kinds().count("revision offered") == 1


def test_it_is_taken_where_somebody_affirms(hands: Bench) -> None:
    hands.write(LATER)
    hands.again()
    said = hands.say("affirm")
    assert said.startswith("Revision B from here on. Recorded. Step two. Look at the shaft.")
    assert hands.kinds()[-1] == "revision taken"
    assert hands.bench.state.mode is Mode.WORKING
    assert "Bag one" in hands.say("go to step one", "read back")
    hands.say("go to step two", "splined shaft", "next step")
    assert hands.bench.state.procedure.revision == "B"
    # What is on disk leads to the same, and the next day too.
    assert "newer text" not in hands.again()
    state = hands.bench.state
    assert str(state.procedure.step("close").tighten[1].torque) == "12 N·m"
    assert replay_stored(procedure_of(hands.history, 1), hands.history) == state
    assert hands.bench.journal.procedure(1) == state.procedure


@pytest.mark.parametrize("words", ["negative", "disregard"])
def test_it_is_left_and_not_asked_again(hands: Bench, words: str) -> None:
    hands.write(LATER)
    hands.again()
    assert hands.say(words).startswith("This job stays on revision A. Step two.")
    assert hands.bench.state.procedure.revision == "A"
    told = hands.again()
    assert "Revision B was declined; this job stays on revision A." in told
    assert hands.bench.state.mode is Mode.WORKING
    assert hands.kinds().count("revision offered") == 1
    # One that is newer still is another matter.
    hands.write(LATER.replace("revision: B", "revision: C"))
    assert "There is a newer text, revision C" in hands.again()


def test_disregard_afterwards_does_not_take_the_revision_back(hands: Bench) -> None:
    hands.write(LATER)
    hands.again()
    hands.say("affirm", "splined shaft", "disregard")
    state = hands.bench.state
    assert state.procedure.revision == "B" and not state.answers
    hands.say("disregard")
    assert hands.bench.state.procedure.revision == "B"
    assert "newer text" not in hands.again()


def test_what_was_worked_on_has_to_be_the_same(hands: Bench) -> None:
    hands.write(B.replace("say: Take off the end plate.", "say: Take off the end plate slowly."))
    told = hands.again()
    assert (
        "There is a newer text, revision B, but it changes step one, which this job has worked "
        "from. This job stays on revision A." in told
    )
    assert hands.bench.state.mode is Mode.WORKING
    assert "revision offered" not in hands.kinds()


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("id: which", "id: shaft-kind", "step two"),
        ("- {name: end plate}", "- {name: end plate, number: TB-9}", "the parts"),
        ("places: [drum side]", "places: [drum side, rear]", "the places"),
        ("equipment: {kind: test box}", "equipment: {kind: other box}", "the equipment"),
    ],
)
def test_what_the_record_rests_on_has_to_be_there(
    hands: Bench, old: str, new: str, what: str
) -> None:
    assert old in B
    hands.write(B.replace(old, new))
    assert f"it changes {what}, which this job has worked from" in hands.again()


def test_results_stay_as_found_or_as_left(tmp_path: Path) -> None:
    hands = Bench(tmp_path)
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step", "reading bore 25.00")
    # A step before it in which something is fitted would make the bore one as left.
    new = "      - {id: plug, say: Fit a plug., fit: [{part: drain plug}]}\n      - id: which\n"
    hands.write(B.replace("      - id: which\n", new))
    assert "it changes step four, which this job has worked from" in hands.again()


def test_a_step_that_is_new_before_is_there_to_be_done(hands: Bench) -> None:
    new = "      - {id: label, say: Take the label off., gate: job}\n      - id: open\n"
    hands.write(B.replace("      - id: open\n", new, 1))
    assert "revision B: step one new." in hands.again()
    assert "Step three has to wait for step one" in hands.say("affirm")
    assert hands.bench.state.number == 3
    hands.say("go to step one", "next step")
    assert "label" in hands.bench.state.done


def test_hazards_that_are_new_are_heard_before_the_work_goes_on(hands: Bench) -> None:
    hazard = "hazards: [{signal: danger, say: It can start.}]\nparts:"
    hands.write(LATER.replace("parts:", hazard, 1))
    assert "something of the whole procedure changed" in hands.again()
    assert "Danger. It can start. Affirm that you heard." in hands.say("affirm")
    assert hands.say("splined shaft").startswith("Not yet")
    assert not hands.bench.state.answers
    hands.say("affirm", "splined shaft")
    assert hands.bench.state.answers == {"shaft": "splined shaft"}


def test_it_waits_until_another_question_is_answered(hands: Bench) -> None:
    hands.say("skip step")
    hands.write(LATER)
    told = hands.again()
    assert "newer text" not in told and "skip" in told.lower()
    hands.say("disregard")
    assert "newer text" in hands.again()


def test_something_recorded_between_question_and_answer_is_seen(hands: Bench) -> None:
    text = B.replace("say: Look at the shaft.", "say: Look at the shaft well.")
    hands.write(text)
    assert "step two changed" in hands.again()
    found = events.FindingRecorded(
        at=hands.now,
        turn=hands.history[-1].turn + 1,
        step="which",
        part="circlip",
        condition="missing",
    )
    hands.bench.session.go_on([found])
    said = hands.say("affirm")
    assert "it changes step two, which this job has worked from" in said
    assert hands.bench.state.procedure.revision == "A"
    assert "revision taken" not in hands.kinds()


# Which is newer


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        (LATER, True),
        (LATER.replace("supersedes: A\n", ""), True),
        (LATER.replace("approver: Ann Vik\n", ""), False),
        (LATER.replace("revision: B", "revision: draft"), False),
        (LATER.replace("procedure: small-box", "procedure: other"), False),
        (LATER.replace("revision: B", "revision: A"), False),
        (A, False),
        ("not: a procedure", False),
    ],
)
def test_what_is_offered(hands: Bench, text: str, offered: bool) -> None:
    hands.write(text)
    assert ("There is a newer text" in hands.again()) is offered


def test_an_older_one_is_not_offered(tmp_path: Path) -> None:
    hands = Bench(tmp_path, B)
    hands.say("affirm")
    hands.write(A)
    assert "newer text" not in hands.again()
    dated = B.replace("supersedes: A", "date: 2031-03-04")
    (tmp_path / "other").mkdir()
    other = Bench(tmp_path / "other", dated)
    other.write(A.replace("revision: A", "revision: Z\ndate: 2031-03-03"))
    assert "newer text" not in other.again()
    other.write(A.replace("revision: A", "revision: Z\ndate: 2031-03-05"))
    assert "newer text, revision Z: nothing changed that is worked from" in other.again()


def test_a_text_that_was_changed_without_a_revision_is_warned_of(
    hands: Bench, caplog: pytest.LogCaptureFixture
) -> None:
    hands.write(LATER.replace("revision: B", "revision: A"))
    hands.again()
    assert "still called revision A" in caplog.text
    hands.file.unlink()
    assert "newer text" not in hands.again()


# The record


def test_the_record_says_which_text_each_step_was_worked_from(hands: Bench) -> None:
    hands.write(LATER.replace("approver: Ann Vik", "approver: Bo Lund\ndate: 2031-03-04"))
    hands.again()
    hands.say("affirm", "splined shaft", "next step")
    made = hands.record
    assert [(one.revision, one.approver) for one in made.texts] == [
        ("A", "Ann Vik"),
        ("B", "Bo Lund"),
    ]
    assert made.texts[1].by == "Sam" and made.texts[1].since > made.texts[0].since
    assert {step.id: step.revision for step in made.steps} == {
        **{"open": "A", "which": "B", "key": None, "measure": "B"},
        **{"close": None, "cure": None},
    }
    shown = page.html(made, {})
    assert "small-box, revision A, approved by Ann Vik; from 2031-03-0" in shown
    assert "revision B, approved by Bo Lund, of 2031-03-04" in shown
    assert "worked from revision A" in shown
    assert document.pdf(made).startswith(b"%PDF")


def test_where_there_was_only_one_text_each_step_need_not_say_so(hands: Bench) -> None:
    made = hands.record
    assert [one.revision for one in made.texts] == ["A"]
    assert made.steps[0].revision == "A"
    assert "worked from revision" not in page.html(made, {})


def test_a_revision_that_was_never_offered_does_not_fit(hands: Bench) -> None:
    taken = events.RevisionTaken(
        at=hands.now, turn=hands.history[-1].turn + 1, revision="B", superseded="A"
    )
    history = (*hands.history, taken)
    with pytest.raises(AssistantError, match="do not fit together"):
        replay_stored(procedure_of(history, 1), history)


# The commands


def test_resume_offers_it_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file, journal = tmp_path / "small.yaml", str(tmp_path / "journal.db")
    file.write_text(A, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin", iter(["affirm\n", "bag one\n"]))
    assert main(["run", "small.yaml", "--typed", "--journal", journal]) == 0
    file.write_text(LATER, encoding="utf-8")
    monkeypatch.chdir(tmp_path.parent)
    monkeypatch.setattr("sys.stdin", iter(["affirm\n", "next step\n"]))
    capsys.readouterr()
    assert main(["resume", "--typed", "--journal", journal]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "revision B: step five changed. Go on with it?" in told
    assert main(["log", "1", "--json", "--journal", journal]) == 0
    log = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    offered = next(event for event in log if event["kind"] == "revision offered")
    assert "source" not in offered and offered["changed"]["changed"] == [5]
    assert main(["verify", "1", "--journal", journal]) == 0


def test_on_a_shift_the_procedures_on_offer_are_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    offered, journal = tmp_path / "offered", str(tmp_path / "journal.db")
    offered.mkdir()
    (tmp_path / "small.yaml").write_text(A, encoding="utf-8")
    (offered / "small.yaml").write_text(LATER, encoding="utf-8")
    monkeypatch.setattr("sys.stdin", iter(["affirm\n"]))
    run = ["run", str(tmp_path / "small.yaml"), "--typed", "--journal", journal]
    assert main(run) == 0
    monkeypatch.setattr("sys.stdin", iter(["open job 1\n", "affirm\n"]))
    capsys.readouterr()
    listen = ["listen", "--typed", "--journal", journal, "--procedures", str(offered)]
    assert main(listen) == 0
    assert "Revision B from here on. Recorded." in " ".join(capsys.readouterr().out.split())
