"""Notes of a job without a procedure, played where they go on again."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.audio import pcm
from assistant.dialogue import events
from assistant.journal.records import Transcript
from assistant.procedure import lexicon, unwritten
from tests.bench_helpers import Hands

SOUND = b"\x01\x02" * 8000


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    _, text = unwritten.begin("Capstan drive", lexicon.read("gearbox"))
    made = Hands(tmp_path / "journal.db", text)
    made.say("affirm", "removed two dowels", "removed end cover")
    return made


def noted(hands: Hands) -> events.NoteRecorded:
    """Speak a note; return it as it was kept."""
    hands.hear("note", sound=SOUND, free_speech=True)
    note = hands.events("note")[-1]
    assert isinstance(note, events.NoteRecorded)
    return note


def test_the_notes_own_sound_is_played_days_later_where_it_goes_on(hands: Hands) -> None:
    noted(hands)
    hands.stop_and_take_up(days=3)
    hands.say("start build up")
    before = hands.bench.journal.events(1)
    assert hands.say("play note") == "A spoken note."
    (played,) = hands.notes.played
    assert played.tobytes() == pcm.from_bytes(SOUND).tobytes()
    assert hands.bench.journal.events(1) == before, "listening to a note records nothing"
    hands.say("next step")
    assert "no note with this" in hands.say("play note")
    assert len(hands.notes.played) == 1


def test_several_notes_are_told_in_turn_typed_ones_as_words(hands: Hands) -> None:
    noted(hands)
    hands.say("note the arrow points up")
    noted(hands)
    said = hands.say("play notes")
    assert said == "Note: the arrow points up. Two spoken notes."
    assert len(hands.notes.played) == 2


def test_a_note_that_was_taken_back_is_not_played(hands: Hands) -> None:
    noted(hands)
    hands.say("disregard")
    assert "no note with this" in hands.say("play note")
    assert hands.notes.played == []


def test_without_a_loudspeaker_the_transcript_is_said_or_that_there_is_none(hands: Hands) -> None:
    note = noted(hands)
    hands.notes.plays = False
    assert hands.say("play note") == (
        "A spoken note. It cannot be played here. There is no transcript of it. Hear it in the "
        "report of the job."
    )
    assert note.heard is not None and note.heard.clip_sha256 is not None
    made = Transcript("the arrow\npoints up", "scribe", hands.now)
    hands.bench.journal.add_transcript(1, note.heard.clip_sha256, made)
    assert hands.say("play note").endswith(
        "As it was heard, and nobody has checked: the arrow points up."
    )


def test_a_note_whose_sound_is_gone_or_damaged_says_so(
    hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    noted(hands)
    journal = hands.bench.journal
    monkeypatch.setattr(journal, "sound", lambda job, digest: None)
    assert "Its sound is not kept. There is no transcript" in hands.say("play note")
    monkeypatch.setattr(journal, "sound", lambda job, digest: b"fLaC")
    assert "Its sound cannot be read. There is no transcript" in hands.say("play note")
    assert hands.notes.played == []


def test_the_notes_of_a_group_are_those_of_its_things(hands: Hands) -> None:
    hands.say("start group", "removed shaft")
    noted(hands)
    hands.say("removed bearing", "end group", "start build up", "next step", "next step")
    assert "Fit as one" in hands.say("where are we")
    assert hands.say("play note") == "A spoken note."
    assert len(hands.notes.played) == 1
