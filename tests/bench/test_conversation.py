"""One phrase on its way: decided, then on disk, then spoken; and what goes before what."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from assistant.audio.cue import Cue
from assistant.audio.manner import Change
from assistant.bench.conversation import Conversation, JobWentOn
from assistant.bench.keeper import Keeper
from assistant.bench.presenter import Presenter
from assistant.bench.session import LobbySession, as_note
from assistant.bench.shift import Shift, on_offer
from assistant.dialogue import events, intents
from assistant.dialogue import state as job_state
from assistant.dialogue.intents import Intent
from assistant.errors import AssistantError
from assistant.journal.store import CannotRecord, Journal
from assistant.recognition.utterance import Utterance, Verdict
from tests.bench_helpers import SMALL, Hands, Notes, bench, heard


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db")


def in_a_shift(tmp_path: Path) -> tuple[Conversation, Notes]:
    """Return a bench between jobs, which can begin one of the small procedure."""
    (tmp_path / "small-box.yaml").write_text(SMALL, encoding="utf-8")
    at = Hands(tmp_path / "journal.db", open_job=False)
    at.bench.shift = Shift(at.bench.journal, on_offer(tmp_path, at.notes.refused.append))
    at.bench.come_in()
    return at.bench, at.notes


def said_to(at: Conversation, notes: Notes, *phrases: str) -> str:
    for phrase in phrases:
        notes.replies.clear()
        at.typed(phrase)
    return " ".join(notes.replies)


# The order of things


def test_what_is_spoken_as_recorded_is_on_disk_and_the_state_is_where_it_leads(
    hands: Hands,
) -> None:
    at = hands.bench
    seen: list[tuple[int, bool]] = []

    def speak(text: str) -> None:
        kept = Journal(hands.path, create=False)
        history = kept.events(at.job)
        kept.close()
        led_to = job_state.replay(hands.procedure, history)
        seen.append((len(history), led_to == at.state))
        assert hands.notes.situation.state is at.state and hands.notes.situation.speaking

    hands.notes.on_saying = speak
    for phrase in ("affirm", "bag one", "note all is well", "disregard", "next step"):
        before = len(at.journal.events(at.job))
        hands.say(phrase)
        count, the_same = seen[-1]
        assert count > before and the_same, phrase
    assert not hands.notes.situation.speaking


def test_what_cannot_be_kept_is_not_said_and_changes_nothing(
    hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    hands.say("affirm")
    before, known = hands.bench.state, hands.bench.keeper.known

    def refuse(*_: object) -> None:
        raise CannotRecord("I cannot record: the disk is full.", "no room")

    with monkeypatch.context() as full:
        full.setattr(hands.bench.journal, "append", refuse)
        assert hands.say("bag one") == "I cannot record: the disk is full."
        assert hands.notes.situation.cannot_record == "I cannot record: the disk is full."
        assert hands.bench.state is before and hands.bench.keeper.known == known
        # Questions are answered all the same, and the trouble is still shown.
        assert "Take off the end plate" in hands.say("where are we")
        assert hands.notes.situation.cannot_record is not None
    assert "Recorded" in hands.say("bag one")
    assert hands.notes.situation.cannot_record is None


def test_no_effect_is_carried_out_of_what_could_not_be_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at, notes = in_a_shift(tmp_path)
    said_to(at, notes, "new job", "affirm")
    assert at.job == 1

    def refuse(*_: object) -> None:
        raise CannotRecord("I cannot record.", "no room")

    decide = type(at.session).decide

    def with_an_event(session: Any, intent: Intent) -> Any:
        decision = decide(session, intent)
        if isinstance(intent, intents.LeaveJob):
            made = events.JobTakenUp(at=at.clock(), turn=99, step=None)
            return type(decision)((made,), decision.replies, decision.effects)
        return decision

    monkeypatch.setattr(type(at.session), "decide", with_an_event)
    monkeypatch.setattr(at.journal, "append", refuse)
    assert said_to(at, notes, "set job aside") == "I cannot record."
    assert at.job == 1


# Effects, in a job and between jobs


def test_effects_are_the_same_in_a_job_and_between_jobs(tmp_path: Path) -> None:
    at, notes = in_a_shift(tmp_path)
    for where in ("between jobs", "in a job"):
        last = said_to(at, notes, "what words")
        assert said_to(at, notes, "say again") == last, where
        assert notes.cues[-1] is Cue.HEARD
        rate = notes.manner.rate
        assert said_to(at, notes, "slower").startswith("Slower.") and notes.manner.rate < rate
        assert said_to(at, notes, "say again") == last, "what was said of the voice is not repeated"
        said_to(at, notes, "faster", "new job", "affirm")
    assert at.job == 1
    said_to(at, notes, "set job aside")
    assert isinstance(at.session, LobbySession) and at.job == 0
    assert notes.situation.state is None
    said_to(at, notes, "resume")
    assert at.job == 1 and notes.situation.state is at.state


def test_a_voice_that_can_go_no_slower_says_so_with_the_tone_of_a_refusal() -> None:
    notes = Notes()
    presenter = Presenter(notes, [notes])
    answers = [presenter.change_voice(Change.SLOWER).text for _ in range(9)]
    assert answers[0] == "Slower." and answers[-1] == "I cannot speak any slower."


# Out of a job


def test_a_job_that_went_on_elsewhere_ends_the_run_or_leads_to_the_lobby(tmp_path: Path) -> None:
    alone = Hands(tmp_path / "alone.db")
    other = bench(Journal(tmp_path / "alone.db"), Notes(), alone.bench.clock)
    other.take_up(1)
    spoken: list[str] = []
    alone.notes.on_saying = spoken.append
    with pytest.raises(JobWentOn):
        alone.say("affirm")
    assert "somewhere else" in spoken[-1]

    at, notes = in_a_shift(tmp_path)
    said_to(at, notes, "new job", "affirm")
    bench(Journal(tmp_path / "journal.db"), Notes(), at.clock).take_up(1)
    assert "One job is open." in said_to(at, notes, "affirm")
    assert at.job == 0 and notes.refused[-1] == ""


@pytest.mark.parametrize("where", ["take_up", "present"])
def test_an_error_of_ours_is_not_told_as_damage_to_the_record(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    at, notes = in_a_shift(tmp_path)
    said_to(at, notes, "new job", "affirm", "set job aside")

    def trip(*_: object, **__: object) -> None:
        raise TypeError("ours")

    if where == "take_up":
        monkeypatch.setattr("assistant.dialogue.decide.take_up", trip)
    else:
        notes.on_saying = trip
    with pytest.raises(TypeError, match="ours"):
        at.typed("resume")


def test_events_that_no_session_made_are_told_and_the_lobby_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at, notes = in_a_shift(tmp_path)
    said_to(at, notes, "new job", "affirm", "set job aside")

    def trip(*_: object) -> None:
        raise LookupError("turn 99")

    with monkeypatch.context() as altered:
        altered.setattr(job_state, "replay", trip)
        assert "do not fit together" in said_to(at, notes, "resume")
    assert at.job == 0 and isinstance(at.session, LobbySession)
    assert "Work stopped" in said_to(at, notes, "resume")


def test_a_closed_job_is_not_taken_up(hands: Hands) -> None:
    hands.say("close job", "affirm")
    again = bench(Journal(hands.path), hands.notes, lambda: hands.now)
    with pytest.raises(AssistantError, match="is closed"):
        again.take_up(1)


# What a phrase means where free speech is expected


def utterance(
    meaning: Intent | None, verdict: Verdict, free_speech: bool = False
) -> Utterance[Intent]:
    return Utterance(("some", "words"), meaning, verdict, 0.9, "test", free_speech=free_speech)


def test_while_noting_all_but_a_command_is_the_note() -> None:
    for meaning, verdict in (
        (None, Verdict.ACCEPTED),
        (None, Verdict.REJECTED),
        (intents.Disregard(), Verdict.DOUBTFUL),
        (intents.Disregard(), Verdict.REJECTED),
    ):
        noted = as_note(utterance(meaning, verdict), noting=True)
        assert noted.meaning == intents.Note(clipped=True) and noted.accepted
        assert noted.words == (), "what a recogniser made of free speech is not evidence"
        left = utterance(meaning, verdict)
        assert as_note(left, noting=False) is left
    dropped = utterance(intents.Disregard(), Verdict.ACCEPTED)
    assert as_note(dropped, noting=True) is dropped


def test_speech_after_the_word_note_is_the_note() -> None:
    begun = utterance(intents.Note(), Verdict.ACCEPTED, free_speech=True)
    assert as_note(begun, noting=False).meaning == intents.Note(clipped=True)
    assert as_note(begun, noting=False).words == begun.words
    for other in (
        utterance(intents.Note(), Verdict.ACCEPTED),
        utterance(intents.Note(), Verdict.REJECTED, free_speech=True),
        utterance(intents.Next(), Verdict.ACCEPTED, free_speech=True),
    ):
        assert as_note(other, noting=False) is other


def test_everything_said_while_noting_is_kept_as_sound_and_not_as_words(hands: Hands) -> None:
    hands.say("affirm", "note")
    assert hands.hear("next step please", Verdict.REJECTED, sound=b"some speech.")
    (note,) = hands.events("note")
    assert isinstance(note, events.NoteRecorded) and note.heard is not None
    assert note.heard.words == "" and note.heard.clip == 1


# Who keeps


def test_the_meaning_of_a_phrase_is_carried_and_not_worked_out_again(
    hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    phrase = heard(hands.bench, "affirm")

    def again(*_: object) -> None:
        raise AssertionError("understood twice")

    monkeypatch.setattr("assistant.dialogue.understanding.understand", again)
    hands.bench.take(phrase)
    assert len(hands.events("hazards heard")) == 1


def test_who_signs_on_is_kept_only_with_the_event_that_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at = Hands(tmp_path / "journal.db", open_job=False)
    at.bench.technicians = ("Ann",)
    at.bench.open(at.procedure, SMALL)
    keeper: Keeper = at.bench.keeper

    def refuse(*_: object) -> Sequence[object]:
        raise CannotRecord("I cannot record.", "no room")

    with monkeypatch.context() as full:
        full.setattr(keeper.journal, "append", refuse)
        at.say("this is ann")
        assert keeper.by == "sam"
    at.say("this is ann")
    assert keeper.by == "Ann" == at.notes.situation.by
